"""Settling one entry on one board: solve, evaluate, tighten, until bound meets value."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.catalog.attachment import Controller
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium
from optibox.figures.power import loss_curve, state_dc_w
from optibox.migration import Places, shortage_of, task_of
from optibox.model.aims import Ceiling
from optibox.model.decode import NoPowerError, NoWiringError, decode
from optibox.model.draft import Draft
from optibox.model.formulation import formulate
from optibox.model.lots import disk_of
from optibox.model.menu import Entry, Pace
from optibox.model.nodes import Items, Leaf
from optibox.model.pace import pace_of_drives, pace_of_leaf
from optibox.model.power_cuts import cut_off
from optibox.model.rows_money import hold_up
from optibox.model.solver import Expression, Outcome, Solution, total
from optibox.physics.operation import Transfers
from optibox.physics.power import wall_w
from optibox.rules.reach import SAFE_ORDER

MINOR_UNIT = 1e-2
"""How close bound and value must be where nothing else is said."""


MOST_EXCLUDED = 60
"""Solutions cut off one by one before a leaf is left open, with its bound."""

MOST_TIGHTENED = 1_000
"""Rows added to one program before its leaf is left open, with its bound."""


Value = Callable[[Assessment], float]


@dataclass(kw_only=True)
class Tally:
    """What the search has done so far, and the best build it has seen."""

    value_of: Value
    tolerance: float = MINOR_UNIT
    n_solves: int = 0
    n_assessed: int = 0
    best: Assessment | None = None
    best_value: float = math.inf
    deadline: float = math.inf
    stopped: bool = False
    n_unsolved: int = 0
    """Programs on which every solver gave up: their leaves stay open."""
    proven: float = -math.inf
    """No build left to look at is better than this."""
    open_bound: float = math.inf
    """Least bound of what was left open because cutting it off went nowhere."""
    clock: Callable[[], float] = field(default=lambda: 0.0)
    ceilings: tuple[Ceiling, ...] = ()
    cutoff: float = math.inf
    """Builds of this value or more are of no interest."""
    on_build: Callable[[Assessment], None] | None = None
    """Receives every fit build, ceilings kept or not."""

    def leave_open(self, bound: float) -> None:
        """Take into account that every solver gave up on a program."""
        self.n_unsolved += 1
        self.open_bound = min(self.open_bound, bound)

    def left_out(self, bound: float) -> None:
        """Note that builds worth no less than a bound were not looked at."""
        self.open_bound = min(self.open_bound, bound)

    def offer(self, assessment: Assessment) -> float:
        """Take a build into account and return its value; infinite if unfit."""
        self.n_assessed += 1
        if not assessment.is_fit:
            return math.inf
        if self.on_build:
            self.on_build(assessment)
        if not all(ceiling.keeps(assessment) for ceiling in self.ceilings):
            return math.inf
        value = self.value_of(assessment)
        if value >= self.cutoff:
            return value
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


def settle(
    leaf: Leaf, items: Items, cutoff: float, tally: Tally, near: float = 0.0
) -> float:
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
    near : float
        A build that costs no more than this share above the least is good enough.

    Returns
    -------
    float
        A proven bound: every build of the leaf either has been offered to the tally
        or is worth at least this.
    """
    entry = leaf.entry.at(pace_of_leaf(leaf.entry, board_of(leaf), items))
    return _settle(_Case(leaf, items, entry, near=near), cutoff, tally)


def board_of(leaf: Leaf) -> Board:
    """Return a leaf's board."""
    return leaf.board.part_as(Board)


@dataclass(frozen=True, slots=True)
class _Case:
    """A leaf with some variables fixed: none, the drives, or the way to them too."""

    leaf: Leaf
    items: Items
    entry: Entry
    fixed: tuple[str, ...] = ()
    """First letters of the names of the variables that are fixed."""
    values: dict[str, int] = field(default_factory=dict)
    with_controllers: bool = False
    """Whether at least one controller must be there."""
    near: float = 0.0
    """Share of the least cost by which a build may miss it."""


