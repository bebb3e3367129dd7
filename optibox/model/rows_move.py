"""Rows: what reused drives hold finds its way onto the new array.

They are the conditions of ``migration.condition`` in numbers of drives, and those of
old arrays that are read together. A build that the evaluator accepts keeps them all;
what keeps them and has no safe order yet is cut off while a leaf is settled.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from optibox.build import Item
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.attachment import Controller
from optibox.catalog.storage import SolidStateDrive
from optibox.migration import Disk
from optibox.model.draft import Draft
from optibox.model.lots import OldArray, disk_of, empty_beside, old_arrays, to_save
from optibox.model.rows_parts import rule_in_force
from optibox.model.rows_wiring import bays_of, by_width
from optibox.model.solver import Expression, total
from optibox.units import BYTES_PER_TB

_SLACK = 1e-6
"""Amounts in TB are compared to a megabyte."""


def moves_safely(draft: Draft) -> None:
    """Give what reused drives hold room on the way and in the end.

    Let free room be that of drives without anything to save, in the array or beside
    it. Before the first source of at least some amount is emptied, that amount has a
    place: in free room, and in what emptied drives that held less gave.
    """
    moves = _Moves(draft)
    if not moves.kept:
        return
    moves.sources_marked()
    moves.room_in_the_end()
    beside = moves.beside()
    if draft.entry.storage.layout == "striped":
        # no member of a stripe holds anything before all of them are empty
        row = beside.plus(moves.amount(moves.held), -1.0).plus(_SLACK)
        draft.program.require("stripe_saved", row, ">=", 0.0)
        return
    moves.turns(beside)


@dataclass(frozen=True, slots=True)
class _Member:
    """A drive of the array in a role."""

    key: str
    role: str
    item: Item
    count: Expression
    disk: Disk
    array: OldArray | None

    @property
    def is_held(self) -> bool:
        """Return whether it has to be emptied onto other drives first."""
        return self.source_b > 0

    @property
    def source_b(self) -> int:
        """Return what has to be saved before it is emptied. [B]."""
        return to_save(self.disk, self.array)

    @property
    def kept_b(self) -> int:
        """Return what has to be on the array in the end for it. [B]."""
        source = self.array or self.disk
        return 0 if source.has_copy and not source.comes_back else source.held_b


@dataclass(frozen=True)
class _Moves:
    """One draft's drives by what they hold."""

    draft: Draft

    @cached_property
    def arrays(self) -> dict[str, OldArray]:
        """Return the old arrays of which all members are known."""
        return old_arrays(self.draft.entry.scenario)

    @cached_property
    def members(self) -> tuple[_Member, ...]:
        """Return the drives that the array may have, by item and role."""
        by_key, scenario = self.draft.by_key, self.draft.entry.scenario
        known = {key: a for a in self.arrays.values() for key, _, _ in a.members}
        return tuple(
            _Member(
                key=key,
                role=role,
                item=by_key[key],
                count=count,
                disk=disk_of(by_key[key], scenario),
                array=known.get(key),
            )
            for (key, role), count in self.draft.drives.items()
        )

    @cached_property
    def held(self) -> tuple[_Member, ...]:
        """Return those that hold something to save."""
        return tuple(m for m in self.members if m.is_held)

    @cached_property
    def kept(self) -> tuple[_Member, ...]:
        """Return those whose files have to be on the array in the end."""
        return tuple(m for m in self.members if m.kept_b > 0)

    @cached_property
    def reused(self) -> dict[str, Expression]:
        """Return by name of an old array whether any drive of it is reused."""
        return {
            name: self.draft.program.variable(f"old array {name}", 1.0)
            for name in sorted({m.array.name for m in self.members if m.array})
        }

    def sources_marked(self) -> None:
        """Mark the old arrays of which a drive is reused; keep places for the rest.

        Those of their drives that stand beside the array are read in the machine.
        """
        for member in self.members:
            if member.array:
                self._marks(self.reused[member.array.name], member)
        if self.reused:
            for row in self._over({}, self._startable()):
                self.draft.program.require("old_array_placed", row, "<=", 0.0)

    def _startable(self) -> dict[str, list[Expression]]:
        """Return the empty drives that the array can start without, by width."""
        found: dict[str, list[Expression]] = {}
        roles = "data" if "pairs" in self.draft.entry.storage.layout else "parity"
        for member in self.members:
            if member.role == roles and not member.disk.held_b:
                found.setdefault(member.disk.width, []).append(member.count)
        return found

    def _marks(self, flag: Expression, member: _Member) -> None:
        most = float(self._most(member))
        row = member.count.copy().plus(flag, -most)
        self.draft.program.require("source_marked", row, "<=", 0.0)

    def _most(self, member: _Member) -> int:
        storage = self.draft.entry.storage
        n = storage.n_data if member.role == "data" else storage.n_parity_drives
        return n if member.item.limit is None else min(n, member.item.limit)

    def amount(self, members: Iterable[_Member]) -> Expression:
        """Return what has to be saved of some drives. [TB]."""
        held, arrays = Expression(), dict[str, OldArray]()
        for member in members:
            if member.array:
                arrays[member.array.name] = member.array
            else:
                held.plus(member.count, member.disk.held_b / BYTES_PER_TB)
        for name, array in arrays.items():
            held.plus(self.reused[name], array.held_b / BYTES_PER_TB)
        return held

    def room_in_the_end(self) -> None:
        """Hold the files of all reused drives on the array, those of caches too."""
        draft = self.draft
        share = 1.0 - draft.entry.scenario.overrides.filesystem_reserve.mid
        room = draft.capacity_tb.copy()
        room = total([(room, share)]).plus(self.amount(self.kept), -1.0)
        for item in draft.entry.cache:
            disk = disk_of(item, draft.entry.scenario)
            if isinstance(item.part, SolidStateDrive) and not (
                (disk.has_copy and not disk.comes_back) or disk.old_array
            ):
                room.plus(-disk.held_b / BYTES_PER_TB)
        draft.program.require("data_kept", room.plus(_SLACK), ">=", 0.0)

    def beside(self) -> Expression:
        """Return the room of empty drives that can stand beside the array. [TB].

        A drive that the array can start without may leave its place to a larger one.
        """
        draft, room = self.draft, Expression()
        there: dict[str, list[Expression]] = {}
        largest = 0
        entry = draft.entry
        for name, disk, most in empty_beside(entry.scenario, entry.drives):
            count = draft.program.variable(f"beside {name}", float(most))
            room.plus(count, disk.room_b / BYTES_PER_TB)
            key = name + OWNED_SUFFIX
            if key in draft.by_key:
                left = count.copy().plus(draft.count(draft.by_key[key]))
                draft.program.require("beside_left", left, "<=", float(most))
            if disk.where != "remote":
                there.setdefault(disk.width, []).append(count)
                largest = max(largest, disk.room_b)
        if there:
            late = self._late(largest, room, set(there))
            for row in self._over(there, late):
                draft.program.require("beside_placed", row, "<=", 0.0)
        return room

    def _late(
        self, largest_b: int, room: Expression, widths: set[str]
    ) -> dict[str, list[Expression]]:
        """Return the drives that come in last, by width; take their room off."""
        storage = self.draft.entry.storage
        late: dict[str, list[Expression]] = {}
        roles = ("data",) if "pairs" in storage.layout else ("parity",)
        for member in self.members:
            disk = member.disk
            is_first = disk.held_b or member.role not in roles
            if is_first or disk.width not in widths or disk.room_b >= largest_b:
                continue
            name = f"late {member.key} {member.role}"
            count = self.draft.program.variable(name, float(self._most(member)))
            row = count.copy().plus(member.count, -1.0)
            self.draft.program.require("late_chosen", row, "<=", 0.0)
            room.plus(count, -disk.room_b / BYTES_PER_TB)
            late.setdefault(disk.width, []).append(count)
        return late

    def _over(
        self, there: dict[str, list[Expression]], late: dict[str, list[Expression]]
    ) -> Iterable[Expression]:
        """Yield by how much drives beside the array exceed free bays and ports."""
        draft = self.draft
        large, small = by_width(draft)
        large.plus(draft.adapted).plus(bays_of(draft, lambda c: c.bays_35), -1.0)
        small.plus(draft.adapted, -1.0).plus(bays_of(draft, lambda c: c.bays_25), -1.0)
        ports = total((count, 1.0) for count in draft.on_port.values())
        ports.plus(self._ports(), -1.0)
        for width, row in (("3.5", large), ("2.5", small)):
            more = total((count, 1.0) for count in there.get(width, ()))
            more.plus(total((count, -1.0) for count in late.get(width, ())))
            more.plus(self._read_beside(width))
            if more.terms:
                ports.plus(more)
                yield row.plus(more)
        yield ports

    def _read_beside(self, width: str) -> Expression:
        """Return the drives of reused old arrays that are not part of the new one."""
        beside = Expression()
        for name, flag in self.reused.items():
            for key, disk, count in self.arrays[name].members:
                if disk.width == width and disk.where != "remote":
                    beside.plus(flag, float(count))
                    if key in self.draft.by_key:
                        beside.plus(self.draft.count(self.draft.by_key[key]), -1.0)
        return beside

    def _ports(self) -> Expression:
        """Return the ports of board and controllers."""
        draft, board = self.draft, self.draft.board_part
        ports = Expression(constant=float(board.sata_ports))
        for rule in board.sharing:
            if rule.ports_lost:
                ports.plus(rule_in_force(draft, rule), -float(rule.ports_lost))
        for item in draft.of(Controller):
            if isinstance(item.part, Controller):
                ports.plus(draft.count(item), float(item.part.n_ports))
        return ports

    def turns(self, beside: Expression) -> None:
        """Require, for each amount, room for the first source of at least as much."""
        program = self.draft.program
        free = beside.copy()
        for member in self.members:
            if not member.is_held:
                free.plus(member.count, member.disk.room_b / BYTES_PER_TB)
        for amount in sorted({m.source_b for m in self.held}):
            flag = program.variable(f"emptied from {amount}", 1.0)
            have = free.copy()
            for member in self.held:
                if member.source_b >= amount:
                    self._marks(flag, member)
                else:
                    given = max(0, member.disk.room_b - member.disk.held_b)
                    have.plus(member.count, given / BYTES_PER_TB)
            row = have.plus(flag, -amount / BYTES_PER_TB).plus(_SLACK)
            program.require("turn_room", row, ">=", 0.0)
