"""The items on offer, by kind, less those that no build of the scenario can use.

Whatever is left out here fails a rule in every build, whatever else is chosen.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

from optibox.build import Item, items_of
from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.figures.stages import processor_mb_s
from optibox.model.kin import beaten_of
from optibox.rules.leads import is_never_safe
from optibox.scenario import Scenario

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Offers:
    """Every usable item of a catalog under a scenario."""

    catalog: Catalog
    scenario: Scenario
    items: tuple[Item, ...]
    beaten: frozenset[str] = frozenset()
    """Keys of items that no build needs, since others beat them in every figure."""

    def of(self, *records: type[Part]) -> tuple[Item, ...]:
        """Return the items of some kinds."""
        if len(records) == 1:
            return self.by_kind.get(records[0], ())
        return tuple(item for record in records for item in self.of(record))

    @cached_property
    def by_kind(self) -> dict[type[Part], tuple[Item, ...]]:
        """Return the usable items by kind."""
        found: dict[type[Part], list[Item]] = {}
        for item in self.items:
            if item.key not in self.beaten and is_usable(item, self.scenario):
                found.setdefault(type(item.part), []).append(item)
        return {record: tuple(items) for record, items in found.items()}

    @cached_property
    def by_key(self) -> dict[str, Item]:
        """Return every item by key."""
        return {item.key: item for item in self.items}

    @cached_property
    def in_boxes(self) -> dict[str, int]:
        """Return what boxes can bring at most, per box, by key."""
        found: dict[str, int] = {}
        for item in self.items:
            for key, count in box_from_text(item.part.comes_with).items():
                found[key] = max(found.get(key, 0), count)
        return found

    @property
    def without_beaten(self) -> "Offers":
        """Return the offers less the items that others of their kin beat.

        What a spare or the scenario's insistence needs stays.
        """
        kept = {item.key for item in self.items if self.must_stay(item)}
        kept |= set(self.in_boxes)
        return replace(self, beaten=beaten_of(self.items, kept))

    def must_stay(self, item: Item) -> bool:
        """Return whether a spare or the scenario's insistence needs an item."""
        insisted = any(wanted in _names(item) for wanted in self.scenario.insist)
        return insisted or item.key in self.spares

    @cached_property
    def insisted(self) -> tuple[tuple[Item, ...], ...]:
        """Return the items of which the scenario insists on one, for each such wish."""
        usable = [item for items in self.by_kind.values() for item in items]
        return tuple(
            tuple(item for item in usable if wanted in _names(item))
            for wanted in self.scenario.insist
        )

    def shared(self, make: Callable[["Offers"], T]) -> T:
        """Return what depends on the offers alone, made once for all who ask."""
        if make not in self._shared:
            self._shared[make] = make(self)
        found: T = self._shared[make]
        return found

    @cached_property
    def _shared(self) -> dict[Callable[["Offers"], Any], Any]:
        return {}

    @cached_property
    def spares(self) -> dict[str, int]:
        """Return the pieces that lie on the shelf, by key of the bought item."""
        found: dict[str, int] = {}
        for spare in self.scenario.spares:
            found[spare.id] = found.get(spare.id, 0) + spare.count
        return found


def _names(item: Item) -> tuple[str, ...]:
    return item.key, item.part.id, item.owned.id if item.owned else ""


def offers_of(catalog: Catalog, scenario: Scenario) -> Offers:
    """Return the items on offer."""
    return Offers(catalog=catalog, scenario=scenario, items=items_of(catalog, scenario))


def is_usable(item: Item, scenario: Scenario) -> bool:
    """Return whether some build could hold the item without breaking a rule."""
    part = item.part
    checks: dict[type[Part], Callable[..., bool]] = {
        Chassis: _chassis,
        Board: _computes,
        Processor: _computes,
        PowerLead: lambda p, _: not is_never_safe(p),
        Controller: lambda p, _: p.pass_through != "no",
        Memory: lambda p, s: p.has_ecc or not s.needs.ecc,
    }
    if isinstance(part, HardDrive) and item.owned and item.owned.pending_sectors > 0:
        return False
    check = checks.get(type(part))
    return True if check is None else bool(check(part, scenario))


def _chassis(part: Chassis, scenario: Scenario) -> bool:
    limits = scenario.limits
    if limits.shape is not None and part.shape != limits.shape:
        return False
    if scenario.needs.hot_swap and not part.has_hot_plug:
        return False
    units = limits.rack_units
    return units is None or 1 <= part.rack_units <= units


def _computes(part: Board | Processor, scenario: Scenario) -> bool:
    """Return whether a processor (or the board it is soldered to) keeps up."""
    needs = scenario.needs
    if isinstance(part, Board):
        if needs.ecc and not part.has_ecc:
            return False
        if not part.has_soldered_processor:
            return True
    elif needs.ecc and not part.has_ecc:
        return False
    most = processor_mb_s(part, needs, has_network=True, has_parity=False)
    return most >= needs.fastest_mb_s


__all__ = [
    "BootMedium",
    "Cable",
    "Controller",
    "Cooler",
    "DisplayCard",
    "DriveAdapter",
    "MountingPlate",
    "NetworkCard",
    "NetworkLead",
    "Offers",
    "PowerSupply",
    "Riser",
    "SolidStateDrive",
    "is_usable",
    "offers_of",
]
