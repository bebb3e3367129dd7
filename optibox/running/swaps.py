"""The swap list: what to change next in a machine, and whether to change anything.

Every change of one part is tried; then those pairs whose parts are worth more, or
less, together than one by one. Each is a complete build that the evaluator accepts,
and every figure is the difference of two assessments.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.catalog.catalog import Catalog
from optibox.physics.money import payback_years
from optibox.running.swap_build import Bench
from optibox.running.swap_changes import Change, changed, changes_of, may_mend, undoes
from optibox.running.swap_kit import kit_of
from optibox.running.swap_promise import promise, slack
from optibox.running.swap_stock import in_hand, stock_of
from optibox.running.swap_worth import yearly_of
from optibox.scenario import Scenario, as_it_stands

Progress = Callable[[str], None]
JOINT_DIFFERENCE = 1.0
"""From this difference between a pair's value and the sum of its parts' a pair is
listed. [currency]"""

MOST_PAIRS = 1_500
"""Pairs that are assessed at most, the most promising first."""


@dataclass(frozen=True, kw_only=True)
class Swap:
    """One or two changes, with the machines before and after."""

    changes: tuple[Change, ...]
    before: Assessment
    after: Assessment
    sum_of_parts: float | None = None
    """Net value of a pair's changes made one by one and added; nothing for single
    changes, and where they only work together. [currency]"""

    @property
    def money_now(self) -> float:
        """Return what is paid now, cables and postage included. [currency]."""
        return self.after.cost.purchase - self.before.cost.purchase

    @cached_property
    def saving_per_year(self) -> float:
        """Return energy and wear saved in the first year. [currency]."""
        return yearly_of(self.before).total - yearly_of(self.after).total

    @property
    def net(self) -> float:
        """Return what the change is worth over the years, price taken off. [currency]."""
        return self.before.total_cost - self.after.total_cost

    @property
    def payback_years(self) -> float:
        """Return the simple payback. [years]."""
        return payback_years(self.money_now, self.saving_per_year)


@dataclass(frozen=True, kw_only=True)
class SwapList:
    """All swaps of a machine that work, best first."""

    before: Assessment
    swaps: tuple[Swap, ...]
    n_changes: int
    """Changes of one part that were tried."""

    n_pairs: int
    """Pairs that were assessed."""

    n_hopeless: int
    """Pairs left out: by their own figures they cannot pay."""

    n_left: int
    """Pairs that might pay and were not tried: more than the most allowed."""

    is_in_hand: bool
    catalog: Catalog
    bench: Bench
    changes: tuple[Change, ...]
    """Every change of one part, whether it works or not."""

    @property
    def best(self) -> Swap | None:
        """Return the best swap, or nothing where doing nothing is at least as good."""
        first = self.swaps[0] if self.swaps else None
        if first is None or (self.before.is_fit and first.net < MINOR_UNIT):
            return None
        return first

    @property
    def singles(self) -> tuple[Swap, ...]:
        """Return the swaps of one change."""
        return tuple(s for s in self.swaps if len(s.changes) == 1)


MINOR_UNIT = 0.01
"""Money is compared to this. [currency]"""


def swap_list(
    build: Build,
    catalog: Catalog,
    scenario: Scenario,
    *,
    is_in_hand: bool = True,
    all_pairs: bool = False,
    on_progress: Progress | None = None,
) -> SwapList:
    """Return every swap of a machine that keeps it valid.

    Parameters
    ----------
    build : Build
        The machine.
    catalog : Catalog
        What can be bought.
    scenario : Scenario
        Usage, money, needs and limits.
    is_in_hand : bool
        The parts are there already and paid; else none is bought yet, and a part that
        is not bought after all saves its price.
    all_pairs : bool
        Assess pairs too that cannot pay by their own figures.
    on_progress : callable, optional
        Receives a line now and then.

    Returns
    -------
    SwapList
        Best first, by net value over the scenario's years.
    """
    now = in_hand(build) if is_in_hand else build
    if is_in_hand:
        scenario = as_it_stands(scenario)
    bench = Bench(before=now, stock=stock_of(now, catalog, scenario), scenario=scenario)
    before = assess(now, scenario)
    kit = kit_of(now)
    changes = changes_of(kit, bench.stock, scenario, is_fit=before.is_fit)
    finder = _Finder(bench=bench, before=before, on_progress=on_progress)
    singles = finder.all_of([(change,) for change in changes], "changes")
    wanted, n_hopeless = _pairs(before, changes, singles, everything=all_pairs)
    tried = wanted if all_pairs else wanted[:MOST_PAIRS]
    pairs = finder.all_of(tried, "pairs")
    swaps = [*singles.values(), *_telling(pairs, singles)]
    return SwapList(
        before=before,
        swaps=tuple(sorted(_each_once(swaps), key=_order)),
        n_changes=len(changes),
        n_pairs=len(tried),
        n_hopeless=n_hopeless,
        n_left=len(wanted) - len(tried),
        is_in_hand=is_in_hand,
        catalog=catalog,
        bench=bench,
        changes=changes,
    )


def _each_once(swaps: Sequence[Swap]) -> Iterable[Swap]:
    """Return swaps with one for each machine that comes out: the one of fewest changes."""
    found: dict[tuple[object, ...], Swap] = {}
    for swap in sorted(swaps, key=lambda s: (len(s.changes), *_order(s))):
        build = swap.after.build
        items = tuple(sorted((e.item.key, e.count) for e in build.items))
        roles = tuple(sorted((d.role, d.key) for d in build.drives))
        found.setdefault((items, roles, build.operation), swap)
    return found.values()


def _order(swap: Swap) -> tuple[float, int, tuple[object, ...]]:
    return -round(swap.net, 6), len(swap.changes), tuple(c.key for c in swap.changes)


@dataclass(frozen=True, kw_only=True)
class _Finder:
    """Makes builds out of changes and has them judged."""

    bench: Bench
    before: Assessment
    on_progress: Progress | None

    def all_of(
        self, wanted: Sequence[tuple[Change, ...]], words: str
    ) -> dict[tuple[Change, ...], Swap]:
        """Return the swaps that work, by their changes."""
        found = {}
        for number, changes in enumerate(wanted):
            if self.on_progress and number % 25 == 0:
                self.on_progress(f"{number} of {len(wanted)} {words} tried")
            swap = self.swap(changes)
            if swap is not None:
                found[changes] = swap
        return found

    def swap(self, changes: tuple[Change, ...]) -> Swap | None:
        """Return the swap of some changes, or nothing where no machine comes out."""
        kit = changed(kit_of(self.bench.before), changes)
        after = self.bench.fit(kit) if kit is not None else None
        if after is None:
            return None
        return Swap(changes=changes, before=self.before, after=after)


def _pairs(
    before: Assessment,
    changes: Sequence[Change],
    singles: dict[tuple[Change, ...], Swap],
    *,
    everything: bool,
) -> tuple[list[tuple[Change, ...]], int]:
    """Return the pairs to assess, the most promising first, and how many are not.

    Two changes that both work alone are judged by their net values, others by their
    promises; what cannot reach a net value of 0 even with all the slack is left out.
    """
    room, hoped = slack(before), {}
    for change in changes:
        alone = singles.get((change,))
        hoped[change] = promise(before, change).value(before.scenario.money)
        if alone is not None:
            hoped[change] = max(hoped[change], alone.net)
    ranked: list[tuple[float, tuple[Change, ...]]] = []
    n_hopeless = 0
    for one, other in combinations(changes, 2):
        hope = hoped[one] + hoped[other] + room
        if hope <= 0 and not everything and before.is_fit:
            n_hopeless += 1
            continue
        works = (one,) in singles and (other,) in singles
        if undoes(one, other) or not (works or may_mend(one, other)):
            continue
        ranked.append((-hope, (one, other)))
    ranked.sort(key=lambda entry: (entry[0], [c.key for c in entry[1]]))
    return [pair for _, pair in ranked], n_hopeless


def _telling(
    pairs: dict[tuple[Change, ...], Swap], singles: dict[tuple[Change, ...], Swap]
) -> Iterable[Swap]:
    """Yield the pairs whose value is not just the sum of their changes'."""
    for changes, swap in pairs.items():
        alone = [singles.get((change,)) for change in changes]
        values = [one.net for one in alone if one is not None]
        if len(values) < len(changes):
            yield swap
        elif abs(swap.net - sum(values)) > JOINT_DIFFERENCE:
            yield Swap(
                changes=changes,
                before=swap.before,
                after=swap.after,
                sum_of_parts=sum(values),
            )
