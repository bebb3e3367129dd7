"""A week with off hours: what is open when, and where blocks still fit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from optibox.assess import Assessment
from optibox.physics.blocks import Block, covered_hours
from optibox.physics.calendar import DAYS_OF_WEEK, HOURS_OF_DAY, fill_hours
from optibox.physics.operation import Transfers
from optibox.scenario import Scenario
from optibox.units import HOURS_PER_DAY

_HAIR = 1e-9
_HOURS = tuple(float(hour) for hour in range(HOURS_OF_DAY))


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Days of one kind: open hours, starts, prices, how often in a week."""

    open_hours: tuple[float, ...]
    boot_hours: tuple[float, ...]
    prices: tuple[float, ...]
    has_ingest: bool
    per_week: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """A week with off hours."""

    days: tuple[Day, ...]

    @property
    def open_h(self) -> float:
        """Return the open hours of a week. [h]."""
        return sum(day.per_week * sum(day.open_hours) for day in self.days)

    @property
    def n_ingest(self) -> int:
        """Return the days of a week with an ingest."""
        return sum(day.per_week for day in self.days if day.has_ingest)

    @property
    def n_open(self) -> int:
        """Return the days of a week that are open at all."""
        return sum(day.per_week for day in self.days if any(day.open_hours))


def off_flags(scenario: Scenario) -> list[bool]:
    """Return for each hour of the week whether nobody needs answers."""
    return [
        scenario.off_hours.is_off(day, hour)
        for day in range(DAYS_OF_WEEK)
        for hour in range(HOURS_OF_DAY)
    ]


def week_of(scenario: Scenario, ingest_hour: float) -> Week:
    """Return the week of a scenario's off hours, days that are alike taken together."""
    money = scenario.money
    is_open = [not is_off for is_off in off_flags(scenario)]
    days = []
    for day in range(DAYS_OF_WEEK):
        first = day * HOURS_OF_DAY
        hours = is_open[first : first + HOURS_OF_DAY]
        before = [is_open[first - 1], *hours[:-1]]
        boots = [
            float(h)
            for h, (was, now) in enumerate(zip(before, hours, strict=True))
            if now and not was
        ]
        days.append(
            Day(
                open_hours=tuple(map(float, hours)),
                boot_hours=tuple(boots),
                prices=tuple(
                    money.price_at(day, h) or 0.0 for h in range(HOURS_OF_DAY)
                ),
                has_ingest=hours[int(ingest_hour) % HOURS_OF_DAY],
                per_week=1,
            )
        )
    alike = groupby(sorted(days, key=_key), key=_key)
    return Week(days=tuple(_merged(list(group)) for _, group in alike))


def _key(day: Day) -> tuple[tuple[float, ...], ...]:
    return day.open_hours, day.boot_hours, day.prices


def _merged(days: list[Day]) -> Day:
    return replace(days[0], per_week=len(days))


def boots_per_week(week: Week) -> int:
    """Return how often the machine starts in a week."""
    return sum(day.per_week * len(day.boot_hours) for day in week.days)


def fits(block: Sequence[float], open_hours: Sequence[float]) -> bool:
    """Return whether a block's fill of each hour lies in the open hours."""
    return all(a <= b + _HAIR for a, b in zip(block, open_hours, strict=True))


def hours_that_fit(
    found: Assessment, week: Week, times: Transfers
) -> tuple[float, float] | None:
    """Return the hours at which flush and check fit: the present ones if they do.

    Parameters
    ----------
    found : Assessment
        The build with the ingest of its open days.
    week : Week
        Open hours.
    times : Transfers
        Of an open day. [h]

    Returns
    -------
    tuple of float, or None
        Hours of day of flush and check; nothing where a flush fits nowhere. [h]
    """
    ingest = Block(found.scenario.usage.ingest_hour, times.ingest_h + times.overflow_h)
    flush_hour = _flush_hour(found, week, ingest, times.flush_h)
    if flush_hour is None:
        return None
    blocks = (ingest, Block(flush_hour, times.flush_h))
    return flush_hour, _check_hour(found, week, blocks, times.check_h)


def _flush_hour(
    found: Assessment, week: Week, ingest: Block, flush_h: float
) -> float | None:
    """Return the first hour at which a flush lies in the open hours of ingest days."""
    present = found.machine.operation.flush_hour
    if flush_h <= 0:
        return present
    days = [day.open_hours for day in week.days if day.has_ingest]
    open_hours = [min(hour) for hour in zip(*days, strict=True)]
    tried = (present, ingest.end_h % HOURS_PER_DAY, *_HOURS)
    free = (
        hour
        for hour in tried
        if fits(fill_hours(hour, flush_h), open_hours)
        and _overlap_h(ingest, Block(hour, flush_h)) < _HAIR
    )
    return next(free, None)


def _check_hour(
    found: Assessment, week: Week, blocks: Sequence[Block], check_h: float
) -> float:
    """Return the hour at which most of a check is open, and meets least.

    A check may outlast the open hours.
    """
    open_hours = [max(hour) for hour in zip(*_open(week), strict=True)]
    length_h = min(check_h, HOURS_PER_DAY)

    def badness(hour: float) -> tuple[float, float]:
        fill = fill_hours(hour, length_h)
        outside = sum(max(0.0, a - b) for a, b in zip(fill, open_hours, strict=True))
        met = sum(_overlap_h(Block(hour, length_h), block) for block in blocks)
        return round(outside, 6), round(met, 6)

    return min((found.scenario.usage.check_hour, *_HOURS), key=badness)


def _open(week: Week) -> list[tuple[float, ...]]:
    return [day.open_hours for day in week.days]


def _overlap_h(first: Block, second: Block) -> float:
    return first.length_h + second.length_h - covered_hours((first, second))
