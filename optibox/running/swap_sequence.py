"""What to change in which year under a yearly budget: the best sequence of swaps.

A sequence makes at most four changes, one or several at the start of a year, each
machine on the way being a valid one. All sets of changes are assessed, then dynamic
programming over years and sets finds the best order: exact for the changes that take
part. Which do is said.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from optibox.assess import Assessment
from optibox.build import Build, ItemCount
from optibox.figures.money import purchase
from optibox.running.swap_changes import Change, changed
from optibox.running.swap_kit import kit_of
from optibox.running.swap_sets import Chosen, sets_that_could_pay
from optibox.running.swap_stock import in_hand
from optibox.running.swap_worth import Yearly, yearly_of
from optibox.running.swaps import Progress, SwapList
from optibox.scenario import Money

MOST_SWAPS = 4
MOST_SETS = 3_000
"""Sets of changes that are assessed at most; beyond it the least promising changes
are left out, and the answer says so."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """What is changed at the start of one year."""

    year: int
    """1 = now."""

    changes: Chosen
    price: float
    """Paid then, cables and postage included. [currency]"""

    after: Assessment


@dataclass(frozen=True, kw_only=True)
class SwapSequence:
    """The best sequence found, and among what."""

    steps: tuple[Step, ...]
    net: float
    """Present value over the years against changing nothing. [currency]"""

    budget_per_year: float
    n_changes: int
    """Changes that took part."""

    n_changes_in_all: int
    """Changes of one part whose new pieces a year's budget pays."""

    n_sets: int
    """Sets of changes that were assessed."""

    @property
    def is_over_all(self) -> bool:
        """Return whether every change took part that the budget allows."""
        return self.n_changes == self.n_changes_in_all


def best_sequence(
    found: SwapList,
    budget_per_year: float,
    *,
    most_swaps: int = MOST_SWAPS,
    most_sets: int = MOST_SETS,
    on_progress: Progress | None = None,
) -> SwapSequence:
    """Return what to change in which year, at best.

    Parameters
    ----------
    found : SwapList
        A machine with its swaps.
    budget_per_year : float
        Spent at most at the start of each year; what is left over does not carry.
        [currency]
    most_swaps : int
        Changes in all, at most.
    most_sets : int
        Sets assessed at most.
    on_progress : callable, optional
        Receives a line now and then.

    Returns
    -------
    SwapSequence
        Exact for the changes that took part.
    """
    affordable = _affordable(found, budget_per_year)
    sets, in_play = sets_that_could_pay(
        found, affordable, budget_per_year, most_swaps, most_sets
    )
    machines = _machines(found, sets, on_progress)
    years = _Years(
        found=found, budget=budget_per_year, most_swaps=most_swaps, machines=machines
    )
    net, steps = years.best()
    return SwapSequence(
        steps=steps,
        net=net,
        budget_per_year=budget_per_year,
        n_changes=len(in_play),
        n_changes_in_all=len(affordable),
        n_sets=len(sets),
    )


def _affordable(found: SwapList, budget: float) -> Chosen:
    """Return the changes whose new pieces do not cost more than a year's budget."""
    return tuple(c for c in found.changes if not found.is_in_hand or c.price <= budget)


def _machines(
    found: SwapList, wanted: Sequence[Chosen], on_progress: Progress | None
) -> dict[Chosen, Assessment]:
    """Return the valid machines by the changes that make them, the present one too."""
    machines: dict[Chosen, Assessment] = {(): found.before}
    kit = kit_of(found.bench.before)
    known = {swap.changes: swap.after for swap in found.swaps}
    for number, chosen in enumerate(wanted):
        if on_progress and number % 25 == 0:
            on_progress(f"{number} of {len(wanted)} sets of changes tried")
        after = known.get(chosen)
        if after is None:
            made = changed(kit, chosen)
            after = found.bench.fit(made) if made is not None else None
        if after is not None:
            machines[chosen] = after
    return machines


def _contains(larger: Counter[Change], smaller: Counter[Change]) -> bool:
    return all(larger[change] >= n for change, n in smaller.items())


