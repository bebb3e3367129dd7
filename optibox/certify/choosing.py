"""Choosing so many of some items."""

from collections.abc import Iterator, Sequence

from optibox.build import Item

Counts = tuple[tuple[Item, int], ...]


def multisets(items: Sequence[Item], least: int, most: int) -> Iterator[Counts]:
    """Yield every choice of ``least`` to ``most`` pieces, within what is to be had."""
    if not items:
        if least <= 0:
            yield ()
        return
    first, rest = items[0], items[1:]
    top = most if first.limit is None else min(most, first.limit)
    for count in range(top + 1):
        for others in multisets(rest, least - count, most - count):
            yield ((first, count), *others) if count else others
