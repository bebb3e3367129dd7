"""Machines put together from counts, places and wirings."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import TYPE_CHECKING

from optibox.build import Build, DriveUse, Item, ItemCount, OperatingPlan, SlotUse
from optibox.catalog.attachment import Riser
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import BootMedium, SolidStateDrive
from optibox.certify.choosing import Counts
from optibox.certify.domain import Shelf
from optibox.certify.wirings import Device, Wiring

if TYPE_CHECKING:
    from optibox.build.records import Role


@dataclass(frozen=True)
class Platform:
    """What carries the rest."""

    parts: Counts
    board: Board
    chassis: Chassis
    boot: Item


@dataclass(frozen=True)
class Roles:
    """Which drives have which role."""

    data: Counts
    parity: Counts
    cache: Counts

    @property
    def n_parity(self) -> int:
        """Return the drives that hold nothing but parity."""
        return sum(n for _, n in self.parity)

    @property
    def arrangement(self) -> str:
        """Return the name of the cache arrangement."""
        return ("none", "single", "mirror")[sum(n for _, n in self.cache)]

    def named(self, boot: Item) -> list[Device]:
        """Return the drives by item and role, with their names."""
        devices = []
        groups: tuple[tuple[Role, Counts], ...] = (
            ("data", self.data),
            ("parity", self.parity),
            ("cache", self.cache),
            ("boot", ((boot, 1),)),
        )
        for role, counts in groups:
            number = 0
            for item, n in counts:
                names = tuple(f"{role}-{number + i}" for i in range(1, n + 1))
                devices.append(Device(item, role, names))
                number += n
        return devices


@dataclass(frozen=True)
class Hardware:
    """A machine without its operating plan."""

    platform: Platform
    roles: Roles
    devices: tuple[Device, ...]
    slots: tuple[SlotUse, ...]
    cards: Counts
    wiring: Wiring
    leads: Counts

    def build(self, operation: OperatingPlan, shelf: Shelf) -> Build:
        """Return the complete build."""
        drives = [
            DriveUse(name=name, key=d.item.key, role=d.role)
            for d in self.devices
            for name in d.names
        ]
        return Build(
            items=self.items(),
            drives=tuple(drives),
            connections=self.wiring.connections,
            slots=self.slots,
            operation=operation,
            spares=shelf.spares,
            postage=shelf.postage,
        )

    def items(self) -> tuple[ItemCount, ...]:
        """Return all pieces by item."""
        counts: Counter[str] = Counter()
        by_key = {}
        drives = [(d.item, len(d.names)) for d in self.devices]
        groups = (
            self.platform.parts,
            drives,
            self.cards,
            self.wiring.parts,
            self.leads,
        )
        for group in groups:
            for item, count in group:
                counts[item.key] += count
                by_key[item.key] = item
        return tuple(ItemCount(item=by_key[k], count=n) for k, n in counts.items())


def is_usb(part: Part) -> bool:
    """Return whether a boot medium is a stick."""
    return isinstance(part, BootMedium) and part.interface == "usb"


def is_module(part: Part) -> bool:
    """Return whether a drive goes into an M.2 socket."""
    if isinstance(part, SolidStateDrive):
        return part.form == "m2"
    return isinstance(part, BootMedium) and part.interface == "m2"


def in_order(items: Sequence[Item], slots: list[str]) -> bool:
    """Return whether equal cards come in the order of their slots: each pair once."""
    pairs = pairwise(zip(items, slots, strict=True))
    return all(a[0].key != b[0].key or a[1] < b[1] for a, b in pairs)


def slot_uses(items: Sequence[Item], slots: list[str]) -> tuple[SlotUse, ...]:
    """Return cards in slots, numbered by kind."""
    uses: list[SlotUse] = []
    numbers: Counter[str] = Counter()
    for item, slot in zip(items, slots, strict=True):
        word = item.part.kind.split()[0]
        numbers[word] += 1
        name = f"{word}-{numbers[word]}"
        uses.append(SlotUse(name=name, key=item.key, slot=slot))
    return tuple(uses)


def module_places(
    board: Board,
    used: tuple[SlotUse, ...],
    cards: dict[str, Item],
    devices: list[Device],
) -> Iterator[tuple[SlotUse, ...]]:
    """Yield every assignment of M.2 modules to sockets of the board and of risers.

    Sockets of one riser are equal (same slot, same lanes): they are filled in order.
    """
    taken = {use.slot for use in used}
    sockets = [s.name for s in board.slots if s.form == "m2" and s.name not in taken]
    for name, item in cards.items():
        if isinstance(item.part, Riser):
            sockets += [f"{name}.{n}" for n in range(1, item.part.n_sockets + 1)]
    modules = [(n, d.item) for d in devices if is_module(d.item.part) for n in d.names]
    for places in permutations(sockets, len(modules)):
        if not in_order([item for _, item in modules], list(places)):
            continue
        if not _fills_risersin_order(places):
            continue
        yield tuple(
            SlotUse(name=name, key=item.key, slot=place)
            for (name, item), place in zip(modules, places, strict=True)
        )


def _fills_risersin_order(places: tuple[str, ...]) -> bool:
    numbers: dict[str, list[int]] = {}
    for place in places:
        riser, dot, number = place.rpartition(".")
        if dot:
            numbers.setdefault(riser, []).append(int(number))
    return all(found == list(range(1, len(found) + 1)) for found in numbers.values())
