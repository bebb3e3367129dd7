"""What the engine of frontiers asks for, and what it knows from the answers."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Generic, Literal, Protocol, TypeVar

from optibox.frontier.vectors import Vector, is_within

P = TypeVar("P")
P_co = TypeVar("P_co", covariant=True)
NO_LIMIT = math.inf


@dataclass(frozen=True, slots=True)
class Point(Generic[P_co]):
    """Something achieved: minimised values, and what achieves them."""

    values: Vector
    payload: P_co


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What is proven: within the limits, weights times values is at least the bound.

    An infinite bound says that nothing is within the limits.
    """

    limits: Vector
    weights: Vector
    bound: float

    def empties(self, limits: Sequence[float]) -> bool:
        """Return whether nothing can be within some limits, by this cut."""
        if not is_within(limits, self.limits):
            return False
        if self.bound == math.inf:
            return True
        pairs = zip(self.weights, limits, strict=True)
        return sum(w * limit for w, limit in pairs if w) < self.bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer(Generic[P_co]):
    """A point within the limits, or none; what it proves.

    ``best``: the first of ``points`` is within the limits. ``none``: nothing is,
    proven. ``stopped``: not known. Further points are by-products.
    """

    outcome: Literal["best", "none", "stopped"]
    points: tuple[Point[P_co], ...] = ()
    cut: Cut | None = None
    n_solves: int = 1


class Oracle(Protocol[P_co]):
    """Finds a point that is best by weights and nowhere above limits."""

    @property
    def weighable(self) -> tuple[bool, ...]:
        """Which axes can have a weight; the others can only be limited."""
        ...

    def least(
        self, weights: Vector, limits: Vector, deadline: float, slack: float = 0.0
    ) -> Answer[P_co]:
        """Return a point of least weighted sum within closed limits, or that none is.

        Parameters
        ----------
        weights : tuple
            Not negative; the oracle may put others in their place, and says in the
            cut which ones it took.
        limits : tuple
            Infinite where there is none.
        deadline : float
            A time of ``time.monotonic``.
        slack : float
            By which share the point may be worse than the best one.
        """
        ...


@dataclass
class Known(Generic[P]):
    """All points and proofs so far; shared by all searches of one question."""

    points: list[Point[P]] = field(default_factory=list)
    """No two with the same values; none that another dominates."""
    cuts: list[Cut] = field(default_factory=list)
    n_solves: int = 0
    on_point: Callable[[Point[P]], None] | None = None

    def add(self, point: Point[P]) -> bool:
        """Keep a point unless one is known that is as good everywhere."""
        if any(is_within(p.values, point.values) for p in self.points):
            return False
        self.points = [p for p in self.points if not is_within(point.values, p.values)]
        self.points.append(point)
        if self.on_point:
            self.on_point(point)
        return True

    def note(self, answer: Answer[P]) -> None:
        """Keep all that an answer brings."""
        self.n_solves += answer.n_solves
        for point in answer.points:
            self.add(point)
        if answer.cut is not None:
            self.prove(answer.cut)

    def prove(self, cut: Cut) -> None:
        """Keep a proof; those of empty boxes within an empty box say nothing new."""
        if cut.bound == math.inf:
            if any(c.bound == math.inf and c.empties(cut.limits) for c in self.cuts):
                return
            self.cuts = [
                c
                for c in self.cuts
                if c.bound != math.inf or not is_within(c.limits, cut.limits)
            ]
        self.cuts.append(cut)

    def is_empty(self, limits: Vector) -> bool:
        """Return whether nothing is within limits, proven."""
        return any(cut.empties(limits) for cut in self.cuts)

    def within(self, limits: Vector) -> list[Point[P]]:
        """Return the known points within limits."""
        return [p for p in self.points if is_within(p.values, limits)]
