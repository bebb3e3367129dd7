"""Leaving out items that no build below a ceiling can hold.

How little a build with an item can cost is asked of the bounds themselves, with the
item in it (``Gauge.values_with``); nothing is estimated here.
"""

from collections.abc import Iterable, Mapping

from optibox.build import Item
from optibox.catalog.attachment import Cable
from optibox.catalog.columns import Part
from optibox.catalog.storage import SolidStateDrive
from optibox.model.offers import Offers

Items = dict[type[Part], tuple[Item, ...]]


def kept_items(
    offers: Offers, least: Mapping[str, float], cache: Iterable[Item], most: float
) -> Items:
    """Return the items that a build of an entry worth no more than so much can hold.

    Parameters
    ----------
    offers : Offers
        What there is.
    least : mapping
        The least that a build with an item is worth, by key; items that are not in it
        stay.
    cache : iterable of Item
        The solid-state drives of the entry: it has these and no others.
    most : float
        What a build may be worth.
    """
    kept: Items = {}
    mine = {item.key for item in cache}
    room = most + 1e-6 * max(1.0, abs(most))
    for record, items in offers.by_kind.items():
        is_cache = record is SolidStateDrive
        kept[record] = tuple(
            item
            for item in items
            if offers.must_stay(item)
            or (item.key in mine if is_cache else least.get(item.key, room) <= room)
        )
    return kept


def plain_cables(offers: Offers, postage: dict[str, float]) -> tuple[Item, ...]:
    """Leave out cables that another of the same ends replaces at no more cost."""
    kept: list[Item] = []
    for item in sorted(offers.of(Cable), key=lambda i: (i.pack_price, i.key)):
        special = offers.must_stay(item) or item.is_owned or item.key in offers.in_boxes
        if special or not any(_replaces(other, item, postage) for other in kept):
            kept.append(item)
    return tuple(kept)


def _replaces(other: Item, item: Item, postage: dict[str, float]) -> bool:
    ours, theirs = item.part, other.part
    if not isinstance(ours, Cable) or not isinstance(theirs, Cable):
        return False
    same = (ours.direction, ours.controller_end, ours.drive_end) == (
        theirs.direction,
        theirs.controller_end,
        theirs.drive_end,
    )
    free_post = theirs.seller == ours.seller or theirs.seller not in postage
    plain = theirs.pack == 1 and other.limit is None and not other.is_owned
    return (
        same and free_post and plain and other.pack_price <= item.pack_price / ours.pack
    )
