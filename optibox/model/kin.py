"""Items that differ in price, watts and losses alone: alike in all that fits."""

from collections.abc import Collection, Container, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.columns import Figure, Part

_WATTS = (
    "off_w",
    "standby_w",
    "spin_up_j",
    "deep_idle_loss_w",
    "loss_fixed_w",
    "loss_share",
    "loss_square",
)
_TOLD = (
    "id",
    "part_class",
    "price",
    "price_date",
    "label",
    "order_code",
    "link",
    "note",
    "source",
    "extras",
    "defaulted",
)
_VARIED = frozenset(("idle_w", "active_w", *_WATTS, *_TOLD))
"""Columns that no rule of fit reads but for limits on watts and money: the less of
each, the better; and those that say where a row is from."""

Kin = tuple[Item, ...]


def kin_of(items: tuple[Item, ...], in_boxes: Container[str]) -> tuple[Kin, ...]:
    """Return the items in groups of kin, in the order of their first members.

    Parameters
    ----------
    items : tuple of Item
        Items of one kind.
    in_boxes : container of str
        Keys of what can come in the box of something else: that costs nothing.
    """
    found: dict[object, list[Item]] = {}
    for item in items:
        figures = tuple(
            (name, repr(value)) for name, value in item.part if name not in _VARIED
        )
        known = tuple(getattr(item.part, name, None) is not None for name in _WATTS)
        mine = type(item.part), item.is_owned, item.key in in_boxes
        look = (*mine, known, figures)
        found.setdefault(look, []).append(item)
    return tuple(tuple(group) for group in found.values())


def absent(
    forced: Sequence[Item | None],
    records: tuple[type[Part], ...],
    kinds: tuple[tuple[Kin, ...], ...],
    rows: npt.NDArray[np.int64],
) -> npt.NDArray[np.float64]:
    """Return 0, or infinity where a row does not have an item that is forced.

    Parameters
    ----------
    forced : sequence of Item
        What must be there; of other kinds than those of the columns, nothing.
    records, kinds : tuples
        The kind of each column, and its items by kin.
    rows : array, shape (n_rows, n_columns)
        Places of each row's kin.

    Returns
    -------
    array, shape (n_forced, n_rows)
    """
    found = np.zeros((len(forced), len(rows)))
    for place, item in enumerate(forced):
        for column, record in enumerate(records):
            if item is not None and isinstance(item.part, record):
                has = [any(i.key == item.key for i in kin) for kin in kinds[column]]
                there = np.array(has, dtype=bool)[rows[:, column]]
                found[place] = np.where(there, 0.0, np.inf)
    return found


def beaten_of(items: tuple[Item, ...], kept: Collection[str]) -> frozenset[str]:
    """Return the keys of items of which a kin costs no more in any figure.

    In any build such a kin can stand in for the item: everything fits as before, and
    no cost, no watt and no current rises. Of equal ones the first by key stays. Owned
    items and those of limited stock are compared with nothing.

    Parameters
    ----------
    items : tuple of Item
        What is on offer.
    kept : collection of str
        Keys of items that stay in any case, and beat no other.
    """
    free = tuple(
        i for i in items if not i.is_owned and i.limit is None and i.key not in kept
    )
    return frozenset(key for kin in kin_of(free, ()) for key in _beaten(kin))


def _beaten(kin: Kin) -> Iterator[str]:
    """Yield the keys of kin that another one beats."""
    best: list[tuple[float, ...]] = []
    for figures, key in sorted((_figures(item), item.key) for item in kin):
        if any(all(a <= b for a, b in zip(r, figures, strict=True)) for r in best):
            yield key
        else:
            best.append(figures)


def _figures(item: Item) -> tuple[float, ...]:
    """Return the price and the watts of an item."""
    part = item.part
    others = (getattr(part, name, None) for name in _WATTS)
    watts = (figure.mid for figure in others if isinstance(figure, Figure))
    return item.pack_price, part.idle_dc_w, part.active_dc_w, *watts
