"""How long a drive must sleep to win back what its wake costs in energy."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Transition:
    """Energy and time of stopping and starting one drive, in J and s."""

    up_j: float
    up_s: float
    down_j: float = 0.0
    down_s: float = 0.0


def _gap_s(energy_j: float, idle_w: float, standby_w: float) -> float:
    saved_w = idle_w - standby_w
    return energy_j / saved_w if saved_w > 0.0 else math.inf


def break_even_up_only_s(idle_w: float, standby_w: float, move: Transition) -> float:
    """Return the break-even gap with the spin-up alone as the price. [s].

    This is the convention of a plan's energy, where a wake costs its spin-up energy
    and takes no time.

    Parameters
    ----------
    idle_w, standby_w : float
        Power spinning and stopped. [W]
    move : Transition
        Energy of the spin-up; nothing else is used.

    Returns
    -------
    float
        E_up / (P_i - P_s). [s]

    Examples
    --------
    >>> round(break_even_up_only_s(10.2, 2.5, Transition(135.0, 10.9)), 3)
    17.532
    """
    return _gap_s(move.up_j, idle_w, standby_w)
