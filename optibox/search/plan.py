"""The best build under a scenario, with its proof.

Entries of the menu are taken in the order of their bounds, bounds growing sharper on
the way; only what could beat the best build known is handed to the solver.
"""

import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from heapq import heappop, heappush
from itertools import count

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.model.aims import Weights, weights_for
from optibox.model.offers import offers_of
from optibox.model.settle import Tally, settle, tolerance_of
from optibox.model.solver import SOLVER_NAME
from optibox.model.tree import Leaf, Node, Tree
from optibox.scenario import Scenario
from optibox.search.result import Plan, Proof, Status

Progress = Callable[[str], None]
STEPS = (0.03, 0.08, 0.25)
"""How far above its bound a leaf is settled while no build is known: a little first,
since few items are left there, then further, in the end without a ceiling."""


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
    if aim in ("ingest", "read"):
        return _raise_rate(catalog, scenario, aim, time_limit_s, on_progress)
    first = _least(catalog, scenario, aim, time_limit_s, on_progress)
    if aim == "total cost" or first.assessment is None:
        return first
    left_s = None if time_limit_s is None else time_limit_s - first.proof.seconds
    return _then_cost(catalog, scenario, first, left_s, on_progress)


def _then_cost(
    catalog: Catalog,
    scenario: Scenario,
    first: Plan,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    """Return, among builds as good in the aim, the one of least total cost."""
    best = first.assessment
    if best is None:
        return first
    limits = scenario.limits
    room = 1 + 1e-9
    kept = {
        "purchase": {"budget": best.cost.purchase * room},
        "annual energy": {"annual_kwh": best.year.kwh * room},
        "asleep watts": {"asleep_w": best.wall.asleep_w * room},
    }[first.aim]
    tight = scenario.model_copy(update={"limits": limits.model_copy(update=kept)})
    second = _least(catalog, tight, "total cost", time_limit_s, on_progress)
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
    catalog: Catalog,
    scenario: Scenario,
    aim: str,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    """Return the fastest build: the need is raised until no build meets it."""
    key = {"ingest": "ingest_mb_s", "read": "read_mb_s"}[aim]
    best: Plan | None = None
    asked, started = scenario, time.monotonic()
    while True:
        left = time_limit_s
        if left is not None:
            left = max(0.0, left - (time.monotonic() - started))
        found = _least(catalog, asked, "total cost", left, on_progress)
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
    catalog: Catalog,
    scenario: Scenario,
    aim: str,
    time_limit_s: float | None,
    on_progress: Progress | None,
) -> Plan:
    started = time.monotonic()
    weights = weights_for(scenario, aim)
    tally = Tally(
        value_of=value_function(aim, weights),
        tolerance=tolerance_of(aim),
        clock=time.monotonic,
    )
    if time_limit_s is not None:
        tally.deadline = started + time_limit_s
    offers = offers_of(catalog, scenario)
    tree = Tree(offers=offers, weights=weights, postage=dict(catalog.postage))
    try:
        bound = _work_off(tree, tally, on_progress)
    except KeyboardInterrupt:
        # the best build so far is an answer; what was proven by then stands
        tally.stopped, bound = True, tally.proven
    return _plan_of(tree, tally, aim, bound, time.monotonic() - started)


def _work_off(  # noqa: C901 - one loop, its ends in one place
    tree: Tree, tally: Tally, on_progress: Progress | None
) -> float:
    """Take nodes in the order of their bounds; return what is proven.

    A node that is a whole entry on a board is settled up to a little above its bound,
    with the items that could matter there, and comes back with the bound so proven.
    """
    heap: list[tuple[float, int, Node]] = []
    number = count()

    def push(nodes: Iterable[Node]) -> None:
        for node in nodes:
            if node.bound < tally.best_value - tally.tolerance:
                heappush(heap, (node.bound, next(number), node))

    push(tree.families())
    while heap:
        bound, _, node = heappop(heap)
        tally.proven = bound
        if bound >= tally.best_value - tally.tolerance:
            return min(bound, tally.best_value)
        if on_progress:
            on_progress(f"bound {bound:.2f}, best {tally.best_value:.2f}")
        if isinstance(node, Leaf):
            push(_next_leaf(tree, tally, node))
        else:
            push(tree.children(node))
        if tally.clock() > tally.deadline:
            tally.stopped = True
        if tally.stopped:
            return bound
    return tally.best_value


def _next_leaf(tree: Tree, tally: Tally, leaf: Leaf) -> list[Leaf]:
    """Sharpen a leaf, or settle it up to a ceiling; return what is left of it."""
    if not leaf.is_sharp:
        sharp = tree.sharpened(leaf)
        return [sharp] if sharp else []
    ceiling = tally.best_value
    if tally.best is None and leaf.n_visits < len(STEPS):
        ceiling = leaf.bound + abs(leaf.bound) * STEPS[leaf.n_visits] + 1.0
    low = settle(leaf, tree.items_for(leaf, ceiling), ceiling, tally)
    bound = max(low, leaf.bound)
    return [replace(leaf, bound=bound, n_visits=leaf.n_visits + 1)]


def _plan_of(tree: Tree, tally: Tally, aim: str, bound: float, seconds: float) -> Plan:
    best = tally.best
    proof = Proof(
        bound=min(bound, tally.best_value, tally.open_bound),
        value=tally.best_value,
        n_entries=tree.n_entries,
        n_bounded=tree.n_entries - tree.n_leaves,
        n_solves=tally.n_solves,
        seconds=seconds,
        solver=SOLVER_NAME,
    )
    if best is None:
        is_open = tally.stopped or tally.open_bound < float("inf")
        words = in_play(tree.offers.scenario)
        none: Status = "unknown" if is_open else "infeasible"
        return Plan(status=none, aim=aim, proof=proof, in_play=words)
    is_open = tally.stopped or proof.value - proof.bound > 2 * tally.tolerance
    status: Status = "feasible" if is_open else "optimal"
    return Plan(status=status, aim=aim, proof=proof, assessment=best)


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
