"""All that can be said about when a machine's drives should sleep, in one record."""

import math
from dataclasses import dataclass
from pathlib import Path

from optibox.assess import assess
from optibox.build import Build
from optibox.running.counters import Counted, counted, peak_sessions, with_sessions
from optibox.running.counters_read import read_changes
from optibox.running.log_fit import LogFit, log_fit, reach_of
from optibox.running.log_replay import LogDuty, replay_log
from optibox.running.offhours import OffHoursYear, off_hours_year
from optibox.running.policy import (
    WORTH_PER_YEAR,
    PolicyRow,
    PolicyTable,
    judged,
    policy_table,
    run_under,
)
from optibox.running.policy_breakeven import BreakEven, break_evens
from optibox.running.policy_drives import OwnTimeouts, own_timeouts
from optibox.running.policy_hours import HourChoice, hour_choice
from optibox.scenario import Scenario, as_it_stands
from optibox.scenario.records import TIMEOUTS_MIN, Usage


@dataclass(frozen=True, slots=True, kw_only=True)
class CountersAnswer:
    """Usage by counters, and the best policy at both ends of what they allow."""

    counted: Counted
    best_at_low: PolicyRow
    best_at_high: PolicyRow


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAnswer:
    """Usage by a log, and what it costs to trust the session formula instead."""

    fit: LogFit
    formula_best: PolicyRow
    """By the formula with the sessions that fit the log best."""
    formula_best_replayed: PolicyRow
    """The same policy by the replay."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spindown:
    """Policies on one build, each drive by itself, break-evens, hours, off hours."""

    table: PolicyTable
    own: OwnTimeouts
    break_evens: tuple[BreakEven, ...]
    hours: HourChoice
    off: OffHoursYear
    counters: CountersAnswer | None = None
    log: LogAnswer | None = None
    sessions_by_share: float | None = None
    """Visits a day that ``usage.spinning_fraction`` was taken for."""

    @property
    def off_saving_per_year(self) -> float:
        """Return what off hours save beyond the best policy without them."""
        best, years = self.off.best, self.table.found.scenario.money.years
        return (self.table.best.total - best.total) / years if best else 0.0

    @property
    def own_saving_per_year(self) -> float:
        """Return what timeouts of their own save beyond the best shared one."""
        years = self.table.found.scenario.money.years
        return (self.own.shared_total - self.own.total) / years

    @property
    def is_worth_changing(self) -> bool:
        """Return whether anything at all is worth a change."""
        extras = (
            self.off_saving_per_year,
            self.own_saving_per_year,
            self.hours.saving_per_year,
        )
        return self.table.is_worth_changing or max(extras) >= WORTH_PER_YEAR


def spindown(
    build: Build,
    scenario: Scenario,
    *,
    log: Path | None = None,
    counters: Path | None = None,
) -> Spindown:
    """Return everything about spinning down the drives of one build.

    Drives by themselves, break-evens, hours and off hours are those of the best
    policy.

    Parameters
    ----------
    build : Build
        The machine, run as it is now.
    scenario : Scenario
        Usage, money, off hours.
    log : Path, optional
        A log of accesses: it takes the place of the scenario's sessions.
    counters : Path, optional
        Counters at two dates: they take the place of the number of sessions.

    Raises
    ------
    InputError
        If log or counters cannot be read or do not suit the build.
    """
    scenario, answer, by_share = as_it_stands(scenario), None, None
    if log is None and scenario.usage.spinning_fraction is not None:
        scenario, by_share = _without_share(build, scenario)
    if counters is not None:
        answer = _by_counters(build, scenario, counters)
        scenario = with_sessions(scenario, answer.counted.sessions_per_day.mid)
    found, duty, fit = assess(build, scenario), None, None
    if log is not None:
        reach, present = reach_of(found), build.operation.timeout_min
        timeouts = sorted({*TIMEOUTS_MIN, *([present] if present else [])})
        replay = replay_log(log, reach, timeouts)
        duty = LogDuty(log=replay, is_shared=reach.is_shared)
        fit = log_fit(found, replay)
    table = policy_table(build, scenario, duty=duty)
    best_build = run_under(build, table.best.policy)
    best = judged(best_build, scenario, duty)
    return Spindown(
        table=table,
        own=own_timeouts(best, duty=duty),
        break_evens=break_evens(best),
        hours=hour_choice(best, duty),
        off=off_hours_year(best_build, scenario, duty=duty),
        counters=answer,
        sessions_by_share=by_share,
        log=None if fit is None else _by_formula(build, scenario, fit, table),
    )


def _without_share(build: Build, scenario: Scenario) -> tuple[Scenario, float | None]:
    """Return a scenario whose sessions spin the drives as long as its share says.

    A share that is given outright holds for one timeout alone; sessions say what other
    timeouts would make of it.
    """
    share = scenario.usage.spinning_fraction
    usage = scenario.usage.model_copy(update={"spinning_fraction": None})
    free = scenario.model_copy(update={"usage": usage})
    found = assess(build, free)
    if (
        share is None
        or not 0.0 < share < 1.0
        or found.machine.operation.timeout_min is None
    ):
        return free, None
    sessions = -math.log(1.0 - share) * peak_sessions(found)
    return with_sessions(free, sessions), sessions


def _by_counters(build: Build, scenario: Scenario, path: Path) -> CountersAnswer:
    found = counted(build, scenario, read_changes(path), str(path))
    sessions = found.sessions_per_day
    low, high = (
        policy_table(build, with_sessions(scenario, n)).best
        for n in (sessions.low, sessions.high)
    )
    return CountersAnswer(counted=found, best_at_low=low, best_at_high=high)


def _by_formula(
    build: Build, scenario: Scenario, fit: LogFit, table: PolicyTable
) -> LogAnswer:
    formula = policy_table(build, fitted_scenario(scenario, fit))
    best = formula.best
    same = [row for row in table.rows if row.policy == best.policy]
    return LogAnswer(
        fit=fit,
        formula_best=best,
        formula_best_replayed=same[0] if same else table.best,
    )


def fitted_scenario(scenario: Scenario, fit: LogFit) -> Scenario:
    """Return a scenario with the sessions that fit a log best."""
    sessions = fit.sessions
    fitted: dict[str, object] = {
        "sessions_per_day": fit.machine_sessions_per_day,
        "accesses_per_session": sessions.accesses,
        "minutes_between": sessions.gap_h * 60.0,
        "seconds_per_access": sessions.service_h * 3600.0,
        "metadata_sessions_per_day": 0.0,
        "spinning_fraction": None,
    }
    usage: Usage = scenario.usage.model_copy(update=fitted)
    return scenario.model_copy(update={"usage": usage})
