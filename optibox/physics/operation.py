"""A year of operation: how long each state lasts, what spins, how often it wakes.

One function serves the evaluator (with the rates that a build reaches) and the
program (with rates that no build of a menu entry exceeds): more speed never makes
a state longer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import mul, sub
from typing import Literal

from optibox.physics.blocks import Block, merged
from optibox.physics.calendar import HOURS_OF_DAY, fill_hours
from optibox.physics.duty import session_stretch
from optibox.units import DAYS_PER_YEAR, HOURS_PER_DAY, HOURS_PER_YEAR

StateName = Literal[
    "asleep", "spinning", "reading", "ingesting", "flushing", "checking"
]
_EMPTY = (0.0,) * HOURS_OF_DAY
_FULL = (1.0,) * HOURS_OF_DAY
_NO_TIME = 1e-12
"""Below this a share of time is rounding."""
_RARELY_UP = 1e-3
"""Share of time up below which wakes are spread over all rest hours: put into a
vanishing time they would be megawatts, and losses grow with the square."""


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
    replayed : tuple of two floats or None
        Share of time that a data drive spins outside blocks and its wakes an hour,
        as a log of accesses gives them at this timeout; else sessions decide. [1/h]
    open_hours : tuple of 24 floats, or none
        Share of each hour of day in which the machine is on; nothing for always.
        Sessions are those of the open hours; blocks must lie in them.
    boot_hours : tuple of float
        Hours of day at which the machine starts, and all drives with it. [h]
    boot_h : float
        From switching on to the first answer. [h]
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
    replayed: tuple[float, float] | None = None
    open_hours: tuple[float, ...] = ()
    boot_hours: tuple[float, ...] = ()
    boot_h: float = 0.0


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
    """One mean drive's year: hours spinning, wakes, and those for which people wait."""

    spinning_h: float
    wakes: float
    session_wakes: float = 0.0


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


@dataclass(frozen=True, slots=True)
class _Schedule:
    """What a day holds for both roles; figures by hour of day. [h]."""

    daily: Sequence[float]
    n_blocks: float
    checks: Sequence[float]
    """Mean fill by checks over the days of a year."""
    boots: Sequence[float]


_NO_SCHEDULE = _Schedule(_FULL, 0.0, _EMPTY, _EMPTY)


def _schedule(use: DayUse, shape: ArrayShape, times: Transfers) -> _Schedule:
    tail = shape.timeout_h
    if math.isinf(tail):
        return _NO_SCHEDULE
    boots = _fill(merged((Block(h, use.boot_h) for h in use.boot_hours), tail))
    stretches = merged(_daily_blocks(use, shape, times), tail)
    per_day = use.checks_per_year / DAYS_PER_YEAR
    check = fill_hours(use.check_hour, times.check_h + tail) if per_day else _EMPTY
    # a block that begins while drives still spin from a start wakes none
    starts = (
        []
        if _is_whole_day(stretches)
        else [int(b.start_h) % HOURS_OF_DAY for b in stretches]
    )
    return _Schedule(
        daily=_fill(stretches),
        n_blocks=sum(1.0 - boots[hour] for hour in starts),
        checks=[per_day * hour for hour in check],
        boots=boots,
    )


def _is_whole_day(stretches: Sequence[Block]) -> bool:
    return bool(stretches) and stretches[0].length_h >= HOURS_PER_DAY


def _fill(stretches: Sequence[Block]) -> Sequence[float]:
    """Return the part of each hour of day that disjoint stretches fill. [h]."""
    if not stretches:
        return _EMPTY
    if _is_whole_day(stretches):
        return _FULL
    fills = [fill_hours(block.start_h, block.length_h) for block in stretches]
    if len(fills) == 1:
        return fills[0]
    return [sum(hour) for hour in zip(*fills, strict=True)]


def _daily_blocks(
    use: DayUse, shape: ArrayShape, times: Transfers
) -> tuple[Block, ...]:
    """Return the blocks of every day in which drives are written."""
    # with a cache, what it has no room for is written while the burst comes in
    direct_h = times.overflow_h if shape.has_cache else times.ingest_h
    ingest = Block(use.ingest_hour, direct_h)
    return ingest, Block(use.flush_hour, times.flush_h)


@dataclass(frozen=True, slots=True)
class _Spin:
    """How one role spins: share at random, by hour of day, wakes a year."""

    share: float
    by_hour: Sequence[float]
    wakes: float
    session_wakes: float


def _spin(use: DayUse, plan: _Schedule, tail_h: float, reach: _Reach) -> _Spin:
    boots = len(use.boot_hours) * DAYS_PER_YEAR
    if math.isinf(tail_h):
        return _Spin(1.0, use.open_hours or _FULL, boots, 0.0)
    share, quiet, wakes_per_h = _at_random(use, tail_h, reach.sigma)
    by_hour, free_h = [], 0.0
    for hour, is_open in enumerate(use.open_hours or _FULL):
        covered = reach.block_share * plan.daily[hour]
        covered += plan.checks[hour] * (1.0 - covered)
        covered += plan.boots[hour] * (1.0 - covered)
        free = max(0.0, 1.0 - covered)
        free_h += is_open * free
        by_hour.append(is_open * (1.0 - free * (1.0 - share)))
    at_check = reach.block_share * plan.daily[int(use.check_hour) % HOURS_OF_DAY]
    blocks = reach.block_share * plan.n_blocks * DAYS_PER_YEAR
    scheduled = blocks + use.checks_per_year * (1.0 - at_check)
    at_random = wakes_per_h * free_h * DAYS_PER_YEAR
    return _Spin(share, by_hour, at_random + scheduled * quiet + boots, at_random)


