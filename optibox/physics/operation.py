"""A year of operation: how long each state lasts, what spins, how often it wakes.

One function serves the evaluator (with the rates that a build reaches) and the
program (with rates that no build of a menu entry exceeds): more speed never makes
a state longer.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from optibox.units import DAYS_PER_YEAR, HOURS_PER_DAY, HOURS_PER_YEAR

StateName = Literal[
    "asleep", "spinning", "reading", "ingesting", "flushing", "checking"
]
_HOURS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class DayUse:
    """What happens on a mean day.

    Attributes
    ----------
    sessions_per_h, metadata_per_h : float
        Read sessions, and looks into every data drive, of the whole machine. [1/h]
    accesses, gap_h, service_h : float
        Accesses of a session, hours between them, hours each keeps a drive busy.
    ingest_hour, flush_hour, check_hour : float
        Hour of day at which each scheduled block starts. [h]
    checks_per_year : float
        Full checks in a year.
    spinning_fraction : float or None
        Share of time that a drive spins outside scheduled blocks, given outright.
    prices : tuple of 24 floats
        Mean price of each hour of day. [currency/kWh]
    """

    sessions_per_h: float
    metadata_per_h: float
    accesses: float
    gap_h: float
    service_h: float
    ingest_hour: float
    flush_hour: float
    check_hour: float
    checks_per_year: float
    spinning_fraction: float | None
    prices: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayShape:
    """What of the operating plan decides who spins."""

    layout: Literal["independent", "striped", "pairs", "striped pairs"]
    reconstructs: bool
    n_data: int
    n_parity: int
    has_cache: bool
    timeout_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfers:
    """Hours of transfer: a day's ingest, flush and overflow; one whole check."""

    ingest_h: float = 0.0
    flush_h: float = 0.0
    overflow_h: float = 0.0
    check_h: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """Shares of a mean drive's time within a state; the rest of it stands still."""

    active: float = 0.0
    idle: float = 0.0
    wakes_per_h: float = 0.0

    @property
    def standby(self) -> float:
        """Return the share of time with platters stopped."""
        return max(0.0, 1.0 - self.active - self.idle)


@dataclass(frozen=True, slots=True, kw_only=True)
class StateYear:
    """One state's part of the year.

    ``money_per_w`` is what one watt costs that is drawn throughout the state's
    hours of a year, at the first year's prices. [currency/W]
    """

    name: StateName
    hours: float
    money_per_w: float
    data: Mix
    parity: Mix
    cache_active: bool = False
    network_active: bool = False
    processor_active: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveYear:
    """One mean drive's year: hours spinning and wakes."""

    spinning_h: float
    wakes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingYear:
    """The states of a year with the drives' spinning hours and wakes."""

    states: tuple[StateYear, ...]
    data: DriveYear
    parity: DriveYear
    transfer_h_per_day: float


@dataclass(frozen=True, slots=True)
class _Reach:
    """How one role is reached: sessions, share of daily blocks, activity."""

    sigma: float
    block_share: float
    write_active: float
    read_active: float


def reach_of_data(use: DayUse, shape: ArrayShape) -> tuple[float, float, float, float]:
    """Return sessions an hour, block share, write and read activity of a data drive.

    Independent drives share the read sessions; stripes get all of them; a pair gets
    its share, one side of it a read.
    """
    n, all_sessions = shape.n_data, use.sessions_per_h
    if shape.layout == "independent":
        share = 1.0 if shape.reconstructs else 1.0 / n
        return all_sessions / n + use.metadata_per_h, share, share, 1.0 / n
    if shape.layout == "pairs":
        return all_sessions / n + use.metadata_per_h, 2.0 / n, 2.0 / n, 1.0 / n
    read = 0.5 if shape.layout == "striped pairs" else 1.0
    return all_sessions + use.metadata_per_h, 1.0, 1.0, read


def awake_stretch(
    accesses: float, gap_h: float, service_h: float, timeout_h: float
) -> tuple[float, float]:
    """Return the hours awake and the wakes that one session causes.

    With the timeout reaching over the gap a session is one stretch, otherwise each
    access is one.

    Examples
    --------
    >>> awake_stretch(3, 0.1, 0.01, 0.5)
    (0.71, 1.0)
    """
    if service_h + timeout_h >= gap_h or accesses <= 1:
        return (accesses - 1) * gap_h + service_h + timeout_h, 1.0
    return accesses * (service_h + timeout_h), accesses


def spread(start_hour: float, length_h: float) -> list[float]:
    """Return how much of each hour of day a block fills; long ones count repeatedly.

    Examples
    --------
    >>> spread(23.5, 1.0)[23], spread(23.5, 1.0)[0]
    (0.5, 0.5)
    """
    whole_days, rest = divmod(length_h, HOURS_PER_DAY)
    filled = [whole_days] * _HOURS
    position = start_hour % HOURS_PER_DAY
    while rest > 1e-12:
        hour = int(position)
        step = min(rest, hour + 1 - position)
        filled[hour % _HOURS] += step
        rest -= step
        position = (position + step) % HOURS_PER_DAY
    return filled


