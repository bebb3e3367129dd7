"""A solid-state cache in front of the array: phases of a burst, flush, endurance."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optibox.units import DAYS_PER_YEAR, SECONDS_PER_HOUR

CACHE_RESERVE = 0.10
"""Share of a cache left free; judgement."""
WRITE_AMPLIFICATION = 1.2
"""Flash writes for each host write of long sequential files; judgement."""


def usable_cache_mb(
    mirror_mb: Iterable[float], reserve_fraction: float = CACHE_RESERVE
) -> float:
    """Return how much a cache takes in before it overflows. [MB].

    Parameters
    ----------
    mirror_mb : iterable of float
        Sizes of the drives that mirror each other; one drive is a mirror of one. [MB]
    reserve_fraction : float
        Share left free; judgement.

    Returns
    -------
    float
        Smallest of the mirror less the reserve; 0 without a drive. [MB]

    Examples
    --------
    >>> usable_cache_mb([1000.0, 960.0])
    864.0
    """
    return min(mirror_mb, default=0.0) * (1.0 - reserve_fraction)


@dataclass(frozen=True, slots=True)
class CachePhases:
    """Sizes and rates of the regions that a burst passes through, one after the other.

    Each rate is the minimum over everything that is peculiar to its phase: every
    mirror member and its links, or the array's write chain for the overflow.

    Attributes
    ----------
    fast_mb : float
        Size of the fast region at the start of an empty cache. [MB]
    usable_mb : float
        Size of fast and slow region together. [MB]
    fast_mb_s, slow_mb_s : float
        Rates of the two regions. [MB/s]
    overflow_mb_s : float
        Rate of writing past the cache to the array. [MB/s]
    """

    fast_mb: float
    usable_mb: float
    fast_mb_s: float
    slow_mb_s: float
    overflow_mb_s: float


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a burst: what it takes in, how fast, and for how long."""

    name: str
    volume_mb: float
    rate_mb_s: float
    hours: float


@dataclass(frozen=True, slots=True)
class Ingest:
    """A burst in its three phases, ``fast``, ``slow`` and ``overflow``, in this order."""

    phases: tuple[Phase, Phase, Phase]

    @property
    def hours(self) -> float:
        """Time of the whole burst. [h]."""
        return sum(phase.hours for phase in self.phases)

    @property
    def volume_mb(self) -> float:
        """Volume of the whole burst. [MB]."""
        return sum(phase.volume_mb for phase in self.phases)

    @property
    def mean_mb_s(self) -> float:
        """Volume over time; the first phase's rate where nothing comes. [MB/s]."""
        if self.hours <= 0.0:
            return self.phases[0].rate_mb_s
        return self.volume_mb / (self.hours * SECONDS_PER_HOUR)


def ingest(
    volume_mb: float,
    occupied_mb: float,
    cache: CachePhases,
    network_mb_s: float = math.inf,
) -> Ingest:
    """Return a burst's phases: within each the slowest rules, and the times add.

    Parameters
    ----------
    volume_mb : float
        Size of the burst. [MB]
    occupied_mb : float
        What came in since the last flush; it lies in the fast region first. [MB]
    cache : CachePhases
        Regions and rates.
    network_mb_s : float
        What limits all phases alike: network, processor, shared links. [MB/s]

    Returns
    -------
    Ingest
        Phases, hours and mean rate; a phase of rate 0 that must take something lasts
        for ever.

    Examples
    --------
    >>> cache = CachePhases(3600.0, 7200.0, 400.0, 100.0, 50.0)
    >>> [phase.volume_mb for phase in ingest(9000.0, 0.0, cache).phases]
    [3600.0, 3600.0, 1800.0]
    """
    fast_mb = min(cache.fast_mb, cache.usable_mb)
    in_fast = min(volume_mb, max(0.0, fast_mb - occupied_mb))
    room_mb = max(0.0, cache.usable_mb - max(occupied_mb, fast_mb))
    in_slow = min(volume_mb - in_fast, room_mb)
    over = volume_mb - in_fast - in_slow
    return Ingest(
        (
            _phase("fast", in_fast, min(cache.fast_mb_s, network_mb_s)),
            _phase("slow", in_slow, min(cache.slow_mb_s, network_mb_s)),
            _phase("overflow", over, min(cache.overflow_mb_s, network_mb_s)),
        )
    )


