"""Boxes of levels: where something unknown may be, and its counterpart.

A box is all that is nowhere above its corner. Each known point splits the boxes that
hold it: what is not covered by the point is better than it on some axis.
"""

from collections.abc import Iterable, Sequence

from optibox.frontier.scale import Scale
from optibox.frontier.vectors import Vector, is_within

INFINITE = float("inf")


def everything(n_axes: int) -> list[Vector]:
    """Return the one box that holds all."""
    return [(INFINITE,) * n_axes]


def split(boxes: Sequence[Vector], point: Vector, scale: Scale) -> list[Vector]:
    """Return the boxes that are left once a point covers what it is as good as.

    Every box that holds the point is replaced by one for each axis, in which that
    axis has to be better; boxes within others are dropped.

    Parameters
    ----------
    boxes : sequence of tuple
        Upper corners, as levels.
    point : tuple
        Levels of the point.
    scale : Scale
        Says which level is better than another.

    Examples
    --------
    >>> from optibox.frontier.scale import Steps
    >>> split(everything(2), (3, 5), Steps((1.0, 1.0)))
    [(2, inf), (inf, 4)]
    """
    kept = [box for box in boxes if not is_within(point, box)]
    fresh = []
    for box in boxes:
        if is_within(point, box):
            for axis, level in enumerate(point):
                better = scale.better(axis, level)
                if better >= scale.lowest(axis):
                    fresh.append((*box[:axis], better, *box[axis + 1 :]))
    return kept + _not_within(fresh, kept)


def _not_within(fresh: Sequence[Vector], kept: Sequence[Vector]) -> list[Vector]:
    """Return new boxes that are in no other box, each once."""
    found: list[Vector] = []
    for box in sorted(set(fresh), reverse=True):
        if not any(is_within(box, other) for other in kept):
            found = [other for other in found if not is_within(other, box)]
            if not any(is_within(box, other) for other in found):
                found.append(box)
    return sorted(found)


def corners(empties: Iterable[Vector], lowest: Vector) -> list[Vector]:
    """Return the least corners of all that is in no empty box.

    Whatever there is, it is nowhere below one of them. An axis that the empty boxes
    do not bound keeps its lowest level.

    Parameters
    ----------
    empties : iterable of tuple
        Upper corners of boxes that hold nothing.
    lowest : tuple
        Level of each axis below which nothing can be.

    Examples
    --------
    >>> corners([(2, 9), (5, 4)], (0, 0))
    [(0, 9), (2, 4), (5, 0)]
    """
    found = [lowest]
    for box in sorted(set(empties), reverse=True):
        hit = [c for c in found if _is_below(c, box)]
        if not hit:
            continue
        kept = [c for c in found if not _is_below(c, box)]
        fresh = [
            (*c[:axis], level, *c[axis + 1 :])
            for c in hit
            for axis, level in enumerate(box)
            if level < INFINITE
        ]
        found = kept + _not_above(fresh, kept)
    return sorted(found)


def _is_below(corner: Vector, box: Vector) -> bool:
    return all(a < b for a, b in zip(corner, box, strict=True))


def _not_above(fresh: list[Vector], kept: list[Vector]) -> list[Vector]:
    """Return new corners that are above no other one, each once."""
    found: list[Vector] = []
    for corner in sorted(set(fresh)):
        if not any(is_within(other, corner) for other in kept + found):
            found.append(corner)
    return [c for c in found if not any(o != c and is_within(o, c) for o in found)]
