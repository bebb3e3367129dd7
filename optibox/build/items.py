"""Items: what can go into a build, bought from the catalog or owned already."""

from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TypeVar

from optibox.catalog.attachment import Controller
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.storage import Drive, HardDrive
from optibox.scenario import OwnedPart, Scenario

OWNED_SUFFIX = "@owned"
P = TypeVar("P", bound=Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A part on offer: bought at its price, or owned with its history."""

    key: str
    part: Part
    owned: OwnedPart | None = None
    limit: int | None = None
    """Most pieces to be had; nothing = any number."""

    @property
    def is_owned(self) -> bool:
        """Return whether the item is there already."""
        return self.owned is not None

    @property
    def pack_price(self) -> float:
        """Return what one pack costs now; owned items cost nothing. [currency]."""
        return 0.0 if self.owned else self.part.price.mid

    @property
    def replacement_price(self) -> float:
        """Return what a new piece would cost. [currency]."""
        if self.owned and self.owned.replacement_price is not None:
            return self.owned.replacement_price.mid
        return self.part.price.mid / self.part.pack

    @property
    def starts(self) -> float:
        """Return the start/stop cycles used so far."""
        return self.owned.starts if self.owned else 0.0

    def part_as(self, record: type[P]) -> P:
        """Return the part as one of a kind.

        Raises
        ------
        TypeError
            If the item is of another kind.
        """
        if not isinstance(self.part, record):
            wanted = record.kind or record.__name__.lower()
            msg = f"{self.key} is not a {wanted}, but a {self.part.kind}"
            raise TypeError(msg)
        return self.part

    @property
    def capacity_bytes(self) -> int:
        """Return the bytes that the array sees, without hidden sectors.

        Raises
        ------
        TypeError
            If the item is not a drive.
        """
        hidden = self.owned.hidden_sectors if self.owned else 0
        return self.part_as(Drive).capacity_bytes - 512 * hidden

    def packs(self, count: int) -> int:
        """Return the packs that hold ``count`` pieces."""
        return -(-count // self.part.pack)

    def cost(self, count: int) -> float:
        """Return the purchase price of ``count`` pieces. [currency]."""
        return self.packs(count) * self.pack_price


def items_of(catalog: Catalog, scenario: Scenario) -> tuple[Item, ...]:
    """Return everything on offer under a scenario: owned items, then bought ones.

    Rows that the scenario bans are left out, as are rows out of stock.
    """
    owned = tuple(_owned_items(catalog, scenario))
    bought = (
        Item(
            key=part.id,
            part=part,
            limit=None if part.stock is None else part.stock * part.pack,
        )
        for part in catalog.parts
    )
    offers = owned + tuple(item for item in bought if item.limit != 0)
    return tuple(
        item for item in offers if not any(_is_hit(item, ban) for ban in scenario.ban)
    )


def _owned_items(catalog: Catalog, scenario: Scenario) -> Iterator[Item]:
    for owned in scenario.owned:
        part = owned.part or catalog.by_id.get(owned.id)
        if part is None:
            msg = f"owned part {owned.id} is in no catalog"
            raise KeyError(msg)
        yield Item(
            key=owned.id + OWNED_SUFFIX, part=part, owned=owned, limit=owned.count
        )


def _is_hit(item: Item, ban: str) -> bool:
    scheme, _, name = ban.rpartition(":")
    if scheme == "class":
        return item.part.part_class == name
    if scheme == "kind":
        return item.part.kind == name
    if scheme == "feature":
        return has_feature(item.part, name)
    return fnmatchcase(item.key, ban) or fnmatchcase(item.part.id, ban)


FEATURES = ("shingled", "multiplier", "m2-controller", "flash-stick")


def has_feature(part: Part, feature: str) -> bool:
    """Return whether a part has a feature that a scenario can rule out."""
    if feature == "shingled":
        return isinstance(part, HardDrive) and part.recording == "shingled"
    if feature == "multiplier":
        return isinstance(part, Controller) and part.is_multiplied
    if feature == "m2-controller":
        return isinstance(part, Controller) and part.bus == "m2"
    if feature == "flash-stick":
        return bool(getattr(part, "is_flash_stick", False))
    return False
