"""What each operation moves over a link, by layout and write mode.

The program turns the same functions into limits on how many drives share a link.
"""

from dataclasses import dataclass

from optibox.physics import moves
from optibox.physics.moves import LinkMembers, Moved


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayOnLink:
    """The array as one link sees it."""

    layout: str
    n_parity: int
    reconstructs: bool
    data_on: int
    parity_on: int
    data_all: int

    @property
    def members(self) -> LinkMembers:
        """Return the counts; a stripe's members are split into data and parity."""
        if self.layout == "striped":
            data_all = max(1, self.data_all - self.n_parity)
            data_on = min(self.data_on, data_all)
            return LinkMembers(data_on, self.data_on - data_on, data_all, self.n_parity)
        return LinkMembers(
            self.data_on, self.parity_on, max(1, self.data_all), self.n_parity
        )


def moved_by_write(array: ArrayOnLink) -> Moved:
    """Return what writing to the array moves over the link. [MB per user MB]."""
    if array.layout == "striped":
        return moves.moved_stripe_write(array.members)
    if array.layout == "pairs":
        return moves.moved_pairs_write(min(2, array.data_on))
    if array.layout == "striped pairs":
        return moves.moved_pairs_write(2.0 * array.data_on / array.data_all)
    if array.n_parity == 0:
        return moves.moved_plain_write(array.members)
    if array.reconstructs:
        return moves.moved_reconstruct_write(array.members)
    return moves.moved_read_modify_write(array.members)


def moved_by_read(array: ArrayOnLink) -> Moved:
    """Return what reading one file moves over the link. [MB per user MB]."""
    if array.layout == "striped":
        return moves.moved_stripe_read(array.members)
    if array.layout == "pairs":
        return moves.moved_pairs_read(min(1, array.data_on))
    if array.layout == "striped pairs":
        half = array.data_all / 2.0
        return moves.moved_pairs_read(min(array.data_on, half) / half)
    return moves.moved_independent_read(array.members)


def moved_by_degraded_read(array: ArrayOnLink) -> Moved:
    """Return what reading a file of a failed drive moves. [MB per user MB]."""
    if "pairs" in array.layout or array.n_parity == 0:
        return moved_by_read(array)
    if array.layout == "striped":
        return moves.moved_stripe_degraded_read(array.members)
    return moves.moved_degraded_read(array.members)
