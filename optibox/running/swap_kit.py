"""A machine without its wiring: the parts that are chosen, not those that follow.

Cables, drive adapters, power leads, mounting plates and network leads follow from the
rest, as a cooler does from a new processor. What follows is worked out anew for each
changed machine and its price is counted.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TypeVar

from optibox.build import Build, Item, ItemCount, OperatingPlan
from optibox.build.records import Role
from optibox.catalog.attachment import Cable, Card
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    Processor,
)
from optibox.catalog.storage import BootMedium, Drive, DriveAdapter

P = TypeVar("P", bound=Part)
FOLLOWERS = (Cable, DriveAdapter, PowerLead, MountingPlate)
"""Kinds that are worked out from the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A drive, module or card with its name; ``role`` is blank for cards."""

    name: str
    item: Item
    role: Role | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """The chosen parts of a machine and how it is run."""

    loose: tuple[ItemCount, ...]
    placed: tuple[Placed, ...]
    operation: OperatingPlan

    def one(self, record: type[P]) -> P | None:
        """Return the only part of a kind among those that sit nowhere by name."""
        for entry in self.loose:
            if isinstance(entry.item.part, record):
                return entry.item.part
        return None

    def of(self, record: type[P]) -> list[tuple[P, int]]:
        """Return the loose parts of a kind with their counts."""
        return [
            (e.item.part, e.count)
            for e in self.loose
            if isinstance(e.item.part, record)
        ]

    @property
    def cards(self) -> list[Placed]:
        """Return what goes into slots and is no drive."""
        return [p for p in self.placed if p.role is None]

    @property
    def drives(self) -> list[Placed]:
        """Return drives and boot media."""
        return [p for p in self.placed if p.role is not None]

    def counts(self) -> Counter[str]:
        """Return how many of each item there are."""
        found = Counter({e.item.key: e.count for e in self.loose})
        found.update(p.item.key for p in self.placed)
        return found

    def with_loose(self, entries: Iterable[ItemCount]) -> "Kit":
        """Return the kit with other loose parts, equal ones joined."""
        counts: Counter[str] = Counter()
        by_key: dict[str, Item] = {}
        for entry in entries:
            counts[entry.item.key] += entry.count
            by_key[entry.item.key] = entry.item
        return replace(
            self,
            loose=tuple(
                ItemCount(item=by_key[key], count=n) for key, n in counts.items() if n
            ),
        )


def kit_of(build: Build) -> Kit:
    """Return the chosen parts of a build."""
    drives = {use.name for use in build.drives}
    placed = [
        Placed(name=use.name, item=build.item(use.key), role=use.role)
        for use in build.drives
    ]
    placed += [
        Placed(name=use.name, item=build.item(use.key))
        for use in build.slots
        if use.name not in drives
    ]
    return Kit(
        loose=tuple(e for e in build.items if is_loose(e.item.part)),
        placed=tuple(placed),
        operation=build.operation,
    )


def is_loose(part: Part) -> bool:
    """Return whether a part is chosen and sits in no slot, bay or port of its own."""
    return not isinstance(part, (*FOLLOWERS, Card, Drive, BootMedium))


def fits_on_paper(kit: Kit) -> bool:
    """Return whether board, processor and memory can go together at all.

    The evaluator has the last word; this spares it what is plainly impossible.
    """
    board = kit.one(Board)
    if board is None:
        return False
    processor = kit.one(Processor)
    if board.has_soldered_processor != (processor is None):
        return False
    if processor is not None and processor.socket != board.socket:
        return False
    modules = kit.of(Memory)
    return sum(n for _, n in modules) <= board.memory_slots and all(
        m.memory_type == board.memory_type
        and m.form == board.memory_form
        and m.is_registered == board.takes_registered
        for m, _ in modules
    )


def without_idle_core(kit: Kit) -> Kit:
    """Return the kit without processor and cooler where the board needs none."""
    board = kit.one(Board)
    if board is None or not board.has_soldered_processor:
        return kit
    return kit.with_loose(
        e for e in kit.loose if not isinstance(e.item.part, Processor | Cooler)
    )
