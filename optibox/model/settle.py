"""Settling one entry on one board: solve, evaluate, tighten, until bound meets value."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.catalog.platform import PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.figures.power import loss_curve, state_dc_w
from optibox.figures.stages import array_write_mb_s
from optibox.model.decode import NoWiringError, decode
from optibox.model.draft import Draft
from optibox.model.formulation import formulate
from optibox.model.menu import Entry, Pace, port_mb_s, rate_of
from optibox.model.rows_money import Cost, hold_up
from optibox.model.solver import Expression, Outcome, Solution, total
from optibox.model.tree import Items, Leaf
from optibox.physics.zones import Member, lockstep_pass_hours

TOLERANCE = 5e-3
"""Half a minor unit: bound and value this close are the same money."""

Value = Callable[[Assessment], float]


@dataclass(kw_only=True)
class Tally:
    """What the search has done so far, and the best build it has seen."""

    value_of: Value
    n_solves: int = 0
    n_assessed: int = 0
    best: Assessment | None = None
    best_value: float = math.inf
    deadline: float = math.inf
    stopped: bool = False
    clock: Callable[[], float] = field(default=lambda: 0.0)

    def offer(self, assessment: Assessment) -> float:
        """Take a build into account and return its value; infinite if unfit."""
        self.n_assessed += 1
        if not assessment.is_fit:
            return math.inf
        value = self.value_of(assessment)
        if is_better(value, assessment, self.best_value, self.best):
            self.best, self.best_value = assessment, value
        return value


def is_better(
    value: float, build: Assessment, than: float, other: Assessment | None
) -> bool:
    """Return whether a build wins: by value, then asleep watts, then its list."""
    if other is None or value < than - 1e-6:
        return True
    if value > than + 1e-6:
        return False
    mine, theirs = build.wall.asleep_w, other.wall.asleep_w
    if abs(mine - theirs) > 1e-6:
        return mine < theirs
    return listing(build.build) < listing(other.build)


def listing(build: Build) -> list[tuple[str, int]]:
    """Return the sorted list of keys and counts, by which the last ties break."""
    return sorted((entry.item.key, entry.count) for entry in build.items)


def settle(leaf: Leaf, items: Items, cutoff: float, tally: Tally) -> float:
    """Account for every build of a leaf that is better than a cutoff.

    Parameters
    ----------
    leaf : Leaf
        An entry on a board.
    items : dict
        Items that a better build can hold, by kind.
    cutoff : float
        Builds worth no less are of no interest.
    tally : Tally
        Receives every build found.

    Returns
    -------
    float
        A proven bound: every build of the leaf either has been offered to the tally
        or is worth at least this.
    """
    return _settle(_Case(leaf, items, leaf.entry), cutoff, tally, None)


@dataclass(frozen=True, slots=True)
class _Case:
    leaf: Leaf
    items: Items
    entry: Entry


def _settle(
    case: _Case, cutoff: float, tally: Tally, fixed: dict[tuple[str, str], int] | None
) -> float:
    leaf, entry = case.leaf, case.entry
    draft, cost = formulate(entry, leaf.board, case.items, leaf.spares, leaf.postage)
    if fixed is not None:
        _fix(draft, fixed)
    while True:
        limit = min(cutoff, tally.best_value)
        solution = _solve(draft, limit, tally)
        if solution.outcome is Outcome.INFEASIBLE:
            return limit
        if solution.outcome is not Outcome.OPTIMAL:
            tally.stopped = True
            return -math.inf
        if solution.objective >= limit - TOLERANCE / 50:
            return min(limit, solution.objective)
        step = _look_at(draft, cost, solution, tally)
        if step == "settled":
            return solution.objective
        if step == "pace" and fixed is None:
            drives = _drives(draft, solution)
            tight = entry.at(_pace(entry, drives))
            _settle(_Case(leaf, case.items, tight), cutoff, tally, drives)
            _exclude_drives(draft, drives)
        elif step != "tightened":
            _exclude(draft, solution)


def _solve(draft: Draft, limit: float, tally: Tally) -> Solution:
    rows = draft.program.rows
    rows.pop("cutoff", None)
    if math.isfinite(limit):
        rows["cutoff"] = (draft.program.objective.copy().plus(-limit), "<=")
    if tally.clock() > tally.deadline:
        return Solution(outcome=Outcome.UNKNOWN)
    tally.n_solves += 1
    left = tally.deadline - tally.clock()
    return draft.program.solve(None if math.isinf(left) else max(0.1, left))


def _look_at(draft: Draft, cost: Cost, solution: Solution, tally: Tally) -> str:
    """Evaluate a solution and say how to go on."""
    try:
        build = decode(draft, solution)
    except NoWiringError:
        return "exclude"
    assessment = assess(build, draft.entry.scenario)
    value = tally.offer(assessment)
    if value <= solution.objective + TOLERANCE:
        return "settled"
    if _tighten(draft, cost, solution, assessment):
        return "tightened"
    return "pace" if math.isfinite(value) else "exclude"


def _tighten(
    draft: Draft, cost: Cost, solution: Solution, assessment: Assessment
) -> bool:
    """Add the tangent at the solution's own watts, if that lifts its energy."""
    machine = assessment.machine
    supply = next(
        entry.item
        for entry in machine.build.items
        if isinstance(entry.item.part, PowerSupply)
    )
    if not isinstance(supply.part, PowerSupply):
        return False
    points = [
        state_dc_w(machine, s.data, s.parity, s.activity) for s in draft.entry.states
    ]
    curve = loss_curve(supply.part)
    held = solution.values["energy"]
    exact = sum(
        s.weight * _wall(curve, w)
        for s, w in zip(draft.entry.states, points, strict=True)
    )
    if exact <= held + TOLERANCE / 5:
        return False
    hold_up(draft, cost, supply.key, curve, points)
    return True


