"""What is there when a swap is considered: parts in hand, and parts on offer.

A machine that stands already has cost what it has cost: its parts are in hand and a
swap is paid by what has to be bought for it. A machine that is only planned is paid
as a whole.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

from optibox.build import Build, Item, ItemCount
from optibox.build.items import OWNED_SUFFIX, items_of
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.scenario import OwnedPart, Scenario

P = TypeVar("P", bound=Part)
HAD_SUFFIX = "@had"
"""Ends the key of a bought item of a machine that stands already."""


def in_hand(build: Build) -> Build:
    """Return a build whose bought pieces are owned: they cost nothing any more.

    Wear still counts at the price of a new piece, as for every owned part.
    """
    boxed = _boxes(build)
    keys = {e.item.key: _had(e, boxed) for e in build.items if not e.item.is_owned}

    def key_of(key: str) -> str:
        return keys[key].key if key in keys else key

    return replace(
        build,
        items=tuple(
            ItemCount(item=keys.get(e.item.key, e.item), count=e.count)
            for e in build.items
        ),
        drives=tuple(replace(d, key=key_of(d.key)) for d in build.drives),
        connections=tuple(
            replace(c, cable_key=key_of(c.cable_key), adapter_key=key_of(c.adapter_key))
            for c in build.connections
        ),
        slots=tuple(replace(s, key=key_of(s.key)) for s in build.slots),
        power=tuple(replace(p, key=key_of(p.key)) for p in build.power),
        spares=tuple(
            ItemCount(item=keys.get(e.item.key) or _had(e, Counter()), count=e.count)
            if not e.item.is_owned
            else e
            for e in build.spares
        ),
    )


def _boxes(build: Build) -> Counter[str]:
    """Return the pieces that lay in the boxes of what was bought."""
    boxed: Counter[str] = Counter()
    for entry in build.items:
        if not entry.item.is_owned:
            for key, count in box_from_text(entry.item.part.comes_with).items():
                boxed[key] += count * entry.count
    return boxed


def _had(entry: ItemCount, boxed: Counter[str]) -> Item:
    """Return a bought item as owned, with what its packs and boxes hold."""
    item = entry.item
    there = max(item.packs(entry.count) * item.part.pack, boxed[item.key])
    owned = OwnedPart(id=item.part.id, count=min(100, there), holds_data=False)
    key = item.key + HAD_SUFFIX
    return Item(key=key, part=item.part, owned=owned, limit=there)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Every item that a changed machine may be made of."""

    items: tuple[Item, ...]
    postage: tuple[tuple[str, float], ...]
    memory: dict[tuple[object, ...], Counter[str] | None] = field(default_factory=dict)
    """Power leads found for a need, which many machines share."""

    @cached_property
    def by_key(self) -> dict[str, Item]:
        """Return the items by key."""
        return {item.key: item for item in self.items}

    @cached_property
    def _by_kind(self) -> dict[type[Part], tuple[Item, ...]]:
        found: dict[type[Part], list[Item]] = {}
        for item in self.items:
            found.setdefault(type(item.part), []).append(item)
        return {kind: tuple(items) for kind, items in found.items()}

    def of(self, record: type[Part]) -> tuple[Item, ...]:
        """Return the items of one kind, those in hand first, then by price."""
        return self._by_kind.get(record, ())

    @cached_property
    def post_of(self) -> dict[str, float]:
        """Return the postage of each seller. [currency]."""
        return dict(self.postage)


def stock_of(build: Build, catalog: Catalog, scenario: Scenario) -> Stock:
    """Return what there is: the build's own items, other owned ones, the catalog.

    Parameters
    ----------
    build : Build
        The machine; what is owned in it costs nothing.
    catalog : Catalog
        What can be bought.
    scenario : Scenario
        Its bans hold for what is bought, not for what is in the machine.
    """
    own = [e.item for e in build.items]
    known = {item.key for item in own}
    offers = [item for item in items_of(catalog, scenario) if item.key not in known]
    taken = {i.part.id for i in own if i.key.endswith(OWNED_SUFFIX)}
    offers = [i for i in offers if not (i.is_owned and i.part.id in taken)]
    items = sorted([*own, *offers], key=lambda i: (i.pack_price, i.key))
    items.sort(key=lambda i: not i.is_owned)
    postage = dict(build.postage) | catalog.postage
    return Stock(items=tuple(items), postage=tuple(sorted(postage.items())))
