"""Defaults that a scenario leaves in force."""

from optibox.build.items import FEATURES as BUILD_FEATURES
from optibox.catalog.describe import column_by_name
from optibox.catalog.kinds import KINDS
from optibox.scenario import Money, Needs, Scenario, Usage, assumed_defaults
from optibox.scenario.assumed import INFLUENCE
from optibox.scenario.parts import HISTORY
from optibox.scenario.references import FEATURES
from optibox.scenario.schema import field_at

SCENARIO = Scenario(
    needs=Needs(usable_tb=12, failures_survived=1, read_mb_s=80),
    usage=Usage(sessions_per_day=3),
    money=Money(tariff_per_kwh=0.32),
)


def test_what_was_given_is_not_assumed():
    keys = {assumed.key for assumed in assumed_defaults(SCENARIO)}
    given = {"needs.usable_tb", "needs.read_mb_s", "usage.sessions_per_day"}
    assert not keys & (given | {"money.tariff_per_kwh"})
    assert not keys & {"needs.usable_tib", "money.bands"}
    assert {"usage.ingest_gb_per_day", "money.years", "limits.budget"} <= keys


def test_table_as_written_decides_where_it_is_given():
    raw = {"needs": {"usable_tb": 12}, "money": {"years": 5}}
    keys = {assumed.key for assumed in assumed_defaults(SCENARIO, raw)}
    assert "money.years" not in keys
    assert {"needs.read_mb_s", "usage.sessions_per_day"} <= keys


def test_order_is_that_of_influence_usage_and_money_first():
    keys = [assumed.key for assumed in assumed_defaults(SCENARIO)]
    ranked = [key for key in INFLUENCE if key in keys]
    assert keys[: len(ranked)] == ranked
    assert {key.partition(".")[0] for key in keys[:8]} == {"usage", "money"}
    assert keys[-1].startswith("overrides.")


def test_values_carry_units_and_blanks_say_what_they_stand_for():
    values = {a.key: (a.value, a.meaning) for a in assumed_defaults(SCENARIO)}
    assert values["usage.ingest_gb_per_day"] == ("20 GB", "New data a day")
    assert values["money.years"][0] == "5 years"
    assert values["needs.burst_gb"][0] == "20 GB, a day's ingest"
    assert values["needs.cache_mirror"][0] == "yes"
    assert values["limits.asleep_w"][0] == "no limit"
    assert values["overrides.pcie"][0] == "0.85 [0.8..0.9]"
    assert values["choices.layouts"][0] == "independent, striped, pairs, striped pairs"


def test_every_ranked_key_exists_once():
    assert len(set(INFLUENCE)) == len(INFLUENCE)
    for key in INFLUENCE:
        assert field_at(Scenario, tuple(key.split("."))), key


def test_history_keys_are_no_columns_of_any_kind():
    for record in KINDS:
        assert not HISTORY & set(column_by_name(record)), record.kind


def test_features_to_rule_out_are_those_that_builds_know():
    assert FEATURES == BUILD_FEATURES
