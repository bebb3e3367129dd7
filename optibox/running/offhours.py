"""The whole machine off, or suspended, in the hours in which nobody needs answers.

Visits keep their number and come in the open hours; a day's ingest stays where it is
and must lie in them; flush and checks are moved to where they fit. Switching on starts
all drives.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.figures.chains import usable_cache
from optibox.figures.money import cost_terms
from optibox.figures.power import SPINNING, Activity, at_wall_w, state_dc_w
from optibox.figures.year import StateRow, Year, day_use, shape_of, transfers_of
from optibox.machine import Machine
from optibox.physics.calendar import DAYS_OF_WEEK, fill_hours
from optibox.physics.operation import (
    DayUse,
    DriveYear,
    OperatingYear,
    Transfers,
    operating_year,
)
from optibox.running.offhours_week import (
    Day,
    Week,
    boots_per_week,
    fits,
    hours_that_fit,
    off_flags,
    week_of,
)
from optibox.running.policy import MENU_MIN, Policy, PolicyRow, row_of, run_under
from optibox.running.policy_year import Duty, use_under, wall_rows
from optibox.scenario import Scenario
from optibox.units import DAYS_PER_YEAR, HOURS_PER_DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class OffHoursYear:
    """What switching off does, policy by policy; or why it will not do."""

    rows: tuple[PolicyRow, ...] = ()
    off_h_per_week: float = 0.0
    off_w: float = 0.0
    """At the wall while off or suspended. [W]"""
    is_suspended: bool = False
    boots_per_year: float = 0.0
    boot_minutes: float = 0.0
    unanswered_per_year: float = 0.0
    """Visits that would find it off if they came evenly round the clock."""
    unanswered_in_log_per_year: float | None = None
    """Accesses of the log that would have found it off."""
    flush_hour: float = 0.0
    check_hour: float = 0.0
    has_flush: bool = False
    check_h: float = 0.0
    """One check; what outlasts the open hours keeps the machine on. [h]"""
    fault: str = ""
    remedy: str = ""

    @property
    def best(self) -> PolicyRow | None:
        """Return the cheapest allowed policy, or nothing."""
        allowed = [row for row in self.rows if row.is_allowed]
        return min(allowed, key=lambda row: row.total, default=None)


def off_hours_year(
    build: Build,
    scenario: Scenario,
    *,
    menu: Sequence[float | None] = MENU_MIN,
    duty: Duty | None = None,
) -> OffHoursYear:
    """Return what switching a build off outside stated hours does.

    Parameters
    ----------
    build : Build
        The machine; its write mode and cache are kept.
    scenario : Scenario
        Its ``off_hours`` say when nobody needs answers.
    menu : sequence of float or None
        Timeouts in the open hours; None is never. [min]
    duty : Duty, optional
        How often drives are reached, from a log; as dense as in all its hours.
    """
    week = week_of(scenario, scenario.usage.ingest_hour)
    if week.open_h >= DAYS_OF_WEEK * HOURS_PER_DAY:
        return OffHoursYear(
            fault="the scenario needs answers at any time",
            remedy="Give off_hours.from_hour and to_hour, or weekend_too = true.",
        )
    ingesting = _with_volume(build, scenario, week)
    if isinstance(ingesting, OffHoursYear):
        return ingesting
    found, transfers = ingesting
    known = {error.rule for error in assess(build, scenario).errors}
    hours = hours_that_fit(found, week, transfers)
    if hours is None:
        return OffHoursYear(
            fault=f"a flush of {transfers.flush_h:.1f} h fits nowhere into the open hours",
            remedy="Shorten the off hours.",
        )
    plan, rows = build.operation, []
    for timeout in menu:
        policy = Policy(
            timeout_min=timeout, write_mode=plan.write_mode, cache=plan.cache
        )
        judged = _judged(run_under(build, policy), scenario, week, hours, duty)
        rows.append(row_of(judged, known))
    off = scenario.off_hours
    off_share = 1.0 - week.open_h / (DAYS_OF_WEEK * HOURS_PER_DAY)
    return OffHoursYear(
        rows=tuple(rows),
        off_h_per_week=DAYS_OF_WEEK * HOURS_PER_DAY - week.open_h,
        off_w=off_wall_w(found.machine),
        is_suspended=off.suspend_w is not None,
        boots_per_year=boots_per_week(week) * DAYS_PER_YEAR / DAYS_OF_WEEK,
        boot_minutes=off.boot_minutes,
        unanswered_per_year=scenario.usage.sessions_per_day * DAYS_PER_YEAR * off_share,
        unanswered_in_log_per_year=None
        if duty is None
        else duty.accesses_per_year_in(off_flags(scenario)),
        flush_hour=hours[0],
        check_hour=hours[1],
        has_flush=transfers.flush_h > 0,
        check_h=transfers.check_h,
    )


def off_wall_w(machine: Machine) -> float:
    """Return the power at the wall while the machine is off or suspended. [W].

    Off, the supply draws its own standby power and feeds the board's; the loss of a
    few tenths of a watt on the way is within what both are known to.
    """
    suspend_w = machine.scenario.off_hours.suspend_w
    if suspend_w is not None:
        return suspend_w
    board_w = machine.board.off_w.mid if machine.board else 0.0
    return board_w + (machine.supply.off_w.mid if machine.supply else 0.0)


def _with_volume(
    build: Build, scenario: Scenario, week: Week
) -> tuple[Assessment, Transfers] | OffHoursYear:
    """Return the build with the ingest of its open days; or why that will not do."""
    ingest_hour, transfers = scenario.usage.ingest_hour, Transfers()
    if scenario.usage.ingest_gb_per_day > 0 and not week.n_ingest:
        return OffHoursYear(
            fault=f"the day's ingest at hour {ingest_hour:g} would find the machine off",
            remedy="Move usage.ingest_hour, or the off hours.",
        )
    factor = DAYS_OF_WEEK / max(1, week.n_ingest)
    daily = scenario.usage.ingest_gb_per_day * factor
    usage = scenario.usage.model_copy(update={"ingest_gb_per_day": daily})
    found = assess(build, scenario.model_copy(update={"usage": usage}))
    transfers = transfers_of(found.machine)
    ingest_h = transfers.ingest_h + transfers.overflow_h
    if ingest_h >= HOURS_PER_DAY:
        return OffHoursYear(
            fault="the day's ingest takes all day and more on this build",
            remedy="See 'optibox plan' for one that takes it in.",
        )
    block = fill_hours(ingest_hour, ingest_h)
    for day in week.days:
        if day.has_ingest and not fits(block, day.open_hours):
            return OffHoursYear(
                fault=(
                    f"the day's ingest ({ingest_h:.1f} h from hour {ingest_hour:g}) "
                    "runs into the off hours"
                ),
                remedy="Move usage.ingest_hour, or the off hours.",
            )
    return found, transfers


def _judged(
    build: Build,
    scenario: Scenario,
    week: Week,
    hours: tuple[float, float],
    duty: Duty | None,
) -> Assessment:
    """Return a build's assessment with its year of open and off hours."""
    found = assess(build, scenario)
    loaded = _with_volume(build, scenario, week)
    times = found.year.transfers if isinstance(loaded, OffHoursYear) else loaded[1]
    parts = [
        (day, _operating(found, week, day, hours, (times, duty))) for day in week.days
    ]
    states: list[StateRow] = []
    for day, operating in parts:
        states += _day_states(found.machine, day, operating)
    year = Year(
        transfers=times,
        states=_summed(states),
        operating=OperatingYear(
            states=(),
            data=_mean([(day, operating.data) for day, operating in parts]),
            parity=_mean([(day, operating.parity) for day, operating in parts]),
            transfer_h_per_day=max(o.transfer_h_per_day for _, o in parts),
        ),
    )
    usable_mb = usable_cache(found.machine) if found.machine.in_role("cache") else 0.0
    return replace(found, year=year, cost=cost_terms(found.machine, year, usable_mb))


