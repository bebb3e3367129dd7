"""The order in which drives are emptied: exact, with the fewest bytes copied.

Files are small against drives, so that what a drive holds may be spread. Every file of
a reused drive is copied at least once: onto the new array. Only what finds no room
there yet goes onto a drive that serves for a while, and is copied once more. What has
to be found is therefore the order of emptying that puts the fewest bytes there.

In a state, some sources are emptied. The array has the room of the units that have a
drive in each group; what was put aside so far (``aside``) is not on it yet. A source
of ``h`` bytes first takes the free room of the array, the rest goes aside. To put
aside as late as possible is never worse: a byte put aside earlier frees the same room
as one put aside when it is needed. So the least ``aside`` for each state is all that
matters, beside the least that had to be borrowed on the way; labels that are worse in
all respects are dropped. Drives of equal size, role and content are the same state.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from optibox.migration.records import Disk, Source, Task


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One way to a state: the sources in order, and what it took."""

    borrow_b: int = 0
    aside_b: int = 0
    n_skipped: int = 0
    """Sources erased while their second copy was the only other one."""
    placed_b: int = 0
    order: tuple[tuple[int, bool], ...] = ()
    """Sources by number; whether they were copied (or left to their second copy)."""
    leaders: frozenset[str] = frozenset()
    tightest: tuple[int, int] = (-1, 0)
    """Source that lacked most room, and the room that there was for it. [B]"""

    @property
    def cost(self) -> tuple[int, int, int]:
        """Return what is made least, the gravest first."""
        return self.borrow_b, self.aside_b, self.n_skipped


@dataclass(frozen=True, kw_only=True)
class Moves:
    """The task as numbers: what is free when which sources are emptied."""

    task: Task
    shelf: tuple[str, ...] = ()
    """Drives beside the array that can serve for a while."""
    late: frozenset[str] = frozenset()
    """Drives of the array whose places such drives take until the end."""

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        """Return what has to be emptied."""
        return self.task.sources

    @cached_property
    def by_name(self) -> dict[str, Disk]:
        """Return all drives by name."""
        return {disk.name: disk for disk in self.task.disks}

    @cached_property
    def source_of(self) -> dict[str, int]:
        """Return the number of the source that each held drive is part of."""
        return {n: i for i, s in enumerate(self.sources) for n in s.disks}

    @cached_property
    def kinds(self) -> tuple[object, ...]:
        """Return for each source what it has in common with its likes."""
        return tuple(
            (s.held_b, s.has_copy)
            if len(s.disks) == 1
            else (s.held_b, s.has_copy, s.name)
            for s in self.sources
        )

    def is_free(self, name: str, emptied: frozenset[int]) -> bool:
        """Return whether a drive holds nothing that anybody needs."""
        number = self.source_of.get(name)
        return number is None or number in emptied

    def led(self, emptied: frozenset[int], leaders: frozenset[str]) -> frozenset[str]:
        """Return the first free drive of each group, those that lead already kept."""
        found = set(leaders)
        for unit in self.task.units:
            for group in unit.groups:
                if found.isdisjoint(group):
                    free = [n for n in group if self.is_free(n, emptied)]
                    if free:
                        found.add(min(free, key=lambda n: self.by_name[n].room_b))
        return frozenset(found)

    def room(self, leaders: frozenset[str]) -> int:
        """Return the room of the units that can be written. [B]."""
        return sum(
            unit.room_b
            for unit in self.task.units
            if all(not leaders.isdisjoint(group) for group in unit.groups)
        )

    def homeless(self) -> int:
        """Return what has to be on the array in the end and finds no room. [B].

        Files that have a second copy are brought back, unless they stay there.
        """
        return max(0, self.task.kept_b - sum(u.room_b for u in self.task.units))

    def lent(self, emptied: frozenset[int], leaders: frozenset[str]) -> int:
        """Return the room of drives that can serve for a while. [B]."""
        return sum(d.room_b for d in self.lenders(emptied, leaders))

    def lenders(
        self, emptied: frozenset[int], leaders: frozenset[str]
    ) -> tuple[Disk, ...]:
        """Return the drives that can serve for a while, those beside first.

        Drives of the array that no file system waits for are among them: parity, the
        second sides of pairs. Caches are left alone: they are small and wear.
        """
        beside = sorted(
            (self.by_name[n] for n in self.shelf), key=lambda d: (-d.room_b, d.name)
        )
        inside = [
            disk
            for disk in self.task.built
            if disk.is_hard
            and disk.role != "cache"
            and not disk.is_failing
            and disk.name not in leaders | self.late
            and self.is_free(disk.name, emptied)
        ]
        return (*beside, *sorted(inside, key=lambda d: (-d.room_b, d.name)))

    def look(self, label: Label, emptied: frozenset[int]) -> object:
        """Return what a state looks like: equal drives are interchangeable."""

        def status(name: str) -> tuple[object, ...]:
            disk, number = self.by_name[name], self.source_of.get(name)
            kind = None if number is None else repr(self.kinds[number])
            free = self.is_free(name, emptied)
            return (disk.room_b, repr(kind), free, name in label.leaders)

        units = sorted(
            (unit.room_b, sorted(sorted(map(status, group)) for group in unit.groups))
            for unit in self.task.units
        )
        inside = {n for unit in self.task.units for n in unit.members}
        rest = sorted(
            (disk.role, *status(disk.name))
            for disk in self.task.disks
            if disk.name not in inside
        )
        return repr((units, rest))

    def emptied_by(
        self, label: Label, emptied: frozenset[int], number: int
    ) -> Iterator[Label]:
        """Yield the ways to empty one more source."""
        source = self.sources[number]
        after = self.led(emptied | {number}, label.leaders)
        room = self.room(label.leaders) - label.placed_b + label.aside_b
        lent = self.lent(emptied, label.leaders)
        aside = label.aside_b + max(0, source.held_b - max(0, room))
        lack = max(0, aside - lent)
        tightest = label.tightest
        if lack > label.borrow_b:
            tightest = (number, max(0, room) + max(0, lent - label.aside_b))
        if not source.stays_away:
            yield Label(
                borrow_b=max(label.borrow_b, lack),
                aside_b=aside,
                n_skipped=label.n_skipped,
                placed_b=label.placed_b + source.held_b,
                order=(*label.order, (number, True)),
                leaders=after,
                tightest=tightest,
            )
        if source.has_copy:
            yield Label(
                borrow_b=label.borrow_b,
                aside_b=label.aside_b,
                n_skipped=label.n_skipped + 1,
                placed_b=label.placed_b,
                order=(*label.order, (number, False)),
                leaders=after,
                tightest=label.tightest,
            )

    def is_harmless(self, label: Label, emptied: frozenset[int], number: int) -> bool:
        """Return whether a source can be emptied next without regret.

        It needs nothing aside and gives the array at least the room that it takes, so
        that any order that empties it later also works with it first.
        """
        source = self.sources[number]
        if len(source.disks) > 1 or source.stays_away:
            return False
        room = self.room(label.leaders)
        after = self.room(self.led(emptied | {number}, label.leaders))
        return (
            source.held_b <= room - label.placed_b + label.aside_b
            and after - room >= source.held_b
        )


