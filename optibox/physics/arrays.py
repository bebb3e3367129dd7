"""What array layouts store, how fast they write, and how many accesses that takes."""

from collections.abc import Iterable, Sequence

MODIFY_FACTOR = 0.55
"""Share of the near-empty rate that read-modify-write keeps; common practice, no
source: measured systems reach 0.45-0.58, above the ideal half thanks to caching."""
RECONSTRUCT_FACTOR = 0.72
"""Share that a reconstruct write keeps; common practice, no source, 0.65-0.90."""
STRIPE_EFFICIENCY = 0.90
"""Share of the summed rates that a striped array keeps; judgement, 0.85-0.95."""
SHARED_PARITY_FACTOR = 0.6
"""Share of one writer's rate that several writers get in total; judgement, 0.5-0.7."""


def turnaround_mb_s(read_mb_s: float, write_mb_s: float) -> float:
    """Return the rate at which one drive reads and then writes the same data. [MB/s].

    Parameters
    ----------
    read_mb_s, write_mb_s : float
        Rates of the two passes, above 0. [MB/s]

    Returns
    -------
    float
        r w / (r + w): half the rate where both are equal. [MB/s]

    Examples
    --------
    >>> turnaround_mb_s(180.0, 180.0)
    90.0
    """
    return read_mb_s * write_mb_s / (read_mb_s + write_mb_s)


def read_modify_write_mb_s(
    factor: float, data_mb_s: float, parity_min_mb_s: float
) -> float:
    """Return the rate of a read-modify-write to one independent drive. [MB/s].

    Parameters
    ----------
    factor : float
        Share of the drive's rate; common practice, no source, 0.45-0.58.
    data_mb_s : float
        Rate of the target drive. [MB/s]
    parity_min_mb_s : float
        Rate of the slowest parity drive. [MB/s]

    Returns
    -------
    float
        User rate. [MB/s]

    Examples
    --------
    >>> round(read_modify_write_mb_s(0.55, 180.0, 200.0), 1)
    99.0
    """
    return factor * min(data_mb_s, parity_min_mb_s)


def reconstruct_mb_s(factor: float, rates_mb_s: Iterable[float]) -> float:
    """Return the rate of a reconstruct write, set by the slowest of all drives. [MB/s].

    Parameters
    ----------
    factor : float
        Share of the slowest rate; common practice, no source, 0.65-0.90.
    rates_mb_s : iterable of float
        Rates of all data and parity drives. [MB/s]

    Returns
    -------
    float
        User rate. [MB/s]

    Examples
    --------
    >>> round(reconstruct_mb_s(0.72, [180.0, 200.0, 180.0]), 1)
    129.6
    """
    return factor * min(rates_mb_s)


def shared_parity_mb_s(
    factor: float, parity_mb_s: float, sharing: float = SHARED_PARITY_FACTOR
) -> float:
    """Return what several writers that share a parity drive get in total. [MB/s].

    Parameters
    ----------
    factor : float
        Factor of the write mode.
    parity_mb_s : float
        Rate of the slowest parity drive. [MB/s]
    sharing : float
        Loss to seeks between the writers; judgement, 0.5-0.7.

    Returns
    -------
    float
        Sum over the writers. [MB/s]

    Examples
    --------
    >>> round(shared_parity_mb_s(0.55, 200.0), 1)
    66.0
    """
    return factor * parity_mb_s * sharing


def striped_mb_s(
    n_drives: int,
    n_parity: int,
    min_mb_s: float,
    efficiency: float = STRIPE_EFFICIENCY,
) -> float:
    """Return the rate of a striped array, full stripes or large reads. [MB/s].

    Parameters
    ----------
    n_drives, n_parity : int
        All members, and how many drives' worth is parity.
    min_mb_s : float
        Rate of the slowest member. [MB/s]
    efficiency : float
        Share of the sum that is kept; judgement, 0.85-0.95.

    Returns
    -------
    float
        (n - p) * v_min * efficiency. [MB/s]

    Examples
    --------
    >>> striped_mb_s(6, 2, 180.0)
    648.0
    """
    return (n_drives - n_parity) * min_mb_s * efficiency


def pairs_write_mb_s(rates_mb_s: Iterable[float], striped_over: int = 1) -> float:
    """Return the rate of writing to mirrored pairs. [MB/s].

    Parameters
    ----------
    rates_mb_s : iterable of float
        Rates of both sides of the pair, or of all drives that one file is striped
        over. [MB/s]
    striped_over : int
        Pairs that one file is striped over; 1 for plain pairs.

    Returns
    -------
    float
        The slowest drive's rate, once for each pair. [MB/s]

    Examples
    --------
    >>> pairs_write_mb_s([180.0, 160.0], striped_over=3)
    480.0
    """
    return min(rates_mb_s) * striped_over


