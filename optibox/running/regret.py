"""The robust pick: the machine whose worst regret over named corners is smallest.

The regret of a machine at a corner is what it costs more than the best one there.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optibox.running.sensitivity import STRAIGHT
from optibox.running.sensitivity_decision import (
    NEVER,
    Decision,
    ListDecision,
    Option,
)
from optibox.running.sensitivity_inputs import Corner, Input


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustRow:
    """One machine with its regret at each corner. [currency]."""

    option: Option
    regrets: tuple[float, ...]

    @property
    def worst(self) -> float:
        """Return the largest regret. [currency]."""
        return max(self.regrets)


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustPick:
    """Machines by their worst regret, the best first."""

    corners: tuple[tuple[str, Corner], ...]
    best_costs: tuple[float, ...]
    """Of the best machine at each corner. [currency]"""

    rows: tuple[RobustRow, ...]
    is_over_all: bool
    """Every machine of the list took part; else those that are best somewhere."""

    least_worst: float | None = None
    """No machine of the catalog has a smaller worst regret than this; nothing where
    that is not known. [currency]"""

    @property
    def pick(self) -> RobustRow | None:
        """Return the machine with the smallest worst regret."""
        return self.rows[0] if self.rows else None


def robust_pick(decision: Decision, corners: Mapping[str, Corner]) -> RobustPick:
    """Return the machine with the smallest worst regret over corners.

    Parameters
    ----------
    decision : Decision
        What can be chosen. From a list every machine takes part; from a catalog those
        that are best at a corner, as given, or in the middle of the corners.
    corners : mapping
        Corners by name.

    Returns
    -------
    RobustPick
        Machines that meet all needs at every corner come first.
    """
    named = tuple(corners.items())
    best = [decision.best(corner) for _, corner in named]
    if isinstance(decision, ListDecision):
        options: Sequence[Option] = decision.options
    else:
        extra = [decision.best({})[0], decision.best(middle_of(corners))[0]]
        found = [*(option for option, _ in best), *extra]
        options = list({o.key: o for o in found if o is not None}.values())
    rows = [
        RobustRow(
            option=option,
            regrets=tuple(
                _regret(decision.cost(option, corner), least)
                for (_, corner), (_, least) in zip(named, best, strict=True)
            ),
        )
        for option in options
    ]
    rows.sort(key=lambda row: (round(row.worst, 3), sum(row.regrets)))
    return RobustPick(
        corners=named,
        best_costs=tuple(least for _, least in best),
        rows=tuple(rows),
        is_over_all=isinstance(decision, ListDecision),
        least_worst=_least_worst(decision, corners, [least for _, least in best]),
    )


def _least_worst(
    decision: Decision, corners: Mapping[str, Corner], least: Sequence[float]
) -> float | None:
    """Return a bound below every machine's worst regret.

    A worst regret is at least the mean one. Where costs are straight lines between the
    corners the mean cost of a machine is its cost in their middle, which is at least
    that of the best machine there.
    """
    moved = [(name, x) for corner in corners.values() for name, x in corner.items()]
    signs = {x > 0 for name, x in moved if name == "prices" and x}
    if len(signs) > 1 or any(x and name not in STRAIGHT for name, x in moved):
        return None
    _, middle = decision.best(middle_of(corners))
    bound = middle - sum(least) / len(least)
    return max(0.0, bound) if math.isfinite(bound) else None


def _regret(cost: float, least: float) -> float:
    if cost == NEVER:
        return NEVER if least < NEVER else 0.0
    return cost - least


def middle_of(corners: Mapping[str, Corner]) -> Corner:
    """Return the corner halfway between all corners, input by input.

    Examples
    --------
    >>> middle_of({"a": {"tariff": 1.0}, "b": {"prices": -1.0}})
    {'tariff': 0.5, 'prices': -0.5}
    """
    sums: dict[Input, float] = {}
    for corner in corners.values():
        for name, position in corner.items():
            sums[name] = sums.get(name, 0.0) + position
    return {name: total / len(corners) for name, total in sums.items()}
