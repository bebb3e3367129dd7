"""The best build by any weights within limits and ceilings, with a proven bound.

Nodes are taken in the order of their bounds, bounds growing sharper on the way; only
what could beat the best build known is handed to the solver.
"""

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count
from typing import Literal

from optibox.assess import Assessment, assess
from optibox.catalog.catalog import Catalog
from optibox.criteria import Weights
from optibox.model.aims import Ceiling
from optibox.model.ground import Ground
from optibox.model.nodes import Leaf, Node
from optibox.model.settle import MINOR_UNIT, Tally, settle
from optibox.model.tree import Tree
from optibox.scenario import Scenario
from optibox.search.result import Progress

STEPS = (0.03, 0.08, 0.25)
"""How far above its bound a leaf is settled while no build is known: a little first,
since few items are left there, then further, in the end without a ceiling."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked of the search.

    Attributes
    ----------
    scenario : Scenario
        Needs, limits and usage; its aim is not read.
    weights : Weights
        What a unit of each term is worth.
    value_of : callable
        The evaluator's value of a build by these weights.
    tolerance : float
        How close bound and value must come to be the same.
    ceilings : tuple of Ceiling
        Limits beside the scenario's.
    cutoff : float
        Builds of this value or more are of no interest.
    slack : float
        A build of at most ``(1 + slack) * bound`` is good enough.
    deadline : float
        A time of ``time.monotonic`` at which to stop.
    """

    scenario: Scenario
    weights: Weights
    value_of: Callable[[Assessment], float]
    tolerance: float = MINOR_UNIT
    ceilings: tuple[Ceiling, ...] = ()
    cutoff: float = math.inf
    slack: float = 0.0
    deadline: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of a question.

    ``best``: a build, proven to within tolerance and slack. ``none``: no build has a
    value below the cutoff, proven. ``stopped``: the end came before the proof; the
    build found so far is there, if any.
    """

    outcome: Literal["best", "none", "stopped"]
    assessment: Assessment | None
    value: float
    bound: float
    """No build has a value below this; infinite where there is none at all."""
    n_entries: int
    n_leaves: int
    n_solves: int
    n_unsolved: int = 0
    """Programs on which every solver gave up."""


def best(
    catalog: Catalog,
    question: Question,
    on_progress: Progress | None = None,
    on_build: Callable[[Assessment], None] | None = None,
    ground: Ground | None = None,
) -> Answer:
    """Return the best build for a question, or that there is none.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    question : Question
        What is asked.
    on_progress : callable, optional
        Receives a line about bound and best build now and then.
    on_build : callable, optional
        Receives every build on the way that keeps the scenario, whether it keeps the
        ceilings or not.
    ground : Ground, optional
        Bounds kept from other questions, of a scenario that differs from the
        question's by lower needed rates and by limits on money and energy at most.
    """
    tally = Tally(
        value_of=question.value_of,
        tolerance=question.tolerance,
        clock=time.monotonic,
        deadline=question.deadline,
        ceilings=question.ceilings,
        cutoff=question.cutoff,
        best_value=question.cutoff,
        on_build=on_build,
    )
    tree = Tree(
        ground=ground or Ground(catalog=catalog, scenario=question.scenario),
        scenario=question.scenario,
        weights=question.weights,
        ceilings=question.ceilings,
    )
    try:
        bound = _work_off(tree, tally, question.slack, on_progress)
    except KeyboardInterrupt:
        # the best build so far is an answer; what was proven by then stands
        tally.stopped, bound = True, tally.proven
    if not tree.counts_hours:
        _choose_timeout(question.scenario, tally)
    return _answer(tree, tally, min(bound, tally.open_bound), question)


def _choose_timeout(scenario: Scenario, tally: Tally) -> None:
    """Let the best build sleep as suits it: nothing that was asked depends on it."""
    if tally.best is None:
        return
    known, value = tally.best, tally.best_value
    for minutes in scenario.choices.timeouts_min:
        plan = replace(known.build.operation, timeout_min=minutes)
        found = assess(replace(known.build, operation=plan), scenario)
        tally.offer(found)
        same = found.is_fit and tally.value_of(found) <= value + 1e-6
        if same and found.total_cost < tally.best.total_cost:
            tally.best, tally.best_value = found, tally.value_of(found)


def _answer(tree: Tree, tally: Tally, bound: float, question: Question) -> Answer:
    is_open = tally.stopped or tally.open_bound < math.inf
    if tally.best is not None:
        room = 2 * question.tolerance + question.slack * abs(bound)
        is_open = tally.stopped or tally.best_value - bound > room
    outcome: Literal["best", "none", "stopped"] = "stopped"
    if not is_open:
        outcome = "none" if tally.best is None else "best"
    return Answer(
        outcome=outcome,
        assessment=tally.best,
        value=math.inf if tally.best is None else tally.best_value,
        bound=min(bound, tally.best_value),
        n_entries=tree.n_entries,
        n_leaves=tree.n_leaves,
        n_solves=tally.n_solves,
        n_unsolved=tally.n_unsolved,
    )


def _work_off(  # noqa: C901 - one loop, its ends in one place
    tree: Tree, tally: Tally, slack: float, on_progress: Progress | None
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
        if bound + slack * abs(bound) >= tally.best_value - tally.tolerance:
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
    if leaf.structure in tree.hopeless:
        return []
    if not leaf.is_sharp:
        sharp = tree.sharpened(leaf)
        return [sharp] if sharp else []
    if leaf.n_visits == 1 and tally.best is None and math.isinf(tally.cutoff):
        _try_awake(tree, tally, leaf)
        if leaf.structure in tree.hopeless:
            return []
    ceiling = tally.best_value
    if tally.best is None and leaf.n_visits < len(STEPS):
        step = leaf.bound + abs(leaf.bound) * STEPS[leaf.n_visits]
        step += 100 * tally.tolerance
        ceiling = min(ceiling, step)
    items = tree.items_for(leaf, ceiling + tally.tolerance)
    low = settle(leaf, items, ceiling, tally)
    bound = max(low, leaf.bound)
    return [replace(leaf, bound=bound, n_visits=leaf.n_visits + 1)]


def _try_awake(tree: Tree, tally: Tally, leaf: Leaf) -> None:
    """Look whether a leaf can be built at all, with drives that never sleep.

    They keep every rule that sleeping ones keep, so that one program speaks for all
    timeouts. What it finds is a first build to go on from; that it is the best of its
    leaf need not be proven, which can take long where many ways to wire it tie.
    """
    awake = tree.awake(leaf)
    if awake is None:
        return
    settle(awake, dict(tree.offers.by_kind), math.inf, tally, near=STEPS[0])
    if tally.best is None and not tally.stopped and math.isinf(tally.open_bound):
        tree.hopeless.add(leaf.structure)
