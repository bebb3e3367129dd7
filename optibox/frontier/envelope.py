"""Which of several straight lines is lowest, and where that changes.

Lines are costs over one parameter: what is fixed, and what each unit of it adds.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Line(Generic[P]):
    """A cost that grows with a parameter, and what costs so."""

    fixed: float
    slope: float
    payload: P

    def at(self, where: float) -> float:
        """Return the cost at a value of the parameter."""
        return self.fixed + self.slope * where

    def meets(self, other: "Line[P]") -> float:
        """Return where two lines cost the same; infinite where they never do."""
        if self.slope == other.slope:
            return math.inf
        return (other.fixed - self.fixed) / (self.slope - other.slope)


@dataclass(frozen=True, slots=True)
class Stretch(Generic[P]):
    """From where to where a line is the lowest one."""

    low: float
    high: float
    line: Line[P]


def lower_envelope(
    lines: Sequence[Line[P]], low: float = 0.0, high: float = math.inf
) -> list[Stretch[P]]:
    """Return the lowest line from a low to a high value, stretch by stretch.

    Where two lines are equally low, the flatter one is taken: it wins to the right.

    Examples
    --------
    >>> dear, cheap = Line(100.0, 1.0, "dear"), Line(40.0, 3.0, "cheap")
    >>> [(s.low, s.high, s.line.payload) for s in lower_envelope([dear, cheap])]
    [(0.0, 30.0, 'cheap'), (30.0, inf, 'dear')]
    """
    found: list[Stretch[P]] = []
    if not lines:
        return found
    where, now = low, min(lines, key=lambda line: (line.at(low), line.slope))
    while True:
        flatter = [line for line in lines if line.slope < now.slope]
        # of those that cross at the same place the flattest goes on
        then = min(
            flatter, key=lambda line: (now.meets(line), line.slope), default=None
        )
        end = high if then is None else min(high, now.meets(then))
        if end > where or (then is None and not found):
            found.append(Stretch(where, end, now))
        if then is None or end >= high:
            return found
        where, now = end, then


def search_envelope(
    lowest: Callable[[float], Line[P]], low: float, high: float, tolerance: float
) -> list[Stretch[P]]:
    """Return the lowest of lines that only a search knows, stretch by stretch.

    The lowest lines of both ends meet somewhere; there the search either finds nothing
    lower, and the place is a break-point, or a third line, and both halves are searched.

    Parameters
    ----------
    lowest : callable
        Returns a line that is lowest at a value of the parameter, proven.
    low, high : float
        Ends of the parameter.
    tolerance : float
        Cost by which lines have to differ at least to count as different.
    """
    known = [lowest(low), lowest(high)]
    checked = {low, high}
    while True:
        stretches = lower_envelope(known, low, high)
        open_ends = [s.high for s in stretches[:-1] if s.high not in checked]
        if not open_ends:
            return stretches
        for where in open_ends:
            checked.add(where)
            line = lowest(where)
            if line.at(where) < min(k.at(where) for k in known) - tolerance:
                known.append(line)
