"""Plans on catalogs with few plugs: what every edge carries, against plain sums."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optibox.assess import assess
from optibox.catalog.platform import PowerLead, PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.machine import machine_of
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.wiring import tree_of
from tests.support.parts import catalog_of, make, plain_parts
from tests.unit.wiring.plain import is_sound

PAIR = make(PowerLead, "pair", takes_plug="sata", fan_out=2, price=4, carries_3v3=True)


def asked(usable_tb, **sections) -> Scenario:
    return Scenario.model_validate(
        {
            "needs": {"usable_tb": usable_tb, "failures_survived": 0},
            "limits": {"array_drives": 4},
            "money": {"tariff_per_kwh": 0.3},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
            },
            **sections,
        }
    )


def planned(scenario, *more, **supply):
    parts = plain_parts()
    parts["supply"] = make(PowerSupply, "supply", **supply)
    parts |= {part.id: part for part in more}
    return plan(catalog_of(parts.values()), scenario)


def test_splitters_are_not_chained_beyond_a_plug():
    """One SATA plug, splitters 1 to 2, drives of 2.0 A: two fit, four would be 8.0 A."""
    two = planned(asked(7), PAIR, leads="sata 1")
    assert two.status == "optimal"
    assert two.assessment.is_fit
    four = planned(asked(14), PAIR, leads="sata 1")
    assert four.status == "infeasible"


def test_lighter_drives_are_bought_where_a_plug_asks_for_them():
    """Four drives of 1.1 A are 4.4 A; dearer than those of 2.0 A that cannot hang."""
    light = make(HardDrive, "light", price=130, spin_up_12v_a=1.1)
    found = planned(asked(14), PAIR, light, leads="sata 1").assessment
    counts = {e.item.key: e.count for e in found.build.items}
    assert counts["light"] == 4
    assert counts["pair"] == 3


def test_a_second_lead_is_bought_where_one_wire_is_too_thin():
    """Four drives of 2.1 A are 8.4 A on a lead of 8 A: the richer supply is taken."""
    heavy = make(HardDrive, "hdd-4", spin_up_12v_a=2.1)
    richer = make(PowerSupply, "richer", price=55, leads="sata 2 | sata 2")
    found = planned(asked(14), heavy, richer, leads="sata 4").assessment
    assert found.build.one(PowerSupply).id == "richer"


def test_the_plan_records_its_tree():
    found = planned(asked(7), PAIR, leads="sata 1").assessment
    by_load = {feed.load: feed for feed in found.build.power}
    assert by_load["power-1"].source == "lead-1"
    assert {by_load["data-1"].source, by_load["data-2"].source} == {"power-1"}


@st.composite
def catalogs(draw):
    """Return a supply, adapters and drives of which few combinations are sound."""
    leads = draw(
        st.sampled_from(("sata 1", "sata 2", "sata 1 | peripheral 1", "peripheral 1"))
    )
    taps = [
        make(
            PowerLead,
            f"tap-{number}",
            takes_plug=draw(st.sampled_from(("sata", "sata", "peripheral"))),
            gives_plug=draw(st.sampled_from(("sata", "sata", "peripheral"))),
            fan_out=draw(st.integers(1, 4)),
            price=draw(st.integers(1, 6)),
            carries_3v3=draw(st.booleans()),
        )
        for number in range(draw(st.integers(0, 3)))
    ]
    drives = [
        make(
            HardDrive,
            f"drive-{number}",
            price=draw(st.integers(80, 120)),
            spin_up_12v_a=draw(st.sampled_from((0.9, 1.6, 2.2, 3.0))),
            has_power_disable=draw(st.sampled_from(("no", "no", "yes"))),
        )
        for number in range(draw(st.integers(0, 2)))
    ]
    return leads, taps, drives


@given(drawn=catalogs(), usable_tb=st.sampled_from((3, 7, 11)))
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
def test_no_plan_passes_an_overload(drawn, usable_tb):
    leads, taps, drives = drawn
    result = planned(asked(usable_tb), *taps, *drives, leads=leads)
    if result.assessment is None:
        assert result.status == "infeasible"
        return
    found = result.assessment
    assert result.status == "optimal"
    tree = tree_of(machine_of(found.build, found.scenario))
    assert tree.feeds == found.build.power
    assert not tree.unfed
    assert not tree.loose
    assert is_sound(tree.ends, tree.feeds)
    assert assess(found.build, found.scenario).is_fit


@pytest.mark.parametrize("supply", [{"leads": "peripheral 1"}, {"leads": "sata 1"}])
def test_what_nothing_carries_is_infeasible(supply):
    result = planned(asked(14), PAIR, **supply)
    assert result.status == "infeasible"
