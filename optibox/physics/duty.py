"""How much of the time a drive spins, how often it wakes, and who waits for it.

People come in sessions. Sessions that reach a drive are a Poisson process; inside one
the accesses follow at fixed gaps. A drive stops a timeout after its last access.
Spin-ups take no time in this model; `spinning_share_with_spin_up` shows what that
leaves out.
"""

import math
from dataclasses import dataclass

from optibox.units import SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True)
class Sessions:
    """Sessions that reach one drive.

    Attributes
    ----------
    per_hour : float
        Sessions an hour, sigma. [1/h]
    accesses : float
        Accesses of a session, k >= 1; a mean need not be whole.
    gap_h : float
        From the start of one access to the start of the next. [h]
    service_h : float
        What one access takes. [h]
    """

    per_hour: float
    accesses: float = 1.0
    gap_h: float = 0.0
    service_h: float = 0.0

    def __post_init__(self) -> None:
        """Refuse negative times and sessions without an access."""
        smallest = min(self.per_hour, self.gap_h, self.service_h)
        if not (smallest >= 0.0 and self.accesses >= 1.0):
            msg = f"{self} needs at least one access and no negative figure."
            raise ValueError(msg)


def awake_stretch(sessions: Sessions, timeout_h: float) -> tuple[float, float]:
    """Return how long one session keeps a drive awake, and in how many stretches.

    Parameters
    ----------
    sessions : Sessions
        Sessions that reach the drive.
    timeout_h : float
        Time from the last access to the stop; infinite for never. [h]

    Returns
    -------
    awake_h : float
        A: sum of the stretches. [h]
    stretches : float
        w: 1 where the timeout bridges the gaps, else one for each access.

    Examples
    --------
    >>> awake_stretch(Sessions(0.1, 5, 0.5, 0.25), 0.25)
    (2.5, 1.0)
    >>> awake_stretch(Sessions(0.1, 5, 0.5, 0.125), 0.125)
    (1.25, 5)
    """
    return session_stretch(
        sessions.accesses, sessions.gap_h, sessions.service_h, timeout_h
    )


def session_stretch(
    accesses: float, gap_h: float, service_h: float, timeout_h: float
) -> tuple[float, float]:
    """Return what `awake_stretch` does, from plain numbers. [h].

    Examples
    --------
    >>> session_stretch(3, 0.1, 0.01, 0.5)
    (0.71, 1.0)
    """
    held_h = service_h + timeout_h
    if held_h >= gap_h or accesses <= 1.0:
        return (accesses - 1.0) * gap_h + held_h, 1.0
    return accesses * held_h, accesses


def asleep_share(sessions: Sessions, timeout_h: float) -> float:
    """Return the share of time, outside scheduled blocks, that a drive sleeps.

    Parameters
    ----------
    sessions : Sessions
        Sessions that reach the drive.
    timeout_h : float
        Spin-down timeout; infinite for never. [h]

    Returns
    -------
    float
        exp(-sigma A): no session has reached into this moment. Share, 0 to 1.

    Examples
    --------
    >>> round(asleep_share(Sessions(1.0), 0.25), 6)
    0.778801
    """
    if math.isinf(timeout_h):
        return 0.0
    awake_h, _ = awake_stretch(sessions, timeout_h)
    return math.exp(-sessions.per_hour * awake_h)


def spinning_share(sessions: Sessions, timeout_h: float) -> float:
    """Return the share of time, outside scheduled blocks, that a drive spins.

    Parameters
    ----------
    sessions : Sessions
        Sessions that reach the drive.
    timeout_h : float
        Spin-down timeout; infinite for never. [h]

    Returns
    -------
    float
        u = 1 - exp(-sigma A). Share, 0 to 1.

    Examples
    --------
    >>> round(spinning_share(Sessions(1.0), 0.25), 6)
    0.221199
    """
    return 1.0 - asleep_share(sessions, timeout_h)


def wakes_per_hour(sessions: Sessions, timeout_h: float) -> float:
    """Return how often a drive wakes in an hour outside scheduled blocks. [1/h].

    Parameters
    ----------
    sessions : Sessions
        Sessions that reach the drive.
    timeout_h : float
        Spin-down timeout; infinite for never. [h]

    Returns
    -------
    float
        sigma w exp(-sigma A). [1/h]

    Examples
    --------
    >>> round(24 * wakes_per_hour(Sessions(1.0), 0.25), 4)
    18.6912
    """
    if math.isinf(timeout_h):
        return 0.0
    _, stretches = awake_stretch(sessions, timeout_h)
    return sessions.per_hour * stretches * asleep_share(sessions, timeout_h)


def wake_wait_s(spin_up_s: float, n_drives: int, group: int) -> float:
    """Return how long the first access waits for drives that wake together. [s].

    Parameters
    ----------
    spin_up_s : float
        Spin-up of the slowest drive. [s]
    n_drives : int
        Drives that must spin before the access is answered.
    group : int
        Drives that start at the same time, >= 1.

    Returns
    -------
    float
        ceil(n / group) spin-ups after one another. [s]

    Examples
    --------
    >>> wake_wait_s(8.0, 6, 4)
    16.0
    """
    return math.ceil(n_drives / group) * spin_up_s


def wait_hours_per_year(wakes_per_year: float, wait_s: float) -> float:
    """Return the time that people wait for drives in a year. [h].

    Parameters
    ----------
    wakes_per_year : float
        Wakes that somebody waits for. [1/year]
    wait_s : float
        Wait of the first access of each. [s]

    Returns
    -------
    float
        Time waited. [h/year]

    Examples
    --------
    >>> wait_hours_per_year(900, 8.0)
    2.0
    """
    return wakes_per_year * wait_s / SECONDS_PER_HOUR
