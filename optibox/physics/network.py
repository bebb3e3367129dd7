"""Ethernet payload, file sharing, and the cost of small files."""

ETHERNET_FRAMING_B = 38
"""Preamble 7 + start 1 + header 14 + check 4 + gap 12; IEEE 802.3."""
VLAN_TAG_B = 4
FILE_SHARING_FACTOR = 0.90
"""Share of the payload that a file-sharing protocol keeps; judgement, 0.80-0.97."""


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
