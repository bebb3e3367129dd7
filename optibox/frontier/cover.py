"""A short cover: few rows, and by which factor anything else may be better.

What is proven empty leaves corners: whatever there is, it is nowhere better than one
of them. A row that is within a factor of a corner is so of all behind it.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optibox.frontier.boxes import INFINITE, corners
from optibox.frontier.oracle import NO_LIMIT, Cut
from optibox.frontier.scale import Factors
from optibox.frontier.vectors import Vector

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Choice:
    """The points taken, and the level by which anything may be better."""

    indices: tuple[int, ...]
    gap: float
    """Logarithm of the factor."""

    @property
    def factor(self) -> float:
        """Return the factor, infinite where nothing is proven."""
        return math.exp(self.gap)


def proven_corners(cuts: Sequence[Cut], scale: Factors) -> list[Vector]:
    """Return the least corners of all that cuts do not rule out, as levels."""
    boxes = [box for cut in cuts if (box := _empty_box(cut, scale)) is not None]
    return corners(boxes, tuple(scale.lowest(j) for j in range(len(scale.floors))))


def _empty_box(cut: Cut, scale: Factors) -> Vector | None:
    """Return the box that a cut empties, as levels; nothing for sloping cuts."""
    limits = list(cut.limits)
    if cut.bound != math.inf:
        weighed = [j for j, weight in enumerate(cut.weights) if weight]
        if len(weighed) != 1:
            return None
        axis = weighed[0]
        limits[axis] = min(limits[axis], cut.bound / cut.weights[axis])
    whole = scale.levels(tuple(0.0 if x == NO_LIMIT else x for x in limits))
    pairs = zip(limits, whole, strict=True)
    return tuple(INFINITE if x == NO_LIMIT else level for x, level in pairs)


def gaps(levels: Sequence[Vector], targets: Sequence[Vector]) -> Array:
    """Return by how much each target may be better than each point: target by point."""
    points, wanted = np.array(levels), np.array(targets)
    found: Array = (points[None, :, :] - wanted[:, None, :]).max(axis=2)
    return np.maximum(found, 0.0)


def choose(gap: Array, most: int, must: Collection[int] = ()) -> Choice:
    """Return at most so many points, such that the largest gap is small.

    Greedy for each gap that can be; the least for which the points suffice.

    Parameters
    ----------
    gap : array
        Target by point, as ``gaps`` gives it.
    most : int
        Points to take at most; those that must be there count.
    must : collection of int
        Points that are taken in any case.
    """
    reached = np.unique(gap.min(axis=1)).max(initial=0.0)
    able = np.unique(gap[gap >= reached - 1e-12])
    low, high, best = 0, len(able) - 1, None
    while low <= high:
        middle = (low + high) // 2
        taken = covering(gap, float(able[middle]), must)
        if len(taken) <= most:
            best, high = taken, middle - 1
        else:
            low = middle + 1
    return chosen(gap, tuple(sorted(must)) if best is None else best)


def covering(gap: Array, largest: float, must: Collection[int] = ()) -> tuple[int, ...]:
    """Return few points that leave no gap above the largest; all if none can."""
    near = gap <= largest + 1e-12
    taken = list(must)
    left = ~near[:, taken].any(axis=1) if taken else np.ones(len(gap), dtype=bool)
    while left.any():
        counts = near[left].sum(axis=0)
        if not counts.max():
            return tuple(range(gap.shape[1]))
        # of equal ones the one that is nearest to what it covers
        best = np.flatnonzero(counts == counts.max())
        nearest = [float(gap[left][near[left][:, j], j].mean()) for j in best]
        point = int(best[int(np.argmin(nearest))])
        taken.append(point)
        left &= ~near[:, point]
    return tuple(sorted(taken))


def chosen(gap: Array, taken: tuple[int, ...]) -> Choice:
    """Return points with the largest gap that they leave."""
    if not taken:
        return Choice((), math.inf)
    return Choice(taken, float(gap[:, list(taken)].min(axis=1).max(initial=0.0)))
