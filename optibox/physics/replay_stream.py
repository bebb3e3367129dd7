"""Replaying a long log piece by piece under several timeouts at once.

What `replay.replay` does for one timeout and a whole list, in numpy and bounded
memory: a piece is looked at once, and only where it ended is remembered. Times are in
seconds, since logs and timeouts come in whole ones: a gap that is as long as the
timeout then ends in time for certain.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optibox.physics.replay import Replayed
from optibox.units import SECONDS_PER_HOUR

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One drive's accesses so far, as far as timeouts need to know them.

    Attributes
    ----------
    timeouts_s : tuple of float
        Finite timeouts in rising order, at each of which the drive is replayed. [s]
    n : int
        Accesses.
    first_s, last_s : float
        Start of the first and of the last access. [s]
    served_until_s : float
        When the last service ended. [s]
    busy_s : float
        Time in which at least one access was served. [s]
    tails_s : tuple of float
        Time spun after service until the timeout or the next access. [s]
    wakes : tuple of int
        For each timeout.
    calls_s : tuple of float
        From start to start of accesses that no timeout parts, summed. [s]
    """

    timeouts_s: tuple[float, ...]
    n: int = 0
    first_s: float = math.nan
    last_s: float = math.nan
    served_until_s: float = -math.inf
    busy_s: float = 0.0
    tails_s: tuple[float, ...] = ()
    wakes: tuple[int, ...] = ()
    calls_s: tuple[float, ...] = ()


def blank_trace(timeouts_s: Sequence[float]) -> Trace:
    """Return the trace of a drive before its first access, asleep.

    Parameters
    ----------
    timeouts_s : sequence of float
        Finite timeouts; they are put in rising order. [s]
    """
    zeros = (0.0,) * len(timeouts_s)
    return Trace(
        timeouts_s=tuple(sorted(timeouts_s)),
        tails_s=zeros,
        wakes=(0,) * len(timeouts_s),
        calls_s=zeros,
    )


def advanced(trace: Trace, start_s: Floats, service_s: Floats | float) -> Trace:
    """Return a trace after some more accesses.

    Parameters
    ----------
    trace : Trace
        Of the accesses before.
    start_s : array of float
        Starts in rising order, none before the trace's last. [s]
    service_s : array of float or float
        What each access takes. [s]

    Raises
    ------
    ValueError
        If the accesses are not in order.

    Examples
    --------
    >>> trace = advanced(blank_trace([50.0]), np.array([100.0, 125.0, 600.0]), 0.0)
    >>> trace.wakes, replayed(trace, 50.0, 1000.0).spinning_share
    ((2,), 0.125)
    """
    if not start_s.size:
        return trace
    before = np.concatenate(([trace.last_s if trace.n else start_s[0]], start_s[:-1]))
    calls = start_s - before
    if calls.min() < 0.0:
        msg = "The accesses are not in the order of their times."
        raise ValueError(msg)
    served = np.maximum.accumulate(start_s + service_s)
    np.maximum(served, trace.served_until_s, out=served)
    until = np.concatenate(([trace.served_until_s], served[:-1]))
    gaps = np.maximum(start_s - until, 0.0)
    busy = served - np.maximum(start_s, until)
    limits = trace.timeouts_s
    # class j: gaps that j of the timeouts are too short for
    classes = np.searchsorted(np.asarray(limits), gaps, side="left")
    # nothing spins and nothing calls before the first access
    is_first = gaps == math.inf
    gaps[is_first] = 0.0
    calls[is_first] = 0.0
    width = len(limits) + 1
    counts = np.bincount(classes, minlength=width)
    within = np.cumsum(np.bincount(classes, weights=gaps, minlength=width))
    called = np.cumsum(np.bincount(classes, weights=calls, minlength=width))
    parted = start_s.size - np.cumsum(counts)
    return Trace(
        timeouts_s=limits,
        n=trace.n + start_s.size,
        first_s=trace.first_s if trace.n else float(start_s[0]),
        last_s=float(start_s[-1]),
        served_until_s=float(served[-1]),
        busy_s=trace.busy_s + float(busy.sum()),
        tails_s=tuple(
            old + float(within[j]) + limit * int(parted[j] - is_first[0])
            for j, (old, limit) in enumerate(zip(trace.tails_s, limits, strict=True))
        ),
        wakes=tuple(old + int(parted[j]) for j, old in enumerate(trace.wakes)),
        calls_s=tuple(old + float(called[j]) for j, old in enumerate(trace.calls_s)),
    )


def replayed(trace: Trace, timeout_s: float, until_s: float) -> Replayed:
    """Return how the drive would have spun from second 0 of the log to its end.

    Parameters
    ----------
    trace : Trace
        All accesses of the drive, the first at or after second 0.
    timeout_s : float
        One of the trace's timeouts, or infinite. [s]
    until_s : float
        Where the log ends, not before the last access began. [s]

    Raises
    ------
    ValueError
        If the timeout is none of the trace's.
    """
    if math.isinf(timeout_s):
        return Replayed(1.0, 0, until_s / SECONDS_PER_HOUR)
    index = trace.timeouts_s.index(timeout_s)
    if not trace.n:
        return Replayed(0.0, 0, until_s / SECONDS_PER_HOUR)
    beyond = max(0.0, trace.served_until_s - until_s)
    tail = min(timeout_s, max(0.0, until_s - trace.served_until_s))
    share = (trace.busy_s - beyond + trace.tails_s[index] + tail) / until_s
    return Replayed(share, trace.wakes[index], until_s / SECONDS_PER_HOUR)
