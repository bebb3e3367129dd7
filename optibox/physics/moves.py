"""What one operation moves over one link.

Every function returns the MB that move up and down the link for each user MB; *up*
means towards the processor. Where the target drive may be any, the figures are those
of the worst target, direction by direction: on a link whose directions share one
budget their sum errs on the safe side, by one target drive at most.
"""

from dataclasses import dataclass
from typing import TypeAlias

Moved: TypeAlias = tuple[float, float]
"""Up and down a link, for each user MB. [MB/MB]"""


@dataclass(frozen=True, slots=True)
class LinkMembers:
    """How many drives of an array hang on one link, and how many there are in all.

    Attributes
    ----------
    data_on, parity_on : int
        Data and parity drives behind the link.
    data_all, parity_all : int
        Data and parity drives of the whole array. In a striped array, whose drives
        are all alike, they say how many drives' worth is data and parity; how the
        members on the link are split over the two fields makes no difference there.
    """

    data_on: int
    parity_on: int
    data_all: int
    parity_all: int

    def __post_init__(self) -> None:
        """Refuse counts that contradict each other."""
        if not (0 <= self.data_on <= self.data_all and self.data_all >= 1):
            msg = f"{self.data_on} of {self.data_all} data drives on a link."
            raise ValueError(msg)
        if not 0 <= self.parity_on <= self.parity_all:
            msg = f"{self.parity_on} of {self.parity_all} parity drives on a link."
            raise ValueError(msg)


def moved_network_receive() -> Moved:
    """Return what receiving moves over a link that the network card sits on.

    Examples
    --------
    >>> moved_network_receive()
    (1.0, 0.0)
    """
    return 1.0, 0.0


def moved_network_send() -> Moved:
    """Return what sending moves over a link that the network card sits on.

    Examples
    --------
    >>> moved_network_send()
    (0.0, 1.0)
    """
    return 0.0, 1.0


def moved_independent_read(members: LinkMembers) -> Moved:
    """Return what reading one file from its own drive moves, for the worst drive.

    Examples
    --------
    >>> moved_independent_read(LinkMembers(2, 1, 4, 1))
    (1.0, 0.0)
    """
    return (1.0 if members.data_on else 0.0), 0.0


def moved_degraded_read(members: LinkMembers) -> Moved:
    """Return what reading the file of a failed independent drive moves.

    Every survivor on the link is read: all members, less the failed drive where no
    data drive hangs elsewhere.

    Raises
    ------
    ValueError
        If there is no parity drive to rebuild the file from.

    Examples
    --------
    >>> moved_degraded_read(LinkMembers(4, 1, 4, 1))
    (4.0, 0.0)
    """
    if not members.parity_all:
        msg = "Without a parity drive a failed drive's file cannot be read."
        raise ValueError(msg)
    return float(_others_on(members) + members.parity_on), 0.0


def _others_on(members: LinkMembers) -> int:
    """Count the link's data drives other than the target, for the worst target."""
    return members.data_on - (1 if members.data_on == members.data_all else 0)


def moved_plain_write(members: LinkMembers) -> Moved:
    """Return what writing to one drive without parity moves, for the worst drive.

    Examples
    --------
    >>> moved_plain_write(LinkMembers(2, 0, 2, 0))
    (0.0, 1.0)
    """
    return 0.0, (1.0 if members.data_on else 0.0)


def moved_read_modify_write(members: LinkMembers) -> Moved:
    """Return what a read-modify-write moves, for the worst target drive.

    Old data and old parity are read, new data and new parity written. Without parity
    drives nothing is read: a plain write.

    Examples
    --------
    >>> moved_read_modify_write(LinkMembers(3, 1, 4, 1))
    (2.0, 2.0)
    """
    if not members.parity_all:
        return moved_plain_write(members)
    both = (1.0 if members.data_on else 0.0) + members.parity_on
    return both, both


