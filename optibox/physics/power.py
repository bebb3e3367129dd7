"""From watts at the parts to watts at the wall, and the currents of a spin-up.

The supply loses wall - dc = a + b dc + c dc^2 / rated with a, b, c >= 0, so the wall
power rises with the load and is convex: every tangent lies below the curve.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Supply:
    """The loss curve of one power supply.

    Attributes
    ----------
    loss_fixed_w : float
        Loss without load, a; judgement: 2-3 W for small modern units and external
        bricks, 4-5 W for 300-450 W units, 7-10 W for large or old ones. [W]
    loss_share : float
        Loss in proportion to the load, b.
    loss_square : float
        Loss with the square of the load, c, as a share of the rating at full load.
    rated_w : float
        Rating. [W]
    """

    loss_fixed_w: float
    loss_share: float
    loss_square: float
    rated_w: float

    def __post_init__(self) -> None:
        """Refuse curves that could fall or bend downwards."""
        losses = (self.loss_fixed_w, self.loss_share, self.loss_square)
        if not (min(losses) >= 0.0 and self.rated_w > 0.0):
            msg = f"Supply losses {losses} must be >= 0, its rating {self.rated_w} > 0."
            raise ValueError(msg)


def wall_w(dc_w: float, supply: Supply) -> float:
    """Return the power drawn from the wall. [W].

    Parameters
    ----------
    dc_w : float
        Sum over the parts, >= 0. [W]
    supply : Supply
        Loss curve.

    Returns
    -------
    float
        dc + a + b dc + c dc^2 / rated. [W]

    References
    ----------
    .. [1] The same three terms: A. P. Dobos, "PVWatts Version 5 Manual",
       NREL/TP-6A20-62641, 2014, doi:10.2172/1158421.

    Examples
    --------
    >>> wall_w(20.0, Supply(4.0, 0.05, 0.1, 400.0))
    25.1
    """
    curved_w = supply.loss_square * dc_w * dc_w / supply.rated_w
    return dc_w + supply.loss_fixed_w + supply.loss_share * dc_w + curved_w


def marginal_factor(dc_w: float, supply: Supply) -> float:
    """Return how many wall watts one more watt at the parts costs. [W/W].

    This turns the difference of two wall readings into a difference at the parts. An
    efficiency would not: it charges the part with a share of the fixed loss, which
    stays when the part goes.

    Parameters
    ----------
    dc_w : float
        Load about which the difference lies. [W]
    supply : Supply
        Loss curve.

    Returns
    -------
    float
        1 + b + 2 c dc / rated. [W/W]

    Examples
    --------
    >>> marginal_factor(20.0, Supply(4.0, 0.05, 0.1, 400.0))
    1.06
    """
    return 1.0 + supply.loss_share + 2.0 * supply.loss_square * dc_w / supply.rated_w


def tangent(dc_w: float, supply: Supply) -> tuple[float, float]:
    """Return the straight line that touches the wall curve at a load.

    It lies below the curve everywhere else.

    Parameters
    ----------
    dc_w : float
        Load at which it touches. [W]
    supply : Supply
        Loss curve.

    Returns
    -------
    slope : float
        Marginal factor. [W/W]
    intercept : float
        Value at no load. [W]

    Examples
    --------
    >>> tangent(20.0, Supply(4.0, 0.05, 0.1, 400.0))
    (1.06, 3.9)
    """
    bend_w = supply.loss_square * dc_w * dc_w / supply.rated_w
    return marginal_factor(dc_w, supply), supply.loss_fixed_w - bend_w


def dc_from_wall(reading_w: float, supply: Supply) -> float:
    """Return the load at the parts that a wall reading stands for. [W].

    Parameters
    ----------
    reading_w : float
        Power at the wall, at least the loss without load. [W]
    supply : Supply
        Loss curve.

    Returns
    -------
    float
        Inverse of `wall_w`. [W]

    Raises
    ------
    ValueError
        If the reading is below the loss without load.

    Examples
    --------
    >>> round(dc_from_wall(25.1, Supply(4.0, 0.05, 0.1, 400.0)), 9)
    20.0
    """
    above_w = reading_w - supply.loss_fixed_w
    if above_w < 0.0:
        msg = (
            f"{reading_w} W at the wall is below the supply's loss without load, "
            f"{supply.loss_fixed_w} W."
        )
        raise ValueError(msg)
    slope = 1.0 + supply.loss_share
    bend = supply.loss_square / supply.rated_w
    # the form of the quadratic's root that stays exact as the bend goes to 0
    return 2.0 * above_w / (slope + math.sqrt(slope * slope + 4.0 * bend * above_w))


def efficiency(dc_w: float, supply: Supply) -> float:
    """Return the share of the wall power that reaches the parts.

    Parameters
    ----------
    dc_w : float
        Load. [W]
    supply : Supply
        Loss curve.

    Returns
    -------
    float
        Share, 0 to 1; 0 without load.

    Examples
    --------
    >>> round(efficiency(20.0, Supply(4.0, 0.05, 0.1, 400.0)), 3)
    0.797
    """
    return dc_w / wall_w(dc_w, supply) if dc_w > 0.0 else 0.0


def worst_rail_a(
    base_a: float, spin_a: Sequence[float], run_a: Sequence[float], group: int
) -> float:
    """Return a rail's current at the worst instant of a staggered start. [A].

    The worst group is the one whose drives add most; all the others run already.

    Parameters
    ----------
    base_a : float
        Everything but the drives. [A]
    spin_a, run_a : sequence of float, shape (n,)
        Current of each drive spinning up and running; judgement where unknown: 2.0 A
        and 0.4 A at 12 V for a 3.5 inch drive. [A]
    group : int
        Drives that start together; n or more means all at once.

    Returns
    -------
    float
        base + sum of run + the `group` largest of spin - run. [A]

    Examples
    --------
    >>> worst_rail_a(2.0, [2.0] * 4, [0.5] * 4, 2)
    7.0
    """
    extra_a = sorted(
        (max(0.0, up - on) for up, on in zip(spin_a, run_a, strict=True)), reverse=True
    )
    return base_a + sum(run_a) + sum(extra_a[: max(0, group)])
