"""Leaving out items that no build below a ceiling can hold.

An item's own cost in place of the least of its kind lifts the sum of the kinds'
bounds; where it reaches the ceiling, no build with it is below. What a spare or the
scenario's insistence needs stays in any case.
"""

import math
from collections.abc import Callable, Iterable
from typing import Protocol

import numpy as np

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
from optibox.model.frames import Floats, Frames
from optibox.model.menu import Entry
from optibox.model.offers import Offers
from optibox.model.platform_bounds import Platforms, Wants
from optibox.rules.platform import cooler_suits

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
        """Return the bounds of its drives."""

    @property
    def frame_values(self) -> Floats:
        """Return the bound of each frame with its board."""

    @property
    def wants(self) -> Wants:
        """Return what it wants of the platform."""


def kept_items(
    frames: Frames, leaf: Place, bare: float, ceiling: float, postage: dict[str, float]
) -> Items:
    """Return the items that a build of a leaf below a ceiling can hold, by kind.

    Parameters
    ----------
    frames : Frames
        The frames with its board, with their costs.
    leaf : Place
        The entry on its board.
    bare : float
        Least cost of everything but the array's drives.
    ceiling : float
        What a build must be below.
    postage : dict
        Postage by seller.
    """
    offers = frames.platforms.offers
    least = float(leaf.frame_values.min())
    slack = ceiling - least + 1e-6 * max(1.0, abs(ceiling))
    lifts = _lifts(frames, leaf, bare, least)
    kept: Items = {}
    for record, items in offers.by_kind.items():
        lift = lifts.get(record)
        kept[record] = tuple(
            item
            for item in items
            if lift is None or offers.must_stay(item) or lift(item) <= slack
        )
    kept[Cable] = _plain_cables(offers, offers.of(Cable), postage)
    return kept


def _lifts(
    frames: Frames, leaf: Place, bare: float, least: float
) -> dict[type[Part], Callable[[Item], float]]:
    """Return, for each kind that has one, by how much an item lifts the bound."""
    platforms, wants = frames.platforms, leaf.wants
    board, costs = leaf.board.part, platforms.costs
    if not isinstance(board, Board):
        return {}
    memory = _memory_lifts(platforms, board)
    processors, coolers = _processor_lifts(frames, leaf)
    index = {item.key: number for number, item in enumerate(leaf.drives.table.items)}
    cache = {item.key for item in leaf.entry.cache}
    of_chassis = _least_by(frames, leaf, 1, frames.chassis, least)
    of_supply = _least_by(frames, leaf, 2, frames.supplies, least)
    floor = platforms.cards(board, wants)

    def card(item: Item) -> float:
        if not isinstance(item.part, Card):
            return math.inf
        return platforms.card_floor(item, board, wants) - floor

    return {
        Chassis: lambda i: of_chassis.get(i.key, math.inf),
        PowerSupply: lambda i: of_supply.get(i.key, math.inf),
        Processor: lambda i: processors.get(i.key, math.inf),
        Cooler: lambda i: coolers.get(i.key, math.inf),
        Memory: lambda i: memory.get(i.key, math.inf),
        HardDrive: lambda i: bare + float(leaf.drives.forced[index[i.key]]) - least,
        BootMedium: lambda i: costs[i.key] - platforms.boot,
        NetworkLead: lambda i: costs[i.key] - platforms.lead(wants.network_gbit_s),
        Controller: card,
        NetworkCard: card,
        Riser: card,
        DisplayCard: card,
        SolidStateDrive: lambda i: 0.0 if i.key in cache else math.inf,
    }


def _least_by(
    frames: Frames, leaf: Place, column: int, items: tuple[Item, ...], least: float
) -> dict[str, float]:
    """Return the lift of the best frame of each chassis or supply."""
    best = np.full(len(items), np.inf)
    np.minimum.at(best, frames.rows[:, column], leaf.frame_values)
    return {i.key: float(v) - least for i, v in zip(items, best, strict=True)}


def _processor_lifts(
    frames: Frames, leaf: Place
) -> tuple[dict[str, float], dict[str, float]]:
    """Return the lifts of processors and of coolers, each with its best partner.

    The frames hold the least of both together; the most of it over the leaf's frames
    is what a pair may at most stand in for.
    """
    platforms, board = frames.platforms, leaf.board.part
    if not isinstance(board, Board) or board.has_soldered_processor:
        return {}, {}
    costs = platforms.costs
    known = frames.processor_cost(leaf.wants.network_mb_s)
    most = float(known[np.isfinite(known)].max(initial=0.0))
    pairs = [
        (p.key, c.key, costs[p.key] + costs[c.key] - most)
        for p in platforms.processors(board)
        for c in platforms.offers.of(Cooler)
        if isinstance(p.part, Processor)
        and isinstance(c.part, Cooler)
        and cooler_suits(c.part, p.part)
    ]
    processors: dict[str, float] = {}
    coolers: dict[str, float] = {}
    for processor, cooler, lift in pairs:
        processors[processor] = min(processors.get(processor, math.inf), lift)
        coolers[cooler] = min(coolers.get(cooler, math.inf), lift)
    return processors, coolers


def _memory_lifts(platforms: Platforms, board: Board) -> dict[str, float]:
    table = platforms.memory(board)
    return {
        item.key: platforms.costs[item.key]
        + table[max(0, len(table) - 1 - gib)]
        - table[-1]
        for item, gib in platforms.modules(board)
    }


def _plain_cables(
    offers: Offers, cables: Iterable[Item], postage: dict[str, float]
) -> tuple[Item, ...]:
    """Leave out cables that another of the same ends replaces at no more cost."""
    kept: list[Item] = []
    for item in sorted(cables, key=lambda i: (i.pack_price, i.key)):
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
