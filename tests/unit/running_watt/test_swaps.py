"""Figures of swaps against the evaluator, saved builds and a library for money."""

import math

import numpy_financial as npf
import pytest

from optibox.assess import assess
from optibox.build import load_build, save_build
from optibox.catalog.platform import Board, Chassis, Memory, PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.report.watt import swaps_verdict
from optibox.running.sensitivity_inputs import INPUTS, Spreads, build_at, scenario_at
from optibox.running.swap_payback import paybacks
from optibox.running.swap_stock import in_hand
from optibox.running.swap_worth import yearly_of
from optibox.running.swaps import SwapList, swap_list
from optibox.scenario import Scenario
from optibox.search.plan import plan
from tests.support.parts import catalog_of, make, plain_parts


def thirsty(*, discount: float = 0.04, growth: float = 0.02) -> SwapList:
    """Return the swaps of a machine that was planned when there was nothing better."""
    parts = plain_parts()
    parts["supply"] = make(PowerSupply, "supply", loss_fixed_w=9, loss_share=0.3)
    parts["board"] = make(Board, "board", idle_w=20, slots="P1 x1 gen3 cpu")
    scenario = scenario_of(discount, growth)
    build = plan(catalog_of(parts.values()), scenario).assessment.build
    parts["lean"] = make(PowerSupply, "lean", loss_fixed_w=2, loss_share=0.05, price=55)
    parts["new-board"] = make(
        Board, "new-board", idle_w=6, memory_type="ddr5", price=95, seller="far"
    )
    parts["ddr5"] = make(Memory, "ddr5", memory_type="ddr5", price=30, seller="far")
    parts["case-2"] = make(Chassis, "case-2", bays_35=2, idle_w=0.5, price=25)
    parts["hdd-new"] = make(HardDrive, "hdd-new", idle_w=2, standby_w=0.2, price=45)
    catalog = catalog_of(parts.values(), {"far": 6.5})
    return swap_list(build, catalog, scenario)


def scenario_of(discount: float = 0.0, growth: float = 0.0) -> Scenario:
    return Scenario.model_validate(
        {
            "needs": {"usable_tb": 3},
            "limits": {"array_drives": 3},
            "money": {
                "tariff_per_kwh": 0.35,
                "years": 6,
                "discount": discount,
                "tariff_growth": growth,
            },
            "choices": {"layouts": ("independent",), "caches": ("none",)},
        }
    )


@pytest.fixture(scope="module")
def found() -> SwapList:
    return thirsty()


def ids(swap) -> set[str]:
    return {change.into.part.id for change in swap.changes if change.into}


def test_each_swap_is_the_assessment_of_its_machine(found, tmp_path) -> None:
    """The machine is written, read back and judged anew: every figure is the same."""
    assert len(found.swaps) > 5
    for swap in found.swaps:
        path = tmp_path / "after.toml"
        save_build(swap.after.build, path, "tiny")
        again = assess(load_build(path), found.before.scenario)
        assert again.is_fit
        assert again.wall == swap.after.wall
        assert again.rates == swap.after.rates
        assert again.cost == swap.after.cost
        assert swap.money_now == again.cost.purchase
        assert swap.net == pytest.approx(found.before.total_cost - again.total_cost)


def test_what_is_in_hand_costs_nothing_and_wears_as_before(found) -> None:
    """A machine that stands costs energy and wear; its parts are paid."""
    assert found.before.cost.purchase == 0
    bought = assess(found.bench.before, found.before.scenario)
    assert bought.cost == found.before.cost
    assert found.before.cost.wear > 0


def test_net_is_the_present_value_of_price_and_savings(found) -> None:
    """Energy saved grows with the tariff, wear does not; npf.npv has today first."""
    money = found.before.scenario.money
    for swap in found.swaps:
        before, after = yearly_of(swap.before), yearly_of(swap.after)
        energy, steady = before.energy - after.energy, before.steady - after.steady
        flows = [
            energy * (1 + money.tariff_growth) ** k + steady for k in range(money.years)
        ]
        value = npf.npv(money.discount, [-swap.money_now, *flows])
        assert swap.net == pytest.approx(value, abs=1e-6)


def test_payback_is_price_over_the_first_years_saving(found) -> None:
    for swap in found.swaps:
        if swap.money_now > 0 and swap.saving_per_year > 0:
            first = swap.money_now / swap.saving_per_year
            assert swap.payback_years == pytest.approx(first)
        elif swap.money_now > 0:
            assert math.isinf(swap.payback_years)