def _operating(
    found: Assessment,
    week: Week,
    day: Day,
    hours: tuple[float, float],
    work: tuple[Transfers, Duty | None],
) -> OperatingYear:
    """Return a year in which every day is of one kind."""
    times, duty = work
    plan, scenario = found.machine.operation, found.scenario
    use = day_use(scenario, hours[0], plan.checks_per_year)
    use = use_under(duty, use, plan.timeout_min, times)
    dense = DAYS_OF_WEEK * HOURS_PER_DAY / week.open_h
    is_open = any(day.open_hours)
    use = replace(
        _denser(use, dense if is_open else 0.0),
        check_hour=hours[1],
        checks_per_year=use.checks_per_year * DAYS_OF_WEEK / week.n_open
        if is_open
        else 0.0,
        prices=day.prices,
        open_hours=day.open_hours,
        boot_hours=day.boot_hours,
        boot_h=scenario.off_hours.boot_minutes / 60.0,
    )
    if not day.has_ingest:
        times = Transfers(check_h=times.check_h)
    return operating_year(use, shape_of(found.machine), times)


def _denser(use: DayUse, factor: float) -> DayUse:
    """Return a use whose visits come so many times as often."""
    replayed = use.replayed
    if replayed is not None:
        share, wakes_per_h = replayed
        replayed = (min(1.0, share * factor), wakes_per_h * factor)
    return replace(
        use,
        sessions_per_h=use.sessions_per_h * factor,
        metadata_per_h=use.metadata_per_h * factor,
        replayed=replayed,
    )


