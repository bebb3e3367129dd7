"""Owned drives as a program sees them: what they hold, and what is emptied together."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.build import Item
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.columns import Part
from optibox.catalog.storage import Drive, HardDrive
from optibox.migration import Disk
from optibox.migration.task import described
from optibox.scenario import OwnedPart, Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class OldArray:
    """Drives that are read together."""

    name: str
    held_b: int
    """What all of them hold, those beside the new machine included. [B]"""
    has_copy: bool
    comes_back: bool
    members: tuple[tuple[str, Disk, int], ...]
    """Keys, what one piece is, pieces."""


def to_save(disk: Disk, array: OldArray | None) -> int:
    """Return what has to be saved before a drive is emptied. [B].

    All that its old array holds, or what it holds itself; nothing where that lies a
    second time elsewhere.
    """
    source = array or disk
    return 0 if source.has_copy else source.held_b


def empty_beside(
    scenario: Scenario, drives: tuple[Item, ...]
) -> Iterator[tuple[str, Disk, int]]:
    """Yield the empty hard drives that are owned or lie on the shelf, and how many.

    Those of old arrays that hold files are left out, and those with pending sectors.
    """
    in_use = {
        owned.old_array
        for owned, part in lots_of(scenario, drives)
        if owned.old_array and not owned.holds_nothing
    }
    for owned, part in lots_of(scenario, drives):
        if isinstance(part, HardDrive):
            item = Item(key=owned.id + OWNED_SUFFIX, part=part, owned=owned)
            disk = disk_of(item, scenario)
            if not (disk.held_b or disk.is_failing or owned.old_array in in_use):
                yield owned.id, disk, owned.count
    by_key = {item.key: item for item in drives}
    for number, spare in enumerate(scenario.spares, 1):
        if spare.id in by_key:
            yield f"spare {number}", disk_of(by_key[spare.id], scenario), spare.count


def disk_of(item: Item, scenario: Scenario) -> Disk:
    """Return what one piece of an item brings to a move of data."""
    share = 1.0 - scenario.overrides.filesystem_reserve.mid
    return described(item.part, item.owned, share, is_home=False)


def lots_of(
    scenario: Scenario, on_offer: tuple[Item, ...]
) -> Iterator[tuple[OwnedPart, Part]]:
    """Yield the owned drives with their parts, whether a build may use them or not."""
    parts = {item.key: item.part for item in on_offer}
    for owned in scenario.owned:
        part = owned.part or parts.get(owned.id + OWNED_SUFFIX)
        if isinstance(part, Drive):
            yield owned, part


def old_arrays(scenario: Scenario) -> dict[str, OldArray]:
    """Return the old arrays by name.

    A lot of which no part is known is seen beside no machine, and is left out.
    """
    share = 1.0 - scenario.overrides.filesystem_reserve.mid
    groups: dict[str, list[tuple[str, Disk, int]]] = {}
    for owned, part in lots_of(scenario, ()):
        if owned.old_array:
            disk = described(part, owned, share, is_home=False)
            member = (owned.id + OWNED_SUFFIX, disk, owned.count)
            groups.setdefault(owned.old_array, []).append(member)
    return {
        name: OldArray(
            name=name,
            held_b=sum(disk.held_b * count for _, disk, count in members),
            has_copy=all(d.has_copy or not d.held_b for _, d, _ in members),
            comes_back=any(d.comes_back and d.held_b for _, d, _ in members),
            members=tuple(members),
        )
        for name, members in groups.items()
    }