def moved_reconstruct_write(members: LinkMembers) -> Moved:
    """Return what a reconstruct write moves, for the worst target drive.

    All other data drives are read, the target and parity written. With one data drive
    nothing is read, and without parity drives it is a plain write.

    Examples
    --------
    >>> moved_reconstruct_write(LinkMembers(4, 1, 4, 1))
    (3.0, 2.0)
    """
    if not members.parity_all:
        return moved_plain_write(members)
    down = (1.0 if members.data_on else 0.0) + members.parity_on
    return float(_others_on(members)), down


def _striped_on(members: LinkMembers) -> int:
    return members.data_on + members.parity_on


def moved_stripe_write(members: LinkMembers) -> Moved:
    """Return what writing full stripes moves.

    Examples
    --------
    >>> moved_stripe_write(LinkMembers(4, 2, 4, 2))
    (0.0, 1.5)
    """
    return 0.0, _striped_on(members) / members.data_all


def moved_stripe_read(members: LinkMembers) -> Moved:
    """Return what reading a healthy striped array moves.

    Examples
    --------
    >>> moved_stripe_read(LinkMembers(2, 1, 4, 2))
    (0.5, 0.0)
    """
    return _striped_on(members) / (members.data_all + members.parity_all), 0.0


def moved_stripe_degraded_read(members: LinkMembers) -> Moved:
    """Return what reading a striped array that has lost all its redundancy moves.

    Examples
    --------
    >>> moved_stripe_degraded_read(LinkMembers(2, 1, 4, 2))
    (0.75, 0.0)
    """
    return _striped_on(members) / members.data_all, 0.0


def moved_pairs_write(copies_on: float) -> Moved:
    """Return what writing to mirrored pairs moves.

    Parameters
    ----------
    copies_on : float
        Copies that lie on this link: 0, 1 or 2; a share of them where the file is
        striped over several pairs.

    Examples
    --------
    >>> moved_pairs_write(2)
    (0.0, 2.0)
    """
    return 0.0, float(copies_on)


def moved_pairs_read(copies_read_on: float) -> Moved:
    """Return what reading from mirrored pairs moves.

    Parameters
    ----------
    copies_read_on : float
        Copies that are read over this link: 0 or 1, or a share.

    Examples
    --------
    >>> moved_pairs_read(1)
    (1.0, 0.0)
    """
    return float(copies_read_on), 0.0


def moved_cache_ingest(copies_on: float) -> Moved:
    """Return what taking data into the cache moves.

    Parameters
    ----------
    copies_on : float
        Cache copies on this link.

    Examples
    --------
    >>> moved_cache_ingest(1)
    (0.0, 1.0)
    """
    return 0.0, float(copies_on)


def moved_flush_read(copies_read_on: float = 1.0) -> Moved:
    """Return what the cache's side of a flush moves; the array write is added to it.

    Parameters
    ----------
    copies_read_on : float
        1 on the link of the copy that is read, else 0.

    Examples
    --------
    >>> added(moved_flush_read(), (0.0, 2.0))
    (1.0, 2.0)
    """
    return float(copies_read_on), 0.0


def moved_check(members_on: int, rebuilt_on: int = 0) -> Moved:
    """Return what a check or rebuild moves for each MB of one member.

    Parameters
    ----------
    members_on : int
        Members on this link that are read.
    rebuilt_on : int
        Drives on this link that are being rebuilt; 0 in a check.

    Examples
    --------
    >>> moved_check(5, 1)
    (5.0, 1.0)
    """
    return float(members_on), float(rebuilt_on)


def added(*moved: Moved) -> Moved:
    """Return the sum of what several flows of one operation move over a link.

    Parameters
    ----------
    *moved : tuple of float
        Up and down of each flow. [MB/MB]

    Examples
    --------
    >>> added((1.0, 0.0), (0.5, 2.0))
    (1.5, 2.0)
    """
    return sum(up for up, _ in moved), sum(down for _, down in moved)
