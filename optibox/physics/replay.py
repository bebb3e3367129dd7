"""Spinning and waking from a log of real accesses, which come in denser bursts.

Where the times of past accesses are known they replace the session model of `duty`.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a drive would have done over the span of a log."""

    spinning_share: float
    wakes: int
    span_h: float

    @property
    def wakes_per_hour(self) -> float:
        """Wakes an hour over the span. [1/h]."""
        return self.wakes / self.span_h


def replay(
    access_h: Iterable[float], service_h: float, timeout_h: float, span_h: float
) -> Replayed:
    """Return how one drive would have spun under a timeout.

    The drive sleeps at the start of the log. An access keeps it awake while it is
    served and for the timeout after that; the last stretch ends with the log.

    Parameters
    ----------
    access_h : iterable of float
        Times of the accesses that reach the drive, in any order, 0 to `span_h`. [h]
    service_h : float
        What each access takes. [h]
    timeout_h : float
        Spin-down timeout; infinite for a drive that never sleeps, from the start of
        the log on. [h]
    span_h : float
        Length of the log, > 0. [h]

    Returns
    -------
    Replayed
        Share of the span spent spinning, and wakes.

    Raises
    ------
    ValueError
        If an access lies outside the span.

    Examples
    --------
    >>> replay([1.0, 1.25, 6.0], service_h=0.0, timeout_h=0.5, span_h=10.0)
    Replayed(spinning_share=0.125, wakes=2, span_h=10.0)
    """
    times = sorted(access_h)
    if times and not (times[0] >= 0.0 and times[-1] <= span_h):
        msg = f"Accesses from {times[0]} to {times[-1]} h; the log spans 0 to {span_h}."
        raise ValueError(msg)
    if math.isinf(timeout_h):
        return Replayed(1.0, 0, span_h)
    spun_h, wakes, awake_until = 0.0, 0, -1.0
    for time in times:
        if time > awake_until:
            wakes += 1
            awake_until = time
        end = min(span_h, max(awake_until, time + service_h + timeout_h))
        spun_h += end - awake_until
        awake_until = end
    return Replayed(spun_h / span_h, wakes, span_h)
