"""When to flush and to check: what other hours would save, and how little that can be.

Prices by hour of day and overlaps with other blocks are all that hours can change.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from optibox.assess import Assessment
from optibox.figures.money import wear_per_year
from optibox.figures.terms import energy_annuity, plain_annuity
from optibox.figures.year import Year, day_use
from optibox.physics.blocks import Block, covered_hours
from optibox.running.policy_year import Duty, use_under, year_under
from optibox.units import HOURS_PER_DAY

_HOURS = tuple(float(hour) for hour in range(24))


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Hours of day at which flush and check start, and what they lead to."""

    flush_hour: float
    check_hour: float
    total: float
    """Energy and wear over the years. [currency]"""
    wakes_per_year: float
    """Of a data drive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HourChoice:
    """The present hours, the best, and how far hours matter at all."""

    present: Hours
    best: Hours
    worst: Hours
    has_flush: bool
    has_checks: bool
    lowest_price: float
    highest_price: float
    movable_kwh: float
    """A year's energy of flushes and checks, which alone can move. [kWh]"""
    years: int

    @property
    def saving_per_year(self) -> float:
        """Return what the best hours save, a year of the years. [currency]."""
        return (self.present.total - self.best.total) / self.years

    @property
    def spread_per_year(self) -> float:
        """Return what the worst hours cost more than the best. [currency/year]."""
        return (self.worst.total - self.best.total) / self.years

    @property
    def is_flat_tariff(self) -> bool:
        """Return whether a kWh costs the same at every hour."""
        return self.highest_price - self.lowest_price < 1e-9


def hour_choice(found: Assessment, duty: Duty | None = None) -> HourChoice:
    """Return the best hours to flush and to check on a build as it is run.

    Every pair of whole hours is tried at which ingest, flush and check do not meet:
    they would slow each other down. A check of more than a day meets them anyway.
    """
    plan, transfers = found.machine.operation, found.year.transfers
    now = (plan.flush_hour, found.scenario.usage.check_hour)
    has_flush = transfers.flush_h > 0
    has_checks = plan.checks_per_year > 0 and transfers.check_h > 0
    flushes = _HOURS if has_flush else (now[0],)
    checks = _HOURS if has_checks else (now[1],)
    tried = [hours_at(found, *pair, duty) for pair in _pairs(found, flushes, checks)]
    present = hours_at(found, *now, duty)
    prices = found.scenario.money.prices_by_hour()
    return HourChoice(
        present=present,
        best=min([present, *tried], key=lambda h: round(h.total, 6)),
        worst=max([present, *tried], key=lambda h: h.total),
        has_flush=has_flush,
        has_checks=has_checks,
        lowest_price=min(prices),
        highest_price=max(prices),
        movable_kwh=_movable_kwh(found.year),
        years=found.scenario.money.years,
    )


def _pairs(
    found: Assessment, flushes: Sequence[float], checks: Sequence[float]
) -> list[tuple[float, float]]:
    """Return the hours at which no transfer meets another; all where none are free."""
    times, every = found.year.transfers, list(product(flushes, checks))
    ingest = Block(found.scenario.usage.ingest_hour, times.ingest_h + times.overflow_h)
    check_h = times.check_h if len(checks) > 1 else 0.0

    def is_free(pair: tuple[float, float]) -> bool:
        flush, check = Block(pair[0], times.flush_h), Block(pair[1], check_h)
        blocks = (ingest, flush, check)
        whole = sum(block.length_h for block in blocks)
        # what overlaps is covered once
        return covered_hours(blocks) >= whole - 1e-9 and whole < HOURS_PER_DAY

    return [pair for pair in every if is_free(pair)] or every


def hours_at(
    found: Assessment, flush_hour: float, check_hour: float, duty: Duty | None = None
) -> Hours:
    """Return what a build costs to run with other hours."""
    plan, money = found.machine.operation, found.scenario.money
    use = day_use(found.scenario, flush_hour, plan.checks_per_year)
    use = replace(use, check_hour=check_hour)
    times = found.year.transfers
    use = use_under(duty, use, plan.timeout_min, times)
    year = year_under(found.machine, use, times)
    total = 0.0
    if "energy" in money.terms:
        total += year.energy_money * energy_annuity(money)
    if "wear" in money.terms:
        total += wear_per_year(found.machine, year) * plain_annuity(money)
    return Hours(
        flush_hour=flush_hour,
        check_hour=check_hour,
        total=total,
        wakes_per_year=year.operating.data.wakes,
    )


def _movable_kwh(year: Year) -> float:
    """Return the energy that flushes and checks add to a machine at rest. [kWh]."""
    rest = min((state.wall_w for state in year.states), default=0.0)
    moved = [s for s in year.states if s.name in ("flushing", "checking")]
    return sum(s.hours * max(0.0, s.wall_w - rest) / 1000.0 for s in moved)