def _wall(curve: object, watts: float) -> float:
    from optibox.physics.power import Supply, wall_w  # noqa: PLC0415

    return wall_w(watts, curve) if isinstance(curve, Supply) else watts


def _drives(draft: Draft, solution: Solution) -> dict[tuple[str, str], int]:
    return {pair: solution.count(count) for pair, count in draft.drives.items()}


def _fix(draft: Draft, fixed: dict[tuple[str, str], int]) -> None:
    for pair, count in draft.drives.items():
        draft.program.require("fixed_drives", count, "=", float(fixed.get(pair, 0)))


def _pace(entry: Entry, drives: dict[tuple[str, str], int]) -> Pace:
    """Return the pace of a known set of drives where no link slows them."""
    scenario, storage = entry.scenario, entry.storage
    by_key = {item.key: item for item in entry.drives}
    rates: dict[str, list[float]] = {"data": [], "parity": []}
    members = []
    for (key, role), count in drives.items():
        item = by_key[key]
        if not isinstance(item.part, HardDrive):
            continue
        rates[role] += [rate_of(item, scenario)] * count
        members += [
            Member(
                item.capacity_bytes,
                item.part.outer_rate_mb_s.mid,
                item.part.inner_ratio.mid,
                port_mb_s(item, scenario),
            )
        ] * count
    write = array_write_mb_s(
        storage.layout,
        storage.n_parity,
        reconstructs=storage.reconstructs,
        data=rates["data"],
        parity=rates["parity"],
        factors=scenario.overrides,
    )
    check = lockstep_pass_hours(members)
    slow = entry.pace.write_slow_mb_s
    return Pace(
        write_fast_mb_s=write,
        write_slow_mb_s=write if entry.links_are_wide else min(write, slow),
        check_short_h=check,
        check_long_h=check
        if entry.links_are_wide
        else max(check, entry.pace.check_long_h),
    )


def _exclude_drives(draft: Draft, drives: dict[tuple[str, str], int]) -> None:
    """Cut off one set of drives: at least one count must differ."""
    _differ(draft, [(draft.drives[pair], n) for pair, n in drives.items()])


def _exclude(draft: Draft, solution: Solution) -> None:
    """Cut off one solution: at least one whole number must differ."""
    pairs = []
    for name, (_, _, is_whole) in list(draft.program.columns.items()):
        if is_whole and not name.startswith(("up ", "down ")):
            pairs.append((Expression({name: 1.0}), round(solution.values[name])))
    _differ(draft, pairs)


def _differ(draft: Draft, pairs: list[tuple[Expression, int]]) -> None:
    """Require that some expression takes another value than it had.

    A binary differs by being the other one; a count goes up or down by a flag each.
    """
    program, number = draft.program, len(draft.program.columns)
    moved = Expression()
    for index, (expression, value) in enumerate(pairs):
        upper = _upper(draft, expression)
        if upper == 1.0:
            moved.plus(expression if value == 0 else _flipped(expression))
            continue
        up = program.variable(f"up {number} {index}", 1.0)
        row = expression.copy().plus(up, -float(value + 1))
        program.require("differs", row, ">=", 0.0)
        moved.plus(up)
        if value > 0:
            down = program.variable(f"down {number} {index}", 1.0)
            row = expression.copy().plus(down, upper - value + 1)
            program.require("differs", row, "<=", upper)
            moved.plus(down)
    program.require("differs", moved, ">=", 1.0)


def _flipped(expression: Expression) -> Expression:
    return total([(expression, -1.0)], constant=1.0)


def _upper(draft: Draft, expression: Expression) -> float:
    name = next(iter(expression.terms))
    upper = draft.program.columns[name][1]
    return 1000.0 if upper is None else upper