def _phase(name: str, volume_mb: float, rate_mb_s: float) -> Phase:
    return Phase(name, volume_mb, rate_mb_s, transfer_hours(volume_mb, rate_mb_s))


def transfer_hours(volume_mb: float, rate_mb_s: float) -> float:
    """Return how long a volume takes at a rate. [h].

    Parameters
    ----------
    volume_mb : float
        Volume. [MB]
    rate_mb_s : float
        Rate. [MB/s]

    Returns
    -------
    float
        0 for no volume, infinite at rate 0. [h]

    Examples
    --------
    >>> transfer_hours(360000.0, 100.0)
    1.0
    """
    if volume_mb <= 0.0:
        return 0.0
    if rate_mb_s <= 0.0:
        return math.inf
    return volume_mb / rate_mb_s / SECONDS_PER_HOUR


def ingest_hours(
    volume_mb: float,
    occupied_mb: float,
    cache: CachePhases,
    network_mb_s: float = math.inf,
) -> float:
    """Return the time of a burst alone. [h].

    Parameters
    ----------
    volume_mb, occupied_mb, cache, network_mb_s
        As in `ingest`.

    Returns
    -------
    float
        Sum over the phases. [h]

    Examples
    --------
    >>> cache = CachePhases(360000.0, 720000.0, 400.0, 100.0, 50.0)
    >>> ingest_hours(540000.0, 0.0, cache, 200.0)
    1.0
    """
    return ingest(volume_mb, occupied_mb, cache, network_mb_s).hours


def flush_hours(volume_mb: float, usable_mb: float, array_mb_s: float) -> float:
    """Return the time to move what the cache holds to the array. [h].

    Parameters
    ----------
    volume_mb : float
        What came in since the last flush. [MB]
    usable_mb : float
        Usable cache; more than that has overflowed already. [MB]
    array_mb_s : float
        Rate of the flush. [MB/s]

    Returns
    -------
    float
        min(V, C) / R. [h]

    Examples
    --------
    >>> flush_hours(500000.0, 360000.0, 100.0)
    1.0
    """
    return transfer_hours(min(volume_mb, usable_mb), array_mb_s)


def endurance_years(
    tbw: float, tb_per_day: float, write_amplification: float = WRITE_AMPLIFICATION
) -> float:
    """Return how long a cache drive's rated writes last. [years].

    Parameters
    ----------
    tbw : float
        Rated writes. [TB]
    tb_per_day : float
        Host writes a day. [TB/day]
    write_amplification : float
        Writes of this workload for each host write; judgement.

    Returns
    -------
    float
        Infinite where nothing is written. [years]

    Examples
    --------
    >>> endurance_years(438.0, 1.0)
    1.0
    """
    yearly_tb = tb_per_day * DAYS_PER_YEAR * write_amplification
    return tbw / yearly_tb if yearly_tb > 0.0 else math.inf


def memory_burst_mb(dirty_mb: float, in_mb_s: float, drain_mb_s: float) -> float:
    """Return the burst that memory absorbs at full speed. [MB].

    A shorter test transfer says nothing about the drives behind.

    Parameters
    ----------
    dirty_mb : float
        Memory that may hold unwritten data. [MB]
    in_mb_s, drain_mb_s : float
        Rates at which it fills and drains. [MB/s]

    Returns
    -------
    float
        D R_in / (R_in - R_drain); infinite where it drains as fast as it fills. [MB]

    Examples
    --------
    >>> memory_burst_mb(1000.0, 200.0, 100.0)
    2000.0
    """
    if in_mb_s <= drain_mb_s:
        return math.inf
    return dirty_mb * in_mb_s / (in_mb_s - drain_mb_s)