def step_price(before: Build, after: Build) -> float:
    """Return what has to be bought to turn one machine into another. [currency].

    Pieces that the first one holds, in its boxes and packs too, are there.
    """
    held = {
        entry.item.key.removesuffix("@had"): entry.item.limit or entry.count
        for entry in in_hand(before).items
    }
    left = []
    for entry in after.items:
        have = 0 if entry.item.is_owned else held.get(entry.item.key, 0)
        if entry.count > have:
            left.append(ItemCount(item=entry.item, count=entry.count - have))
    return purchase(replace(after, items=tuple(left), spares=()))


@dataclass(frozen=True, kw_only=True)
class _Years:
    """Dynamic programming from the last year to the first over valid machines."""

    found: SwapList
    budget: float
    most_swaps: int
    machines: dict[Chosen, Assessment]

    @cached_property
    def money(self) -> Money:
        """Return how money is counted."""
        return self.found.before.scenario.money

    @cached_property
    def yearly(self) -> dict[Chosen, Yearly]:
        """Return each machine's cost in a year."""
        return {key: yearly_of(after) for key, after in self.machines.items()}

    @cached_property
    def ways(self) -> dict[Chosen, list[tuple[Chosen, float]]]:
        """Return where each machine can be changed to within a year's budget."""
        counts = {key: Counter(key) for key in self.machines}
        return {
            key: [
                (other, price)
                for other in self.machines
                if (other or self.found.before.is_fit)
                and _contains(counts[other], counts[key])
                and (price := self._price(key, other)) <= self.budget + 1e-9
            ]
            for key in self.machines
        }

    def _price(self, key: Chosen, other: Chosen) -> float:
        if key == other:
            return 0.0
        bare = sum(c.price for c in (Counter(other) - Counter(key)).elements())
        if self.found.is_in_hand and bare > self.budget:
            return bare
        before, after = self.machines[key].build, self.machines[other].build
        return step_price(before, after)

    def best(self) -> tuple[float, tuple[Step, ...]]:
        """Return the best present value against doing nothing, and its steps."""
        years = self.money.years
        worth = dict.fromkeys(self.machines, 0.0)
        picks: list[dict[Chosen, tuple[Chosen, float]]] = []
        for year in range(years, 0, -1):
            now: dict[Chosen, float] = {}
            pick: dict[Chosen, tuple[Chosen, float]] = {}
            for key, ways in self.ways.items():
                scored = (
                    (self._value(year, key, other, price) + worth[other], other, price)
                    for other, price in ways
                )
                value, other, price = max(scored, key=_better, default=_NOWHERE)
                now[key], pick[key] = value, (other, price)
            worth = now
            picks.append(pick)
        picks.reverse()
        idle = sum(self._value(year, (), (), 0.0) for year in range(1, years + 1))
        return worth[()] - idle, tuple(self._steps(picks))

    def _value(self, year: int, key: Chosen, other: Chosen, price: float) -> float:
        """Return the present value of one year: what is paid, then what it costs."""
        money, cost = self.money, self.yearly[other]
        is_paid = "purchase" in money.terms and key != other
        paid = price * (1.0 + money.discount) ** (1 - year) if is_paid else 0.0
        if "resale" in money.terms and key != other:
            back = money.resale_fraction * price
            paid -= back * (1.0 + money.discount) ** -money.years
        grown = cost.energy * (1.0 + money.tariff_growth) ** (year - 1)
        return -paid - (grown + cost.steady) * (1.0 + money.discount) ** -year

    def _steps(
        self, picks: Sequence[dict[Chosen, tuple[Chosen, float]]]
    ) -> Iterator[Step]:
        key: Chosen = ()
        for year, pick in enumerate(picks, 1):
            other, price = pick[key]
            if other != key and price < math.inf:
                new = tuple((Counter(other) - Counter(key)).elements())
                yield Step(
                    year=year, changes=new, price=price, after=self.machines[other]
                )
            key = other


_NOWHERE: tuple[float, Chosen, float] = (-math.inf, (), math.inf)
"""An unfit machine that no affordable change mends."""


def _better(entry: tuple[float, Chosen, float]) -> tuple[float, int, float]:
    """Rank by value to a tenth of a minor unit, then fewer changes, then less paid."""
    value, other, price = entry
    return round(value, 3) if math.isfinite(value) else value, -len(other), -price
