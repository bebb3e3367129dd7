"""Changes of a machine in words."""

from collections.abc import Iterable

from optibox.build import Item
from optibox.present.words import clean
from optibox.running.swap_changes import Change
from optibox.running.swaps import Swap

ARROW = "->"
_ROLE_WORDS = {
    "data": "data drive",
    "parity": "parity drive",
    "cache": "cache drive",
    "boot": "boot medium",
}


def place_words(change: Change) -> str:
    """Return what is changed: a kind of part, or the role of a drive."""
    return _ROLE_WORDS.get(change.role or "", change.kind)


def change_words(change: Change) -> str:
    """Return one change as what goes out and what comes in."""
    place = place_words(change)
    if change.out is None:
        return f"{_pieces(change.n_in)}{place} put in: {item_words(change.into)}"
    if change.into is None:
        gone = clean(change.out.part.name)
        return f"{_pieces(change.n_out)}{place} out: {gone}"
    count = _pieces(change.n_out)
    if change.n_in != change.n_out:
        count = f"{change.n_out} {ARROW} {change.n_in} x "
    names = f"{clean(change.out.part.name)} {ARROW} {item_words(change.into)}"
    return f"{count}{place}: {names}"


def _pieces(count: int) -> str:
    return "" if count == 1 else f"{count} x "


def item_words(item: Item | None) -> str:
    """Return an item's name, and whether it is there already."""
    if item is None:
        return ""
    return clean(item.part.name) + (" (in hand)" if item.is_owned else "")


def swap_words(changes: Iterable[Change]) -> str:
    """Return the changes of a swap in one sentence part."""
    return "; ".join(change_words(change) for change in changes)


def same_place(swap: Swap) -> tuple[object, ...]:
    """Return what swaps share that change the same pieces for something else."""
    return tuple(
        sorted(
            (c.kind, c.role or "", c.out.key if c.out else "", c.n_out > 1)
            for c in swap.changes
        )
    )
