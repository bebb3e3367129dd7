"""The best sequence of swaps against every sequence, one after the other."""

from collections.abc import Iterator
from itertools import combinations, product

import numpy_financial as npf
import pytest

from optibox.assess import Assessment
from optibox.catalog.platform import Board, Chassis, PowerSupply
from optibox.catalog.storage import BootMedium, HardDrive
from optibox.running.swap_changes import Change, changed
from optibox.running.swap_kit import kit_of
from optibox.running.swap_sequence import best_sequence
from optibox.running.swap_worth import yearly_of
from optibox.running.swaps import SwapList, swap_list
from optibox.scenario import Scenario
from optibox.search.plan import plan
from tests.support.parts import catalog_of, make, plain_parts

YEARS = 3


def machine(tariff: float, discount: float, growth: float) -> SwapList:
    parts = plain_parts()
    parts["supply"] = make(PowerSupply, "supply", loss_fixed_w=9, loss_share=0.3)
    parts["board"] = make(Board, "board", idle_w=16)
    parts["boot"] = make(BootMedium, "boot", idle_w=2)
    scenario = Scenario.model_validate(
        {
            "needs": {"usable_tb": 3},
            "money": {
                "tariff_per_kwh": tariff,
                "years": YEARS,
                "discount": discount,
                "tariff_growth": growth,
            },
            "choices": {"layouts": ("independent",), "caches": ("none",)},
            "limits": {"array_drives": 2},
        }
    )
    build = plan(catalog_of(parts.values()), scenario).assessment.build
    parts["lean"] = make(
        PowerSupply, "lean", loss_fixed_w=3, loss_share=0.1, price=30, seller="far"
    )
    parts["leaner"] = make(
        PowerSupply, "leaner", loss_fixed_w=2, loss_share=0.02, price=48
    )
    parts["boot-2"] = make(BootMedium, "boot-2", idle_w=0.2, price=9, seller="far")
    parts["case-2"] = make(Chassis, "case-2", idle_w=0.5, price=14)
    parts["hdd-new"] = make(HardDrive, "hdd-new", idle_w=2, standby_w=0.1, price=35)
    del parts["board"]
    return swap_list(build, catalog_of(parts.values(), {"far": 5}), scenario)


class Brute:
    """Every order and every year of every set of changes, counted by itself."""

    def __init__(self, found: SwapList, budget: float, most: int) -> None:
        self.found, self.budget, self.most = found, budget, most
        self.kit = kit_of(found.bench.before)
        self.known: dict[tuple[Change, ...], Assessment | None] = {(): found.before}

    def after(self, chosen: tuple[Change, ...]) -> Assessment | None:
        key = tuple(sorted(chosen, key=lambda change: change.key))
        if key not in self.known:
            kit = changed(self.kit, key)
            self.known[key] = self.found.bench.fit(kit) if kit else None
        return self.known[key]

    def multisets(self) -> Iterator[tuple[Change, ...]]:
        """Yield sets of changes; one piece each of two equal drives counts twice."""
        twice = [
            c for c in self.found.changes if c.n_out == 1 and c.kind == "hard drive"
        ]
        pool = [*self.found.changes, *twice]
        for size in range(self.most + 1):
            yield from combinations(pool, size)

    def best(self) -> float:
        """Return the best net present value of all schedules."""
        values = [
            value
            for chosen in self.multisets()
            for years in product(range(YEARS), repeat=len(chosen))
            if (value := self.value(chosen, years)) is not None
        ]
        return max(values) - self.value((), ())

    def value(self, chosen: tuple, years: tuple[int, ...]) -> float | None:
        """Return the present value of one schedule, or nothing where it cannot be."""
        money = self.found.before.scenario.money
        paid, running = [], []
        have: tuple[Change, ...] = ()
        for year in range(YEARS):
            new = tuple(c for c, y in zip(chosen, years, strict=True) if y == year)
            now, before = self.after((*have, *new)), self.after(have)
            if now is None or before is None:
                return None
            price = bought(before, now)
            if price > self.budget + 1e-9:
                return None
            cost = yearly_of(now)
            grown = cost.energy * (1 + money.tariff_growth) ** year
            paid.append(-price)
            running.append(-grown - cost.steady)
            have = (*have, *new)
        # paid at the start of each year, running cost at its end
        start = npf.npv(money.discount, paid)
        return start + npf.npv(money.discount, [0.0, *running])


def bought(before: Assessment, after: Assessment) -> float:
    """Return the price of the pieces that one machine has and the other has not."""
    have = {e.item.part.id: e.count for e in before.build.items}
    total, sellers = 0.0, set()
    for entry in after.build.items:
        part = entry.item.part
        more = entry.count - have.get(part.id, 0)
        if more > 0 and not entry.item.is_owned:
            total += more * part.price.mid
            sellers.add(part.seller)
    return total + (5 if "far" in sellers else 0)


@pytest.mark.parametrize(
    ("tariff", "discount", "growth", "budget"),
    [
        (0.30, 0.0, 0.0, 60),
        (0.30, 0.0, 0.0, 40),
        (0.45, 0.05, 0.0, 50),
        (0.25, 0.0, 0.3, 45),
        (0.60, 0.08, 0.05, 36),
        (0.30, 0.0, 0.0, 5),
    ],
)
def test_no_sequence_is_better(tariff, discount, growth, budget) -> None:
    found = machine(tariff, discount, growth)
    best = best_sequence(found, budget, most_swaps=3)
    brute = Brute(found, budget, 3)
    assert best.is_over_all
    assert best.net == pytest.approx(brute.best(), abs=0.01)
    spent: dict[int, float] = {}
    for step in best.steps:
        spent[step.year] = spent.get(step.year, 0.0) + step.price
    assert all(price <= budget + 1e-9 for price in spent.values())


def test_a_sequence_of_steps_now_is_the_swap_of_all_of_them() -> None:
    found = machine(0.5, 0.0, 0.0)
    best = best_sequence(found, 500)
    (step,) = best.steps
    assert step.year == 1
    assert best.net == pytest.approx(
        found.before.total_cost - step.after.total_cost, abs=1e-6
    )


def test_a_small_budget_spreads_changes_over_years() -> None:
    found = machine(0.6, 0.0, 0.0)
    best = best_sequence(found, 50)
    assert len({step.year for step in best.steps}) > 1
    assert best.net < best_sequence(found, 500).net


def test_left_out_changes_are_told() -> None:
    found = machine(0.5, 0.0, 0.0)
    few = best_sequence(found, 500, most_sets=5)
    assert few.n_changes < few.n_changes_in_all
    assert not few.is_over_all
