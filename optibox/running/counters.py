"""What counters say about usage: wakes and spinning hours with their intervals.

Everybody has start counts, power-on hours and a meter. None of them is what is wanted:
starts hold boots, power-on hours run on while most drives sleep, and the meter shows
the whole machine. Together, and through the evaluator, they bound it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.errors import Fault, InputError
from optibox.figures.year import day_use, shape_of
from optibox.physics.duty import session_stretch
from optibox.physics.operation import DriveYear, reach_of_data
from optibox.running.counters_read import Change
from optibox.running.policy_year import year_under
from optibox.scenario import Scenario
from optibox.units import HOURS_PER_DAY, HOURS_PER_YEAR, SECONDS_PER_HOUR

Meaning = Literal["powered", "spinning", "unknown"]
Z_95 = 1.959963984540054
"""Standard normal quantile of 97.5 %."""
ALWAYS_POWERED = 0.98
"""Share of the time from which on a power-on counter counts powered time; judgement."""
WATTS_KNOWN_TO = 0.05
"""Share to which a machine's watts are known at best; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A figure with its bounds, 95 % where chance makes them."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveCounters:
    """One drive between two dates."""

    drive: str
    role: str
    n_wakes: float
    """Starts less power cycles."""
    wakes_per_year: Interval
    power_on_means: Meaning
    power_on_h_per_day: float | None
    spinning_h_per_day: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What the counters say about usage, and what they leave open."""

    drives: tuple[DriveCounters, ...]
    sessions_per_day: Interval
    """That explain the data drives' wakes under the timeout in force."""
    is_beyond: bool
    """More wakes than sessions of this form can cause."""
    kwh_per_year: float | None
    """By the meter."""
    planned_kwh_per_year: float
    """By the evaluator, with the sessions that explain the wakes."""
    days: float

    @property
    def kwh_misfit_fraction(self) -> float | None:
        """Return by how much the meter is above the evaluator."""
        if self.kwh_per_year is None:
            return None
        return self.kwh_per_year / self.planned_kwh_per_year - 1.0


def poisson_interval(count: float) -> tuple[float, float]:
    """Return the 95 % interval of a mean of which so many events were seen.

    The exact interval by chi-squared quantiles, these by the cube-root approximation
    of Wilson and Hilferty (1931, from memory): within 2 % of exact from one event on.

    Examples
    --------
    >>> low, high = poisson_interval(100)
    >>> round(low, 1), round(high, 1)
    (81.4, 121.6)
    """
    return _half_chi_squared(2.0 * count, -Z_95), _half_chi_squared(
        2.0 * count + 2.0, Z_95
    )


def _half_chi_squared(degrees: float, z: float) -> float:
    if degrees <= 0:
        return 0.0
    step = 2.0 / (9.0 * degrees)
    return degrees / 2.0 * max(0.0, 1.0 - step + z * math.sqrt(step)) ** 3


def counted(
    build: Build, scenario: Scenario, changes: tuple[Change, ...], path: str
) -> Counted:
    """Return the usage that a build's counters speak for.

    Parameters
    ----------
    build : Build
        The machine, run as it was between the dates.
    scenario : Scenario
        Its sessions say how many accesses a visit has; their number is fitted.
    changes : tuple of Change
        Of drives by the build's names, and of the meter.
    path : str
        Named where names do not match.

    Raises
    ------
    InputError
        If drives are named that the build has not, if no data drive has its starts
        counted, or if drives woke that never stop by the build's timeout.
    """
    found = assess(build, scenario)
    _check(found, changes, path)
    data = [change for change in changes if _role(build, change.drive) == "data"]
    woken = [c for c in data if "starts" in c.counts]
    n = sum(_wakes(change) for change in woken)
    drive_years = sum(change.hours for change in woken) / HOURS_PER_YEAR
    bounds = (*poisson_interval(n), n)
    low, high, mid = (_sessions_for(found, count / drive_years) for count in bounds)
    fitted = with_sessions(scenario, mid)
    planned = assess(build, fitted)
    meter = [c for c in changes if "meter_kwh" in c.counts]
    kwh = None
    if meter:
        kwh = meter[0].counts["meter_kwh"] / meter[0].hours * HOURS_PER_YEAR
    most = _most_wakes(found)
    return Counted(
        drives=tuple(
            _drive(planned, change, kwh)
            for change in changes
            if change.drive and change.counts
        ),
        sessions_per_day=Interval(low=low, mid=mid, high=max(high, mid)),
        is_beyond=n / drive_years > most,
        kwh_per_year=kwh,
        planned_kwh_per_year=planned.year.kwh,
        days=max(change.hours for change in changes) / HOURS_PER_DAY,
    )


