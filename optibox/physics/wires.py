"""Wires: what their gauge carries and how much voltage they lose."""

import math

COPPER_OHM_MM2_PER_M = 0.017241
"""Resistivity of annealed copper at 20 degrees (IEC 60028). [ohm mm2/m]"""

_AWG_36_MM = 0.127
_STEPS = 39
_RATIO = 92.0
PLANNED_AWG = 18
"""The gauge for which currents of leads are given."""


def wire_mm2(awg: int) -> float:
    """Return the cross-section of a wire. [mm2].

    Parameters
    ----------
    awg : int
        American wire gauge: 39 equal ratios from 0.127 mm (36) to 11.684 mm (0000).

    References
    ----------
    .. [1] ASTM B258, standard specification for wire diameters (from memory).

    Examples
    --------
    >>> round(wire_mm2(18), 3)
    0.823
    """
    diameter_mm: float = _AWG_36_MM * _RATIO ** ((36 - awg) / _STEPS)
    return math.pi / 4.0 * diameter_mm**2


def wire_ohm(awg: int, length_m: float) -> float:
    """Return the resistance of a wire one way. [ohm].

    Examples
    --------
    >>> round(wire_ohm(18, 1.0), 5)
    0.02095
    """
    return COPPER_OHM_MM2_PER_M * length_m / wire_mm2(awg)


def wire_most_a(awg: int, most_at_18_a: float) -> float:
    """Return what a wire is planned to carry, in proportion to its copper. [A].

    Parameters
    ----------
    awg : int
        Its gauge.
    most_at_18_a : float
        What a wire of 18 AWG is planned to carry; judgement. [A]

    Examples
    --------
    >>> wire_most_a(18, 8.0), round(wire_most_a(20, 8.0), 2)
    (8.0, 5.03)
    """
    return most_at_18_a * (wire_mm2(awg) / wire_mm2(PLANNED_AWG))


def edge_ohm(awg: int, length_m: float, contact_ohm: float) -> float:
    """Return the resistance of a lead both ways, its plug included. [ohm].

    Parameters
    ----------
    awg : int
        Gauge of its wires.
    length_m : float
        Its length. [m]
    contact_ohm : float
        Contacts of the plug at its end, both ways. [ohm]
    """
    return 2.0 * wire_ohm(awg, length_m) + contact_ohm
