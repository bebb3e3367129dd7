"""Small tasks of moving data, and two answers to them that share nothing with optibox.

``least_copied`` walks every state of every drive in whole units of data: exhaustive, so
that what it finds is the least. ``walk`` follows a list of steps with its own idea of
what is where. That the search counts in parts of files and the exhaustive one in whole
units makes no difference where all amounts are whole.
"""

import heapq
from itertools import count
from typing import NamedTuple

from hypothesis import strategies as st

from optibox.migration import Disk, Places, Task, Unit

MANY = 20


def task_of(
    data, parity=(), beside=(), layout="independent", bays=MANY, pairs=(), survives=None
) -> Task:
    """Return a task of drives as (room, held) or (room, held, extras)."""
    disks = [
        _disk(f"{role}-{number}", role, *drive)
        for role, drives in (("data", data), ("parity", parity))
        for number, drive in enumerate(drives, 1)
    ]
    disks += [_disk(f"old {n}", "beside", *d) for n, d in enumerate(beside, 1)]
    if survives is None:
        survives = len(parity) if layout == "independent" else 1
    return Task(
        disks=tuple(disks),
        units=tuple(_units([d for d in disks if d.role == "data"], layout, pairs)),
        layout=layout,
        n_parity=len(parity),
        survives=survives,
        places=Places(bays_35=bays, bays_25=0, ports=bays),
    )


def _disk(name, role, room, held, extras=None) -> Disk:
    values = {"where": "here" if held else "loose", **(extras or {})}
    return Disk(name=name, role=role, room_b=room, held_b=held, **values)


def _units(data, layout, pairs):
    if layout == "independent":
        for d in data:
            yield Unit(name=d.name, groups=((d.name,),), room_b=d.room_b)
    elif layout == "striped":
        room = (len(data) - 1) * min(d.room_b for d in data)
        groups = tuple((d.name,) for d in data)
        yield Unit(name="stripe", groups=groups, room_b=room)
    else:
        for a, b in pairs or zip(data[::2], data[1::2], strict=True):
            room = min(a.room_b, b.room_b)
            yield Unit(
                name=f"{a.name}+{b.name}", groups=((a.name, b.name),), room_b=room
            )


class World(NamedTuple):
    """Everything that can differ: amounts are whole units."""

    erased: frozenset
    """Names of drives that were emptied."""
    serving: frozenset
    """Drives of the array that lead their group."""
    loads: tuple
    """Data by place: units of the array and drives that serve for a while."""
    copied: tuple
    """Data by source that were copied so far, at most what it holds."""


BORROWED = "the borrowed drive"