def _union(  # noqa: C901 - one walk round the clock reads best in one piece
    blocks: tuple[tuple[float, float], ...],
) -> tuple[list[float], int]:
    """Return the fill of each hour by daily blocks, overlaps once, and their number."""
    intervals = []
    for start, length in blocks:
        if length >= HOURS_PER_DAY:
            return [1.0] * _HOURS, 0
        if length > 0:
            intervals.append((start % HOURS_PER_DAY, length))
    merged: list[list[float]] = []
    for start, length in sorted(intervals):
        if merged and start <= merged[-1][0] + merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], start + length - merged[-1][0])
        else:
            merged.append([start, length])
    if len(merged) > 1:
        overhang = merged[-1][0] + merged[-1][1] - HOURS_PER_DAY - merged[0][0]
        if overhang >= 0:
            first = merged.pop(0)
            merged[-1][1] += max(0.0, first[1] - overhang)
    if merged and merged[-1][1] >= HOURS_PER_DAY:
        return [1.0] * _HOURS, 0
    filled = [0.0] * _HOURS
    for start, length in merged:
        for hour, share in enumerate(spread(start, length)):
            filled[hour] += share
    return filled, len(merged)


@dataclass(frozen=True, slots=True)
class _Spin:
    """How one role spins: share at random, by hour of day, wakes a year."""

    share: float
    by_hour: list[float]
    wakes: float


def _spin(use: DayUse, shape: ArrayShape, times: Transfers, reach: _Reach) -> _Spin:
    tail = shape.timeout_h
    if math.isinf(tail):
        return _Spin(1.0, [1.0] * _HOURS, 0.0)
    stretch, per_session = awake_stretch(use.accesses, use.gap_h, use.service_h, tail)
    quiet = math.exp(-reach.sigma * stretch)
    share = 1.0 - quiet if use.spinning_fraction is None else use.spinning_fraction
    daily, n_blocks = _union(_daily_blocks(use, shape, times, tail))
    checks_per_day = use.checks_per_year / DAYS_PER_YEAR
    check = spread(use.check_hour, times.check_h + tail) if checks_per_day else None
    by_hour, covered_h = [], 0.0
    for hour in range(_HOURS):
        covered = reach.block_share * daily[hour]
        if check is not None:
            covered += checks_per_day * check[hour] * (1.0 - covered)
        covered = min(1.0, covered)
        covered_h += covered
        by_hour.append(covered + (1.0 - covered) * share)
    free_h = (HOURS_PER_DAY - covered_h) * DAYS_PER_YEAR
    awake_at_check = reach.block_share * daily[int(use.check_hour) % _HOURS]
    scheduled = reach.block_share * n_blocks * DAYS_PER_YEAR + use.checks_per_year * (
        1.0 - awake_at_check
    )
    wakes = reach.sigma * per_session * quiet * free_h + scheduled * quiet
    return _Spin(share, by_hour, wakes)


def _daily_blocks(
    use: DayUse, shape: ArrayShape, times: Transfers, tail: float
) -> tuple[tuple[float, float], ...]:
    direct_h = times.overflow_h if shape.has_cache else times.ingest_h
    blocks = []
    if direct_h > 0:
        blocks.append((use.ingest_hour, direct_h + tail))
    if times.flush_h > 0:
        blocks.append((use.flush_hour, times.flush_h + tail))
    return tuple(blocks)


def _mix(active: float, spin: _Spin) -> Mix:
    return Mix(active=active, idle=(1.0 - active) * spin.share)


def _transfer_states(
    use: DayUse,
    shape: ArrayShape,
    times: Transfers,
    data: tuple[_Reach, _Spin],
    parity: tuple[_Reach, _Spin],
) -> list[tuple[StateYear, list[float]]]:
    """Return each transfer state with its mean hours in each hour of day."""
    (reach, spin), (reach_p, spin_p) = data, parity
    write = (_mix(reach.write_active, spin), _mix(reach_p.write_active, spin_p))
    still = (_mix(0.0, spin), _mix(0.0, spin_p))
    read_h = use.sessions_per_h * use.accesses * use.service_h
    check_share = use.checks_per_year / DAYS_PER_YEAR
    ingest_mix = still if shape.has_cache else write
    rows: list[tuple[StateName, list[float], tuple[Mix, Mix], tuple[bool, bool]]] = [
        (
            "reading",
            [read_h] * _HOURS,
            (_mix(reach.read_active, spin), _mix(0.0, spin_p)),
            (False, True),
        ),
        (
            "ingesting",
            spread(use.ingest_hour, times.ingest_h),
            ingest_mix,
            (shape.has_cache, True),
        ),
        (
            "ingesting",
            spread(use.ingest_hour + times.ingest_h, times.overflow_h),
            write,
            (False, True),
        ),
        (
            "flushing",
            spread(use.flush_hour, times.flush_h),
            write,
            (True, False),
        ),
        (
            "checking",
            [check_share * x for x in spread(use.check_hour, times.check_h)],
            (Mix(active=1.0), Mix(active=1.0)),
            (False, False),
        ),
    ]
    return [
        (_state(use, name, by_hour, mixes, flags), by_hour)
        for name, by_hour, mixes, flags in rows
        if sum(by_hour) > 0
    ]


