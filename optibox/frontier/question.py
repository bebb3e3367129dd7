"""Builds as points: the oracle that the engine asks, made of a search."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from optibox.assess import Assessment
from optibox.build import Build
from optibox.criteria import Criterion
from optibox.frontier.axes import minimised
from optibox.frontier.oracle import NO_LIMIT, Answer, Cut, Point
from optibox.frontier.storage import Ask, Found, Search
from optibox.frontier.vectors import Vector
from optibox.scenario import Scenario

ABOVE = 1e-4
"""By which share a cutoff stands above what limits allow: tolerances fit in between."""
BuildKey = tuple[Any, ...]


def build_key(build: Build) -> BuildKey:
    """Return what tells builds of one catalog apart."""
    return (
        tuple(sorted((entry.item.key, entry.count) for entry in build.items)),
        build.drives,
        build.connections,
        build.slots,
        build.operation,
    )


def _most(weights: Vector, limits: Vector) -> float:
    """Return a value that nothing within limits reaches, so that more is of no use."""
    pairs = [(w, limit) for w, limit in zip(weights, limits, strict=True) if w]
    most = sum(w * limit for w, limit in pairs)
    return most + ABOVE * abs(most) if pairs else NO_LIMIT


@dataclass
class BuildOracle:
    """Answers the engine about the builds of one scenario."""

    search: Search
    scenario: Scenario
    axes: tuple[Criterion, ...]
    seen: list[Assessment] = field(default_factory=list)
    """Every build that any answer brought, each once."""
    _keys: set[BuildKey] = field(default_factory=set)

    @property
    def weighable(self) -> tuple[bool, ...]:
        """Which axes a program minimises; of the others it is asked for a value."""
        return tuple(axis.weights is not None for axis in self.axes)

    def point(self, found: Assessment) -> Point[Assessment]:
        """Return a build as a point."""
        return Point(minimised(found, self.axes), found)

    def keep(self, found: Assessment) -> bool:
        """Keep a build; return whether it was new."""
        key = build_key(found.build)
        if key in self._keys:
            return False
        self._keys.add(key)
        self.seen.append(found)
        return True

    def least(
        self, weights: Vector, limits: Vector, deadline: float, slack: float = 0.0
    ) -> Answer[Assessment]:
        """Return a build of least weighted sum within limits, or that none is."""
        fresh: list[Assessment] = []

        def on_build(found: Assessment) -> None:
            if self.keep(found):
                fresh.append(found)

        pairs = list(zip(self.axes, weights, strict=True))
        ask = Ask(
            weights={axis.name: w for axis, w in pairs if w > 0},
            limits={
                axis.name: axis.sign * limit
                for axis, limit in zip(self.axes, limits, strict=True)
                if limit != NO_LIMIT
            },
            cutoff=_most(weights, limits),
            slack=slack,
            deadline=deadline,
        )
        found = self.search.best(self.scenario, ask, on_build)
        return self._answer(found, ask, limits, fresh)

    def _answer(
        self, found: Found, ask: Ask, limits: Vector, fresh: Sequence[Assessment]
    ) -> Answer[Assessment]:
        first = () if found.assessment is None else (found.assessment,)
        taken = ask.weights if found.weights is None else found.weights
        cut = None
        # a search that was stopped has proven its bound all the same
        if (found.outcome != "stopped" or isfinite(found.bound)) and set(taken) <= {
            a.name for a in self.axes
        }:
            cut = Cut(
                limits=limits,
                weights=tuple(taken.get(axis.name, 0.0) for axis in self.axes),
                bound=found.bound,
            )
        return Answer(
            outcome=found.outcome,
            points=tuple(map(self.point, (*first, *fresh))),
            cut=cut,
            n_solves=found.n_solves,
        )
