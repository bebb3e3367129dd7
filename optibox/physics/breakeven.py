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


def break_even_s(idle_w: float, standby_w: float, move: Transition) -> float:
    """Return the gap from which on sleeping saves energy, transitions counted. [s].

    The time of both transitions counts as time that would have been slept.

    Parameters
    ----------
    idle_w, standby_w : float
        Power spinning and stopped. [W]
    move : Transition
        Whole energy drawn during the transitions, and their times.

    Returns
    -------
    float
        (E_down + E_up - P_s (T_down + T_up)) / (P_i - P_s); infinite where stopping
        saves nothing. [s]

    Examples
    --------
    >>> round(break_even_s(10.2, 2.5, Transition(135.0, 10.9, 13.0, 1.5)), 4)
    15.1948
    """
    credit_j = standby_w * (move.up_s + move.down_s)
    return _gap_s(move.up_j + move.down_j - credit_j, idle_w, standby_w)


def break_even_without_credit_s(
    idle_w: float, standby_w: float, move: Transition
) -> float:
    """Return the break-even gap with both transitions on top of the gap. [s].

    Parameters
    ----------
    idle_w, standby_w : float
        Power spinning and stopped. [W]
    move : Transition
        Energies of the transitions; their times are not used.

    Returns
    -------
    float
        (E_down + E_up) / (P_i - P_s). [s]

    Examples
    --------
    >>> round(
    ...     break_even_without_credit_s(10.2, 2.5, Transition(135.0, 10.9, 13.0, 1.5)), 3
    ... )
    19.221
    """
    return _gap_s(move.up_j + move.down_j, idle_w, standby_w)


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


def competitive_ratio(idle_w: float, standby_w: float) -> float:
    """Return how much worse than foresight a timeout at break-even can be.

    Parameters
    ----------
    idle_w, standby_w : float
        Power spinning and stopped. [W]

    Returns
    -------
    float
        2 - P_s / P_i: the energy over any gap, at most, against knowing its length.

    References
    ----------
    .. [1] Karlin, Manasse, McGeoch, Owicki, "Competitive randomized algorithms for
       nonuniform problems", Algorithmica 11, 1994 (citation from memory): 2 without
       standby power.

    Examples
    --------
    >>> round(competitive_ratio(10.2, 2.5), 6)
    1.754902
    """
    return 2.0 - standby_w / idle_w
