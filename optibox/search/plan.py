"""The best build by a scenario's aim, with its proof."""

import math
import time
from collections.abc import Callable
from dataclasses import replace

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.criteria import AIMS, PART_PRICE, Criterion, Weights
from optibox.model.aims import at_most
from optibox.model.ground import Ground
from optibox.model.solver import SOLVER_NAME
from optibox.scenario import Scenario
from optibox.search.best import Question, best
from optibox.search.held import held
from optibox.search.result import Plan, Progress, Proof, Status

TOTAL_COST = AIMS["total cost"]
GUARD_SHARE = 0.1
"""Share of a plan's time that is spent on the builds beside its answer."""
FALLBACK_S = 60.0
"""Time for the flat program where one of those is better, without a time limit. [s]."""


def weights_for(scenario: Scenario, aim: Criterion) -> Weights:
    """Return the weights of an aim that a program minimises.

    Only money counts parts to break ties: a part costs less than its smallest unit.
    """
    if aim.weights is None:
        raise ValueError(aim.name)
    weights = aim.weights(scenario)
    return replace(weights, part=PART_PRICE) if aim.name == "total cost" else weights


def value_function(aim: Criterion, weights: Weights) -> Callable[[Assessment], float]:
    """Return the evaluator's value of a minimised aim, with the price of ties."""

    def value(found: Assessment) -> float:
        used = sum(e.count for e in found.build.items if not e.item.is_owned)
        return aim.value_of(found) + weights.part * used

    return value


def plan(
    catalog: Catalog,
    scenario: Scenario,
    *,
    time_limit_s: float | None = None,
    on_progress: Progress | None = None,
) -> Plan:
    """Return the best build by the scenario's aim, proven, or that there is none.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    scenario : Scenario
        What is asked; ``choices.aim`` says what is made best.
    time_limit_s : float, optional
        Stop after so long with the best build so far and its gap. [s]
    on_progress : callable, optional
        Receives a line about bound and best build now and then.
    """
    started = time.monotonic()
    answer = _search(catalog, scenario, time_limit_s, on_progress)
    if answer.status != "optimal":
        return answer
    spent_s = time.monotonic() - started
    left_s = FALLBACK_S if time_limit_s is None else time_limit_s - spent_s
    return held(answer, catalog, guard_s=GUARD_SHARE * spent_s, left_s=left_s)


def _search(
    catalog: Catalog,
    scenario: Scenario,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    aim = AIMS[scenario.choices.aim]
    ground = Ground(catalog=catalog, scenario=scenario)
    if aim.is_maximised:
        return _raise_rate(ground, aim, time_limit_s, on_progress)
    first = _least(ground, scenario, aim, time_limit_s, on_progress)
    if aim is TOTAL_COST or first.assessment is None:
        return first
    left_s = None if time_limit_s is None else time_limit_s - first.proof.seconds
    return _then_cost(ground, first, left_s, on_progress)


def _then_cost(
    ground: Ground,
    first: Plan,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    """Return, among builds as good in the aim, the one of least total cost."""
    known = first.assessment
    if known is None:
        return first
    scenario = ground.scenario
    aim = AIMS[first.aim]
    # as good are all that are worth at most one smallest unit more than the least
    most = max(aim.value_of(known), first.proof.bound + aim.tolerance)
    most = min(most * (1 + 1e-9), aim.asked_of(scenario) or math.inf)
    limits = scenario.limits.model_copy(update={aim.limit: most})
    tight = scenario.model_copy(update={"limits": limits})
    second = _least(ground, tight, TOTAL_COST, time_limit_s, on_progress, known=known)
    n_solves = first.proof.n_solves + second.proof.n_solves
    found, proof = known, replace(first.proof, n_solves=n_solves)
    if (
        second.assessment is not None
        and second.assessment.total_cost < known.total_cost
    ):
        machine = replace(second.assessment.machine, scenario=scenario)
        found = replace(second.assessment, machine=machine)
        proof = replace(proof, value=aim.value_of(found))
    return replace(first, assessment=found, proof=proof)


def _raise_rate(
    ground: Ground,
    aim: Criterion,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    """Return the fastest build: the need is raised until no build meets it."""
    best: Plan | None = None
    scenario = ground.scenario
    asked, started = scenario, time.monotonic()
    while True:
        left = time_limit_s
        if left is not None:
            left = max(0.0, left - (time.monotonic() - started))
        found = _least(ground, asked, TOTAL_COST, left, on_progress)
        if found.assessment is None:
            break
        best = found
        if found.status != "optimal":
            break
        rate = aim.value_of(found.assessment) * (1 + 1e-6) + 1e-3
        needs = asked.needs.model_copy(update={aim.need: rate})
        asked = asked.model_copy(update={"needs": needs})
    if best is None or best.assessment is None:
        return found
    machine = replace(best.assessment.machine, scenario=scenario)
    value = aim.value_of(best.assessment)
    proof = replace(best.proof, value=value, bound=value)
    # only where nothing faster exists is the fastest proven
    status: Status = "optimal" if found.status == "infeasible" else "feasible"
    assessment = replace(best.assessment, machine=machine)
    return replace(best, status=status, aim=aim.aim, proof=proof, assessment=assessment)


def _least(
    ground: Ground,
    scenario: Scenario,
    aim: Criterion,
    time_limit_s: float | None,
    on_progress: Progress | None,
    known: Assessment | None = None,
) -> Plan:
    """Return the build of least value, or of less than one that is known."""
    started = time.monotonic()
    weights = weights_for(scenario, aim)
    value_of = value_function(aim, weights)
    cutoff = _beyond_limit(scenario, aim, weights)
    question = Question(
        scenario=scenario,
        weights=weights,
        value_of=value_of,
        tolerance=aim.tolerance,
        cutoff=cutoff if known is None else min(cutoff, value_of(known)),
        deadline=math.inf if time_limit_s is None else started + time_limit_s,
    )
    found = best(ground.catalog, question, on_progress, ground=ground)
    proof = Proof(
        bound=math.inf if found.outcome == "none" else found.bound,
        value=found.value,
        n_entries=found.n_entries,
        n_bounded=found.n_entries - found.n_leaves,
        n_solves=found.n_solves,
        seconds=time.monotonic() - started,
        n_unsolved=found.n_unsolved,
        solver=SOLVER_NAME,
    )
    is_there = found.assessment is not None
    status: Status = {
        "best": "optimal",
        "none": "infeasible",
        "stopped": "feasible" if is_there else "unknown",
    }[found.outcome]
    words = () if is_there else in_play(scenario)
    return Plan(
        status=status,
        aim=aim.aim,
        proof=proof,
        assessment=found.assessment,
        in_play=words,
    )


def _beyond_limit(scenario: Scenario, aim: Criterion, weights: Weights) -> float:
    """Return a value of an aim that no build within the scenario's limit on it has."""
    most = aim.asked_of(scenario) if aim.limit else None
    if most is None:
        return math.inf
    return at_most(most) + weights.part * MOST_PIECES + 2 * aim.tolerance


MOST_PIECES = 500
"""More pieces than a build has."""


def in_play(scenario: Scenario) -> tuple[str, ...]:
    """Return the needs and limits that a scenario sets, in words."""
    words = []
    for section in ("needs", "limits"):
        record = getattr(scenario, section)
        words += [
            f"{section}.{key} = {getattr(record, key)}"
            for key in sorted(record.model_fields_set)
        ]
    words += [f"ban {ban}" for ban in scenario.ban]
    return tuple(words + [f"insist {wanted}" for wanted in scenario.insist])
