"""A move of data replayed step by step: what is where, and whether all is safe.

Nothing is taken over from the search but the actions: each step is held against the
state before it, and an order that would lose a byte is a defect of optibox.
"""

from collections import defaultdict
from dataclasses import dataclass, field

from optibox.errors import InternalError
from optibox.migration.hours import hours_of
from optibox.migration.records import (
    ELSEWHERE,
    Action,
    Gone,
    Places,
    Source,
    Step,
    Task,
    Unit,
)


@dataclass
class State:
    """What is where between two steps."""

    task: Task
    attached: set[str] = field(default_factory=set)
    in_service: set[str] = field(default_factory=set)
    lent: set[str] = field(default_factory=set)
    erased: set[str] = field(default_factory=set)
    read_back: set[str] = field(default_factory=set)
    tested: set[str] = field(default_factory=set)
    built: set[str] = field(default_factory=set)
    """Drives that redundancy was built on: it counts from then on."""
    copied: defaultdict[tuple[str, str], int] = field(
        default_factory=lambda: defaultdict(int)
    )
    """Bytes of a source in a unit or on a drive that serves for a while."""
    verified: defaultdict[tuple[str, str], int] = field(
        default_factory=lambda: defaultdict(int)
    )
    """Those of them that were read back."""

    @property
    def left(self) -> Places:
        """Return bays and ports left."""
        disks = [d for d in self.task.disks if d.name in self.attached]
        return self.task.places.left(disks)

    def is_open(self, unit: Unit) -> bool:
        """Return whether a file system can be written."""
        return all(not self.in_service.isdisjoint(group) for group in unit.groups)

    def is_redundant(self, unit: Unit) -> bool:
        """Return whether a file system survives the failure of any one drive."""
        if self.task.layout == "independent":
            return self.n_parity > 0
        has_all = set(unit.members) <= self.built
        return has_all and self.task.survives > 0

    @property
    def n_parity(self) -> int:
        """Return the parity drives in service that parity was built on."""
        parity = {d.name for d in self.task.disks if d.role == "parity"}
        return len(parity & self.in_service & self.built)

    @property
    def survives(self) -> int:
        """Return how many failed drives the array survives as it is."""
        if self.task.layout == "independent":
            return self.n_parity
        open_ = [unit for unit in self.task.units if self.is_open(unit)]
        return self.task.survives if all(map(self.is_redundant, open_)) and open_ else 0

    def room(self, place: str) -> int:
        """Return the room left in a unit or on a drive that serves for a while. [B]."""
        held = sum(n for (_, where), n in self.copied.items() if where == place)
        if place in self.lent:
            return self.task.disk(place).room_b - held
        unit = next(u for u in self.task.units if u.name == place)
        return unit.room_b - held if self.is_open(unit) else 0

    def stands(self, source: Source) -> bool:
        """Return whether the first copy of a source is untouched."""
        return self.erased.isdisjoint(source.disks)

    def secured(self, source: Source, without: frozenset[str] = frozenset()) -> int:
        """Return the bytes of a source that were read back beside its first copy. [B]."""
        if set(source.disks) <= self.read_back or not source.held_b:
            return source.held_b
        if all(
            n in self.read_back or not self.task.disk(n).held_b for n in source.disks
        ):
            return source.held_b
        return sum(
            n
            for (name, where), n in self.verified.items()
            if name == source.name and where not in without
        )

    def places_of(self, source: Source) -> tuple[str, ...]:
        """Return where the files of a source are."""
        found = list(source.disks) if self.stands(source) else []
        found += sorted(
            w for (name, w), n in self.copied.items() if name == source.name and n
        )
        return (*found, ELSEWHERE) if source.has_copy else tuple(found)

    def is_exposed(self, source: Source) -> bool:
        """Return whether one failed drive could lose files of a source.

        Only once its first copy is gone: then they are on drives of the array that
        have redundancy, or on the array and at their second copy, or in one place.
        """
        if self.stands(source) or not source.held_b:
            return False
        units = {u.name: u for u in self.task.units}
        on_array = {
            where: n
            for (name, where), n in self.verified.items()
            if name == source.name and where in units
        }
        if not source.has_copy:
            on_array = {
                w: n for w, n in on_array.items() if self.is_redundant(units[w])
            }
        return sum(on_array.values()) < source.held_b


