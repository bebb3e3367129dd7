"""The zone curve of a disk drive, and how long a pass over whole surfaces takes.

At constant areal density a track's rate is proportional to its radius, and the
filled fraction to the difference of squared radii, so the *square* of the rate falls
linearly with the fraction. Two exact results follow: the mean rate of a whole pass is
the mean of outer and inner rate, and between two fractions the mean of 1/v is
2/(v1 + v2).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optibox.units import BYTES_PER_MB, SECONDS_PER_HOUR

INNER_SHARE = 0.5
"""Inner rate over outer rate, k; judgement, 0.45-0.55."""

Line = tuple[float, float]


def zone_rate_mb_s(outer_mb_s: float, k: float, x: float) -> float:
    """Return a drive's rate at a filled fraction of its capacity. [MB/s].

    v(x) = v_outer * sqrt(1 - x * (1 - k^2)).

    Parameters
    ----------
    outer_mb_s : float
        Rate at the outer edge, near empty. [MB/s]
    k : float
        Inner over outer rate, 0 to 1; judgement, 0.45-0.55. 1 is a flat curve.
    x : float
        Filled fraction, 0 to 1.

    Returns
    -------
    float
        Rate at x. [MB/s]

    Examples
    --------
    >>> zone_rate_mb_s(200.0, 0.5, 1.0)
    100.0
    """
    return outer_mb_s * math.sqrt(1.0 - x * (1.0 - k * k))


def surface_pass_hours(capacity_bytes: float, outer_mb_s: float, k: float) -> float:
    """Return the time of one pass over a whole surface with nothing else in the way.

    Parameters
    ----------
    capacity_bytes : float
        Capacity. [B]
    outer_mb_s : float
        Rate at the outer edge. [MB/s]
    k : float
        Inner over outer rate; judgement, 0.45-0.55.

    Returns
    -------
    float
        2 C / (v_outer (1 + k)). [h]

    Examples
    --------
    >>> round(surface_pass_hours(4e12, 180.0, 0.5), 3)
    8.23
    """
    mean_mb_s = outer_mb_s * (1.0 + k) / 2.0
    return capacity_bytes / BYTES_PER_MB / mean_mb_s / SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True)
class Member:
    """One drive of a lockstep pass: capacity, zone curve, and its share of its link."""

    capacity_bytes: float
    outer_mb_s: float
    k: float
    link_share_mb_s: float = math.inf


def lockstep_pass_hours(members: Iterable[Member]) -> float:
    """Return the time of a check or rebuild, in which all members advance together. [h].

    All pass the same fraction of their capacity at the same time, at the rate of the
    one that is slowest there: integral over x of C_max dx / min_j min(v_j(x), share_j).
    The squares of all these rates are straight lines in x, so the smallest of them is
    made of a few straight pieces, each with an exact integral.

    Parameters
    ----------
    members : iterable of Member
        The members read and written; none at all takes no time.

    Returns
    -------
    float
        Time of the pass; infinite where a rate is 0. [h]

    Examples
    --------
    >>> drive = Member(4e12, 180.0, 0.5)
    >>> round(lockstep_pass_hours([drive, drive, drive]), 3)
    8.23
    """
    members = tuple(members)
    if not members:
        return 0.0
    largest_mb = max(member.capacity_bytes for member in members) / BYTES_PER_MB
    return largest_mb * _mean_slowness(_squared_lines(members)) / SECONDS_PER_HOUR


def _squared_lines(members: tuple[Member, ...]) -> set[Line]:
    """Return each distinct squared rate as value at 0 and fall from 0 to 1."""
    lines: set[Line] = set()
    for member in members:
        start = member.outer_mb_s * member.outer_mb_s
        lines.add((start, start * (1.0 - member.k * member.k)))
        if math.isfinite(member.link_share_mb_s):
            lines.add((member.link_share_mb_s**2, 0.0))
    return lines


def _mean_slowness(lines: set[Line]) -> float:
    """Integrate 1/sqrt(lowest line) from 0 to 1, piece by piece. [s/MB]."""
    x, total = 0.0, 0.0
    lowest = min(lines, key=lambda line: (line[0], -line[1]))
    while x < 1.0:
        end, following = _next_crossing(lowest, x, lines)
        both = _rate(lowest, x) + _rate(lowest, end)
        if both <= 0.0:
            return math.inf
        total += 2.0 * (end - x) / both
        x, lowest = end, following
    return total


def _rate(line: Line, x: float) -> float:
    """Return the rate that a squared line stands for, never below 0. [MB/s]."""
    return math.sqrt(max(0.0, line[0] - line[1] * x))


def _next_crossing(lowest: Line, x: float, lines: set[Line]) -> tuple[float, Line]:
    """Return where a steeper line first undercuts the lowest, and which one it is."""
    end, following = 1.0, lowest
    for line in lines:
        if line[1] <= lowest[1]:
            continue
        crossing = max(x, (line[0] - lowest[0]) / (line[1] - lowest[1]))
        if (crossing, -line[1]) < (end, -following[1]):
            end, following = crossing, line
    return end, following
