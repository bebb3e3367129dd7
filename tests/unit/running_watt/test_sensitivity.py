"""Flips of a decision against searches on both sides, and regrets against brute force."""

from itertools import product

import pytest

from optibox.assess import assess
from optibox.catalog.columns import Figure
from optibox.catalog.platform import PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.errors import InputError
from optibox.running.regret import robust_pick
from optibox.running.sensitivity import Effect, sensitivity
from optibox.running.sensitivity_ask import asked_corners, asked_inputs, asked_spreads
from optibox.running.sensitivity_decision import (
    NEVER,
    Decision,
    Option,
    PlanDecision,
)
from optibox.running.sensitivity_inputs import (
    INPUTS,
    Spreads,
    build_at,
    catalog_at,
    figure_at,
    scenario_at,
)
from optibox.running.sensitivity_question import SwapOptions, swap_options
from optibox.running.swaps import swap_list
from optibox.scenario import Scenario
from optibox.search.plan import plan
from tests.support.enumerate import all_builds
from tests.support.parts import catalog_of, make, plain_parts
from tests.support.tiny import seeded

SPREADS = Spreads(tariff=0.9, prices=0.5, usage=0.9, watts=0.6)
NEAR = 0.02
"""How far from a flip both sides are searched. [share of the way]"""


def question():
    """Return parts of which dear and lean ones win when energy is dear."""
    parts = plain_parts()
    parts["supply"] = make(PowerSupply, "supply", loss_fixed_w=8, loss_share=0.2)
    parts["lean"] = make(PowerSupply, "lean", loss_fixed_w=3, loss_share=0.1, price=95)
    parts["leaner"] = make(
        PowerSupply, "leaner", loss_fixed_w=2.5, loss_share=0.02, price=130
    )
    parts["hdd-5"] = make(
        HardDrive, "hdd-5", price=112, tb=4, idle_w="1.5..2.5", standby_w="0.1..0.3"
    )
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": 3},
            "money": {"tariff_per_kwh": 0.25},
            "choices": {
                "layouts": ("independent",),
                "caches": ("none",),
                "timeouts_min": (30,),
            },
            "limits": {"array_drives": 2},
        }
    )
    return catalog_of(parts.values()), scenario


@pytest.fixture(scope="module")
def decision() -> PlanDecision:
    catalog, scenario = question()
    return PlanDecision(catalog=catalog, scenario=scenario, spreads=SPREADS)


@pytest.fixture(scope="module")
def effects(decision) -> dict[str, Effect]:
    found = sensitivity(decision)
    assert found is not None
    return {effect.name: effect for effect in found.effects}


def searched(name: str, position: float):
    """Return the best machine where one input is moved, by a search of its own."""
    catalog, scenario = question()
    corner = {name: position}
    found = plan(
        catalog_at(catalog, corner, SPREADS), scenario_at(scenario, corner, SPREADS)
    )
    assert found.status == "optimal"
    return found.assessment


def parts_of(build) -> set[str]:
    return {e.item.part.id for e in build.items}


def test_some_inputs_flip_the_decision(effects) -> None:
    assert effects["tariff"].flips
    assert effects["prices"].flips
    assert effects["watts"].flips


@pytest.mark.parametrize("name", INPUTS)
def test_flips_are_where_searches_on_both_sides_differ(effects, name) -> None:
    for one, other in zip(
        effects[name].stretches, effects[name].stretches[1:], strict=False
    ):
        below = searched(name, max(-1.0, one.end - NEAR))
        above = searched(name, min(1.0, other.start + NEAR))
        assert parts_of(below.build) == parts_of(one.option.build)
        assert parts_of(above.build) == parts_of(other.option.build)
        assert parts_of(below.build) != parts_of(above.build)


@pytest.mark.parametrize("name", INPUTS)
def test_between_flips_the_decision_is_that_of_a_search(effects, name) -> None:
    """Searches on a grid of their own: the best machine is that of its stretch."""
    for position in (-0.9, -0.55, -0.2, 0.15, 0.45, 0.75, 1.0):
        best = searched(name, position)
        (stretch, *_) = (
            s for s in effects[name].stretches if s.start <= position <= s.end
        )
        corner = {name: position}
        moved = scenario_at(question()[1], corner, SPREADS)
        costs = [
            assess(build_at(option.build, corner, SPREADS), moved).total_cost
            for option in stretch.options
        ]
        assert min(costs) == pytest.approx(best.total_cost, abs=0.02)


@pytest.mark.parametrize("name", ["tariff", "prices"])
def test_straight_flips_are_where_two_costs_meet(decision, effects, name) -> None:
    for one, other in zip(
        effects[name].stretches, effects[name].stretches[1:], strict=False
    ):
        costs = [
            decision.cost(option, {name: other.start})
            for option in (one.last, other.option)
        ]
        assert costs[0] == pytest.approx(costs[1], abs=1e-6)


