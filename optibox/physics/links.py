"""Line rates, planning rates, and what one operation moves over one link.

A chain is as fast as its slowest stage, and a link counts as its budget divided by
the MB that it must move for each MB the user sees. *Up* means towards the processor.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

PCIE_GT_S = {1: 2.5, 2: 5.0, 3: 8.0, 4: 16.0, 5: 32.0}
"""Transfers per lane and direction [GT/s]; PCI Express Base Specification 1.0a-5.0
(read in secondary tables)."""
PCIE_EFFICIENCY = 0.85
"""Planning share of the raw PCIe rate; judgement, 0.80-0.90."""
SERIAL_LINE_GBIT_S = (1.5, 3.0, 6.0, 12.0)
"""Line rates that use 8b/10b: Serial ATA revision 3.x and SAS up to its third
generation (read in secondary tables)."""
SATA_EFFICIENCY = 550.0 / 600.0
"""Planning share of the raw serial rate; judgement: 550 MB/s of 600."""
MULTIPLIER_MAX_DRIVES = 15
"""The port number has 4 bits and 15 is the control port; from memory."""
MULTIPLIER_SHARED_MB_S = 520.0
"""What a 6 Gbit/s FIS-switched multiplier shares among its drives; judgement."""
MULTIPLIER_SINGLE_DRIVE = 0.83
"""One drive alone behind a multiplier; common practice, no source, 0.80-1.0."""
ETHERNET_FRAMING_B = 38
"""Preamble 7 + start 1 + header 14 + check 4 + gap 12; IEEE 802.3."""
VLAN_TAG_B = 4
FILE_SHARING_FACTOR = 0.90
"""Share of the payload that a file-sharing protocol keeps; judgement, 0.80-0.97."""

Moved: TypeAlias = tuple[float, float]
"""MB moved up and down a link for each user MB."""


def pcie_lane_mb_s(generation: int) -> float:
    """Return the raw rate of one PCIe lane in one direction. [MB/s].

    Generations 1 and 2 send 8 of 10 bits, later ones 128 of 130.

    Parameters
    ----------
    generation : int
        PCIe generation, 1 to 5.

    Returns
    -------
    float
        Raw rate of one lane in one direction. [MB/s]

    Raises
    ------
    ValueError
        If the generation is unknown.

    References
    ----------
    .. [1] PCI-SIG, "PCI Express Base Specification", revisions 1.0a to 5.0
       (read in secondary tables).

    Examples
    --------
    >>> round(pcie_lane_mb_s(3), 3)
    984.615
    """
    if generation not in PCIE_GT_S:
        msg = f"PCIe generation {generation} is unknown; known are 1 to 5."
        raise ValueError(msg)
    coding = 8.0 / 10.0 if generation <= 2 else 128.0 / 130.0
    return PCIE_GT_S[generation] * 1000.0 * coding / 8.0


def pcie_link_mb_s(generation: int, lanes: int) -> float:
    """Return the raw rate of a PCIe link in one direction. [MB/s].

    Parameters
    ----------
    generation : int
        Trained generation: the lower of the two ends.
    lanes : int
        Trained width: the narrower of the two ends.

    Returns
    -------
    float
        Raw rate in one direction. [MB/s]

    Examples
    --------
    >>> pcie_link_mb_s(2, 4)
    2000.0
    """
    return pcie_lane_mb_s(generation) * lanes


def pcie_payload_efficiency(payload_b: int, overhead_b: int = 20) -> float:
    """Return the payload share of a PCIe packet, an upper bound of what is usable.

    Acknowledgements and flow control come on top and are not counted.

    Parameters
    ----------
    payload_b : int
        Payload of one packet, usually 128 to 512. [B]
    overhead_b : int
        20 with a 3-word header, 24 with a 4-word header, 4 more with an end-to-end
        check. [B]

    Returns
    -------
    float
        Share, 0 to 1.

    References
    ----------
    .. [1] Application note AN 456, "PCI Express High Performance Reference Design",
       Throughput for Posted Writes: 256/(256+20), or 92 %.

    Examples
    --------
    >>> round(pcie_payload_efficiency(256), 4)
    0.9275
    """
    return payload_b / (payload_b + overhead_b)


def pcie_planning_mb_s(
    generation: int, lanes: int, efficiency: float = PCIE_EFFICIENCY
) -> float:
    """Return the rate to plan a PCIe link with, in each direction. [MB/s].

    Parameters
    ----------
    generation, lanes : int
        Trained link.
    efficiency : float
        Planning share of the raw rate; judgement, 0.80-0.90.

    Returns
    -------
    float
        Planning rate in one direction; the other has its own. [MB/s]

    Examples
    --------
    >>> pcie_planning_mb_s(2, 1)
    425.0
    """
    return pcie_link_mb_s(generation, lanes) * efficiency


def sata_line_mb_s(gbit_s: float) -> float:
    """Return the raw rate of a SATA or SAS lane after 8b/10b coding. [MB/s].

    Parameters
    ----------
    gbit_s : float
        Line rate: 1.5, 3, 6 or 12. [Gbit/s]

    Returns
    -------
    float
        Raw rate. [MB/s]

    Raises
    ------
    ValueError
        If no such line rate uses 8b/10b.

    Examples
    --------
    >>> sata_line_mb_s(6)
    600.0
    """
    if gbit_s not in SERIAL_LINE_GBIT_S:
        msg = f"{gbit_s} Gbit/s is no SATA or SAS line rate; use 1.5, 3, 6 or 12."
        raise ValueError(msg)
    return gbit_s * 1000.0 * (8.0 / 10.0) / 8.0


def sata_planning_mb_s(gbit_s: float) -> float:
    """Return the rate to plan a SATA or SAS lane with. [MB/s].

    Parameters
    ----------
    gbit_s : float
        Line rate: 1.5, 3, 6 or 12. [Gbit/s]

    Returns
    -------
    float
        Planning rate; judgement, 550 of 600 MB/s. [MB/s]

    Examples
    --------
    >>> [round(sata_planning_mb_s(g), 1) for g in (1.5, 3, 6, 12)]
    [137.5, 275.0, 550.0, 1100.0]
    """
    return sata_line_mb_s(gbit_s) * SATA_EFFICIENCY


def multiplier_each_mb_s(
    drive_rates_mb_s: Sequence[float], host_mb_s: float, *, fis: bool
) -> tuple[float, ...]:
    """Return the rate of every drive when all behind a multiplier work at once. [MB/s].

    FIS-based switching shares the host link evenly, and what a slow drive leaves goes
    to the faster ones. Command-based switching serves one drive at a time: with equal
    amounts from each, all progress at the rate that the sum of their times allows.

    Parameters
    ----------
    drive_rates_mb_s : sequence of float, shape (n,)
        Rate of each drive on its own; at most 15 drives. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    fis : bool
        FIS-based switching, else command-based.

    Returns
    -------
    tuple of float, shape (n,)
        In the order given. [MB/s]

    Raises
    ------
    ValueError
        If there are more than 15 drives.

    References
    ----------
    .. [1] D. Deming, "The Essential Guide to Serial ATA and SATA Express", CRC, 2014,
       section 9.11 (secondary reading).

    Examples
    --------
    >>> multiplier_each_mb_s([200, 100], 300, fis=True)
    (200.0, 100.0)
    """
    n = len(drive_rates_mb_s)
    if n > MULTIPLIER_MAX_DRIVES:
        msg = f"{n} drives behind one multiplier; at most {MULTIPLIER_MAX_DRIVES} fit."
        raise ValueError(msg)
    if fis:
        return _shared_evenly(drive_rates_mb_s, host_mb_s)
    if min(*drive_rates_mb_s, host_mb_s, math.inf) <= 0.0:
        return (0.0,) * n
    turn = sum(1.0 / min(rate, host_mb_s) for rate in drive_rates_mb_s)
    return (1.0 / turn,) * n if n else ()


def _shared_evenly(rates_mb_s: Sequence[float], total_mb_s: float) -> tuple[float, ...]:
    """Share a total among takers, none above its own rate (max-min fair)."""
    shares = [0.0] * len(rates_mb_s)
    left, takers = total_mb_s, len(rates_mb_s)
    for index in sorted(range(takers), key=lambda i: rates_mb_s[i]):
        shares[index] = float(min(rates_mb_s[index], left / takers))
        left -= shares[index]
        takers -= 1
    return tuple(shares)


def multiplier_total_mb_s(
    drive_rates_mb_s: Sequence[float], host_mb_s: float, *, fis: bool
) -> float:
    """Return what all drives behind a port multiplier deliver together. [MB/s].

    Parameters
    ----------
    drive_rates_mb_s : sequence of float, shape (n,)
        Rate of each drive on its own; at most 15 drives. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    fis : bool
        FIS-based switching, else command-based.

    Returns
    -------
    float
        Sum over the drives. [MB/s]

    Examples
    --------
    >>> round(multiplier_total_mb_s([200, 100], 300, fis=False), 2)
    133.33
    """
    return sum(multiplier_each_mb_s(drive_rates_mb_s, host_mb_s, fis=fis))


def multiplier_single_mb_s(
    drive_mb_s: float, host_mb_s: float, factor: float = MULTIPLIER_SINGLE_DRIVE
) -> float:
    """Return the rate of one drive that works alone behind a multiplier. [MB/s].

    Parameters
    ----------
    drive_mb_s : float
        Rate of the drive on its own. [MB/s]
    host_mb_s : float
        Planning rate of the host link. [MB/s]
    factor : float
        What the multiplier leaves; common practice, no source, 0.80-1.0.

    Returns
    -------
    float
        Rate behind the multiplier. [MB/s]

    Examples
    --------
    >>> round(multiplier_single_mb_s(180, 520), 1)
    149.4
    """
    return min(drive_mb_s * factor, host_mb_s)


def ethernet_payload_mb_s(
    gbit_s: float, mtu_b: int = 1500, header_b: int = 52, *, vlan: bool = False
) -> float:
    """Return the highest TCP payload rate of an Ethernet link. [MB/s].

    Parameters
    ----------
    gbit_s : float
        Link speed. [Gbit/s]
    mtu_b : int
        Frame payload; 9000 is a convention of makers, not in the standard. [B]
    header_b : int
        40 for IPv4 + TCP, 52 with timestamps, 60 and 72 for IPv6. [B]
    vlan : bool
        Frames carry a 4-byte tag.

    Returns
    -------
    float
        Ceiling of the payload rate, one direction. [MB/s]

    References
    ----------
    .. [1] IEEE 802.3, clause 3 (frame), clause 4 (gap of 96 bit times).

    Examples
    --------
    >>> round(ethernet_payload_mb_s(1.0), 3)
    117.685
    """
    framing_b = ETHERNET_FRAMING_B + (VLAN_TAG_B if vlan else 0)
    return gbit_s * 1000.0 / 8.0 * (mtu_b - header_b) / (mtu_b + framing_b)


def network_file_mb_s(
    gbit_s: float, sharing_factor: float = FILE_SHARING_FACTOR, mtu_b: int = 1500
) -> float:
    """Return the rate to plan large files over a network link with. [MB/s].

    Parameters
    ----------
    gbit_s : float
        Link speed. [Gbit/s]
    sharing_factor : float
        What the file-sharing protocol keeps; judgement, 0.80-0.97.
    mtu_b : int
        Frame payload. [B]

    Returns
    -------
    float
        Planning rate, one direction. [MB/s]

    Examples
    --------
    >>> round(network_file_mb_s(1.0), 1)
    105.9
    """
    return ethernet_payload_mb_s(gbit_s, mtu_b) * sharing_factor


def small_file_mb_s(size_mb: float, rate_mb_s: float, seconds_per_file: float) -> float:
    """Return the rate for files small enough that each one's overhead counts. [MB/s].

    Parameters
    ----------
    size_mb : float
        Mean file size. [MB]
    rate_mb_s : float
        Rate for large files, above 0. [MB/s]
    seconds_per_file : float
        Fixed time of one file; judgement, 0.0005-0.005. [s]

    Returns
    -------
    float
        Mean rate. [MB/s]

    Examples
    --------
    >>> small_file_mb_s(0.1, 100.0, 0.001)
    50.0
    """
    if size_mb <= 0.0:
        return 0.0
    return size_mb / (size_mb / rate_mb_s + seconds_per_file)


@dataclass(frozen=True, slots=True)
class LinkMembers:
    """How many drives of an array hang on one link, and how many there are in all.

    Attributes
    ----------
    data_on, parity_on : int
        Data and parity drives behind the link.
    data_all, parity_all : int
        Data and parity drives of the whole array. A striped array has no dedicated
        parity drives: put its members into either field, only sums are used.
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

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

    Examples
    --------
    >>> moved_network_receive()
    (1.0, 0.0)
    """
    return 1.0, 0.0


def moved_network_send() -> Moved:
    """Return what sending moves over a link that the network card sits on.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

    Examples
    --------
    >>> moved_network_send()
    (0.0, 1.0)
    """
    return 0.0, 1.0


def moved_independent_read(members: LinkMembers) -> Moved:
    """Return what reading one file from its own drive moves, for the worst drive.

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link, the failed one included.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link, any of them data or parity.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

    Examples
    --------
    >>> moved_stripe_write(LinkMembers(4, 2, 4, 2))
    (0.0, 1.5)
    """
    return 0.0, _striped_on(members) / members.data_all


def moved_stripe_read(members: LinkMembers) -> Moved:
    """Return what reading a healthy striped array moves.

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

    Examples
    --------
    >>> moved_stripe_read(LinkMembers(2, 1, 4, 2))
    (0.5, 0.0)
    """
    return _striped_on(members) / (members.data_all + members.parity_all), 0.0


def moved_stripe_degraded_read(members: LinkMembers) -> Moved:
    """Return what reading a striped array that has lost all its redundancy moves.

    Parameters
    ----------
    members : LinkMembers
        The array's drives on this link.

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down, for each user MB. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down, for each MB of every member. [MB/MB]

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

    Returns
    -------
    tuple of float
        Up and down together. [MB/MB]

    Examples
    --------
    >>> added((1.0, 0.0), (0.5, 2.0))
    (1.5, 2.0)
    """
    return sum(up for up, _ in moved), sum(down for _, down in moved)


def link_rate_mb_s(
    budget_mb_s: float, up: float, down: float, *, half_duplex: bool = False
) -> float:
    """Return the user rate that a link allows. [MB/s].

    Parameters
    ----------
    budget_mb_s : float
        Planning rate, of each direction where the link is full duplex. [MB/s]
    up, down : float
        MB moved for each user MB. [MB/MB]
    half_duplex : bool
        Both directions share the budget, as on a SATA link.

    Returns
    -------
    float
        User rate; infinite when nothing moves. [MB/s]

    Examples
    --------
    >>> link_rate_mb_s(600.0, 1.0, 2.0, half_duplex=True)
    200.0
    """
    load = up + down if half_duplex else max(up, down)
    return budget_mb_s / load if load > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a chain: what it is, and the user rate that it allows. [MB/s]."""

    name: str
    rate_mb_s: float