def with_sessions(scenario: Scenario, sessions_per_day: float) -> Scenario:
    """Return a scenario with another number of visits a day."""
    usage = scenario.usage.model_copy(update={"sessions_per_day": sessions_per_day})
    return scenario.model_copy(update={"usage": usage})


def _check(found: Assessment, changes: tuple[Change, ...], path: str) -> None:
    build, faults = found.build, []
    names = [drive.name for drive in build.in_role("data", "parity")]
    for change in changes:
        if change.drive and change.drive not in names:
            problem = f"is no array drive of the build; it has {', '.join(names)}"
            remedy = "Use the build's names."
            faults.append(
                Fault(
                    path=path,
                    field="drive",
                    value=change.drive,
                    problem=problem,
                    remedy=remedy,
                )
            )
    data = [c for c in changes if _role(build, c.drive) == "data"]
    if not faults and not any("starts" in change.counts for change in data):
        problem = "counts the starts of no data drive at two dates"
        remedy = "Without them nothing can be said about wakes."
        faults.append(Fault(path=path, problem=problem, remedy=remedy))
    is_never = build.operation.timeout_min is None
    if not faults and is_never and sum(_wakes(change) for change in data) > 0:
        problem = "counts wakes, and by the build its drives never stop"
        remedy = "Write the timeout that was in force into the build's operation."
        faults.append(Fault(path=path, problem=problem, remedy=remedy))
    if faults:
        raise InputError(faults)


def _role(build: Build, name: str) -> str:
    roles = {drive.name: drive.role for drive in build.drives}
    return roles.get(name, "")


def _wakes(change: Change) -> float:
    """Return the starts that no power cycle explains."""
    starts = change.counts.get("starts", 0.0)
    return max(0.0, starts - change.counts.get("power_cycles", 0.0))


def _data_year(found: Assessment, sessions_per_day: float) -> DriveYear:
    plan = found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    use = replace(use, sessions_per_h=sessions_per_day / HOURS_PER_DAY)
    return year_under(found.machine, use, found.year.transfers).operating.data


def peak_sessions(found: Assessment) -> float:
    """Return the sessions a day beyond which more of them wake drives less often.

    A data drive then spins 1 - 1/e of the time: one session for each stretch awake.
    """
    plan, usage = found.machine.operation, found.scenario.usage
    stretch_h, _ = session_stretch(
        float(usage.accesses_per_session),
        usage.minutes_between / 60.0,
        usage.seconds_per_access / SECONDS_PER_HOUR,
        plan.timeout_h,
    )
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    one = replace(use, sessions_per_h=1.0, metadata_per_h=0.0)
    sigma, *_ = reach_of_data(one, shape_of(found.machine))
    return HOURS_PER_DAY / (sigma * stretch_h)


def _most_wakes(found: Assessment) -> float:
    if found.machine.operation.timeout_min is None:
        return math.inf
    return _data_year(found, peak_sessions(found)).wakes


def _sessions_for(found: Assessment, wakes_per_year: float) -> float:
    """Return the fewest sessions a day that wake a data drive so often."""
    if found.machine.operation.timeout_min is None:
        return 0.0
    peak = peak_sessions(found)
    return root(lambda n: _data_year(found, n).wakes - wakes_per_year, 0.0, peak)


