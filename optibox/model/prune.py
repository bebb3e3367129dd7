"""Leaving out items that no build below a ceiling can hold.

An item's own cost in place of the least of its kind lifts the sum of the kinds'
bounds; where it reaches the ceiling, no build with it is below. What a spare or the
scenario's insistence needs stays in any case.
"""

import math
from collections.abc import Callable, Iterable
from typing import Protocol

from optibox.build import Item
from optibox.catalog.attachment import (
    Cable,
    Card,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.model.drive_bounds import DriveBound
from optibox.model.menu import Entry
from optibox.model.offers import Offers
from optibox.model.platform_bounds import PlatformBound, Platforms, Wants

Items = dict[type[Part], tuple[Item, ...]]


class Place(Protocol):
    """What of a leaf decides which items matter."""

    @property
    def entry(self) -> Entry:
        """Return the entry."""

    @property
    def board(self) -> Item:
        """Return the board."""

    @property
    def drives(self) -> DriveBound:
        """Return the bound of its drives."""

    @property
    def cache_cost(self) -> float:
        """Return what its cache adds."""

    @property
    def wants(self) -> Wants:
        """Return what it wants of the platform."""


def kept_items(
    offers: Offers,
    platforms: Platforms,
    leaf: Place,
    ceiling: float,
    postage: dict[str, float],
) -> Items:
    """Return the items that a build of a leaf below a ceiling can hold, by kind."""
    floor = platforms.bound(leaf.board, leaf.wants)
    room = ceiling - (floor.value + leaf.drives.value + leaf.cache_cost)
    slack = room + 1e-6 * max(1.0, abs(ceiling))
    lifts = _lifts(platforms, leaf, floor)
    kept: Items = {}
    for record, items in offers.by_kind.items():
        lift = lifts.get(record)
        kept[record] = tuple(
            item
            for item in items
            if lift is None or must_stay(offers, item) or lift(item) <= slack
        )
    kept[Cable] = _plain_cables(offers, offers.of(Cable), postage)
    return kept


def must_stay(offers: Offers, item: Item) -> bool:
    """Return whether a spare or the scenario's insistence needs an item."""
    names = (item.key, item.part.id, item.owned.id if item.owned else "")
    return item.key in offers.spares or any(w in names for w in offers.scenario.insist)


def _lifts(
    platforms: Platforms, leaf: Place, floor: PlatformBound
) -> dict[type[Part], Callable[[Item], float]]:
    """Return, for each kind that has one, by how much an item lifts the bound."""
    board, wants, costs = leaf.board.part, leaf.wants, platforms.costs
    if not isinstance(board, Board):
        return {}
    chassis = {i.key for i in platforms.chassis(board, wants)}
    supplies = {i.key for i in platforms.supplies(board)}
    processors = {i.key for i in platforms.processors(board)}
    memory = _memory_lifts(platforms, board, floor.memory)
    index = {item.key: number for number, item in enumerate(leaf.drives.table.items)}
    cache = {item.key for item in leaf.entry.cache}

    def card(item: Item) -> float:
        if not isinstance(item.part, Card):
            return math.inf
        return platforms.card_floor(item, board, wants) - floor.cards

    def among(keys: set[str], cost: Callable[[Item], float]) -> Callable[[Item], float]:
        return lambda item: cost(item) if item.key in keys else math.inf

    return {
        Chassis: among(chassis, lambda i: costs[i.key] - floor.chassis),
        PowerSupply: among(
            supplies, lambda i: platforms.supply_cost(i, board) - floor.supply
        ),
        Processor: among(processors, lambda i: costs[i.key] - floor.processor),
        Cooler: lambda i: costs[i.key] - floor.cooler,
        Memory: lambda i: memory.get(i.key, math.inf),
        HardDrive: lambda i: leaf.drives.forced(index[i.key]) - leaf.drives.value,
        BootMedium: lambda i: costs[i.key] - floor.boot,
        NetworkLead: lambda i: costs[i.key] - floor.lead,
        Controller: card,
        NetworkCard: card,
        Riser: card,
        DisplayCard: card,
        SolidStateDrive: among(cache, lambda _: 0.0),
    }


def _memory_lifts(platforms: Platforms, board: Board, floor: float) -> dict[str, float]:
    table = platforms.memory(board)
    return {
        item.key: platforms.costs[item.key]
        + table[max(0, len(table) - 1 - gib)]
        - floor
        for item, gib in platforms.modules(board)
    }


def _plain_cables(
    offers: Offers, cables: Iterable[Item], postage: dict[str, float]
) -> tuple[Item, ...]:
    """Leave out cables that another of the same ends replaces at no more cost."""
    boxed = {
        key for offer in offers.items for key in box_from_text(offer.part.comes_with)
    }
    kept: list[Item] = []
    for item in sorted(cables, key=lambda i: (i.pack_price, i.key)):
        special = must_stay(offers, item) or item.is_owned or item.key in boxed
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
