"""Spin-down policies on one build: what each would spin, wake, cost and keep waiting.

A policy is a timeout, a write mode and a cache arrangement. The parts stay as they
are, so that purchase is the same under each; what is compared is energy and wear.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, OperatingPlan
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import usable_cache
from optibox.figures.money import cost_terms, wear_limit_ok
from optibox.figures.power import wake_group
from optibox.figures.year import day_use, wakes_of
from optibox.physics.duty import wait_hours_per_year, wake_wait_s
from optibox.running.policy_cache import with_cache
from optibox.running.policy_year import Duty, use_under, year_under
from optibox.scenario import Scenario
from optibox.scenario.records import TIMEOUTS_MIN, CacheKind, WriteMode

MENU_MIN: tuple[float | None, ...] = (None, *TIMEOUTS_MIN)
"""Timeouts of the table, never first. [min]"""

WORTH_PER_YEAR = 2.0
"""What a change must save to be called worth making; judgement. [currency/year]"""

RUNNING_TERMS = ("energy", "wear", "cache wear")
"""Terms of the cost that a policy decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How the drives are run."""

    timeout_min: float | None
    """Nothing = never."""
    write_mode: WriteMode
    cache: CacheKind


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleYear:
    """A year of the drives of one role; shares are those of the worst drive."""

    spinning_h_per_day: float
    wakes_per_year: float
    start_stop_used_fraction: float
    """Of its rating, after the years and with the starts so far."""
    load_unload_used_fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyRow:
    """One policy with its figures."""

    policy: Policy
    data: RoleYear
    parity: RoleYear | None
    kwh_per_year: float
    energy_per_year: float
    """Price of the first year's energy. [currency]"""
    wear_per_year: float
    """Of drives and cache. [currency]"""
    waited_h_per_year: float
    """By people whose first access finds drives asleep. [h]"""
    longest_wait_s: float
    write_mb_s: float
    """To the array, for hours. [MB/s]"""
    total: float
    """Over the years; energy and wear alone where the parts stay. [currency]"""
    fault: str = ""
    """Why it would not do, or nothing."""
    rule: str = ""

    @property
    def is_allowed(self) -> bool:
        """Return whether nothing stands against the policy."""
        return not self.fault


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyTable:
    """All policies on one build."""

    found: Assessment
    present: PolicyRow
    rows: tuple[PolicyRow, ...]
    incurable: tuple[str, ...] = ()
    """Faults of the build that no policy cures; they count against none."""

    @property
    def best(self) -> PolicyRow:
        """Return the allowed policy of least total; the present one among equals."""
        allowed = [row for row in self.rows if row.is_allowed] or [self.present]
        return min(allowed, key=lambda row: (row.total, row != self.present))

    @property
    def saving_per_year(self) -> float:
        """Return what the best saves against the present, a year of the years."""
        years = self.found.scenario.money.years
        return (self.present.total - self.best.total) / years

    @property
    def is_worth_changing(self) -> bool:
        """Return whether the best is worth a change, or the present not allowed."""
        if not self.present.is_allowed:
            return self.best.is_allowed
        return self.saving_per_year >= WORTH_PER_YEAR

    def flat(self) -> tuple[PolicyRow, ...]:
        """Return the rows of the best's kind that cost next to nothing more."""
        years = self.found.scenario.money.years
        ceiling = self.best.total + WORTH_PER_YEAR * years
        return tuple(
            row
            for row in self.rows
            if row.is_allowed
            and row.total < ceiling
            and row.policy.write_mode == self.best.policy.write_mode
            and row.policy.cache == self.best.policy.cache
        )


def timeout_h(timeout_min: float | None) -> float:
    """Return a timeout in hours, infinite for never. [h]."""
    return math.inf if timeout_min is None else timeout_min / 60.0


def policy_of(plan: OperatingPlan) -> Policy:
    """Return the policy of an operating plan."""
    return Policy(
        timeout_min=plan.timeout_min, write_mode=plan.write_mode, cache=plan.cache
    )


def policies_for(
    build: Build, menu: Sequence[float | None] = MENU_MIN
) -> Iterator[Policy]:
    """Yield every policy that can be tried on a build, the present timeout among them.

    Two write modes where independent drives have parity; a cache as it is, with one
    of its two drives, and taken out.
    """
    plan = build.operation
    timeouts = sorted({*menu, plan.timeout_min}, key=lambda t: -1.0 if t is None else t)
    modes: tuple[WriteMode, ...] = (plan.write_mode,)
    if plan.write_mode != "plain":
        modes = ("read-modify-write", "reconstruct")
    kinds: tuple[CacheKind, ...] = ("none", "single", "mirror")
    for cache in kinds[: kinds.index(plan.cache) + 1]:
        for mode in modes:
            for timeout in timeouts:
                yield Policy(timeout_min=timeout, write_mode=mode, cache=cache)


def run_under(build: Build, policy: Policy) -> Build:
    """Return a build run under a policy; drives of a cache it lacks are taken out."""
    smaller = with_cache(build, policy.cache)
    plan = replace(
        smaller.operation,
        timeout_min=policy.timeout_min,
        write_mode=policy.write_mode,
        cache=policy.cache,
    )
    return replace(smaller, operation=plan)


