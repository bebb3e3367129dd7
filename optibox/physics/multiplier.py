"""What drives behind one port multiplier get of its host link."""

import math
from collections.abc import Sequence

MULTIPLIER_MAX_DRIVES = 15
"""The port number has 4 bits and 15 is the control port; from memory."""
MULTIPLIER_SHARED_MB_S = 520.0
"""What a 6 Gbit/s FIS-switched multiplier shares among its drives; judgement."""
MULTIPLIER_SINGLE_DRIVE = 0.83
"""One drive alone behind a multiplier; common practice, no source, 0.80-1.0."""


def multiplier_each_mb_s(
    drive_rates_mb_s: Sequence[float], host_mb_s: float, *, fis: bool
) -> tuple[float, ...]:
    """Return the rate of every drive when all behind a multiplier work at once. [MB/s].

    FIS-based switching shares the host link evenly, and what a slow drive leaves goes
    to the faster ones. Command-based switching serves one drive at a time: with equal
    amounts from each, all progress at the rate that the sum of their times allows.

    Parameters
    ----------
    drive_rates_mb_s : sequence of float, shape (n,)
        Rate of each drive on its own; at most 15 drives. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    fis : bool
        FIS-based switching, else command-based.

    Returns
    -------
    tuple of float, shape (n,)
        In the order given. [MB/s]

    Raises
    ------
    ValueError
        If there are more than 15 drives.

    References
    ----------
    .. [1] D. Deming, "The Essential Guide to Serial ATA and SATA Express", CRC, 2014,
       section 9.11 (secondary reading).

    Examples
    --------
    >>> multiplier_each_mb_s([200, 100], 300, fis=True)
    (200.0, 100.0)
    """
    n = len(drive_rates_mb_s)
    if n > MULTIPLIER_MAX_DRIVES:
        msg = f"{n} drives behind one multiplier; at most {MULTIPLIER_MAX_DRIVES} fit."
        raise ValueError(msg)
    if fis:
        return _shared_evenly(drive_rates_mb_s, host_mb_s)
    if min(*drive_rates_mb_s, host_mb_s, math.inf) <= 0.0:
        return (0.0,) * n
    turn = sum(1.0 / min(rate, host_mb_s) for rate in drive_rates_mb_s)
    return (1.0 / turn,) * n if n else ()


def _shared_evenly(rates_mb_s: Sequence[float], total_mb_s: float) -> tuple[float, ...]:
    """Share a total among takers, none above its own rate (max-min fair)."""
    shares = [0.0] * len(rates_mb_s)
    left, takers = total_mb_s, len(rates_mb_s)
    for index in sorted(range(takers), key=lambda i: rates_mb_s[i]):
        shares[index] = float(min(rates_mb_s[index], left / takers))
        left -= shares[index]
        takers -= 1
    return tuple(shares)


def multiplier_total_mb_s(
    drive_rates_mb_s: Sequence[float], host_mb_s: float, *, fis: bool
) -> float:
    """Return what all drives behind a port multiplier deliver together. [MB/s].

    Parameters
    ----------
    drive_rates_mb_s : sequence of float, shape (n,)
        Rate of each drive on its own; at most 15 drives. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    fis : bool
        FIS-based switching, else command-based.

    Returns
    -------
    float
        Sum over the drives. [MB/s]

    Examples
    --------
    >>> round(multiplier_total_mb_s([200, 100], 300, fis=False), 2)
    133.33
    """
    return sum(multiplier_each_mb_s(drive_rates_mb_s, host_mb_s, fis=fis))


def multiplier_single_mb_s(
    drive_mb_s: float, host_mb_s: float, factor: float = MULTIPLIER_SINGLE_DRIVE
) -> float:
    """Return the rate of one drive that works alone behind a multiplier. [MB/s].

    Parameters
    ----------
    drive_mb_s : float
        Rate of the drive on its own. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    factor : float
        What the multiplier leaves; common practice, no source, 0.80-1.0.

    Returns
    -------
    float
        Rate behind the multiplier. [MB/s]

    Examples
    --------
    >>> round(multiplier_single_mb_s(180, 520), 1)
    149.4
    """
    return min(drive_mb_s * factor, host_mb_s)
