"""Second thoughts about a plan: the nearest other build, and prices to walk away at.

Prices enter the cost of a build as straight lines. A plan that is the cheapest at its
own price of a part and again at a higher one is so in between; the price at which it
stops being so is found by searching anew where its line meets that of a better build.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, Item, ItemCount
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure
from optibox.frontier.doubt import doubt_of_difference
from optibox.frontier.envelope import Line
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Plan

SMALL_KINDS = frozenset(
    ("cable", "power lead", "network lead", "mounting plate", "drive adapter")
)
"""Kinds that alone do not make another machine."""

PRICED_AIMS = ("total cost", "purchase")
"""Aims that a price has a part in."""

TOLERANCE = 0.02
"""Two plans this close are the same: each is proven to a minor unit. [currency]"""

DEAREST = 100.0
"""How many times its price, and units of money, a part is made dearer to see whether
anything else could ever win."""

Solve = Callable[[Catalog, Scenario], Plan]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The cheapest build that does without at least one part of the plan's."""

    assessment: Assessment
    without: str
    """Key of the item that it does without."""
    extra: float
    """What it costs more over the years. [currency]"""
    doubt: float
    """By how much that may be wrong, from what is known of the inputs. [currency]"""

    @property
    def is_tie(self) -> bool:
        """Return whether the difference is inside the inputs' uncertainty."""
        return self.extra <= self.doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkAway:
    """One line of the order list: what it may cost before something else wins."""

    key: str
    label: str
    price: float
    """Of one pack, now. [currency]"""
    walk_price: float
    """Of one pack, at which another build costs the same; infinite if none ever does.
    [currency]"""
    without_extra: float
    """What doing without it costs more over the years; infinite if nothing does.
    [currency]"""
    winner: Assessment | None
    """The build that then wins, at the part's present price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondThoughts:
    """What a plan says about the lines of its order list."""

    nearest: Nearest | None
    walk_aways: tuple[WalkAway, ...]
    n_solves: int
    is_proven: bool
    """Whether every search behind it ended with proof."""


class _UnprovenError(Exception):
    """A search ended without proof."""


def second_thoughts(
    catalog: Catalog,
    scenario: Scenario,
    best: Assessment,
    *,
    solve: Solve = plan,
    pool: Sequence[Assessment] = (),
    on_progress: Callable[[str], None] | None = None,
) -> SecondThoughts:
    """Return the nearest build with other parts, and each line's walk-away price.

    Parameters
    ----------
    catalog, scenario
        What the plan was made from; the aim is total cost or purchase.
    best : Assessment
        The plan's build, proven best.
    solve : callable
        Returns a proven plan.
    pool : sequence of Assessment
        Builds known besides; they save searches.
    on_progress : callable, optional
        Receives a line now and then.
    """
    study = _Study(catalog, scenario, best, solve, list(pool))
    lines: list[WalkAway] = []
    others: list[Nearest] = []
    is_proven = True
    for item in study.items():
        if on_progress:
            on_progress(f"without {item.key}, {study.n_solves} searches")
        try:
            other = study.without(item)
            if other is not None and item.part.kind not in SMALL_KINDS:
                others.append(study.nearest(other, item))
            if item.key in best.build.bought():
                lines.append(study.walk_away(item, other))
        except (_UnprovenError, KeyboardInterrupt):
            is_proven = False
            break
    nearest = min(others, key=lambda n: n.extra, default=None)
    if nearest is not None:
        nearest = replace(nearest, doubt=doubt_of_difference(best, nearest.assessment))
    return SecondThoughts(
        nearest=nearest,
        walk_aways=tuple(lines),
        n_solves=study.n_solves,
        is_proven=is_proven,
    )


@dataclass
class _Study:
    """One plan under doubt, with all builds that came up."""

    catalog: Catalog
    scenario: Scenario
    best: Assessment
    solve: Solve
    pool: list[Assessment]
    n_solves: int = field(default=0)

    def items(self) -> Iterator[Item]:
        """Yield the items of the build, main parts first."""
        entries = sorted(
            self.best.build.items, key=lambda e: e.item.part.kind in SMALL_KINDS
        )
        yield from (entry.item for entry in entries)

    def value(self, found: Assessment) -> float:
        """Return a build's value of the aim. [currency]."""
        if self.scenario.choices.aim == "purchase":
            return found.cost.purchase
        return found.total_cost

    def found(self, catalog: Catalog, scenario: Scenario) -> Assessment | None:
        """Return the best build, at present prices; nothing where none exists."""
        self.n_solves += 1
        answer = self.solve(catalog, scenario)
        if answer.status == "infeasible":
            return None
        if answer.status != "optimal" or answer.assessment is None:
            raise _UnprovenError
        build = answer.assessment.build
        for part in {e.item.part.id for e in build.items + build.spares}:
            if part in self.catalog.by_id:
                price = self.catalog.by_id[part].price
                build = repriced(build, part, price)
        known = assess(build, self.scenario)
        self.pool.append(known)
        return known

    def without(self, item: Item) -> Assessment | None:
        """Return the best build that does without an item; nothing if none does."""
        part, scenario = item.part, self.scenario
        if part.id in scenario.insist or part.id in {s.id for s in scenario.spares}:
            return None
        if item.is_owned:
            ban = (*scenario.ban, item.key)
            return self.found(self.catalog, scenario.model_copy(update={"ban": ban}))
        # none in stock: owned pieces of the same part stay on offer
        gone = part.model_copy(update={"stock": 0})
        return self.found(self.catalog.with_parts([gone]), scenario)

    def nearest(self, other: Assessment, item: Item) -> Nearest:
        """Return another build with its extra cost."""
        extra = self.value(other) - self.value(self.best)
        return Nearest(assessment=other, without=item.key, extra=extra, doubt=0.0)

    def walk_away(self, item: Item, other: Assessment | None) -> WalkAway:
        """Return the price at which another build costs as little as the plan."""
        part, now = item.part, item.part.price.mid
        own = self.line(self.best, part.id)
        walk, winner = self._first_meeting(own, part.id, now)
        if winner is None:
            walk = now * DEAREST + DEAREST
        while True:
            dearer = part.model_copy(update={"price": _exactly(walk)})
            found = self.found(self.catalog.with_parts([dearer]), self.scenario)
            line = self.line(found, part.id) if found else own
            if line.at(walk) >= own.at(walk) - TOLERANCE or line.slope >= own.slope:
                break
            walk, winner = own.meets(line), line.payload
        extra = math.inf
        if other is not None:
            extra = self.value(other) - self.value(self.best)
        return WalkAway(
            key=item.key,
            label=part.name or part.id,
            price=now,
            walk_price=walk if winner is not None else math.inf,
            without_extra=extra,
            winner=winner,
        )

    def _first_meeting(
        self, own: Line[Assessment], part: str, now: float
    ) -> tuple[float, Assessment | None]:
        """Return the least price at which a known build meets the plan's line."""
        walk, winner = math.inf, None
        for known in self.pool:
            line = self.line(known, part)
            if line.slope < own.slope - 1e-9 and own.meets(line) < walk:
                walk, winner = max(now, own.meets(line)), known
        return walk, winner

    def line(self, found: Assessment, part: str) -> Line[Assessment]:
        """Return a build's value over the price of a pack of one part."""
        low, high = (
            self.value(
                assess(repriced(found.build, part, _exactly(price)), self.scenario)
            )
            for price in (0.0, 1000.0)
        )
        return Line(low, (high - low) / 1000.0, found)


def _exactly(price: float) -> Figure:
    return Figure(price, price, price)


def repriced(build: Build, part: str, price: Figure) -> Build:
    """Return a build in which a part of the catalog has another price.

    Owned pieces that take their replacement price from the catalog's row change too.
    """

    def changed(entry: ItemCount) -> ItemCount:
        item = entry.item
        is_own_row = item.owned is not None and item.owned.part is not None
        if item.part.id != part or is_own_row:
            return entry
        row = item.part.model_copy(update={"price": price})
        return replace(entry, item=replace(item, part=row))

    return replace(
        build,
        items=tuple(map(changed, build.items)),
        spares=tuple(map(changed, build.spares)),
    )
