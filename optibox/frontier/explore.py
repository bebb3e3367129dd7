"""Finding all there is to a scale, or a short cover with its proven factor.

The search is the one by local upper bounds: what is not covered by the points known is
a union of boxes, each box is asked for one point, and each point splits the boxes that
hold it. Boxes are split in all axes at once; splitting projections of them is quicker
and loses points.
"""

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from optibox.frontier.boxes import INFINITE, everything, split
from optibox.frontier.oracle import NO_LIMIT, Answer, Cut, Known, Oracle, Point
from optibox.frontier.scale import NEAR, Scale, Steps
from optibox.frontier.vectors import Vector, is_within

P = TypeVar("P")
Progress = Callable[[str], None]

CLIMB_SHARE = 0.4
"""Where an axis can only be limited, its end is approached in steps of this share; where
one fails in one of the resolution, and where that holds, in wider ones again."""


CLIMB_SLACK = 0.1
"""What is asked on the way up is whether anything is there, not what is best."""
PATIENCE, LEAST_S = 0.2, 1.0
"""Share of the time left that one search may take, and what it may take at least [s]."""
LONGEST_S = 30.0
"""What one search may take where time is not limited; its box then stays open. [s]"""


class StoppedError(Exception):
    """The time is over, or the person wants the answer now."""


class UnprovenError(Exception):
    """The oracle could not tell, though there was time: the box stays open."""


