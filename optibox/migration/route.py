"""The safe order of steps to a build, or what it lacks."""

from dataclasses import replace
from functools import lru_cache

from optibox.build import Build
from optibox.migration.actions import actions_of
from optibox.migration.carry import carry
from optibox.migration.condition import are_exact, conditions
from optibox.migration.order import Label, Moves, best_order
from optibox.migration.records import (
    BORROWED,
    Disk,
    Route,
    Shortage,
    Task,
)
from optibox.migration.replay import replay
from optibox.migration.shelf import (
    candidates,
    is_crowded,
    late_for_old,
    shelf_of,
    standing,
)
from optibox.migration.task import task_of
from optibox.scenario import Scenario


def route_of(build: Build, scenario: Scenario) -> Route:
    """Return the order of steps that leads from owned drives to a build.

    Parameters
    ----------
    build : Build
        The machine to be.
    scenario : Scenario
        What is owned: how much each drive holds, whether that lies elsewhere too.
    """
    return solve(task_of(build, scenario))


def solve(task: Task) -> Route:
    """Return the safe order with the fewest bytes copied, or what it lacks."""
    if not task.sources:
        return Route(task=task)
    if task.torn:
        return Route(task=task, shortage=Shortage(torn=task.torn[0]))
    if is_crowded(task):
        return Route(task=task, shortage=Shortage(is_crowded=True))
    moves, label = _best(task)
    lack = _lack(task, moves, label)
    if lack is None:
        return _route(moves, label)
    if lack.homeless_b:
        return Route(task=task, shortage=lack)
    return _lent(task, moves, label, lack)


def shortage_of(task: Task) -> Shortage | None:
    """Return what a safe order lacks, or nothing; the steps are not worked out.

    Where a few inequalities say that there is one, no order is searched.
    """
    if not task.sources:
        return None
    if task.torn:
        return Shortage(torn=task.torn[0])
    if is_crowded(task):
        return Shortage(is_crowded=True)
    if are_exact(task) and all(c.holds for c in conditions(task)):
        return None
    return _searched(task)


@lru_cache(maxsize=4096)
def _searched(task: Task) -> Shortage | None:
    return _lack(task, *_best(task))


def _lack(task: Task, moves: Moves, label: Label) -> Shortage | None:
    """Return what the best order lacks, or nothing where it is safe."""
    homeless = moves.homeless()
    if homeless:
        return Shortage(homeless_b=homeless, source_b=task.kept_b)
    if not label.borrow_b:
        return None
    borrowed = _borrowed(label)
    inside = [d for d in (moves.by_name[n] for n in moves.shelf) if d.where != "remote"]
    inside += [d for d in standing(task) if d.name not in moves.late]
    needs_place = not task.places.left(inside).takes(borrowed)
    return replace(_shortage(moves, label), needs_place=needs_place)


def _best(task: Task) -> tuple[Moves, Label]:
    """Return the best order; drives change places only where nothing else works."""
    moves = Moves(
        task=task,
        shelf=tuple(d.name for d in shelf_of(task)),
        late=frozenset(d.name for d in late_for_old(task) or ()),
    )
    label = best_order(moves)
    if moves.late:
        return moves, label
    if label.borrow_b:
        other = _exchanged(task)
        better = best_order(other)
        if better.borrow_b < label.borrow_b:
            return other, better
    return moves, label


def _route(moves: Moves, label: Label) -> Route:
    carriage = carry(moves, label)
    lent = set(carriage.lent)
    is_needed = bool(late_for_old(moves.task))
    if (
        moves.late
        and not is_needed
        and not any(not moves.by_name[n].is_built for n in lent)
    ):
        moves = replace(moves, late=frozenset())
    steps = replay(moves.task, actions_of(moves, carriage))
    copied = sum(move[3] for move in carriage.all_moves)
    twice = sum(move[3] for move in carriage.drained)
    return Route(task=moves.task, steps=steps, copied_b=copied, twice_b=twice)


def _exchanged(task: Task) -> Moves:
    """Return the moves in which drives beside stand in for smaller ones until the end.

    Only empty drives that the array can start without give their place: parity, and
    sides of pairs beyond the first.
    """
    shelf = shelf_of(task)
    start = Moves(task=task)
    none: frozenset[int] = frozenset()
    leaders = start.led(none, frozenset())
    lenders = [d for d in start.lenders(none, leaders) if d.where != "here" and d.width]
    late = []
    for disk in candidates(task):
        smaller = [
            d
            for d in lenders
            if d.width == disk.width and d.room_b < disk.room_b and d not in late
        ]
        if disk not in shelf and smaller:
            late.append(min(smaller, key=lambda d: (d.room_b, d.name)))
            shelf.append(disk)
    return Moves(
        task=task,
        shelf=tuple(d.name for d in shelf),
        late=frozenset(d.name for d in late),
    )


def _shortage(moves: Moves, label: Label) -> Shortage:
    number, room_b = label.tightest
    source = moves.sources[number] if number >= 0 else None
    return Shortage(
        borrow_b=label.borrow_b,
        source=source.name if source else "",
        source_b=source.held_b if source else 0,
        room_b=room_b,
    )


def _borrowed(label: Label) -> Disk:
    return Disk(
        name=BORROWED,
        label="borrowed",
        role="beside",
        room_b=label.borrow_b,
        where="loose",
    )


def _lent(task: Task, moves: Moves, label: Label, lack: Shortage) -> Route:
    """Return the order that one more empty drive of the least size makes safe.

    It stands in a free place; where there is none, in another machine or a dock.
    """
    borrowed = _borrowed(label)
    if lack.needs_place:
        borrowed = replace(borrowed, where="remote")
    wider = replace(task, disks=(*task.disks, borrowed))
    lent = Moves(task=wider, shelf=(*moves.shelf, BORROWED), late=moves.late)
    return replace(_route(lent, best_order(lent)), shortage=lack)
