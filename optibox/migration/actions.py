"""The copies of a move put between the steps that people take with their hands."""

from collections.abc import Iterable, Iterator
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
    built: set[str] = field(default_factory=set)
    """Drives that redundancy was built on."""
    kept: list[Emptying] = field(default_factory=list)
    """Sources that were copied and are not erased yet, in order."""

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

    def is_ready(self, move: Move) -> bool:
        """Return whether the place that a copy goes to takes files now."""
        unit = next((u for u in self.task.units if u.name == move[2]), None)
        if unit is not None:
            return all(not self.in_service.isdisjoint(group) for group in unit.groups)
        return move[2] in self.free

    def unbuilt(self) -> list[str]:
        """Return the drives in service whose redundancy is still to be built."""
        task = self.task
        if not task.survives:
            return []
        if task.layout == "independent":
            whole = {d.name for d in task.built if d.role == "parity"}
        else:
            units = [u for u in task.units if set(u.members) <= self.in_service]
            whole = {name for unit in units for name in unit.members}
        names = whole & self.in_service - self.built
        return [d.name for d in task.built if d.name in names]


def actions_of(moves: Moves, carriage: Carriage) -> tuple[Action, ...]:
    """Return everything to do, in order."""
    return tuple(_actions(_Bench(moves=moves, carriage=carriage)))


def _actions(bench: _Bench) -> Iterator[Action]:
    held = {name for source in bench.moves.sources for name in source.disks}
    bench.free = {d.name for d in bench.task.disks if d.name not in held}
    yield from _prepared(bench)
    yield from _join(bench)
    for emptying in bench.carriage.emptyings:
        yield from _copied(bench, emptying)
        if not bench.task.erases_late:
            yield from _released(bench)
    while bench.kept:
        yield from _released(bench)
    yield from _drained(bench)
    yield from _join(bench)
    if bench.carriage.restored:
        yield Action(kind="restore", moves=bench.carriage.restored)
        yield Action(kind="verify", moves=bench.carriage.restored)
    if bench.task.survives:
        yield Action(kind="check", disks=tuple(d.name for d in bench.task.built))


def _prepared(bench: _Bench) -> Iterator[Action]:
    """Yield what comes before the first copy: room made, copies read back, fitting."""
    wanted = _to_fit(bench)
    fitted = _fitted(bench, [])
    idle = [d for d in bench.task.disks if d.where == "here" and d not in fitted]
    if idle and not bench.task.places.left(_fitted(bench, idle)).is_enough:
        yield Action(kind="take out", disks=tuple(d.name for d in idle))
    seated = [d.name for d in bench.task.built if d.where == "here" and d.bay]
    if seated:
        yield Action(kind="seat", disks=tuple(seated))
    relied = [
        name
        for e in bench.carriage.emptyings
        if not e.moves and e.source.held_b
        for name in e.source.disks
        if bench.moves.by_name[name].held_b
    ]
    if relied:
        yield Action(kind="read back", disks=tuple(relied))
    yield from _fit(bench, [d.name for d in wanted])


def _fit(bench: _Bench, names: Iterable[str]) -> Iterator[Action]:
    """Yield drives fitted; bought ones get a full pass before they are relied on."""
    names = tuple(names)
    bought = tuple(n for n in names if bench.task.disk(n).is_bought)
    if names:
        yield Action(kind="fit", disks=names)
    if bought:
        yield Action(kind="test", disks=bought)


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
        if d.name not in bench.moves.late
        and (d.where in ("new", "loose") or _is_idle_away(bench, d))
    ]


def _is_idle_away(bench: _Bench, disk: Disk) -> bool:
    """Return whether an empty drive of the array is still in another machine."""
    return disk.where == "remote" and disk.is_built and not _is_source(bench, disk)


def _join(bench: _Bench) -> Iterator[Action]:
    """Yield the step by which free drives become part of the array."""
    names = bench.joining()
    if names:
        is_first = not bench.in_service
        bench.in_service |= set(names)
        yield Action(kind="create" if is_first else "add", disks=tuple(names))
    unbuilt = tuple(bench.unbuilt())
    if unbuilt:
        bench.built |= set(unbuilt)
        yield Action(kind="build", disks=unbuilt)


def _lent(bench: _Bench, moves: tuple[Move, ...]) -> Iterator[Action]:
    names = [
        name
        for name in bench.carriage.lent
        if name not in bench.lent and any(move[2] == name for move in moves)
    ]
    if names:
        bench.lent |= set(names)
        yield Action(kind="lend", disks=tuple(names))


def _copied(bench: _Bench, emptying: Emptying) -> Iterator[Action]:
    """Yield the copies of one source; room that they want is made first."""
    while bench.kept and not all(bench.is_ready(move) for move in emptying.moves):
        yield from _released(bench)
    if emptying.moves:
        yield from _lent(bench, emptying.moves)
        yield Action(kind="copy", moves=emptying.moves)
        yield Action(kind="verify", moves=emptying.moves)
    bench.kept.append(emptying)


def _released(bench: _Bench) -> Iterator[Action]:
    """Yield how the source that was copied first is erased, and joins the array."""
    by_name, source = bench.moves.by_name, bench.kept.pop(0).source
    built = tuple(n for n in source.disks if by_name[n].is_built)
    yield from _fit(bench, [n for n in built if by_name[n].where == "remote"])
    yield Action(kind="erase", disks=built)
    left = [n for n in source.disks if n not in built and by_name[n].where != "remote"]
    if left:
        yield Action(kind="take out", disks=tuple(left))
    bench.free |= set(source.disks)
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
    yield from _fit(bench, late)
    bench.carriage = Carriage(
        emptyings=bench.carriage.emptyings,
        drained=(),
        restored=bench.carriage.restored,
        lent=(),
    )
    bench.moves = Moves(task=bench.task, shelf=bench.moves.shelf)