@dataclass(frozen=True, slots=True)
class _Step:
    """What came of a solution; a fit build worth more than its bound has transfers."""

    kind: str
    transfers: Transfers | None = None
    is_by_drives: bool = False
    """Whether no machine with these drives can be reached, whatever room it has."""


@dataclass(kw_only=True)
class _Patience:
    """How often one program has been tightened, and solutions cut off one by one."""

    n_tightened: int = 0
    n_excluded: int = 0

    def ends_with(self, step: _Step, tally: Tally, bound: float) -> bool:
        """Count a step; return whether it was one too many.

        What then is not looked at is left open with its bound, as is what shares its
        counts with a solution that another wiring might make fit.
        """
        if step.kind == "tightened":
            self.n_tightened += 1
        else:
            self.n_excluded += 1
        is_end = self.n_tightened > MOST_TIGHTENED or self.n_excluded > MOST_EXCLUDED
        if is_end or step.kind == "open":
            tally.left_out(bound)
        return is_end


_DRIVES = ("x ",)
_PATHS = ("x ", "p ", "r ", "y ")
"""Drives; drives with slots and ports: what decides how fast everything moves."""


def _settle(  # noqa: C901 - the loop of solve, look, tighten in one piece
    case: _Case, cutoff: float, tally: Tally
) -> float:
    leaf = case.leaf
    draft = formulate(
        case.entry,
        leaf.board,
        case.items,
        leaf.spares,
        leaf.postage,
        leaf.ceilings,
    )
    if case.fixed:
        _fix(draft, case)
    else:
        _lean_on_bounds(draft, leaf)
    patience = _Patience()
    while True:
        limit = min(cutoff, tally.best_value)
        solution = _solve(draft, limit, tally)
        if solution.outcome in (Outcome.INFEASIBLE, Outcome.UNSOLVED):
            if solution.outcome is Outcome.UNSOLVED:
                tally.leave_open(leaf.bound)
            return limit
        if solution.outcome is not Outcome.OPTIMAL:
            tally.stopped = True
            return -math.inf
        room = case.near * abs(solution.objective)
        if solution.objective >= limit - max(room, tally.tolerance / 50):
            return min(limit, solution.objective)
        step = _look_at(draft, solution, tally, max(room, tally.tolerance))
        if step.kind == "settled":
            return solution.objective
        if patience.ends_with(step, tally, solution.objective):
            return limit
        if step.kind == "tightened":
            continue
        if step.kind == "unreachable":
            _exclude_move(draft, solution, is_by_drives=step.is_by_drives)
            continue
        _go_deeper(case, draft, solution, step, tally)
        if tally.stopped:
            return -math.inf


def _lean_on_bounds(draft: Draft, leaf: Leaf) -> None:
    """Tell the solver what the bounds know: it would have to branch to see it.

    No set of drives costs less than the least.
    """
    program, drives = draft.program, leaf.drives
    least = float(drives.by_width[:, 0].min(initial=math.inf))
    index = {item.key: number for number, item in enumerate(drives.table.items)}
    paid = Expression()
    for (key, role), count in draft.drives.items():
        costs = drives.parity_cost if role == "parity" else drives.data_cost
        price = float(costs[index[key]])
        if not math.isfinite(price):
            return
        paid.plus(count, price)
    program.require("drives_least", paid, ">=", least - 1e-6 * max(1.0, abs(least)))


def _go_deeper(
    case: _Case, draft: Draft, solution: Solution, step: _Step, tally: Tally
) -> None:
    """Account for what shares the solution's drives, or its paths, and cut that off."""
    if step.transfers is None or case.fixed == _PATHS:
        _exclude(draft, solution, _TELLING)
    elif case.fixed == _DRIVES:
        values = _values(draft, solution, _PATHS)
        known = replace(case.entry, known=step.transfers)
        inner = replace(case, fixed=_PATHS, values=values, entry=known)
        _settle(replace(inner, with_controllers=False), math.inf, tally)
        _exclude(draft, solution, _PATHS)
    else:
        _settle_drives(case, _values(draft, solution, _DRIVES), tally)
        _exclude(draft, solution, _DRIVES)


