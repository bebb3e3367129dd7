"""A decision: machines to choose from, and which is best where inputs stand otherwise.

Either every machine of the catalog takes part, by a search at each corner, or a list
of machines does: the one that stands, and each that a swap makes of it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

from optibox.assess import assess
from optibox.build import Build, Item, ItemCount, items_of
from optibox.catalog.catalog import Catalog
from optibox.running.sensitivity_inputs import (
    MID,
    Corner,
    Spreads,
    build_at,
    catalog_at,
    scenario_at,
)
from optibox.running.swap_kit import FOLLOWERS
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Progress

NEVER = float("inf")
"""Cost of a machine that does not meet all needs within all limits."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Option:
    """One machine to choose, with its figures as given."""

    build: Build
    name: str = ""

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Return what tells machines apart: items, roles, operation."""
        items = sorted((e.item.key, e.count) for e in self.build.items)
        roles = sorted((d.role, d.key) for d in self.build.drives)
        return (tuple(items), tuple(roles), self.build.operation)

    @cached_property
    def parts_key(self) -> tuple[object, ...]:
        """Return what is decided: the parts (cables aside), roles, layout."""
        items = sorted(
            (e.item.key, e.count)
            for e in self.build.items
            if not isinstance(e.item.part, FOLLOWERS)
        )
        roles = sorted((d.role, d.key) for d in self.build.drives)
        plan_ = self.build.operation
        return (tuple(items), tuple(roles), plan_.layout, plan_.n_parity, plan_.cache)


class Decision(Protocol):
    """What can be chosen, and what it costs at a corner."""

    @property
    def scenario(self) -> Scenario:
        """Return the scenario as given."""

    @property
    def spreads(self) -> Spreads:
        """Return by how much inputs without bounds move."""

    def best(self, corner: Corner) -> tuple[Option | None, float]:
        """Return the best machine at a corner and its cost there. [currency]."""

    def cost(self, option: Option, corner: Corner) -> float:
        """Return what a machine costs at a corner over the years. [currency]."""


def cost_at(
    option: Option, scenario: Scenario, corner: Corner, spreads: Spreads
) -> float:
    """Return a machine's cost at a corner; infinite where it is not fit there."""
    build = build_at(option.build, corner, spreads)
    found = assess(build, scenario_at(scenario, corner, spreads))
    return found.total_cost if found.is_fit else NEVER


def _frozen(corner: Corner) -> tuple[tuple[str, float], ...]:
    return tuple(sorted((name, x) for name, x in corner.items() if x))


@dataclass(kw_only=True)
class ListDecision:
    """The best out of a list of machines."""

    options: Sequence[Option]
    scenario: Scenario
    spreads: Spreads
    memory: dict[tuple[object, ...], float] = field(default_factory=dict)

    def best(self, corner: Corner) -> tuple[Option | None, float]:
        """Return the best machine at a corner; the first in ties."""
        costs = [self.cost(option, corner) for option in self.options]
        least = min(costs, default=NEVER)
        if least == NEVER:
            return None, NEVER
        return self.options[costs.index(least)], least

    def cost(self, option: Option, corner: Corner) -> float:
        """Return what a machine costs at a corner over the years. [currency]."""
        key = (id(option), _frozen(corner))
        if key not in self.memory:
            self.memory[key] = cost_at(option, self.scenario, corner, self.spreads)
        return self.memory[key]


@dataclass(kw_only=True)
class PlanDecision:
    """The best of all machines of a catalog, by a search at each corner."""

    catalog: Catalog
    scenario: Scenario
    spreads: Spreads
    time_limit_s: float | None = None
    on_progress: Progress | None = None
    n_searches: int = 0
    n_unproven: int = 0
    known: dict[tuple[object, ...], Option] = field(default_factory=dict)
    answers: dict[tuple[object, ...], tuple[Option | None, float]] = field(
        default_factory=dict
    )

    def best(self, corner: Corner) -> tuple[Option | None, float]:
        """Return the best machine at a corner, searched once for each."""
        key = _frozen(corner)
        if key not in self.answers:
            self.answers[key] = self._search(corner)
        return self.answers[key]

    def cost(self, option: Option, corner: Corner) -> float:
        """Return what a machine costs at a corner over the years. [currency]."""
        return cost_at(option, self.scenario, corner, self.spreads)

    def _search(self, corner: Corner) -> tuple[Option | None, float]:
        self.n_searches += 1
        words = ", ".join(f"{n} {x:+.2f}" for n, x in _frozen(corner)) or "as given"

        def show(line: str) -> None:
            if self.on_progress:
                self.on_progress(f"search {self.n_searches} ({words}): {line}")

        moved = scenario_at(self.scenario, corner, self.spreads)
        choices = moved.choices.model_copy(update={"aim": "total cost"})
        found = plan(
            catalog_at(self.catalog, corner, self.spreads),
            moved.model_copy(update={"choices": choices}),
            time_limit_s=self.time_limit_s,
            on_progress=show,
        )
        self.n_unproven += found.status in ("feasible", "unknown")
        if found.assessment is None:
            return None, NEVER
        option = Option(build=self._as_given(found.assessment.build))
        option = self.known.setdefault(option.key, option)
        return option, self.cost(option, corner)

    @cached_property
    def _items(self) -> dict[str, Item]:
        return {item.key: item for item in items_of(self.catalog, self.scenario)}

    def _as_given(self, build: Build) -> Build:
        """Return a build that was planned with moved figures, with those as given."""

        def given(entries: Iterable[ItemCount]) -> tuple[ItemCount, ...]:
            return tuple(
                replace(e, item=self._items.get(e.item.key, e.item)) for e in entries
            )

        return replace(
            build,
            items=given(build.items),
            spares=given(build.spares),
            postage=tuple(sorted(self.catalog.postage.items())),
        )


__all__ = ["MID", "NEVER", "Decision", "ListDecision", "Option", "PlanDecision"]