def root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function is 0; the nearest end where it is not.

    Examples
    --------
    >>> round(root(lambda x: x * x - 2, 0, 2), 6), root(lambda x: x + 1, 0, 1)
    (1.414214, 0)
    """
    if rising(low) >= 0:
        return low
    if rising(high) <= 0:
        return high
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return (low + high) / 2.0


def _drive(found: Assessment, change: Change, kwh: float | None) -> DriveCounters:
    role = _role(found.build, change.drive)
    operating = found.year.operating
    planned = operating.parity if role == "parity" else operating.data
    n = _wakes(change)
    years = change.hours / HOURS_PER_YEAR
    low, high = poisson_interval(n)
    power_on = change.counts.get("power_on_h")
    meaning = power_on_meaning(change)
    wakes = Interval(low=low / years, mid=n / years, high=high / years)
    known = "starts" in change.counts
    return DriveCounters(
        drive=change.drive,
        role=role,
        n_wakes=n,
        wakes_per_year=wakes if known else Interval(low=0, mid=0, high=math.inf),
        power_on_means=meaning,
        power_on_h_per_day=None
        if power_on is None
        else power_on / change.hours * HOURS_PER_DAY,
        spinning_h_per_day=_spinning(found, change, planned, kwh),
    )


def power_on_meaning(change: Change) -> Meaning:
    """Return what a power-on counter counts: most run on while the drive sleeps.

    Examples
    --------
    >>> power_on_meaning(Change(drive="a", hours=100, counts={"power_on_h": 100}))
    'powered'
    >>> power_on_meaning(Change(drive="a", hours=100, counts={"power_on_h": 9}))
    'spinning'
    """
    counts = change.counts
    if "power_on_h" not in counts:
        return "unknown"
    if counts["power_on_h"] >= ALWAYS_POWERED * change.hours:
        return "powered"
    # a machine that was off at times explains a counter that stood still as well
    return "unknown" if counts.get("power_cycles", 0.0) > 0 else "spinning"


def _spinning(
    found: Assessment, change: Change, planned: DriveYear, kwh: float | None
) -> Interval:
    """Return the spinning hours a day that all counters together allow. [h].

    At least the timeout after each wake; at most what the power-on counter shows, and
    what the meter leaves for drives, given how well watts are known.
    """
    days = change.hours / HOURS_PER_DAY
    tail_h = found.machine.operation.timeout_h
    if math.isinf(tail_h):
        return Interval(low=HOURS_PER_DAY, mid=HOURS_PER_DAY, high=HOURS_PER_DAY)
    least = min(HOURS_PER_DAY, poisson_interval(_wakes(change))[0] * tail_h / days)
    most = HOURS_PER_DAY
    if "power_on_h" in change.counts:
        most = min(most, change.counts["power_on_h"] / days)
    if kwh is not None:
        most = min(most, _most_by_meter(found, kwh))
    if power_on_meaning(change) == "spinning":
        exact = change.counts["power_on_h"] / days
        return Interval(low=min(least, exact), mid=exact, high=exact)
    most = max(most, least)
    mid = planned.spinning_h / HOURS_PER_YEAR * HOURS_PER_DAY
    return Interval(low=least, mid=min(most, max(least, mid)), high=most)


def _most_by_meter(found: Assessment, kwh: float) -> float:
    """Return the hours a day that drives can spin at most, by the meter. [h].

    All drives alike, watts as high as the meter allows within what they are known to.
    """
    plan = found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    room = kwh * (1.0 + WATTS_KNOWN_TO)

    def above(share: float) -> float:
        spun = replace(use, spinning_fraction=share)
        return year_under(found.machine, spun, found.year.transfers).kwh - room

    return root(above, 0.0, 1.0) * HOURS_PER_DAY