def _at_random(use: DayUse, tail_h: float, sigma: float) -> tuple[float, float, float]:
    """Return share spinning, share asleep to blocks, and wakes an hour by sessions."""
    if use.replayed is not None and sigma > 0:
        share, wakes_per_h = use.replayed
        return share, 1.0 - share, wakes_per_h
    stretch, per_session = session_stretch(
        use.accesses, use.gap_h, use.service_h, tail_h
    )
    quiet = math.exp(-sigma * stretch)
    share = 1.0 - quiet if use.spinning_fraction is None else use.spinning_fraction
    return share, quiet, sigma * per_session * quiet


def _mix(active: float, spin: _Spin) -> Mix:
    return Mix(active=active, idle=(1.0 - active) * spin.share)


def _transfer_states(
    use: DayUse,
    shape: ArrayShape,
    times: Transfers,
    data: tuple[_Reach, _Spin],
    parity: tuple[_Reach, _Spin],
) -> list[tuple[StateYear, Sequence[float]]]:
    """Return each transfer state with its mean hours in each hour of day."""
    (reach, spin), (reach_p, spin_p) = data, parity
    write = (_mix(reach.write_active, spin), _mix(reach_p.write_active, spin_p))
    still = (_mix(0.0, spin), _mix(0.0, spin_p))
    read_h = use.sessions_per_h * use.accesses * use.service_h
    check_share = use.checks_per_year / DAYS_PER_YEAR
    ingest_mix = still if shape.has_cache else write
    rows: list[
        tuple[StateName, Sequence[float], tuple[Mix, Mix], tuple[bool, bool]]
    ] = [
        (
            "reading",
            [read_h * is_open for is_open in use.open_hours or _FULL],
            (_mix(reach.read_active, spin), _mix(0.0, spin_p)),
            (False, True),
        ),
        (
            "ingesting",
            fill_hours(use.ingest_hour, times.ingest_h),
            ingest_mix,
            (shape.has_cache, True),
        ),
        (
            "ingesting",
            fill_hours(use.ingest_hour + times.ingest_h, times.overflow_h),
            write,
            (False, True),
        ),
        (
            "flushing",
            fill_hours(use.flush_hour, times.flush_h),
            write,
            (True, False),
        ),
        (
            "checking",
            [check_share * x for x in fill_hours(use.check_hour, times.check_h)],
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
    by_hour: Sequence[float],
    mixes: tuple[Mix, Mix],
    flags: tuple[bool, bool],
) -> StateYear:
    money = sum(map(mul, by_hour, use.prices))
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
    transfers: list[tuple[StateYear, Sequence[float]]],
    spins: tuple[_Spin, _Spin],
) -> list[StateYear]:
    """Return the states between transfers, one set per price level."""
    moving = [sum(hour) for hour in zip(*(h for _, h in transfers), strict=True)]
    rest = list(map(sub, use.open_hours or _FULL, moving or _EMPTY))
    if use.open_hours:
        # a check that outlasts the open hours keeps the machine on
        pairs = zip(rest, use.open_hours, strict=True)
        rest = [hour if is_open else 0.0 for hour, is_open in pairs]
    rest_h_per_year = max(sum(rest), 1e-9) * DAYS_PER_YEAR
    states: list[StateYear] = []
    for price in sorted(set(use.prices)):
        band = [h for h in range(HOURS_OF_DAY) if use.prices[h] == price]
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
    up = shares[0] if shares[0] > _NO_TIME else 0.0
    # wakes belong to the hours up, unless those are too few to bear them
    is_rare = 0.0 < up < _RARELY_UP
    found = []
    if up > 0:
        in_up = rates if is_rare else [rate / up for rate in rates]
        found.append(state("spinning", hours * up, [1.0, 1.0], in_up))
    if up < 1:
        in_asleep = rates if is_rare else [0.0, 0.0]
        found.append(state("asleep", hours * (1 - up), [0.0, 0.0], in_asleep))
    return found


@lru_cache(maxsize=4_000)
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

    Notes
    -----
    A day's block that begins while a check is running counts as a wake of its own,
    which it is not: with four checks a year up to four wakes too many. Wakes are spread
    evenly over price bands; in a band in which a stripe never rests spinning they carry
    no energy. Both are far below a kilowatt-hour a year.
    """
    reach = _Reach(*reach_of_data(use, shape))
    reach_p = _Reach(
        reach.sigma if shape.layout != "independent" else 0.0, 1.0, 1.0, 0.0
    )
    schedule = _schedule(use, shape, times)
    spin, spin_p = (_spin(use, schedule, shape.timeout_h, r) for r in (reach, reach_p))
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
    return DriveYear(
        spinning_h=min(spinning, HOURS_PER_YEAR),
        wakes=spin.wakes,
        session_wakes=spin.session_wakes,
    )