def test_paybacks_at_low_and_high_are_those_of_moved_inputs(found) -> None:
    swap = next(s for s in found.singles if ids(s) == {"lean"})
    (years,) = paybacks([swap], Spreads())
    assert years.mid == pytest.approx(swap.payback_years)
    for level, value in ((-1.0, years.low), (1.0, years.high)):
        corner = dict.fromkeys(INPUTS, level)
        moved = scenario_at(swap.before.scenario, corner, Spreads())
        before, after = (
            assess(build_at(one.build, corner, Spreads()), moved)
            for one in (swap.before, swap.after)
        )
        saved = yearly_of(before).total - yearly_of(after).total
        assert value == pytest.approx(after.cost.purchase / saved)
    # dear energy and thirsty parts shorten a payback, though the part is dearer too
    assert years.high < years.mid < years.low


def test_board_and_memory_come_only_together(found) -> None:
    """A board for another type of memory works with new memory, and not before."""
    assert not any(ids(s) == {"new-board"} for s in found.singles)
    pair = next(s for s in found.swaps if ids(s) == {"new-board", "ddr5"})
    assert pair.sum_of_parts is None
    # 95 and 30 from one seller, who ships once
    assert pair.money_now == pytest.approx(95 + 30 + 6.5)


def test_supply_and_case_are_worth_less_together(found) -> None:
    """Less load and less loss share: the same loss is not saved twice."""
    one = next(s for s in found.singles if ids(s) == {"lean"})
    both = next(s for s in found.swaps if ids(s) == {"lean", "case-2"})
    case = next(s for s in found.singles if ids(s) == {"case-2"})
    assert both.sum_of_parts == pytest.approx(one.net + case.net)
    assert both.net < both.sum_of_parts - 1


def test_the_best_swap_comes_first_and_nothing_is_worth_changing_afterwards(
    found,
) -> None:
    best = found.best
    assert best is not None
    assert best.net == max(swap.net for swap in found.swaps)
    again = swap_list(in_hand(best.after.build), found.catalog, found.before.scenario)
    while again.best is not None:
        again = swap_list(
            in_hand(again.best.after.build), found.catalog, found.before.scenario
        )
    assert all(swap.net < 0.01 for swap in again.swaps)


def test_a_proven_plan_has_no_better_swap() -> None:
    """Nothing beats the proven optimum: no change of a machine that is not bought."""
    parts = plain_parts()
    parts["lean"] = make(PowerSupply, "lean", loss_fixed_w=2, loss_share=0.05, price=75)
    parts["hdd-5"] = make(HardDrive, "hdd-5", tb=5, price=120, idle_w=3)
    catalog, scenario = catalog_of(parts.values()), scenario_of()
    best = plan(catalog, scenario)
    assert best.status == "optimal"
    found = swap_list(best.assessment.build, catalog, scenario, is_in_hand=False)
    assert found.swaps
    assert found.best is None
    assert all(swap.net <= 0.01 for swap in found.swaps)


def test_a_machine_that_has_grown_too_small_must_change() -> None:
    """With a need for 7 TB a third drive mends it; doing nothing is not on offer."""
    parts = plain_parts()
    catalog, scenario = catalog_of(parts.values()), scenario_of()
    build = plan(catalog, scenario).assessment.build
    needs = scenario.needs.model_copy(update={"usable_tb": 7.0})
    grown = scenario.model_copy(update={"needs": needs})
    found = swap_list(build, catalog, grown)
    assert not found.before.is_fit
    assert found.best is not None
    (change,) = found.best.changes
    assert (change.out, change.role, change.into.part.id) == (None, "data", "hdd-4")
    # a drive and its cable
    assert found.best.money_now == pytest.approx(100 + 3)


def test_a_machine_that_nothing_mends_says_so() -> None:
    """Twenty terabytes ask for more drives than one change brings."""
    parts = plain_parts()
    catalog, scenario = catalog_of(parts.values()), scenario_of()
    build = plan(catalog, scenario).assessment.build
    needs = scenario.needs.model_copy(update={"usable_tb": 20.0})
    found = swap_list(build, catalog, scenario.model_copy(update={"needs": needs}))
    assert found.best is None
    assert swaps_verdict(found, "EUR").startswith("Does not meet all needs, and no")