def replay(task: Task, actions: tuple[Action, ...]) -> tuple[Step, ...]:
    """Return the steps with the state after each.

    Raises
    ------
    InternalError
        If a step is impossible or unsafe, or the build is not reached in the end.
    """
    state = State(task, attached={d.name for d in task.disks if d.where == "here"})
    steps = []
    for number, action in enumerate(actions, 1):
        destroys = _do(state, action)
        touched = {move[0] for move in action.moves} | {g[1] for g in destroys if g[2]}
        sources = [s for s in task.sources if s.name in touched]
        steps.append(
            Step(
                number=number,
                action=action,
                destroys=destroys,
                copies=tuple((s.name, state.places_of(s)) for s in sources),
                free_b=sum(state.room(u.name) for u in task.units if state.is_open(u)),
                lent_b=sum(state.room(name) for name in state.lent),
                left=state.left,
                hours=hours_of(task, action),
                survives=state.survives,
                exposed=tuple(s.name for s in task.sources if state.is_exposed(s)),
            )
        )
    _check_end(state)
    return tuple(steps)


def _require(holds: bool, action: Action | None, what: str) -> None:  # noqa: FBT001
    if not holds:
        step = f"{action.kind} {', '.join(action.disks)}: " if action else ""
        msg = f"an unsafe order of steps was made: {step}{what}"
        raise InternalError(msg)


def _do(state: State, action: Action) -> tuple[Gone, ...]:
    """Change the state by an action; return what it destroys."""
    if action.kind in ("take out", "return"):
        return _detach(state, action)
    if action.kind == "erase":
        return _erase(state, action)
    if action.kind in ("create", "add", "lend"):
        _take(state, action)
    elif action.kind in ("copy", "restore"):
        _copy(state, action)
    else:
        _look_or_fit(state, action)
    return ()


def _look_or_fit(state: State, action: Action) -> None:
    names = set(action.disks)
    if action.kind == "read back":
        has_copies = all(state.task.disk(n).has_copy for n in names)
        _require(has_copies, action, "no second copy is known")
        state.read_back |= names
    elif action.kind == "build":
        _require(names <= state.in_service, action, "is no part of the array")
        state.built |= names
    elif action.kind == "test":
        _require(names <= state.attached, action, "is not in the machine")
        is_unused = names.isdisjoint(state.in_service | state.lent)
        is_bought = all(state.task.disk(n).is_bought for n in names)
        _require(is_unused and is_bought, action, "is in use")
        state.tested |= names
    elif action.kind == "check":
        _require(names <= state.in_service, action, "is no part of the array")
    elif action.kind == "fit":
        _require(names.isdisjoint(state.attached), action, "is there already")
        state.attached |= names
        _require(state.left.is_enough, action, "no bay or port is free")
    for source, _, where, n in action.moves:
        _require(state.copied[source, where] >= n, action, "nothing to verify")
        state.verified[source, where] += n


def _detach(state: State, action: Action) -> tuple[Gone, ...]:
    names = set(action.disks)
    _require(names.isdisjoint(state.in_service), action, "is part of the array")
    if action.kind == "return":
        for source in state.task.sources:
            if any(state.copied[source.name, name] for name in names):
                kept = state.secured(source, without=frozenset(names))
                is_kept = state.stands(source) or kept >= source.held_b
                _require(is_kept, action, "holds files that are nowhere else")
        state.lent -= names
        state.attached -= names
        return ()
    _require(names <= state.attached, action, "is not there")
    is_idle = all(
        names.isdisjoint(s.disks) or _is_gone(state, s) for s in state.task.sources
    )
    _require(is_idle and names.isdisjoint(state.lent), action, "is in use")
    state.attached -= names
    return ()