class States:
    """The states of one task and the steps between them."""

    def __init__(self, task: Task, borrowed: int) -> None:
        self.task = task
        self.sources = [d for d in task.disks if d.is_built and d.held_b]
        self.held = {d.name for d in self.sources}
        self.units = {f"unit {u.name}": u for u in task.units}
        self.rooms = {
            d.name: d.room_b
            for d in task.disks
            if d.role in ("data", "parity") or not d.held_b
        }
        if borrowed:
            self.rooms[BORROWED] = borrowed
        self.names = [*self.units, *self.rooms]

    def start(self) -> World:
        none = frozenset()
        return World(none, none, (0,) * len(self.names), (0,) * len(self.sources))

    def is_free(self, name, world) -> bool:
        return name not in self.held or name in world.erased

    def is_open(self, unit, world) -> bool:
        return all(set(group) & world.serving for group in unit.groups)

    def can_hold(self, name, world) -> bool:
        """Return whether a drive can serve for a while: it is free and no leader yet.

        It may lead its group later on, once it was drained.
        """
        if name == BORROWED or not self.task.disk(name).is_built:
            return True
        return self.is_free(name, world) and name not in world.serving

    def put(self, world, start=None):
        """Yield the loads after one unit of data found a place."""
        for at, name in enumerate(self.names):
            unit = self.units.get(name)
            room = unit.room_b if unit else self.rooms[name]
            opens = self.is_open(unit, world) if unit else self.can_hold(name, world)
            if opens and world.loads[at] < room and at != start:
                loads = list(world.loads)
                loads[at] += 1
                if start is not None:
                    loads[start] -= 1
                yield tuple(loads)

    def after(self, world):
        yield from self.emptied(world)
        yield from self.joined(world)
        for at, name in enumerate(self.names):
            if name not in self.units and world.loads[at]:
                for loads in self.put(world, at):
                    yield 1, world._replace(loads=loads)

    def emptied(self, world):
        """Yield copies of one unit of data, and drives that may be erased."""
        for i, source in enumerate(self.sources):
            done = world.copied[i]
            if source.name in world.erased:
                continue
            if done == source.held_b or source.has_copy:
                yield 0, world._replace(erased=world.erased | {source.name})
            if done < source.held_b:
                copied = tuple(n + (k == i) for k, n in enumerate(world.copied))
                for loads in self.put(world):
                    yield 1, world._replace(loads=loads, copied=copied)

    def joined(self, world):
        """Yield free drives that become the first of their group."""
        for group in (g for u in self.task.units for g in u.groups):
            if set(group) & world.serving:
                continue
            for name in group:
                is_empty = not world.loads[self.names.index(name)]
                if self.is_free(name, world) and is_empty:
                    yield 0, world._replace(serving=world.serving | {name})

    def restored(self, world):
        """Return what is still copied once all is done; nothing before that."""
        aside = sum(world.loads[len(self.units) :])
        is_open = all(self.is_open(u, world) for u in self.task.units)
        if len(world.erased) < len(self.sources) or aside or not is_open:
            return None
        owed = sum(
            source.held_b - done
            for source, done in zip(self.sources, world.copied, strict=True)
        )
        # all that has a second copy comes back too
        room = sum(u.room_b for u in self.task.units) - sum(world.loads)
        return owed if owed <= room else None


def least_copied(task: Task, borrowed: int = 0):
    """Return the least data copied, or nothing where no safe order exists.

    ``borrowed`` is the room of one more empty drive that needs no bay.
    """
    states, ticket = States(task, borrowed), count()
    queue, seen = [(0, next(ticket), states.start(), False)], set()
    while queue:
        cost, _, world, is_done = heapq.heappop(queue)
        if is_done:
            return cost
        if world in seen:
            continue
        seen.add(world)
        rest = states.restored(world)
        if rest is not None:
            heapq.heappush(queue, (cost + rest, next(ticket), world, True))
        for step, after in states.after(world):
            if after not in seen:
                heapq.heappush(queue, (cost + step, next(ticket), after, False))
    return None


