"""Parts and policy together: the best machine under each policy, by exact search.

An old set of small drives can be right asleep and wrong always on, so that parts are
chosen anew for every timeout, write mode and cache arrangement.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.catalog.storage import HardDrive
from optibox.running.policy import Policy, PolicyRow, policy_of, row_of
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Plan, Status

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRow:
    """One policy with the machine that suits it best."""

    policy: Policy
    status: Status | None
    """Nothing = not tried in the time given."""
    gap: float
    """By how much a better one may be cheaper, 0 when proven."""
    row: PolicyRow | None
    purchase: float
    drives: str
    """Array drives in words."""
    found: Assessment | None = None

    @property
    def total(self) -> float:
        """Return the whole cost over the years, infinite without a machine."""
        return self.found.total_cost if self.found else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTable:
    """All policies, each with its own best machine."""

    scenario: Scenario
    rows: tuple[PlannedRow, ...]
    best: PlannedRow | None
    seconds: float

    @property
    def n_tried(self) -> int:
        """Return how many policies an answer is known for."""
        return sum(row.status is not None for row in self.rows)


def planned_policies(scenario: Scenario) -> tuple[Policy, ...]:
    """Return every policy that a scenario's choices allow, never first."""
    choices = scenario.choices
    timeouts: list[float | None] = [None] if choices.allow_never else []
    timeouts += sorted(set(choices.timeouts_min))
    return tuple(
        Policy(timeout_min=timeout, write_mode=mode, cache=cache)
        for mode in choices.write_modes
        for cache in choices.caches
        for timeout in timeouts
    )


def narrowed(scenario: Scenario, policy: Policy) -> Scenario:
    """Return a scenario that leaves one policy to choose and all parts."""
    timeout = policy.timeout_min
    chosen = {
        "timeouts_min": () if timeout is None else (timeout,),
        "allow_never": timeout is None,
        "write_modes": (policy.write_mode,),
        "caches": (policy.cache,),
    }
    choices = scenario.choices.model_copy(update=chosen)
    return scenario.model_copy(update={"choices": choices})


def planned_table(
    catalog: Catalog,
    scenario: Scenario,
    *,
    time_limit_s: float | None = None,
    on_progress: Progress | None = None,
) -> PlannedTable:
    """Return the best machine under each policy, as far as time allows.

    First comes the best of all, then its other timeouts, then the other write modes
    and caches at its timeout, then the rest: a stopped run has the telling rows.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    scenario : Scenario
        What is asked; its aim gives way to total cost, in which policies compare.
    time_limit_s : float, optional
        For all policies together. [s]
    on_progress : callable, optional
        Receives a line about how far the search is.
    """
    started = time.monotonic()
    cheap = scenario.choices.model_copy(update={"aim": "total cost"})
    asked = scenario.model_copy(update={"choices": cheap})
    solve = _Solver(catalog, started, time_limit_s, on_progress)
    policies = planned_policies(asked)
    first = solve(asked, "the best of all policies")
    overall = None
    if first is not None and first.assessment is not None:
        best_policy = policy_of(first.assessment.machine.operation)
        overall = planned_row(best_policy, first)
    answers: dict[Policy, PlannedRow] = {}
    order = _order(policies, overall.policy if overall else None)
    for number, policy in enumerate(order, 1):
        words = f"policy {number} of {len(policies)}: {_words(policy)}"
        answers[policy] = planned_row(policy, solve(narrowed(asked, policy), words))
    rows = tuple(answers[policy] for policy in policies)
    known = [row for row in (*rows, overall) if row is not None and row.found]
    return PlannedTable(
        scenario=asked,
        rows=rows,
        best=min(known, key=lambda row: row.total, default=None),
        seconds=time.monotonic() - started,
    )


@dataclass(frozen=True, slots=True)
class _Solver:
    """Plans one question after another until the time is used up."""

    catalog: Catalog
    started_s: float
    time_limit_s: float | None
    on_progress: Progress | None

    def __call__(self, question: Scenario, words: str) -> Plan | None:
        """Return the plan of a question, or nothing once time is up."""
        left = None
        if self.time_limit_s is not None:
            left = self.time_limit_s - (time.monotonic() - self.started_s)
            if left <= 0:
                return None
        if self.on_progress:
            self.on_progress(words)
        return plan(self.catalog, question, time_limit_s=left)


def _words(policy: Policy) -> str:
    timeout = "never" if policy.timeout_min is None else f"{policy.timeout_min:g} min"
    return f"{timeout}, {policy.write_mode}, cache {policy.cache}"


def _order(policies: tuple[Policy, ...], best: Policy | None) -> list[Policy]:
    """Return policies, those nearest to the best first."""
    if best is None:
        return list(policies)

    def rank(policy: Policy) -> int:
        other_kind = (policy.write_mode, policy.cache) != (best.write_mode, best.cache)
        return other_kind + other_kind * (policy.timeout_min != best.timeout_min)

    return sorted(policies, key=rank)


def planned_row(policy: Policy, answer: Plan | None) -> PlannedRow:
    """Return a row of an answer; without one it was not tried."""
    found = answer.assessment if answer else None
    status = answer.status if answer else None
    if found is None:
        return PlannedRow(
            policy=policy, status=status, gap=0.0, row=None, purchase=0.0, drives=""
        )
    row = replace(row_of(found), total=found.total_cost)
    return PlannedRow(
        policy=policy,
        status=status,
        gap=answer.proof.gap if answer else 0.0,
        row=row,
        purchase=found.cost.purchase,
        drives=_drives(found),
        found=found,
    )


def _drives(found: Assessment) -> str:
    """Return the array drives in words, with the layout where it is no plain one."""
    counts: dict[str, int] = {}
    for drive in found.machine.array:
        if isinstance(drive.part, HardDrive):
            owned = "own " if drive.item.is_owned else ""
            words = f"{owned}{drive.part.tb:g} TB"
            counts[words] = counts.get(words, 0) + 1
    layout = found.machine.operation.layout
    how = "" if layout == "independent" else f", {layout}"
    return ", ".join(f"{count} x {words}" for words, count in counts.items()) + how
