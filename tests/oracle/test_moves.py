"""Plans that reuse drives with data, against every build judged by the evaluator alone.

That the evaluator is right about safe orders is held by the tests of moving data, whose
exhaustive walk shares nothing with it.
"""

from functools import lru_cache

import pytest

from optibox.explain import explain
from optibox.explain.requirements import SAVED
from optibox.migration import route_of
from optibox.report.explain import Explanation
from optibox.report.text import as_text
from optibox.scenario import Scenario
from optibox.search.plan import plan
from tests.oracle.test_optimum import TIME_LIMIT_S, assert_agrees
from tests.oracle.test_pruning import assert_same
from tests.support.enumerate import AIMS
from tests.support.held import held_drives, held_instance
from tests.support.parts import catalog_of, plain_parts
from tests.support.tiny import ROUTINE, Seeded, drawn

SEEDS = range(40)


@lru_cache(maxsize=64)
def instance_of(seed: int):
    return held_instance(seed, ROUTINE)


@pytest.mark.parametrize("seed", SEEDS)
def test_cheapest_build_that_can_be_reached_is_found(seed):
    assert_agrees(*instance_of(seed), "total cost")


@pytest.mark.parametrize("aim", [aim for aim in AIMS if aim != "total cost"])
@pytest.mark.parametrize("seed", SEEDS[::8])
def test_every_aim_is_reached(seed, aim):
    assert_agrees(*instance_of(seed), aim)


def test_safe_orders_decide_in_many_instances():
    """Else the tests above say nothing."""
    n_bound = sum("S1" in instance_of(seed)[1].binding() for seed in SEEDS)
    assert n_bound > len(SEEDS) / 5


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_there_is_a_safe_order_to_every_plan(seed):
    instance, _ = instance_of(seed)
    found = plan(instance.catalog, instance.scenario, time_limit_s=TIME_LIMIT_S)
    if found.assessment is not None:
        route = route_of(found.assessment.build, instance.scenario)
        assert route.is_safe
        assert route.steps or not route.is_needed


@pytest.mark.parametrize("seed", SEEDS[::8])
def test_pruning_changes_nothing(monkeypatch, seed):
    instance, _ = instance_of(seed)
    assert_same(monkeypatch, instance.catalog, instance.scenario, "total cost")


def test_an_explanation_names_the_files_and_what_to_borrow():
    """Two full drives of 4 TB are all there is: one of them has to be emptied first."""
    parts = plain_parts()
    old = parts.pop("hdd-4")
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": 2, "failures_survived": 1},
            "money": {"tariff_per_kwh": 0.3},
            "limits": {"array_drives": 2},
            "owned": [{"id": "old", "part": old, "count": 2, "held_tb": 1.5}],
        }
    )
    found = explain(catalog_of(parts.values()), scenario)
    assert [m.key for c in found.conflicts for m in c.members] == [SAVED]
    (eased,) = found.relaxations
    assert eased.is_enough
    assert eased.lack.borrow_b == 1_500_000_000_000
    told = Explanation(found=found, currency="", years=5).document()
    text = " ".join(as_text(told).split())
    assert "with an empty drive of 1.50 TB or more borrowed first" in text


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 300))
def test_all_aims_of_many_instances(seed):
    instance, outcome = held_instance(seed, ROUTINE)
    for aim in AIMS:
        assert_agrees(instance, outcome, aim)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(300, 340))
def test_pruning_changes_nothing_for_any_aim(monkeypatch, seed):
    instance = drawn(Seeded(seed), [held_drives], 60_000)
    if instance is not None:
        for aim in AIMS:
            if aim != "annual energy":
                assert_same(monkeypatch, instance.catalog, instance.scenario, aim)
