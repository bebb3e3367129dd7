"""What an entry of the menu puts on a frame."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optibox.model.platform_bounds import Wants
from optibox.model.small_parts import MOST_PLUGS
from optibox.model.starts import Starts

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What an entry puts on a frame.

    Attributes
    ----------
    wants : Wants
        Ports, bays and network speed.
    modes : tuple of pairs of arrays, shape (n_states,)
        Weight of a wall watt in each state and least watts of the drives there [W],
        for each way to run it; the best counts.
    processor_weight : float
        Weight of a wall watt over the states in which the processor works.
    drives : array, shape (n_variants, 2, n_sets, n_classes, n_array + 1)
        Least cost of the drives, k of them in 3.5 inch bays, at the least and the
        largest supply slope, by class of chassis; for any set, or for each of some sorts
        of sets that are bounded at once. The first variant is plain; of four
        the second contains the postage of the drives' sellers, the third leads without
        3.3 V as well. The last is of sets with SAS drives, the others of sets without.
    starts : Starts, optional
        What they draw while they start.
    n_small : int
        Other drives that want a 2.5 inch bay.
    cache_w : float
        What a cache draws at work. [W]
    """

    wants: Wants
    modes: tuple[tuple[Floats, Floats], ...]
    processor_weight: float
    drives: Floats
    n_small: int = 0
    cache_w: float = 0.0
    starts: Starts | None = None


def squares(weights: Floats, drives_w: Floats, idle_w: Floats) -> Floats:
    """Return the weighted sum over states of squared watts, for each idle watts."""
    linear = float(weights @ drives_w)
    constant = float(weights @ (drives_w * drives_w))
    found: Floats = (float(weights.sum()) * idle_w + 2 * linear) * idle_w + constant
    return found


def whole(counts: Floats) -> Ints:
    """Return shortages as indices into a table of prices."""
    return np.clip(counts, 0, MOST_PLUGS).astype(np.int64)


def times(counts: Floats, price: float) -> Floats:
    """Return counts times a price, 0 where the count is 0 even at no price at all."""
    with np.errstate(invalid="ignore"):
        return np.where(counts > 0, counts * price, 0.0)
