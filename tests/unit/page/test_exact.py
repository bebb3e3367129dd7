"""What the page counts money with adds up to what the evaluator found."""

import pytest

from optibox.assess import assess
from optibox.page.exact import (
    hour_groups,
    money_table,
    price_patterns,
    state_hours,
)
from optibox.page.pictures import day_rows, power_table
from optibox.page.ways import ways_of
from optibox.report.run_line import variants
from optibox.scenario import Money
from optibox.units import DAYS_PER_YEAR
from tests.unit.page.subjects import (
    CATALOG,
    MONEY,
    NIGHT,
    PLAIN,
    WEEKEND,
    asked,
    together,
    without_cache,
)
from tests.unit.present.machines import reference_build

QUESTIONS = {
    "flat": asked(),
    "bands": asked(MONEY),
    "bands alone": asked().model_copy(
        update={
            "money": Money.model_validate(
                {
                    "bands": [
                        {**NIGHT, "from_hour": 0, "to_hour": 12},
                        {**NIGHT, "from_hour": 12, "to_hour": 24, "price_per_kwh": 0.4},
                    ]
                }
            )
        }
    ),
    "busy": asked(usage={"checks_per_year": 0, "sessions_per_day": 30}),
}
BUILDS = {
    "plan": reference_build(CATALOG),
    "never": reference_build(CATALOG, timeout_min=None),
    "direct": without_cache(write_mode="read-modify-write"),
    "stripe": together("striped", 1),
    "stripe, short": together("striped", 2, timeout_min=5),
    "pairs": together("pairs"),
    "stripe over pairs": together("striped pairs", timeout_min=None),
}
CASES = [
    pytest.param(assess(build, question), id=f"{name}, {kind}")
    for name, question in QUESTIONS.items()
    for kind, build in BUILDS.items()
]


@pytest.mark.parametrize("found", CASES)
def test_hours_and_prices_make_each_states_money(found):
    """The other way round: from hours by the clock to the evaluator's sums."""
    prices = found.scenario.money.prices_by_hour()
    rows = state_hours(found)
    assert len(rows) == len(found.year.states)
    for row, state in zip(rows, found.year.states, strict=True):
        assert sum(row.hours) == pytest.approx(state.hours, rel=1e-9)
        paid = sum(h * p for h, p in zip(row.hours, prices, strict=True))
        assert paid * row.wall_w / 1000 == pytest.approx(state.money, rel=1e-9)
    for hour in range(24):
        assert sum(row.hours[hour] for row in rows) == pytest.approx(DAYS_PER_YEAR)


@pytest.mark.parametrize("found", CASES)
def test_yearly_amounts_make_the_cost_terms(found):
    """Years that count alike: without discount and growth they are multiples."""
    money = found.scenario.money.model_copy(
        update={"discount": 0.0, "tariff_growth": 0.0}
    )
    found = assess(found.build, found.scenario.model_copy(update={"money": money}))
    table, years = money_table(found), money.years
    assert table["purchase"] == found.cost.purchase
    assert table["wear_per_year"] * years == pytest.approx(found.cost.wear)
    assert table["cache_wear_per_year"] * years == pytest.approx(found.cost.cache_wear)
    assert table["replacements_per_year"] * years == pytest.approx(
        found.cost.replacements
    )


@pytest.mark.parametrize("found", CASES)
def test_ways_cost_what_the_text_answer_says_of_them(found):
    ways = {way["words"]: way for way in ways_of(found)}
    assert sum(way["is_mine"] for way in ways.values()) == 1
    for variant in variants(found):
        way = ways[variant.words]
        assert sum(way["kwh"]) == pytest.approx(variant.kwh, rel=1e-9)
        assert way["write_mb_s"] == variant.write_mb_s
        assert way["asleep_w"] == variant.asleep_w


def test_an_hour_knows_which_of_its_days_have_the_base_price():
    money = Money.model_validate(PLAIN | {"bands": [NIGHT, WEEKEND]})
    patterns = price_patterns(money)
    assert patterns[23] == (0.19,) * 7
    assert patterns[12] == (None,) * 5 + (0.24, 0.24)
    assert patterns[20] == (None,) * 7
    hours, groups = hour_groups(money)
    assert [groups[hours[h]] for h in range(24)] == list(patterns)
    assert len(groups) == 3


@pytest.mark.parametrize("found", CASES)
def test_hours_by_price_are_those_by_the_clock_summed(found):
    groups, _ = hour_groups(found.scenario.money)
    for fine, coarse in zip(
        state_hours(found), state_hours(found, groups), strict=True
    ):
        summed = [0.0] * len(coarse.hours)
        for hour, group in enumerate(groups):
            summed[group] += fine.hours[hour]
        assert coarse.hours == pytest.approx(summed, abs=1e-9)


@pytest.mark.parametrize("found", CASES)
def test_watts_of_parts_add_up_to_the_wall(found):
    """Direct current of all parts through the supply is what the evaluator says."""
    table = power_table(found)
    wall = found.wall
    expected = {
        "asleep": wall.asleep_w,
        "spinning": wall.spinning_w,
        "reading": wall.reading_w,
        "writing": wall.writing_w,
        "checking": wall.checking_w,
    }
    assert dict(zip(table["states"], table["wall_w"], strict=True)) == pytest.approx(
        expected
    )
    for n, total in enumerate(table["wall_w"]):
        shown = sum(row["watts"][n] for row in table["rows"])
        assert shown == pytest.approx(total, abs=0.3)


@pytest.mark.parametrize("found", CASES)
def test_a_mean_day_has_the_years_energy(found):
    daily_wh = sum(sum(row["watts"]) for row in day_rows(found))
    assert daily_wh * DAYS_PER_YEAR / 1000 == pytest.approx(found.year.kwh, rel=1e-3)
