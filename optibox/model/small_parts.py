"""The least that plates, plugs and cables beyond those at hand can cost."""

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import Cable, Controller, Riser
from optibox.catalog.platform import (
    Board,
    Chassis,
    Memory,
    PowerLead,
    PowerSupply,
)
from optibox.catalog.storage import DriveAdapter, HardDrive, SolidStateDrive
from optibox.model.platform_bounds import Platforms

MOST_PLUGS = 24
"""Beyond so many missing plugs the bound stays where it is."""
INF = float("inf")


def plug_prices(platforms: Platforms, plug: str) -> npt.NDArray[np.float64]:
    """Return the least price of n more plugs of a type, n from 0 on.

    What the plugs carry is left out: a splitter of many may hold few heavy drives.
    """
    weights, offers = platforms.weights, platforms.offers
    options = []
    for item in offers.of(PowerLead):
        part = item.part
        if not isinstance(part, PowerLead) or part.gives_plug != plug:
            continue
        free = item.is_owned or item.key in platforms.in_boxes
        price = 0.0 if free else weights.price(item)
        gain = part.fan_out - (part.takes_plug == plug)
        options.append((gain, price + weights.piece(item)))
    best = np.full(MOST_PLUGS + 1, np.inf)
    best[0] = 0.0
    for size in range(1, MOST_PLUGS + 1):
        best[size] = min(
            (best[max(0, size - gain)] + price for gain, price in options if gain > 0),
            default=np.inf,
        )
    return best


def served_elsewhere(platforms: Platforms, n_drives: int) -> float:
    """Return the drives that cables in boxes of kinds beside the frame's serve at most.

    Those are all but board, chassis, supply and controllers: the best box of each, as
    often as a build can hold one.
    """
    return sum(
        (n_drives + MOST_LOOSE if record in _SEVERAL else 1)
        * max((platforms.cables_in_box(i) for i in items), default=0.0)
        for record, items in platforms.offers.by_kind.items()
        if record not in (Board, Chassis, PowerSupply, Controller)
    )


_SEVERAL = (
    Cable,
    DriveAdapter,
    HardDrive,
    Memory,
    PowerLead,
    Riser,
    SolidStateDrive,
)
"""Kinds of which a build holds several pieces."""
MOST_LOOSE = 16
"""More pieces of a kind than drives that a build holds at most."""


def postage_of(
    platforms: Platforms,
    kinds: tuple[tuple[Item, ...], ...],
    rows: npt.NDArray[np.int64],
    sellers: set[str],
) -> npt.NDArray[np.float64]:
    """Return the postage of some sellers, where a row has something of theirs.

    Parameters
    ----------
    platforms : Platforms
        Weights, and what boxes bring.
    kinds : tuple of tuples
        The items of each column.
    rows : array, shape (n_rows, n_kinds)
        Places of each row's items.
    sellers : set of str
        Whose postage counts.

    Returns
    -------
    array, shape (n_rows,)
    """
    postage, weight = platforms.offers.catalog.postage, platforms.weights.purchase
    total = np.zeros(len(rows))
    for seller in sorted(sellers):
        is_sold = np.zeros(len(rows), dtype=bool)
        for column, items in enumerate(kinds):
            sold = [
                not i.is_owned
                and i.part.seller == seller
                and i.key not in platforms.in_boxes
                for i in items
            ]
            is_sold |= np.array(sold, dtype=bool)[rows[:, column]]
        total += weight * postage[seller] * is_sold
    return total
