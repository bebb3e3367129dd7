"""The copies of a move put between the steps that people take with their hands."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from optibox.migration.carry import Carriage, Emptying
from optibox.migration.order import Moves
from optibox.migration.records import Action, Disk, Move, Task


@dataclass
class _Bench:
    """What is in service while steps are written down."""

    moves: Moves
    carriage: Carriage
    free: set[str] = field(default_factory=set)
    in_service: set[str] = field(default_factory=set)
    lent: set[str] = field(default_factory=set)

    @property
    def task(self) -> Task:
        return self.moves.task

    @property
    def waiting(self) -> set[str]:
        """Return drives that are to serve for a while before they join the array."""
        return set(self.carriage.lent) | self.moves.late

    def joining(self) -> list[str]:
        """Return the free drives of the array that can join it now, in order."""
        ready = [
            d
            for d in self.task.built
            if d.name in self.free - self.in_service - self.waiting
        ]
        names = {d.name for d in ready} | self.in_service
        inside = {n for unit in self.task.units for n in unit.members}
        open_ = {
            n
            for unit in self.task.units
            if all(not names.isdisjoint(group) for group in unit.groups)
            for n in unit.members
        }
        if not open_:
            return []
        return [d.name for d in ready if d.name in open_ or d.name not in inside]


def actions_of(moves: Moves, carriage: Carriage) -> tuple[Action, ...]:
    """Return everything to do, in order."""
    return tuple(_actions(_Bench(moves=moves, carriage=carriage)))


def _actions(bench: _Bench) -> Iterator[Action]:
    held = {name for source in bench.moves.sources for name in source.disks}
    bench.free = {d.name for d in bench.task.disks if d.name not in held}
    yield from _prepared(bench)
    yield from _join(bench)
    for emptying in bench.carriage.emptyings:
        yield from _emptied(bench, emptying)
    yield from _drained(bench)
    yield from _join(bench)
    if bench.carriage.restored:
        yield Action(kind="restore", moves=bench.carriage.restored)
        yield Action(kind="verify", moves=bench.carriage.restored)


def _prepared(bench: _Bench) -> Iterator[Action]:
    """Yield what comes before the first copy: room made, copies read back, fitting."""
    wanted = _to_fit(bench)
    fitted = _fitted(bench, [])
    idle = [d for d in bench.task.disks if d.where == "here" and d not in fitted]
    if idle and not bench.task.places.left(_fitted(bench, idle)).is_enough:
        yield Action(kind="take out", disks=tuple(d.name for d in idle))
    relied = [
        name
        for e in bench.carriage.emptyings
        if not e.moves and e.source.held_b
        for name in e.source.disks
        if bench.moves.by_name[name].held_b
    ]
    if relied:
        yield Action(kind="read back", disks=tuple(relied))
    if wanted:
        yield Action(kind="fit", disks=tuple(d.name for d in wanted))


def _is_source(bench: _Bench, disk: Disk) -> bool:
    return disk.name in bench.moves.source_of


def _fitted(bench: _Bench, more: list[Disk]) -> list[Disk]:
    """Return all drives that stand in the machine when everything is fitted."""
    inside = [
        d
        for d in bench.task.disks
        if (d.is_built and d.name not in bench.moves.late)
        or (_is_source(bench, d) and d.where != "remote")
        or (d.name in bench.carriage.lent and d.where != "remote" and not d.is_built)
    ]
    return [*inside, *(d for d in more if d not in inside)]


def _to_fit(bench: _Bench) -> list[Disk]:
    """Return the drives that go into the machine before the first copy."""
    return [
        d
        for d in _fitted(bench, [])
        if d.where in ("new", "loose") and d.name not in bench.moves.late
    ]


def _join(bench: _Bench) -> Iterator[Action]:
    """Yield the step by which free drives become part of the array."""
    names = bench.joining()
    if names:
        is_first = not bench.in_service
        bench.in_service |= set(names)
        yield Action(kind="create" if is_first else "add", disks=tuple(names))


def _lent(bench: _Bench, moves: tuple[Move, ...]) -> Iterator[Action]:
    names = [
        name
        for name in bench.carriage.lent
        if name not in bench.lent and any(move[2] == name for move in moves)
    ]
    if names:
        bench.lent |= set(names)
        yield Action(kind="lend", disks=tuple(names))


def _emptied(bench: _Bench, emptying: Emptying) -> Iterator[Action]:
    by_name = bench.moves.by_name
    if emptying.moves:
        yield from _lent(bench, emptying.moves)
        yield Action(kind="copy", moves=emptying.moves)
        yield Action(kind="verify", moves=emptying.moves)
    built = tuple(n for n in emptying.source.disks if by_name[n].is_built)
    moved = tuple(n for n in built if by_name[n].where == "remote")
    if moved:
        yield Action(kind="fit", disks=moved)
    yield Action(kind="erase", disks=built)
    bench.free |= set(emptying.source.disks)
    yield from _join(bench)


def _drained(bench: _Bench) -> Iterator[Action]:
    """Yield how drives that served for a while are relieved."""
    drained = bench.carriage.drained
    if drained:
        yield Action(kind="copy", moves=drained)
        yield Action(kind="verify", moves=drained)
    lent = [bench.moves.by_name[name] for name in bench.carriage.lent]
    inside = tuple(d.name for d in lent if d.is_built)
    beside = tuple(d.name for d in lent if not d.is_built)
    if inside:
        yield Action(kind="erase", disks=inside)
    if beside:
        yield Action(kind="return", disks=beside)
    late = tuple(sorted(bench.moves.late))
    if late:
        yield Action(kind="fit", disks=late)
    bench.carriage = Carriage(
        emptyings=bench.carriage.emptyings,
        drained=(),
        restored=bench.carriage.restored,
        lent=(),
    )
    bench.moves = Moves(task=bench.task, shelf=bench.moves.shelf)
