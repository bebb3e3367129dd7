"""Items that differ in price, watts and losses alone: alike in all that fits."""

from collections.abc import Container

from optibox.build import Item

_VARIED = frozenset(
    {
        "id",
        "name",
        "price",
        "idle_w",
        "active_w",
        "off_w",
        "deep_idle_loss_w",
        "loss_fixed_w",
        "loss_share",
        "loss_square",
    }
)
"""Columns that no rule of fit reads but for limits on watts and money."""

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
        look = (figures, item.is_owned, item.key in in_boxes)
        found.setdefault(look, []).append(item)
    return tuple(tuple(group) for group in found.values())