def _settle_drives(case: _Case, values: dict[str, int], tally: Tally) -> None:
    """Settle one set of drives, first without controllers, then with some.

    Without them few links are shared and the pace of the drives is known exactly.
    """
    without = {
        record: i for record, i in case.items.items() if record is not Controller
    }
    for items in (without, case.items) if case.items.get(Controller) else (without,):
        inner = replace(
            case,
            items=items,
            with_controllers=items is case.items,
            fixed=_DRIVES,
            values=values,
        )
        entry = case.entry.at(_pace(inner))
        if entry.takes_in:
            _settle(replace(inner, entry=entry), math.inf, tally)
        if tally.stopped:
            return


def _some_controller(draft: Draft) -> None:
    keys = {item.key for item in draft.of(Controller)}
    some = total((one, 1.0) for (key, _), one in draft.placed.items() if key in keys)
    draft.program.require("some_controller", some, ">=", 1.0)


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


def _look_at(draft: Draft, solution: Solution, tally: Tally, room: float) -> _Step:
    """Evaluate a solution and say how to go on; it may miss its bound by some room."""
    build = _decoded(draft, solution)
    if isinstance(build, _Step):
        return build
    assessment = assess(build, draft.entry.scenario)
    value = tally.offer(assessment)
    if value <= solution.objective + room:
        return _Step("settled")
    if any(error.rule == SAFE_ORDER for error in assessment.errors):
        roomy = replace(task_of(build, draft.entry.scenario), places=_ROOMY)
        return _Step("unreachable", is_by_drives=shortage_of(roomy) is not None)
    if _tighten(draft, solution, assessment, tally.tolerance):
        return _Step("tightened")
    if math.isinf(value) and not {f.rule for f in assessment.errors} <= _PACED:
        return _Step("exclude")
    # worth more than its bound, or refused for what slower drives or paths break
    return _Step("pace", assessment.year.transfers)


def _decoded(draft: Draft, solution: Solution) -> Build | _Step:
    """Return the build of a solution, or how to go on where there is none."""
    try:
        return decode(draft, solution)
    except NoPowerError as refusal:
        return _Step(cut_off(draft, refusal))
    except NoWiringError:
        return _Step("exclude")


def _tighten(
    draft: Draft, solution: Solution, assessment: Assessment, tolerance: float
) -> bool:
    """Add tangents at the solution's own watts, where they lift its energy."""
    machine = assessment.machine
    supply = next(
        entry.item
        for entry in machine.build.items
        if isinstance(entry.item.part, PowerSupply)
    )
    if not isinstance(supply.part, PowerSupply):
        return False
    curve, is_lifted = loss_curve(supply.part), False
    for held in draft.held:
        states = held.entry.states
        points = [state_dc_w(machine, s.data, s.parity, s.activity) for s in states]
        exact = sum(
            s.weight * wall_w(w, curve) for s, w in zip(states, points, strict=True)
        )
        if exact > solution.value(held.energy) + tolerance / 5:
            hold_up(draft, held, supply.key, curve, points)
            is_lifted = True
    return is_lifted


def _values(
    draft: Draft, solution: Solution, letters: tuple[str, ...]
) -> dict[str, int]:
    """Return the whole numbers of the variables whose names begin so."""
    return {
        name: round(solution.values[name])
        for name, (_, _, is_whole) in draft.program.columns.items()
        if is_whole and name.startswith(letters)
    }


def _fix(draft: Draft, case: _Case) -> None:
    """Fix the variables that a case fixes; those it does not know are 0."""
    if case.with_controllers:
        _some_controller(draft)
    for name in list(draft.program.columns):
        if name.startswith(case.fixed):
            value = float(case.values.get(name, 0))
            draft.program.require("fixed", Expression({name: 1.0}), "=", value)


