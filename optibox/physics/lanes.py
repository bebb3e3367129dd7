"""Line rates and planning rates of PCIe, SATA and SAS lanes."""

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