def test_moving_a_catalog_and_a_build_is_the_same(decision) -> None:
    """A machine planned with moved figures costs what its own, moved, costs."""
    for corner in ({"prices": 0.4}, {"watts": -0.7}, {"tariff": 1.0, "usage": -1.0}):
        catalog, scenario = question()
        moved = scenario_at(scenario, corner, SPREADS)
        found = plan(catalog_at(catalog, corner, SPREADS), moved)
        option, cost = decision.best(corner)
        assert option is not None
        assert cost == pytest.approx(found.assessment.total_cost)


@pytest.fixture(scope="module")
def options() -> SwapOptions:
    catalog, scenario = question()
    cheap = catalog_of(p for p in catalog.parts if p.id not in ("lean", "leaner"))
    build = plan(cheap, scenario).assessment.build
    return swap_options(swap_list(build, catalog, scenario), SPREADS)


def brute_regrets(decision: Decision, options: list[Option], corners: dict):
    """Return the worst regret of each machine, counted by itself."""
    costs = [
        [
            cost.total_cost if (cost := _assessed(decision, o, c)).is_fit else NEVER
            for c in corners.values()
        ]
        for o in options
    ]
    least = [min(column) for column in zip(*costs, strict=True)]
    return [
        max(cost - low for cost, low in zip(row, least, strict=True)) for row in costs
    ]


def _assessed(decision: Decision, option: Option, corner: dict):
    return assess(
        build_at(option.build, corner, SPREADS),
        scenario_at(decision.scenario, corner, SPREADS),
    )


def test_robust_pick_of_a_list_has_the_smallest_worst_regret(options) -> None:
    corners = {
        f"{a} {b}": {"tariff": a, "prices": b}
        for a, b in product((-1.0, 0.0, 1.0), repeat=2)
    }
    found = robust_pick(options.decision, corners)
    worst = brute_regrets(options.decision, list(options.decision.options), corners)
    assert found.is_over_all
    assert found.pick.worst == pytest.approx(min(worst), abs=1e-6)
    assert found.pick.worst > 0
    assert len(found.rows) == len(worst)


def test_robust_pick_of_a_catalog_knows_every_corner(decision) -> None:
    corners = {"dear": {"tariff": 1.0}, "cheap": {"tariff": -1.0}}
    found = robust_pick(decision, corners)
    assert not found.is_over_all
    for (_, corner), least in zip(found.corners, found.best_costs, strict=True):
        ((name, position),) = corner.items()
        best = searched(name, position)
        assert least == pytest.approx(best.total_cost, abs=0.02)
    for row in found.rows:
        assert all(regret >= -1e-9 for regret in row.regrets)
    assert found.pick.worst == min(row.worst for row in found.rows)


def test_no_machine_beats_the_bound_of_the_worst_regret() -> None:
    """The oracle judges every build at every corner; the bound lies below all of them."""
    instance, _ = seeded(33, 600)
    catalog, scenario = instance.catalog, instance.scenario
    decision = PlanDecision(catalog=catalog, scenario=scenario, spreads=SPREADS)
    corners = {"dear": {"tariff": 1.0}, "cheap": {"tariff": -1.0, "prices": 1.0}}
    found = robust_pick(decision, corners)
    every = [Option(build=build) for build in all_builds(catalog, scenario)]
    costs = [[decision.cost(o, corner) for corner in corners.values()] for o in every]
    least = [min(column) for column in zip(*costs, strict=True)]
    worst = min(
        max(cost - low for cost, low in zip(row, least, strict=True)) for row in costs
    )
    assert least == pytest.approx(list(found.best_costs), abs=0.01)
    assert found.least_worst is not None
    assert found.least_worst - 0.01 <= worst <= found.pick.worst + 0.01


def test_what_to_change_flips_where_two_changes_are_worth_the_same(options) -> None:
    found = sensitivity(options.decision, ("tariff",))
    (effect,) = found.effects
    assert effect.flips
    for one, other in zip(effect.stretches, effect.stretches[1:], strict=False):
        costs = [
            _assessed(options.decision, option, {"tariff": other.start}).total_cost
            for option in (one.last, other.option)
        ]
        assert costs[0] == pytest.approx(costs[1], abs=1e-6)


def test_figures_move_between_their_bounds() -> None:
    figure = Figure(2.0, 4.0, 10.0)
    assert [figure_at(figure, x, 0.5).mid for x in (-1, -0.5, 0, 0.5, 1)] == [
        2,
        3,
        4,
        7,
        10,
    ]
    bare = Figure(4.0, 4.0, 4.0)
    assert [figure_at(bare, x, 0.5).mid for x in (-1, 0, 1)] == [2, 4, 6]


def test_wrong_words_are_refused_all_at_once() -> None:
    with pytest.raises(InputError) as inputs:
        asked_inputs("tarif,usage,weather")
    assert [fault.value for fault in inputs.value.faults] == ["tarif", "weather"]
    assert "tariff" in str(inputs.value)
    with pytest.raises(InputError) as spreads:
        asked_spreads(["tariff=2", "prices=x", "fun=0.1"])
    assert len(spreads.value.faults) == 3
    with pytest.raises(InputError) as corners:
        asked_corners(["tariff=up,prices=low", "=high"])
    assert len(corners.value.faults) == 2