def policy_table(
    build: Build,
    scenario: Scenario,
    *,
    menu: Sequence[float | None] = MENU_MIN,
    duty: Duty | None = None,
) -> PolicyTable:
    """Return every policy on a build with its figures.

    Parameters
    ----------
    build : Build
        The machine, run as it is now.
    scenario : Scenario
        Usage, money, limits.
    menu : sequence of float or None
        Timeouts; None is never. [min]
    duty : Duty, optional
        Replaces how often drives are reached, for each timeout.
    """
    found = judged(build, scenario, duty)
    mine = policy_of(build.operation)
    answers = [
        found if policy == mine else judged(run_under(build, policy), scenario, duty)
        for policy in policies_for(build, menu)
    ]
    incurable = frozenset.intersection(*map(_rules_broken, answers))
    rows = tuple(row_of(answer, incurable) for answer in answers)
    return PolicyTable(
        found=found,
        present=next(row for row in rows if row.policy == mine),
        rows=rows,
        incurable=tuple(e.evidence for e in found.errors if e.rule in incurable),
    )


def _rules_broken(found: Assessment) -> frozenset[str]:
    # wear is judged by itself, under the duty at hand
    return frozenset(error.rule for error in found.errors) - {"W1"}


def judged(build: Build, scenario: Scenario, duty: Duty | None) -> Assessment:
    """Return a build's assessment; with its year under another duty where given."""
    found = assess(build, scenario)
    if duty is None:
        return found
    plan = build.operation
    use = day_use(scenario, plan.flush_hour, plan.checks_per_year)
    times = found.year.transfers
    use = use_under(duty, use, plan.timeout_min, times)
    year = year_under(found.machine, use, times)
    usable_mb = usable_cache(found.machine) if found.machine.in_role("cache") else 0.0
    return replace(found, year=year, cost=cost_terms(found.machine, year, usable_mb))


def row_of(found: Assessment, known: Iterable[str] = ()) -> PolicyRow:
    """Return a build's figures as a row; rules in ``known`` do not count against it."""
    fault, rule = _fault(found, frozenset(known))
    amounts = found.cost.amounts
    return PolicyRow(
        policy=policy_of(found.machine.operation),
        data=role_year(found, "data"),
        parity=role_year(found, "parity") if found.machine.in_role("parity") else None,
        kwh_per_year=found.year.kwh,
        energy_per_year=found.year.energy_money,
        wear_per_year=amounts.wear + amounts.cache_wear,
        waited_h_per_year=waited_h_per_year(found),
        longest_wait_s=longest_wait_s(found),
        write_mb_s=found.rates.write_mb_s,
        total=running_total(found),
        fault=fault,
        rule=rule,
    )


def _fault(found: Assessment, known: frozenset[str]) -> tuple[str, str]:
    """Return the first thing that stands against a build, with its rule."""
    for drive in found.machine.array:
        part, wakes = drive.part, wakes_of(found.year, drive.role)
        if isinstance(part, HardDrive) and not wear_limit_ok(
            drive.item.starts, wakes, part, found.scenario
        ):
            return "wears the drives beyond their budget", "W1"
    for error in found.errors:
        if error.rule in _rules_broken(found) - known:
            return error.evidence, error.rule
    return "", ""


def running_total(found: Assessment) -> float:
    """Return energy and wear over the years, as far as they count. [currency]."""
    counted = [term for term in RUNNING_TERMS if term in found.scenario.money.terms]
    return sum(float(getattr(found.cost, term.replace(" ", "_"))) for term in counted)


def role_year(found: Assessment, role: str) -> RoleYear:
    """Return the year of the drives of one role."""
    years, operating = found.scenario.money.years, found.year.operating
    drive_year = operating.parity if role == "parity" else operating.data
    ends = [
        (drive.item.starts + drive_year.wakes * years, drive.part)
        for drive in found.machine.in_role(role)
        if isinstance(drive.part, HardDrive)
    ]
    return RoleYear(
        spinning_h_per_day=drive_year.spinning_h / 365.0,
        wakes_per_year=drive_year.wakes,
        start_stop_used_fraction=max(
            (starts / part.start_stop_rating.mid for starts, part in ends), default=0.0
        ),
        load_unload_used_fraction=max(
            (starts / part.load_unload_rating.mid for starts, part in ends),
            default=0.0,
        ),
    )


def longest_wait_s(found: Assessment) -> float:
    """Return how long the unluckiest first access waits for drives to spin. [s].

    Members of a stripe are all needed and start in groups.
    """
    parts = [d.part for d in found.machine.array if isinstance(d.part, HardDrive)]
    plan = found.machine.operation
    if not parts or plan.timeout_min is None:
        return 0.0
    slowest = max(part.spin_up_s.mid for part in parts)
    if "striped" not in plan.layout:
        return slowest
    return wake_wait_s(slowest, len(parts), max(1, wake_group(found.machine)))


def waited_h_per_year(found: Assessment) -> float:
    """Return the time in a year that people wait for drives to spin. [h].

    Wakes by scheduled blocks keep a program waiting and nobody else. A stripe wakes
    as one, so that its wakes are counted once.
    """
    per_drive = found.year.operating.data.session_wakes
    if "striped" in found.machine.operation.layout:
        return wait_hours_per_year(per_drive, longest_wait_s(found))
    return sum(
        wait_hours_per_year(per_drive, drive.part.spin_up_s.mid)
        for drive in found.machine.in_role("data")
        if isinstance(drive.part, HardDrive)
    )
