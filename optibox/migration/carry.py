"""Which bytes go where, once the order of emptying is known."""

from dataclasses import dataclass, field

from optibox.migration.order import Label, Moves
from optibox.migration.records import ELSEWHERE, Move, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Emptying:
    """One source on its way: its copies, or none where its second copy is relied on."""

    source: Source
    moves: tuple[Move, ...]
    led: tuple[str, ...]
    """Drives of the source that the array takes as the first of their group."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carriage:
    """All copies of a move of data, in order."""

    emptyings: tuple[Emptying, ...]
    drained: tuple[Move, ...]
    """From drives that served for a while onto the array."""
    restored: tuple[Move, ...]
    """From second copies onto the array."""
    lent: tuple[str, ...]
    """Drives that serve for a while, in the order of first use."""

    @property
    def all_moves(self) -> tuple[Move, ...]:
        """Return every copy."""
        first = (move for e in self.emptyings for move in e.moves)
        return (*first, *self.drained, *self.restored)


@dataclass
class _Loads:
    """What lies where while bytes are placed."""

    moves: Moves
    on_unit: dict[str, int] = field(default_factory=dict)
    on_lent: dict[str, dict[str, int]] = field(default_factory=dict)

    def free_units(self, leaders: frozenset[str]) -> dict[str, int]:
        """Return the room left in file systems that can be written. [B]."""
        return {
            unit.name: unit.room_b - self.on_unit.get(unit.name, 0)
            for unit in self.moves.task.units
            if all(not leaders.isdisjoint(group) for group in unit.groups)
        }

    def place(self, amount_b: int, free: dict[str, int]) -> list[tuple[str, int]]:
        """Return targets for an amount: one that takes it all, else the largest."""
        whole = [name for name, room in free.items() if room >= amount_b]
        if whole:
            return [(min(whole, key=lambda n: (free[n], n)), amount_b)]
        found = []
        for name in sorted(free, key=lambda n: (-free[n], n)):
            part = min(amount_b, free[name])
            if part > 0:
                found.append((name, part))
                amount_b -= part
        return found

    def onto_units(self, amount_b: int, leaders: frozenset[str]) -> dict[str, int]:
        """Place an amount on the array, as far as there is room."""
        free = self.free_units(leaders)
        targets = dict(self.place(min(amount_b, max(0, sum(free.values()))), free))
        for name, part in targets.items():
            self.on_unit[name] = self.on_unit.get(name, 0) + part
        return {name: part for name, part in targets.items() if part}

    def onto_lent(
        self, source: str, amount_b: int, rooms: dict[str, int]
    ) -> dict[str, int]:
        """Place an amount on drives that serve for a while, in their order."""
        found = {}
        for name, room in rooms.items():
            held = self.on_lent.setdefault(name, {})
            part = min(amount_b, room - sum(held.values()))
            if part > 0:
                held[source] = held.get(source, 0) + part
                found[name], amount_b = part, amount_b - part
        return found


def carry(moves: Moves, label: Label) -> Carriage:
    """Return all copies of an order; what borrowed room it needs must be among them."""
    loads = _Loads(moves)
    emptied: frozenset[int] = frozenset()
    leaders = moves.led(emptied, frozenset())
    found = []
    for number, is_copied in label.order:
        source = moves.sources[number]
        copies: list[Move] = []
        if is_copied:
            rooms = {d.name: d.room_b for d in moves.lenders(emptied, leaders)}
            copies = _copies(loads, source, leaders, rooms)
        emptied |= {number}
        after = moves.led(emptied, leaders)
        led = tuple(n for n in source.disks if n in after - leaders)
        found.append(Emptying(source=source, moves=tuple(copies), led=led))
        leaders = after
    drained = tuple(_drained(loads, leaders))
    restored = tuple(_restored(loads, label, leaders))
    lent = tuple(name for name, held in loads.on_lent.items() if held)
    return Carriage(
        emptyings=tuple(found), drained=drained, restored=restored, lent=lent
    )


def _copies(
    loads: _Loads, source: Source, leaders: frozenset[str], rooms: dict[str, int]
) -> list[Move]:
    """Return the copies that empty one source: onto the array, the rest aside."""
    found: list[Move] = []
    for name in source.disks:
        left = loads.moves.by_name[name].held_b
        targets = loads.onto_units(left, leaders)
        left -= sum(targets.values())
        if left:
            targets |= loads.onto_lent(source.name, left, rooms)
        found += ((source.name, name, where, part) for where, part in targets.items())
    return found


def _drained(loads: _Loads, leaders: frozenset[str]) -> list[Move]:
    found: list[Move] = []
    for name, held in loads.on_lent.items():
        for source, amount in held.items():
            targets = loads.onto_units(amount, leaders)
            found += ((source, name, where, part) for where, part in targets.items())
    return found


def _restored(loads: _Loads, label: Label, leaders: frozenset[str]) -> list[Move]:
    found: list[Move] = []
    for number, is_copied in label.order:
        source = loads.moves.sources[number]
        if not is_copied and not source.stays_away:
            targets = loads.onto_units(source.held_b, leaders)
            found += (
                (source.name, ELSEWHERE, where, part) for where, part in targets.items()
            )
    return found