@dataclass
class Explorer(Generic[P]):
    """One question to an oracle, with what is known so far."""

    oracle: Oracle[P]
    known: Known[P]
    resolution: Vector
    deadline: float = INFINITE
    on_progress: Progress | None = None
    slack: float = 0.0
    """By which share the points of a sweep may be worse than the best of their box."""
    is_stopped: Callable[[], bool] = lambda: False
    """Whether the person wants the answer now."""
    patience: float = PATIENCE
    """Share of the time left that one search may take."""

    @property
    def n_axes(self) -> int:
        """Return the number of axes."""
        return len(self.resolution)

    def ask(self, weights: Vector, limits: Vector, slack: float = 0.0) -> Answer[P]:
        """Ask the oracle; keep what it says.

        Raises
        ------
        StoppedError
            When the time is over.
        UnprovenError
            When the oracle could not tell.
        """
        if self._is_over():
            raise StoppedError
        answer = self.oracle.least(weights, limits, self._patience(), slack)
        self.known.note(answer)
        if answer.outcome == "stopped":
            raise StoppedError if self._is_over() else UnprovenError
        return answer

    def _patience(self) -> float:
        """Return when one search is to end: none may take all the time there is."""
        now = time.monotonic()
        if self.deadline == INFINITE:
            return now + LONGEST_S
        return now + max(LEAST_S, self.patience * (self.deadline - now))

    def _is_over(self) -> bool:
        return time.monotonic() >= self.deadline or self.is_stopped()

    def spread(self) -> Vector:
        """Return how far known points lie apart on each axis, 1 where not known."""
        columns = zip(*(p.values for p in self.known.points), strict=True)
        spans = [max(column) - min(column) for column in columns]
        return tuple(span or 1.0 for span in spans) or (1.0,) * self.n_axes

    def even_weights(self) -> Vector:
        """Return weights by which each axis that has one counts about as much.

        They are powers of two: an oracle that keeps what it worked out for some weights
        meets them again though the spread has grown a little.
        """
        pairs = zip(self.spread(), self.oracle.weighable, strict=True)
        return tuple(
            _power_of_two(1.0 / span) if is_weighable else 0.0
            for span, is_weighable in pairs
        )

    def first_weight(self) -> Vector:
        """Return weights that count the first axis that has one, and no other."""
        able = self.oracle.weighable
        first = able.index(True) if any(able) else -1
        return tuple(float(j == first) for j in range(self.n_axes))

    def weights_for(self, limits: Vector, scale: Scale) -> Vector:
        """Return weights for a point within limits.

        Where levels are steps, one axis is made least and the others break ties, by so
        little that the answer proves a whole step of that axis empty as well.
        """
        even = self.even_weights()
        if not isinstance(scale, Steps) or not any(even):
            return even
        # the last one: what a year costs is held less well by a limit than a purchase
        axis = max(j for j, weight in enumerate(even) if weight)
        lows = [min(p.values[j] for p in self.known.points) for j in range(self.n_axes)]
        share = 0.5 * self.resolution[axis] / self.n_axes
        return tuple(
            1.0
            if j == axis
            else _power_of_two(share / max(limit - low, self.resolution[j]))
            if weight and limit != NO_LIMIT
            else 0.0
            for j, (weight, limit, low) in enumerate(
                zip(even, limits, lows, strict=True)
            )
        )

    # -- ends

    def find_ends(self) -> bool:
        """Find the best point on each axis; return whether there is any point."""
        order = sorted(range(self.n_axes), key=lambda j: not self.oracle.weighable[j])
        for axis in order:
            find = self._least if self.oracle.weighable[axis] else self._climb
            if find(axis) is None:
                return False
        return True

    def _least(self, axis: int) -> Point[P] | None:
        """Return a point of least value on an axis.

        It may be worse than need be on the others; sweeps find what is better there.
        """
        unit = tuple(float(j == axis) for j in range(self.n_axes))
        try:
            answer = self.ask(unit, (NO_LIMIT,) * self.n_axes)
        except UnprovenError:
            return self.end_of(axis) if self.known.points else None
        return None if answer.outcome == "none" else self.end_of(axis)

    def end_of(self, axis: int) -> Point[P]:
        """Return the known point of least value on an axis, of these the best one."""
        near = self._end_of_known(axis) + NEAR * self.resolution[axis]
        held = [p for p in self.known.points if p.values[axis] <= near]
        return min(held, key=self.rank)

    def rank(self, point: Point[P]) -> tuple[float, Vector]:
        """Return what sorts points: each axis counts as much as it spreads."""
        pairs = zip(point.values, self.spread(), strict=True)
        return sum(value / span for value, span in pairs), point.values

    def _climb(self, axis: int) -> Point[P] | None:
        """Return a point of least value on an axis that can only be limited."""
        limits = [NO_LIMIT] * self.n_axes
        if not self.known.points:
            answer = self.ask(self.even_weights(), tuple(limits))
            if answer.outcome == "none":
                return None
        finest = self.resolution[axis]
        best = self._end_of_known(axis)
        widest = step = max(finest, abs(best) * CLIMB_SHARE)
        while True:
            limits[axis] = best - step
            holds = self._holds(tuple(limits))
            if holds is None:
                return self.end_of(axis)
            if holds:
                best = self._end_of_known(axis)
                step = min(widest, 3 * step)
            elif step <= finest:
                return self.end_of(axis)
            else:
                # the end is often reached by then: the least step tells
                widest, step = max(finest, step / 3), finest

    def _end_of_known(self, axis: int) -> float:
        return min(p.values[axis] for p in self.known.points)

    def _holds(self, limits: Vector) -> bool | None:
        """Return whether anything is within limits; nothing where it is not known."""
        if self.known.within(limits):
            return True
        if self.known.is_empty(limits):
            return False
        try:
            return self.ask(self.first_weight(), limits, CLIMB_SLACK).outcome == "best"
        except UnprovenError:
            return bool(self.known.within(limits)) or None

    # -- sweeps

    def cover(self, scale: Scale) -> list[Vector]:
        """Sweep, then again with all the time that is left for boxes that stay open."""
        left = self.sweep(scale)
        if left and self.deadline != INFINITE and not self._is_over():
            self.patience = 1.0
            left = self.sweep(scale)
            self.patience = PATIENCE
        return left

    def sweep(self, scale: Scale) -> list[Vector]:
        """Cover all there is to a scale; return the boxes that stay open.

        None stay open unless the time is over: then every point that an oracle can
        return is, to the scale, as good as a known one, or lies in one of them.
        """
        boxes, left = everything(self.n_axes), []
        while boxes:
            box = self._largest(boxes, scale)
            try:
                boxes = self._settle(box, boxes, scale)
            except (UnprovenError, StoppedError):
                # boxes that need no search are still settled
                boxes.remove(box)
                left.append(box)
            except KeyboardInterrupt:
                self.deadline = -INFINITE
            self._tell(boxes)
        return [b for b in left if not self._is_settled(b, scale)]

    def _settle(self, box: Vector, boxes: list[Vector], scale: Scale) -> list[Vector]:
        """Find a point in a box, or that there is none; return the boxes then left."""
        limits = limits_of(box, scale)
        if self.known.is_empty(limits):
            self.known.prove(_nothing_in(limits))
            return [b for b in boxes if b != box]
        point = self._pick(box, scale)
        if point is None:
            answer = self.ask(self.weights_for(limits, scale), limits, self.slack)
            if answer.outcome == "none":
                self.known.prove(_nothing_in(limits))
                return [b for b in boxes if b != box]
            point = self._pick(box, scale) or answer.points[0]
            if not is_within(scale.levels(point.values), box):
                msg = f"the oracle's point {point.values} is not within {limits}"
                raise ValueError(msg)
        return split(boxes, scale.levels(point.values), scale)

    def _pick(self, box: Vector, scale: Scale) -> Point[P] | None:
        """Return the known point of a box that is best all in all."""
        levels = ((p, scale.levels(p.values)) for p in self.known.points)
        inside = [p for p, level in levels if is_within(level, box)]
        return min(inside, key=self.rank, default=None)

    def _is_settled(self, box: Vector, scale: Scale) -> bool:
        limits = limits_of(box, scale)
        return self.known.is_empty(limits)

    def _largest(self, boxes: list[Vector], scale: Scale) -> Vector:
        """Return the box with most room above the best values known."""
        levels = [scale.levels(p.values) for p in self.known.points]
        if not levels:
            return boxes[0]
        columns = list(zip(*levels, strict=True))
        low, high = [min(c) for c in columns], [max(c) for c in columns]

        def room(box: Vector) -> float:
            rows = zip(box, low, high, strict=True)
            shares = [(min(b, h) - a) / ((h - a) or 1.0) for b, a, h in rows]
            return float(math.prod(max(share, 0.0) + 0.05 for share in shares))

        return max(boxes, key=lambda box: (room(box), box))

    def _tell(self, boxes: Sequence[Vector]) -> None:
        if self.on_progress:
            self.on_progress(
                f"{len(self.known.points)} known, {len(boxes)} regions open, "
                f"{self.known.n_solves} searches"
            )


def limits_of(box: Vector, scale: Scale) -> Vector:
    """Return the values that a box allows at most."""
    return tuple(
        NO_LIMIT if level == INFINITE else scale.limit(axis, level)
        for axis, level in enumerate(box)
    )


def _power_of_two(value: float) -> float:
    """Return the largest power of two that is not above a value."""
    return float(2.0 ** math.floor(math.log2(value)))


def _nothing_in(limits: Vector) -> Cut:
    return Cut(limits=limits, weights=(0.0,) * len(limits), bound=math.inf)