def _day_states(
    machine: Machine, day: Day, operating: OperatingYear
) -> Iterator[StateRow]:
    """Yield the states of the days of one kind, off and starting among them."""
    part = day.per_week / DAYS_OF_WEEK
    for row in wall_rows(machine, operating.states):
        yield replace(row, hours=row.hours * part, money=row.money * part)
    on_h = sum(state.hours for state in operating.states)
    off_h = max(0.0, HOURS_PER_DAY * DAYS_PER_YEAR - on_h) * part
    price = _mean_price(day.prices, [1.0 - hour for hour in day.open_hours])
    yield _row("off", off_h, off_wall_w(machine), price)
    # a start works the processor while all drives spin
    spinning_w = _wall(machine, Activity())
    extra_w = _wall(machine, Activity(processor=True)) - spinning_w
    boot_h = machine.scenario.off_hours.boot_minutes / 60.0
    boots_h = len(day.boot_hours) * boot_h * DAYS_PER_YEAR * part
    yield _row("booting", boots_h, extra_w, _mean_price(day.prices, day.open_hours))


def _wall(machine: Machine, activity: Activity) -> float:
    return at_wall_w(machine, state_dc_w(machine, SPINNING, SPINNING, activity))


def _row(name: str, hours: float, wall_w: float, price: float) -> StateRow:
    money = hours * wall_w / 1000.0 * price
    return StateRow(name=name, hours=hours, dc_w=wall_w, wall_w=wall_w, money=money)


def _mean_price(prices: Sequence[float], hours: Sequence[float]) -> float:
    total = sum(hours)
    if total <= 0:
        return sum(prices) / len(prices)
    return sum(p * h for p, h in zip(prices, hours, strict=True)) / total


def _summed(rows: Sequence[StateRow]) -> tuple[StateRow, ...]:
    return tuple(row for row in rows if row.hours > 0)


def _mean(parts: Sequence[tuple[Day, DriveYear]]) -> DriveYear:
    def mean(name: str) -> float:
        return sum(
            day.per_week / DAYS_OF_WEEK * float(getattr(year, name))
            for day, year in parts
        )

    return DriveYear(
        spinning_h=mean("spinning_h"),
        wakes=mean("wakes"),
        session_wakes=mean("session_wakes"),
    )
