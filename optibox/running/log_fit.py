"""How far the session formula is from a log: by the log's own best-fitting sessions.

The formula takes visits at random times, with accesses at equal gaps. Real ones come
in bursts of bursts; what that does to hours and wakes is shown timeout by timeout.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.build import Build
from optibox.figures.chains import chain
from optibox.figures.year import day_use, shape_of
from optibox.physics.duty import Sessions, spinning_share, wakes_per_hour
from optibox.physics.operation import reach_of_data
from optibox.running.log_replay import LogReplay, Reach
from optibox.running.policy import timeout_h
from optibox.units import DAYS_PER_YEAR, HOURS_PER_DAY, HOURS_PER_YEAR, SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The mean data drive at one timeout, scheduled blocks left out."""

    timeout_min: float
    replayed_h_per_day: float
    fitted_h_per_day: float
    scenario_h_per_day: float
    replayed_wakes_per_year: float
    fitted_wakes_per_year: float
    scenario_wakes_per_year: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFit:
    """Sessions that fit a log best, and how far they and the scenario's are off."""

    log: LogReplay
    break_min: float
    """Quiet time that parts sessions in the fit. [min]"""
    sessions: Sessions
    """As they reach the mean data drive."""
    rows: tuple[Compared, ...]
    machine_sessions_per_day: float
    """What the scenario would say for them."""

    @property
    def worst_h_per_day(self) -> float:
        """Return by how much the fitted formula misses spinning hours at most. [h]."""
        return max(abs(r.fitted_h_per_day - r.replayed_h_per_day) for r in self.rows)

    @property
    def worst_wakes_fraction(self) -> float:
        """Return by which share of the replay the formula misses wakes at most."""
        return max(
            abs(r.fitted_wakes_per_year / r.replayed_wakes_per_year - 1)
            for r in self.rows
            if r.replayed_wakes_per_year
        )


def reach_of(found: Assessment) -> Reach:
    """Return how a log's accesses reach the data drives of a build."""
    return Reach(
        drives=drive_names(found.build),
        is_shared="striped" in found.machine.operation.layout,
        service_s=found.scenario.usage.seconds_per_access,
        rate_mb_s=chain(
            found.machine, "read", found.scenario.needs.fill_fraction
        ).rate_mb_s,
    )


def drive_names(build: Build) -> tuple[str, ...]:
    """Return the names of a build's data drives."""
    return tuple(drive.name for drive in build.in_role("data"))


def log_fit(found: Assessment, log: LogReplay) -> LogFit:
    """Return the sessions that fit a log best, compared timeout by timeout.

    A session ends where nobody comes for as long as one of the timeouts; that one is
    taken whose sessions give the spinning hours of the replay best.
    """
    timeouts = tuple(t / 60.0 for t in next(iter(log.traces.values())).timeouts_s)
    fits = list(_fits(log, timeouts))
    break_min, sessions = min(fits, key=lambda fit: _misfit(log, fit[1], timeouts))
    scenario = _scenario_sessions(found)
    n_reached = 1 if reach_of(found).is_shared else len(log.traces)
    return LogFit(
        log=log,
        break_min=break_min,
        sessions=sessions,
        rows=tuple(_compared(log, sessions, scenario, t) for t in timeouts),
        machine_sessions_per_day=sessions.per_hour * n_reached * HOURS_PER_DAY,
    )


def _fits(
    log: LogReplay, timeouts: tuple[float, ...]
) -> Iterator[tuple[float, Sessions]]:
    traces = list(log.traces.values())
    n = sum(trace.n for trace in traces)
    for index, timeout in enumerate(timeouts):
        n_sessions = sum(trace.wakes[index] for trace in traces)
        calls_s = sum(trace.calls_s[index] for trace in traces)
        n_calls = n - n_sessions
        yield (
            timeout,
            Sessions(
                per_hour=n_sessions / len(traces) / log.span_h,
                accesses=n / n_sessions,
                gap_h=calls_s / n_calls / SECONDS_PER_HOUR if n_calls else 0.0,
                service_h=log.service_s / SECONDS_PER_HOUR,
            ),
        )


def _misfit(log: LogReplay, sessions: Sessions, timeouts: tuple[float, ...]) -> float:
    misses = (
        spinning_share(sessions, t / 60.0) - log.of_mean_at(t)[0] for t in timeouts
    )
    return sum(miss * miss for miss in misses)


def _scenario_sessions(found: Assessment) -> Sessions:
    plan = found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    sigma, *_ = reach_of_data(use, shape_of(found.machine))
    return Sessions(sigma, use.accesses, use.gap_h, use.service_h)


def _compared(
    log: LogReplay, fitted: Sessions, scenario: Sessions, timeout_min: float
) -> Compared:
    share, wakes = log.of_mean_at(timeout_min)
    tau_h = timeout_h(timeout_min)
    return Compared(
        timeout_min=timeout_min,
        replayed_h_per_day=share * HOURS_PER_DAY,
        fitted_h_per_day=spinning_share(fitted, tau_h) * HOURS_PER_DAY,
        scenario_h_per_day=spinning_share(scenario, tau_h) * HOURS_PER_DAY,
        replayed_wakes_per_year=wakes * HOURS_PER_YEAR,
        fitted_wakes_per_year=wakes_per_hour(fitted, tau_h) * HOURS_PER_YEAR,
        scenario_wakes_per_year=wakes_per_hour(scenario, tau_h) * HOURS_PER_YEAR,
    )


def span_days(log: LogReplay) -> float:
    """Return the days that a log spans."""
    return log.span_h / HOURS_PER_DAY


def is_short(log: LogReplay) -> bool:
    """Return whether a log is too short to speak for a year; judgement: a month."""
    return span_days(log) < DAYS_PER_YEAR / 12.0
