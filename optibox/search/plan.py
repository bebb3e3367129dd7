"""The best build by a scenario's aim, with its proof."""

import math
import time
from collections.abc import Callable
from dataclasses import replace

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.model.aims import Weights, weights_for
from optibox.model.ground import Ground
from optibox.model.settle import tolerance_of
from optibox.model.solver import SOLVER_NAME
from optibox.scenario import Scenario
from optibox.search.best import Question, best
from optibox.search.result import Plan, Progress, Proof, Status


def value_function(aim: str, weights: Weights) -> Callable[[Assessment], float]:
    """Return the evaluator's value of a minimised aim, with the price of ties."""

    def pieces(found: Assessment) -> float:
        used = sum(e.count for e in found.build.items if not e.item.is_owned)
        return weights.part * used

    def value(found: Assessment) -> float:
        if aim == "purchase":
            return found.cost.purchase
        if aim == "annual energy":
            return found.year.kwh
        if aim == "asleep watts":
            return found.wall.asleep_w
        return found.total_cost + pieces(found)

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
    aim = scenario.choices.aim
    ground = Ground(catalog=catalog, scenario=scenario)
    if aim in ("ingest", "read"):
        return _raise_rate(ground, aim, time_limit_s, on_progress)
    first = _least(ground, scenario, aim, time_limit_s, on_progress)
    if aim == "total cost" or first.assessment is None:
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
    limits = scenario.limits
    room = 1 + 1e-9
    kept = {
        "purchase": {"budget": known.cost.purchase * room},
        "annual energy": {"annual_kwh": known.year.kwh * room},
        "asleep watts": {"asleep_w": known.wall.asleep_w * room},
    }[first.aim]
    tight = scenario.model_copy(update={"limits": limits.model_copy(update=kept)})
    second = _least(ground, tight, "total cost", time_limit_s, on_progress)
    if second.assessment is None:
        return first
    found = replace(
        second.assessment, machine=replace(second.assessment.machine, scenario=scenario)
    )
    return replace(
        first,
        assessment=found,
        proof=replace(
            first.proof, n_solves=first.proof.n_solves + second.proof.n_solves
        ),
    )


def _raise_rate(
    ground: Ground,
    aim: str,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    """Return the fastest build: the need is raised until no build meets it."""
    key = {"ingest": "ingest_mb_s", "read": "read_mb_s"}[aim]
    best: Plan | None = None
    scenario = ground.scenario
    asked, started = scenario, time.monotonic()
    while True:
        left = time_limit_s
        if left is not None:
            left = max(0.0, left - (time.monotonic() - started))
        found = _least(ground, asked, "total cost", left, on_progress)
        if found.assessment is None:
            break
        best = found
        if found.status != "optimal":
            break
        rate = getattr(found.assessment.rates, key)
        needs = asked.needs.model_copy(update={key: rate * (1 + 1e-6) + 1e-3})
        asked = asked.model_copy(update={"needs": needs})
    if best is None or best.assessment is None:
        return found
    machine = replace(best.assessment.machine, scenario=scenario)
    value = getattr(best.assessment.rates, key)
    proof = replace(best.proof, value=value, bound=value)
    # only where nothing faster exists is the fastest proven
    status: Status = "optimal" if found.status == "infeasible" else "feasible"
    assessment = replace(best.assessment, machine=machine)
    return replace(best, status=status, aim=aim, proof=proof, assessment=assessment)


def _least(
    ground: Ground,
    scenario: Scenario,
    aim: str,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    started = time.monotonic()
    weights = weights_for(scenario, aim)
    question = Question(
        scenario=scenario,
        weights=weights,
        value_of=value_function(aim, weights),
        tolerance=tolerance_of(aim),
        deadline=math.inf if time_limit_s is None else started + time_limit_s,
    )
    found = best(ground.catalog, question, on_progress, ground=ground)
    proof = Proof(
        bound=found.bound,
        value=found.value,
        n_entries=found.n_entries,
        n_bounded=found.n_entries - found.n_leaves,
        n_solves=found.n_solves,
        seconds=time.monotonic() - started,
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
        aim=aim,
        proof=proof,
        assessment=found.assessment,
        in_play=words,
    )


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
