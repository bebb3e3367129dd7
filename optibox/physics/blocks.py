"""Scheduled blocks on a circle of time: what they cover once overlaps are merged."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optibox.units import HOURS_PER_DAY


@dataclass(frozen=True, slots=True)
class Block:
    """A block of time that begins anew in every period. [h]."""

    start_h: float
    length_h: float

    @property
    def end_h(self) -> float:
        """Where it ends; past the period where it runs over the turn. [h]."""
        return self.start_h + self.length_h


def merged(
    blocks: Iterable[Block], tail_h: float = 0.0, period_h: float = HOURS_PER_DAY
) -> list[Block]:
    """Return the disjoint stretches that blocks and their tails cover. [h].

    Blocks that overlap or touch become one, over the turn of the period too. Blocks
    without length do nothing and get no tail. An infinite tail covers everything.

    Parameters
    ----------
    blocks : iterable of Block
        Starts may be any number and are taken modulo the period. [h]
    tail_h : float
        What is added to the end of each, a spin-down timeout. [h]
    period_h : float
        Length of the circle: a day, a week. [h]

    Returns
    -------
    list of Block
        Sorted by start, 0 <= start < period; a single block of the whole period where
        all is covered.

    Examples
    --------
    >>> merged([Block(22.0, 4.0), Block(1.0, 2.0)])
    [Block(start_h=22.0, length_h=5.0)]
    """
    if math.isinf(tail_h):
        return [Block(0.0, period_h)]
    stretches = _on_a_line(blocks, tail_h, period_h)
    _join_over_the_turn(stretches, period_h)
    if any(end - start >= period_h for start, end in stretches):
        return [Block(0.0, period_h)]
    return [Block(start, end - start) for start, end in stretches]


def _on_a_line(
    blocks: Iterable[Block], tail_h: float, period_h: float
) -> list[list[float]]:
    """Return sorted, disjoint starts and ends; the last end may pass the period."""
    lengthened = sorted(
        (block.start_h % period_h, block.length_h + tail_h)
        for block in blocks
        if block.length_h > 0.0
    )
    stretches: list[list[float]] = []
    for start, length in lengthened:
        if stretches and start <= stretches[-1][1]:
            stretches[-1][1] = max(stretches[-1][1], start + length)
        else:
            stretches.append([start, start + length])
    return stretches


def _join_over_the_turn(stretches: list[list[float]], period_h: float) -> None:
    """Let the last stretch swallow the first ones that it reaches, in place."""
    while len(stretches) > 1 and stretches[-1][1] - period_h >= stretches[0][0]:
        _, end = stretches.pop(0)
        stretches[-1][1] = max(stretches[-1][1], end + period_h)


def covered_hours(
    blocks: Iterable[Block], tail_h: float = 0.0, period_h: float = HOURS_PER_DAY
) -> float:
    """Return the time in a period that blocks and their tails cover. [h].

    Parameters
    ----------
    blocks, tail_h, period_h
        As in `merged`. [h]

    Returns
    -------
    float
        At most the period; all of it with an infinite tail. [h]

    Examples
    --------
    >>> covered_hours([Block(22.0, 4.0), Block(1.0, 2.0)], tail_h=0.5)
    5.5
    """
    return sum(block.length_h for block in merged(blocks, tail_h, period_h))
