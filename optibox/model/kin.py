"""Items that differ in price, watts and losses alone: alike in all that fits."""

from collections.abc import Collection, Container, Iterator

from optibox.build import Item
from optibox.catalog.columns import Figure

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
