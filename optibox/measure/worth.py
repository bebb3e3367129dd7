"""What a reading is worth: how often it would change a decision, and by how much.

Beliefs about watts are normal: the catalog's bounds before, narrowed by every reading
taken. The gain of a decision is linear in them, so that the value of readings not yet
taken has a closed form, the unit normal loss.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optibox.measure.decisions import Decision
from optibox.measure.leastsq import Z95, Array
from optibox.measure.unknowns import Unknown


@dataclass(frozen=True, kw_only=True)
class Belief:
    """What is believed of all unknowns. [W]."""

    unknowns: tuple[Unknown, ...]
    means: Array
    covariance: Array

    def spread_w(self, row: Array) -> float:
        """Return the standard deviation of a sum of unknowns. [W]."""
        return math.sqrt(max(0.0, float(row @ self.covariance @ row)))

    def after(self, rows: Array, errors: Array) -> "Belief":
        """Return the belief once readings of given errors are taken; means stay.

        Before a reading is taken its value is not known, its narrowing is.
        """
        found = self.covariance
        for row, error in zip(rows, errors, strict=True):
            seen = found @ row
            total = float(row @ seen) + float(error) ** 2
            if total > 0.0:
                found = found - np.outer(seen, seen) / total
        return Belief(unknowns=self.unknowns, means=self.means, covariance=found)


def prior(unknowns: Sequence[Unknown]) -> Belief:
    """Return what the catalog's bounds say before any reading."""
    spreads = np.array([u.spread_w for u in unknowns])
    return Belief(
        unknowns=tuple(unknowns),
        means=np.array([u.figure.mid for u in unknowns]),
        covariance=np.diag(spreads**2),
    )


def slopes_of(decision: Decision, belief: Belief) -> Array:
    """Return a decision's slopes in the order of a belief's unknowns."""
    return np.array([decision.slopes.get(u, 0.0) for u in belief.unknowns])


def gain_of(decision: Decision, belief: Belief) -> float:
    """Return a decision's expected gain under a belief. [currency]."""
    slopes = slopes_of(decision, belief)
    mids = np.array([u.figure.mid for u in belief.unknowns])
    return decision.gain + float(slopes @ (belief.means - mids))


def gain_spread(decision: Decision, belief: Belief) -> float:
    """Return the standard deviation of a decision's gain. [currency]."""
    return belief.spread_w(slopes_of(decision, belief))


def is_open(decision: Decision, belief: Belief) -> bool:
    """Return whether watts within 95 % of the belief could turn a decision."""
    return abs(gain_of(decision, belief)) < Z95 * gain_spread(decision, belief)


def worth(decision: Decision, before: Belief, after: Belief) -> float:
    """Return what readings are expected to save by turning a decision. [currency].

    Parameters
    ----------
    decision : Decision
        Keep or change.
    before, after : Belief
        Without and with the readings.

    Returns
    -------
    float
        Spread of the gain that the readings resolve, times the mean excess of a
        standard normal over the gain in that spread.

    References
    ----------
    .. [1] H. Raiffa and R. Schlaifer, "Applied Statistical Decision Theory", Harvard,
       1961, chapter 5: preposterior analysis, two acts of linear value (quoted from
       memory).
    """
    wide, narrow = gain_spread(decision, before), gain_spread(decision, after)
    resolved = math.sqrt(max(0.0, wide * wide - narrow * narrow))
    if resolved <= 1e-12:
        return 0.0
    return resolved * unit_loss(abs(gain_of(decision, before)) / resolved)


def unit_loss(z: float) -> float:
    """Return the mean excess of a standard normal over z.

    Examples
    --------
    >>> round(unit_loss(0.0), 4)
    0.3989
    """
    density = math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)
    return density - z * 0.5 * math.erfc(z / math.sqrt(2.0))


def total_worth(decisions: Sequence[Decision], before: Belief, after: Belief) -> float:
    """Return what readings are expected to save over all decisions. [currency]."""
    return sum(worth(decision, before, after) for decision in decisions)


def stake(decision: Decision, belief: Belief) -> float:
    """Return what knowing all watts exactly is expected to save. [currency]."""
    spread = gain_spread(decision, belief)
    return (
        spread * unit_loss(abs(gain_of(decision, belief)) / spread) if spread else 0.0
    )


def open_stake(decisions: Sequence[Decision], belief: Belief) -> float:
    """Return what knowing all watts is expected to save in open decisions."""
    return sum(stake(d, belief) for d in decisions if is_open(d, belief))


def resolved(decisions: Sequence[Decision], before: Belief, after: Belief) -> float:
    """Return how much of what is at stake in open decisions readings settle.

    A reading may be worth nothing by itself and much beside another one: the share of
    the gain's variance that it takes away tells that, its own worth does not.

    Returns
    -------
    float
        Stakes times those shares; 0 where no decision is open. [currency]
    """
    settled = 0.0
    for decision in decisions:
        if is_open(decision, before):
            left = gain_spread(decision, after) / gain_spread(decision, before)
            settled += stake(decision, before) * (1.0 - left * left)
    return settled