def _state(
    use: DayUse,
    name: StateName,
    by_hour: list[float],
    mixes: tuple[Mix, Mix],
    flags: tuple[bool, bool],
) -> StateYear:
    money = sum(x * p for x, p in zip(by_hour, use.prices, strict=True))
    return StateYear(
        name=name,
        hours=sum(by_hour) * DAYS_PER_YEAR,
        money_per_w=money * DAYS_PER_YEAR / 1000.0,
        data=mixes[0],
        parity=mixes[1],
        cache_active=flags[0],
        network_active=flags[1],
        processor_active=True,
    )


def _rest_states(
    use: DayUse,
    shape: ArrayShape,
    transfers: list[tuple[StateYear, list[float]]],
    spins: tuple[_Spin, _Spin],
) -> list[StateYear]:
    """Return the states between transfers, one set per price level."""
    rest = [1.0 - sum(hours[h] for _, hours in transfers) for h in range(_HOURS)]
    rest_h_per_year = max(sum(rest), 1e-9) * DAYS_PER_YEAR
    states: list[StateYear] = []
    for price in sorted(set(use.prices)):
        band = [h for h in range(_HOURS) if use.prices[h] == price]
        hours = sum(rest[h] for h in band)
        if hours <= 0:
            continue
        shares = []
        for which, spin in enumerate(spins):
            spinning = sum(spin.by_hour[h] for h in band)
            for state, by_hour in transfers:
                mix = state.parity if which else state.data
                spinning -= (mix.active + mix.idle) * sum(by_hour[h] for h in band)
            shares.append(min(1.0, max(0.0, spinning / hours)))
        states += _split(shape, hours, price, shares, spins, rest_h_per_year)
    return states


def _split(
    shape: ArrayShape,
    hours_per_day: float,
    price: float,
    shares: list[float],
    spins: tuple[_Spin, _Spin],
    rest_h_per_year: float,
) -> list[StateYear]:
    """Return a rest band as mean states, or as all asleep and all up.

    Independent drives sleep one by one: the mean is exact but for the supply's
    curvature. Stripes and pairs sleep together: two states.
    """
    hours = hours_per_day * DAYS_PER_YEAR
    rates = [spin.wakes / rest_h_per_year for spin in spins]
    money = price / 1000.0

    def state(
        name: StateName, h: float, up: list[float], wakes: list[float]
    ) -> StateYear:
        return StateYear(
            name=name,
            hours=h,
            money_per_w=h * money,
            data=Mix(idle=up[0], wakes_per_h=wakes[0]),
            parity=Mix(idle=up[1], wakes_per_h=wakes[1]),
        )

    if shape.layout == "independent":
        name: StateName = "spinning" if math.isinf(shape.timeout_h) else "asleep"
        return [state(name, hours, shares, rates)]
    up = shares[0]
    found = []
    if up > 0:
        scaled = [rate / up for rate in rates]
        found.append(state("spinning", hours * up, [1.0, 1.0], scaled))
    if up < 1:
        found.append(state("asleep", hours * (1 - up), [0.0, 0.0], [0.0, 0.0]))
    return found


@lru_cache(maxsize=200_000)
def operating_year(use: DayUse, shape: ArrayShape, times: Transfers) -> OperatingYear:
    """Return the states, spinning hours and wakes of one year.

    Parameters
    ----------
    use : DayUse
        Sessions, scheduled hours and prices.
    shape : ArrayShape
        Layout, write mode, drive counts, cache and timeout.
    times : Transfers
        Hours of transfer that the rates of the build lead to. [h]

    Returns
    -------
    OperatingYear
        Hours of all states add up to 8760 as long as transfers fit into the day.
    """
    reach = _Reach(*reach_of_data(use, shape))
    reach_p = _Reach(
        reach.sigma if shape.layout != "independent" else 0.0, 1.0, 1.0, 0.0
    )
    spin, spin_p = (_spin(use, shape, times, r) for r in (reach, reach_p))
    transfers = _transfer_states(use, shape, times, (reach, spin), (reach_p, spin_p))
    rest = _rest_states(use, shape, transfers, (spin, spin_p))
    return OperatingYear(
        states=tuple(rest) + tuple(state for state, _ in transfers),
        data=_year_of(spin),
        parity=_year_of(spin_p),
        transfer_h_per_day=sum(sum(hours) for _, hours in transfers),
    )


def _year_of(spin: _Spin) -> DriveYear:
    spinning = sum(spin.by_hour) * DAYS_PER_YEAR
    return DriveYear(spinning_h=min(spinning, HOURS_PER_YEAR), wakes=spin.wakes)
