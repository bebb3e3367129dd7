"""The safe order of steps to a build, or what it lacks."""

from dataclasses import replace

from optibox.build import Build
from optibox.migration.actions import actions_of
from optibox.migration.carry import carry
from optibox.migration.order import Label, Moves, best_order
from optibox.migration.records import (
    BORROWED,
    Disk,
    Route,
    Shortage,
    Task,
)
from optibox.migration.replay import replay
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
    moves, label = _best(task)
    homeless = moves.homeless(label)
    if homeless:
        return Route(task=task, shortage=_shortage(moves, label, homeless))
    if label.borrow_b:
        return _with_borrowed(task, moves, label)
    return _route(moves, label)


def _best(task: Task) -> tuple[Moves, Label]:
    """Return the best order; drives change places only where nothing else works."""
    moves = Moves(task=task, shelf=tuple(d.name for d in shelf_of(task)))
    label = best_order(moves)
    if label.borrow_b:
        other = _exchanged(task)
        better = best_order(other)
        if better.borrow_b < label.borrow_b:
            return other, better
    return moves, label


def _route(moves: Moves, label: Label) -> Route:
    carriage = carry(moves, label)
    lent = set(carriage.lent)
    if moves.late and not any(not moves.by_name[n].is_built for n in lent):
        moves = replace(moves, late=frozenset())
    steps = replay(moves.task, actions_of(moves, carriage))
    copied = sum(move[3] for move in carriage.all_moves)
    twice = sum(move[3] for move in carriage.drained)
    return Route(task=moves.task, steps=steps, copied_b=copied, twice_b=twice)


def _candidates(task: Task) -> list[Disk]:
    """Return empty hard drives beside the new machine, the largest first."""
    sources = {n for s in task.sources for n in s.disks}
    empty = [
        d
        for d in task.disks
        if not d.is_built and d.is_hard and not d.held_b and d.name not in sources
    ]
    return sorted(empty, key=lambda d: (-d.room_b, d.name))


def _standing(task: Task) -> list[Disk]:
    """Return drives that keep their place in the machine all the time."""
    sources = {n for s in task.sources for n in s.disks}
    return [
        d
        for d in task.disks
        if d.is_built or (d.name in sources and d.where != "remote")
    ]


def shelf_of(task: Task) -> list[Disk]:
    """Return the drives that can serve for a while in places that are free."""
    left, found = task.places.left(_standing(task)), []
    for disk in _candidates(task):
        if disk.where == "remote":
            found.append(disk)
        elif left.takes(disk):
            left = left.left((disk,))
            found.append(disk)
    return found


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
    for disk in _candidates(task):
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


def _shortage(moves: Moves, label: Label, homeless_b: int = 0) -> Shortage:
    number, room_b = label.tightest
    source = moves.sources[number] if number >= 0 else None
    return Shortage(
        borrow_b=label.borrow_b,
        homeless_b=homeless_b,
        source=source.name if source else "",
        source_b=source.held_b if source else 0,
        room_b=room_b,
    )


def _with_borrowed(task: Task, moves: Moves, label: Label) -> Route:
    """Return the order that one more empty drive of the least size makes safe.

    It stands in a free place; where there is none, in another machine or a dock.
    """
    borrowed = Disk(
        name=BORROWED,
        label="borrowed",
        role="beside",
        room_b=label.borrow_b,
        where="loose",
    )
    shelf = [moves.by_name[n] for n in moves.shelf]
    standing = [d for d in _standing(task) if d.name not in moves.late]
    inside = [*standing, *(d for d in shelf if d.where != "remote")]
    needs_place = not task.places.left(inside).takes(borrowed)
    if needs_place:
        borrowed = replace(borrowed, where="remote")
    wider = replace(task, disks=(*task.disks, borrowed))
    lent = Moves(task=wider, shelf=(*moves.shelf, BORROWED), late=moves.late)
    route = _route(lent, best_order(lent))
    shortage = replace(_shortage(moves, label), needs_place=needs_place)
    return replace(route, shortage=shortage)