def _pace(case: _Case) -> Pace:
    """Return the pace of a case whose drives are fixed."""
    by_name = {
        f"x {item.key} {role}": (item, role)
        for item in case.entry.drives
        for role in ("data", "parity")
    }
    pairs = [
        by_name[name]
        for name, count in case.values.items()
        if name in by_name
        for _ in range(count)
    ]
    return pace_of_drives(case.entry, pairs, board_of(case.leaf), case.items)


_ROOMY = Places(bays_35=1000, bays_25=1000, ports=1000)
_PACED = {"D2", "N1"}
"""Rules that can refuse a build for its pace alone: limits, rates."""
_TELLING = ("n ", "x ", "p ", "r ", "y ", "s ", "t ", "fed ", "adapted")
"""Variables that make a build; others follow from them."""


def _exclude(draft: Draft, solution: Solution, letters: tuple[str, ...]) -> None:
    """Cut off one solution: at least one of the variables named so must differ."""
    values = _values(draft, solution, letters)
    # drives are a fixed number: where others are, some of these are fewer
    shared = {name: value for name, value in values.items() if name[0] in "xy"}
    _differ(
        draft,
        [(Expression({n: 1.0}), v) for n, v in values.items() if n not in shared],
        [(Expression({n: 1.0}), v) for n, v in shared.items() if v],
    )


def _exclude_move(draft: Draft, solution: Solution, *, is_by_drives: bool) -> None:
    """Cut off a solution that no safe order leads to, and all that share its reason.

    Whether there is an order depends on how many drives of each size have a role, on
    which owned ones they are, and on the places beside them. Bought drives of a size
    and width are alike.
    """
    kinds: dict[tuple[object, ...], Expression] = {}
    for (key, role), count in draft.drives.items():
        item = draft.by_key[key]
        disk = disk_of(item, draft.entry.scenario)
        alike = (key,) if item.is_owned else (disk.room_b, disk.width)
        kinds.setdefault((role, *alike), Expression()).plus(count)
    told = list(kinds.values())
    if not is_by_drives:
        fed = (Chassis, BootMedium, PowerSupply, PowerLead)
        places = {f"n {item.key}" for item in draft.of(*fed)}
        told += [
            Expression({name: 1.0})
            for name in _values(draft, solution, ("n ", "p ", "r ", "adapted"))
            if name in places or not name.startswith("n ")
        ]
    _differ(draft, [(expression, solution.count(expression)) for expression in told])


def _differ(
    draft: Draft,
    pairs: list[tuple[Expression, int]],
    fewer: Sequence[tuple[Expression, int]] = (),
) -> None:
    """Require that an expression takes another value than it had, or one a smaller.

    A binary differs by being the other one; a count goes up or down by a flag each,
    but for one that was as large as can be: what it lacks of that tells by itself.
    """
    program, number = draft.program, len(draft.program.columns)
    moved = Expression()
    for index, (expression, value) in enumerate([*pairs, *fewer]):
        upper = _upper(draft, expression)
        if index < len(pairs) and value < upper:
            if upper == 1.0:
                moved.plus(expression)
                continue
            up = program.variable(f"up {number} {index}", 1.0)
            row = expression.copy().plus(up, -float(value + 1))
            program.require("differs", row, ">=", 0.0)
            moved.plus(up)
        if value == upper:
            moved.plus(total([(expression, -1.0)], constant=upper))
        elif value > 0:
            down = program.variable(f"down {number} {index}", 1.0)
            row = expression.copy().plus(down, upper - value + 1)
            program.require("differs", row, "<=", upper)
            moved.plus(down)
    program.require("differs", moved, ">=", 1.0)


def _upper(draft: Draft, expression: Expression) -> float:
    uppers = [draft.program.columns[name][1] for name in expression.terms]
    return sum(1000.0 if upper is None else upper for upper in uppers)