@dataclass(frozen=True, slots=True)
class Binding:
    """The stage that sets a chain's rate, the next one, and the gap between them.

    Attributes
    ----------
    binding : Stage
        The slowest stage; of equals, the first given.
    next : Stage or None
        The second slowest; None in a chain of one.
    slack_mb_s : float
        How far the binding stage can rise before the next one binds. [MB/s]
    """

    binding: Stage
    next: Stage | None
    slack_mb_s: float

    @property
    def rate_mb_s(self) -> float:
        """The rate of the chain. [MB/s]."""
        return self.binding.rate_mb_s


def binding(stages: Iterable[Stage]) -> Binding:
    """Return the binding stage of a chain, the next one, and the slack. [MB/s].

    Parameters
    ----------
    stages : iterable of Stage
        At least one.

    Returns
    -------
    Binding
        Slack is infinite where nothing else limits.

    Raises
    ------
    ValueError
        If there is no stage.

    Examples
    --------
    >>> found = binding([Stage("drive", 180.0), Stage("network", 106.0)])
    >>> found.binding.name, found.next.name, found.slack_mb_s
    ('network', 'drive', 74.0)
    """
    ordered = sorted(stages, key=lambda stage: stage.rate_mb_s)
    if not ordered:
        msg = "A chain needs at least one stage."
        raise ValueError(msg)
    first = ordered[0]
    if len(ordered) == 1:
        return Binding(first, None, math.inf)
    second = ordered[1]
    if math.isinf(first.rate_mb_s):  # inf - inf is not a number
        return Binding(first, second, 0.0)
    return Binding(first, second, second.rate_mb_s - first.rate_mb_s)
