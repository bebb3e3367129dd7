"""Vectors of minimised values: who dominates whom, and how much is dominated."""

from collections.abc import Iterable, Sequence

Vector = tuple[float, ...]


def dominates(one: Sequence[float], other: Sequence[float]) -> bool:
    """Return whether a vector is nowhere worse than another and somewhere better.

    Examples
    --------
    >>> dominates((1, 2), (1, 3)), dominates((1, 2), (1, 2))
    (True, False)
    """
    return is_within(one, other) and tuple(one) != tuple(other)


def is_within(one: Sequence[float], limits: Sequence[float]) -> bool:
    """Return whether a vector is nowhere above limits."""
    return all(a <= b for a, b in zip(one, limits, strict=True))


def nondominated(vectors: Iterable[Vector]) -> list[Vector]:
    """Return the vectors that no other dominates, each once, sorted.

    Examples
    --------
    >>> nondominated([(2, 2), (1, 3), (2, 3), (1, 3)])
    [(1, 3), (2, 2)]
    """
    kept: list[Vector] = []
    for vector in sorted(set(vectors)):
        # whoever dominates it comes before it in this order
        if not any(is_within(other, vector) for other in kept):
            kept.append(vector)
    return kept


def hypervolume(vectors: Iterable[Vector], reference: Vector) -> float:
    """Return the volume that vectors dominate below a reference point.

    Slices along the last value; meant for the few vectors of a table.

    Parameters
    ----------
    vectors : iterable of tuple
        Minimised values, as many as the reference has.
    reference : tuple
        Vectors that are not below it everywhere count nothing.

    Examples
    --------
    >>> hypervolume([(1, 2), (2, 1)], (3, 3))
    3.0
    """
    inside = nondominated(
        v for v in vectors if all(a < b for a, b in zip(v, reference, strict=True))
    )
    if not inside:
        return 0.0
    if len(reference) == 1:
        return float(reference[0] - inside[0][0])
    levels = sorted({v[-1] for v in inside})
    volume = 0.0
    for level, above in zip(levels, [*levels[1:], reference[-1]], strict=True):
        slice_ = [v[:-1] for v in inside if v[-1] <= level]
        volume += (above - level) * hypervolume(slice_, reference[:-1])
    return volume