def best_order(moves: Moves) -> Label:
    """Return the way to empty all sources: least borrowed, then least put aside."""
    none: frozenset[int] = frozenset()
    start = Label(leaders=moves.led(none, frozenset()))
    states: dict[object, list[tuple[Label, frozenset[int]]]] = {
        moves.look(start, none): [(start, none)]
    }
    for _ in moves.sources:
        states = _next_states(moves, states)
    labels = [label for entries in states.values() for label, _ in entries]
    return min(labels, key=lambda x: (x.cost, x.order))


def _next_states(
    moves: Moves, states: dict[object, list[tuple[Label, frozenset[int]]]]
) -> dict[object, list[tuple[Label, frozenset[int]]]]:
    found: dict[object, list[tuple[Label, frozenset[int]]]] = {}
    for entries in states.values():
        for label, emptied in entries:
            for number in _candidates(moves, label, emptied):
                for new in moves.emptied_by(label, emptied, number):
                    after = emptied | {number}
                    _keep(found.setdefault(moves.look(new, after), []), new, after)
    return found


def _candidates(moves: Moves, label: Label, emptied: frozenset[int]) -> list[int]:
    left = [n for n in range(len(moves.sources)) if n not in emptied]
    left.sort(key=lambda n: not moves.sources[n].is_failing)
    for number in left:
        if moves.is_harmless(label, emptied, number):
            return [number]
    return left


def _keep(
    entries: list[tuple[Label, frozenset[int]]], new: Label, emptied: frozenset[int]
) -> None:
    """Keep a label unless another one of the same state is no worse in anything."""
    mine = (*new.cost, new.placed_b)
    if any(_covers((*old.cost, old.placed_b), mine) for old, _ in entries):
        return
    entries[:] = [
        (old, where)
        for old, where in entries
        if not _covers(mine, (*old.cost, old.placed_b))
    ]
    entries.append((new, emptied))


def _covers(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True))