def _is_gone(state: State, source: Source) -> bool:
    """Return whether a source is erased: what lies beside the array of it is stale."""
    built = {n for n in source.disks if state.task.disk(n).is_built}
    return built <= state.erased


def _wiped(state: State, action: Action) -> tuple[Gone, ...]:
    """Empty drives that served for a while; all that they hold must be elsewhere."""
    names = frozenset(action.disks) & state.lent
    gone = []
    for source in state.task.sources:
        parts = {n: state.copied.pop((source.name, n), 0) for n in names}
        for name in names:
            state.verified.pop((source.name, name), None)
        if any(parts.values()):
            kept = state.secured(source) if not state.stands(source) else source.held_b
            _require(kept >= source.held_b, action, "holds files that are nowhere else")
        gone += [(name, source.name, n) for name, n in sorted(parts.items()) if n]
    state.lent -= names
    return tuple(gone)


def _erase(state: State, action: Action) -> tuple[Gone, ...]:
    """Empty drives: their first content must be whole and verified elsewhere."""
    names = frozenset(action.disks)
    _require(names <= state.attached, action, "is not in the machine")
    _require(names.isdisjoint(state.in_service), action, "is part of the array")
    gone = list(_wiped(state, action))
    for source in state.task.sources:
        hit = names & set(source.disks) - state.erased
        if hit:
            kept = state.secured(source, without=names)
            _require(kept >= source.held_b, action, f"{source.name} is nowhere else")
            gone += [(n, source.name, state.task.disk(n).held_b) for n in sorted(hit)]
            state.erased |= hit
    return tuple(gone)


def _take(state: State, action: Action) -> None:
    """Put empty drives into the array, or to use for a while."""
    held = {n for s in state.task.sources for n in s.disks} - state.erased
    for name in action.disks:
        disk = state.task.disk(name)
        _require(name not in held, action, "holds data")
        _require(name not in state.in_service | state.lent, action, "is in use")
        is_sound = not disk.is_bought or name in state.tested
        _require(is_sound, action, "was not read and written once")
        if action.kind == "lend":
            reached = name in state.attached or disk.where == "remote"
            _require(reached, action, "is out of reach")
        else:
            _require(name in state.attached, action, "is not in the machine")
            _require(disk.is_built, action, "is no part of the build")
    (state.lent if action.kind == "lend" else state.in_service).update(action.disks)


def _copy(state: State, action: Action) -> None:
    sources = {s.name: s for s in state.task.sources}
    units = {u.name: u for u in state.task.units}
    for source, start, where, n in action.moves:
        _require(n > 0 and start != where, action, "a copy of nothing")
        if start == ELSEWHERE:
            _require(sources[source].has_copy, action, "no second copy is known")
        elif start in sources[source].disks:
            _require(state.stands(sources[source]), action, "the source is gone")
            disk = state.task.disk(start)
            reached = start in state.attached or disk.where == "remote"
            _require(reached, action, "the source is out of reach")
        else:
            _require(state.verified[source, start] >= n, action, "not read back")
        is_there = where in state.lent or (
            where in units and state.is_open(units[where])
        )
        _require(is_there, action, f"{where} takes no files")
        _require(state.room(where) >= n, action, f"{where} is full")
        state.copied[source, where] += n


def _check_end(state: State) -> None:
    missing = {d.name for d in state.task.built} - state.in_service
    _require(not missing, None, f"{', '.join(sorted(missing))} never join")
    _require(not state.lent, None, "a lent drive is left")
    placed = 0
    for source in state.task.sources:
        units = {u.name for u in state.task.units}
        there = sum(
            n
            for (name, where), n in state.verified.items()
            if name == source.name and where in units
        )
        placed += there
        if not source.has_copy:
            _require(there == source.held_b, None, f"{source.name} is not whole")
    _require(placed == state.task.kept_b, None, "files were left out")