def pairs_read_mb_s(rates_mb_s: Iterable[float], striped_over: int = 1) -> float:
    """Return the rate of reading one file from mirrored pairs. [MB/s].

    One side of each pair is read. Which one is not known, so it is the slower.

    Parameters
    ----------
    rates_mb_s : iterable of float
        Rates of the drives that may be read. [MB/s]
    striped_over : int
        Pairs that one file is striped over; 1 for plain pairs.

    Returns
    -------
    float
        User rate. [MB/s]

    Examples
    --------
    >>> pairs_read_mb_s([180.0, 160.0])
    160.0
    """
    return min(rates_mb_s) * striped_over


def rmw_accesses(n_written: int, n_parity: int) -> int:
    """Return the accesses of a read-modify-write of some chunks of a stripe.

    Parameters
    ----------
    n_written, n_parity : int
        Chunks written, parity chunks of the stripe.

    Returns
    -------
    int
        2 (w + p): each is read and written, nothing cached.

    References
    ----------
    .. [1] R. and A. Arpaci-Dusseau, "Operating Systems: Three Easy Pieces", chapter on
       RAID: "4 physical I/Os (two reads and two writes)".

    Examples
    --------
    >>> rmw_accesses(1, 1)
    4
    """
    return 2 * (n_written + n_parity)


def reconstruct_accesses(n_data: int, n_parity: int) -> int:
    """Return the accesses of a reconstruct write of any part of a stripe.

    Parameters
    ----------
    n_data, n_parity : int
        Data and parity chunks of the stripe.

    Returns
    -------
    int
        D + p: the untouched data are read, the rest is written; a full stripe writes
        all of them and reads nothing.

    Examples
    --------
    >>> reconstruct_accesses(7, 1)
    8
    """
    return n_data + n_parity


def write_accesses(n_written: int, n_data: int, n_parity: int) -> int:
    """Return the accesses of a write to a stripe by the cheaper of both ways.

    Parameters
    ----------
    n_written, n_data, n_parity : int
        Chunks written, data chunks and parity chunks of the stripe.

    Returns
    -------
    int
        Reads and writes together.

    Examples
    --------
    >>> [write_accesses(w, 7, 1) for w in (1, 3, 4, 7)]
    [4, 8, 8, 8]
    """
    modify = rmw_accesses(n_written, n_parity)
    return min(modify, reconstruct_accesses(n_data, n_parity))


def tie_chunks(n_data: int, n_parity: int) -> float:
    """Return how many written chunks make both ways of writing equally long.

    Parameters
    ----------
    n_data, n_parity : int
        Data and parity chunks of the stripe.

    Returns
    -------
    float
        (D - p) / 2; below it read-modify-write takes fewer accesses.

    Examples
    --------
    >>> tie_chunks(7, 1)
    3.0
    """
    return (n_data - n_parity) / 2.0


def usable_independent_bytes(data_bytes: Iterable[int]) -> int:
    """Return what independent data drives hold together. [B].

    Parameters
    ----------
    data_bytes : iterable of int
        Sizes of the data drives. [B]

    Returns
    -------
    int
        Their sum. [B]

    Examples
    --------
    >>> usable_independent_bytes([4, 6, 6])
    16
    """
    return sum(data_bytes)


def usable_striped_bytes(member_bytes: Sequence[int], n_parity: int) -> int:
    """Return what a striped array holds; larger members waste their surplus. [B].

    Parameters
    ----------
    member_bytes : sequence of int
        Sizes of all members. [B]
    n_parity : int
        How many drives' worth is parity.

    Returns
    -------
    int
        (n - p) * smallest; 0 without members. [B]

    Examples
    --------
    >>> usable_striped_bytes([4, 6, 6, 6], 1)
    12
    """
    return max(0, len(member_bytes) - n_parity) * min(member_bytes, default=0)


def usable_pairs_bytes(member_bytes: Iterable[int]) -> int:
    """Return what mirrored pairs hold when neighbours by size form a pair. [B].

    Parameters
    ----------
    member_bytes : iterable of int
        Sizes of all drives; of an odd number the smallest stays alone. [B]

    Returns
    -------
    int
        Sum of the smaller of each pair. [B]

    Examples
    --------
    >>> usable_pairs_bytes([4, 8, 4, 6])
    10
    """
    return sum(sorted(member_bytes, reverse=True)[1::2])


def net_usable_bytes(
    usable_bytes: float, reserve_fraction: float, fill_limit: float
) -> float:
    """Return the part of a usable capacity that counts towards a need. [B].

    Parameters
    ----------
    usable_bytes : float
        Usable capacity of the layout. [B]
    reserve_fraction : float
        What the filesystem keeps; judgement, 0.01-0.05.
    fill_limit : float
        Fraction up to which it may be filled.

    Returns
    -------
    float
        To be compared with the need. [B]

    Examples
    --------
    >>> net_usable_bytes(100.0, 0.0, 0.75)
    75.0
    """
    return usable_bytes * (1.0 - reserve_fraction) * fill_limit