class Walk:
    """Follows steps with nothing but a list of which file lies where.

    Each unit of data is a file with a name of its own. A copy says only how many, so
    that those are taken which lie in no other place yet.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self.old = {d.name: {(d.name, i) for i in range(d.held_b)} for d in task.disks}
        self.files = {
            s.name: set().union(*map(self.old.get, s.disks)) for s in task.sources
        }
        copied = [s.name for s in task.sources if s.has_copy]
        self.elsewhere = set().union(*(self.files[name] for name in copied))
        self.new: dict[str, set] = {}
        self.unread: set = set()
        self.machine = {d.name for d in task.disks if d.where == "here"}
        self.array: set[str] = set()
        self.units = {u.name: u for u in task.units}

    def follow(self, steps) -> None:
        """Do every step, then see that all files are on the array and read back."""
        for step in steps:
            kind = {"return": "return_"}.get(step.action.kind, step.action.kind)
            getattr(self, kind.replace(" ", "_"))(step.action)
        there = set().union(*(self.new.get(name, set()) for name in self.units))
        needed = [s.name for s in self.task.sources if not s.has_copy]
        assert set().union(*(self.files[name] for name in needed)) <= there
        assert {d.name for d in self.task.built} <= self.array
        assert not self.unread

    def fit(self, action) -> None:
        assert self.machine.isdisjoint(action.disks)
        self.machine |= set(action.disks)
        assert len(self.machine) <= self.task.places.bays_35

    def seat(self, action) -> None:
        assert set(action.disks) <= self.machine

    def test(self, action) -> None:
        assert set(action.disks) <= self.machine
        assert self.array.isdisjoint(action.disks)
        assert not any(self.old[n] or self.new.get(n) for n in action.disks)

    def build(self, action) -> None:
        assert set(action.disks) <= self.array

    def check(self, action) -> None:
        assert set(action.disks) == self.array

    def take_out(self, action) -> None:
        self.machine -= set(action.disks)

    def read_back(self, action) -> None:
        assert all(self.old[name] <= self.elsewhere for name in action.disks)

    def copy(self, action) -> None:
        for source, start, target, n in action.moves:
            is_lent = bool(self.new.get(start))
            pool = self.new[start] if is_lent else self.old.get(start, self.elsewhere)
            others = [
                content
                for place, content in self.new.items()
                if place != start and (place in self.units or not is_lent)
            ]
            pool = (pool & self.files[source]) - set().union(*others)
            self.put(target, sorted(pool)[:n], n)

    restore = copy

    def put(self, target, pieces, n) -> None:
        assert len(pieces) == n
        unit = self.units.get(target)
        is_open = unit and all(set(g) & self.array for g in unit.groups)
        room = unit.room_b if is_open else self.task.disk(target).room_b
        self.new.setdefault(target, set()).update(pieces)
        assert len(self.new[target]) <= room
        self.unread |= {(target, piece) for piece in pieces}

    def verify(self, action) -> None:
        targets = {move[2] for move in action.moves}
        self.unread = {row for row in self.unread if row[0] not in targets}

    def erase(self, action) -> None:
        assert set(action.disks) <= self.machine
        for name in action.disks:
            lost = self.old[name] | self.new.get(name, set())
            self.old[name] = set()
            self.new.pop(name, None)
            self.see_kept(lost)

    def return_(self, action) -> None:
        """See that nothing is needed on the drives; what they hold goes with them."""
        for name in action.disks:
            self.see_kept(self.new.pop(name, set()))
        self.machine -= set(action.disks)

    def see_kept(self, lost) -> None:
        """See that every file is in a second place, read back."""
        wanted = set().union(*self.files.values())
        places = [*self.old.items(), *self.new.items()]
        kept = {
            piece
            for place, content in places
            for piece in content
            if (place, piece) not in self.unread
        }
        assert lost & wanted <= kept | self.elsewhere

    def lend(self, action) -> None:
        for name in action.disks:
            assert not self.old[name]
            assert not self.new.get(name)

    def create(self, action) -> None:
        self.lend(action)
        assert set(action.disks) <= self.machine
        self.array |= set(action.disks)

    add = create


def walk(task: Task, steps) -> None:
    """Follow steps file by file; fail where a file could be lost or has no room."""
    Walk(task).follow(steps)


@st.composite
def tasks(draw, most: int = 3):
    """Draw small tasks: few drives, whole amounts."""
    layout = draw(st.sampled_from(["independent", "independent", "pairs", "striped"]))
    numbers = {"independent": (1, 3), "pairs": (2, 4), "striped": (2, 3)}[layout]
    n_data = draw(st.integers(*numbers))
    n_data += layout == "pairs" and n_data % 2
    drive = st.integers(1, most).flatmap(
        lambda room: st.tuples(
            st.just(room),
            st.integers(0, room),
            st.fixed_dictionaries(
                {"has_copy": st.sampled_from([False, False, False, True])}
            ),
        )
    )
    data = draw(st.lists(drive, min_size=n_data, max_size=n_data))
    n_parity = draw(st.integers(0, 1)) if layout == "independent" else 0
    parity = draw(st.lists(drive, min_size=n_parity, max_size=n_parity))
    beside = draw(st.lists(st.integers(1, most).map(lambda r: (r, 0)), max_size=1))
    return task_of(data, parity, beside, layout)
