"""How soon a swap pays back, with all inputs at low, as given, and at high."""

from collections.abc import Sequence
from dataclasses import dataclass

from optibox.assess import Assessment, assess
from optibox.physics.money import payback_years
from optibox.running.sensitivity_inputs import (
    INPUTS,
    LEVELS,
    Corner,
    Spreads,
    build_at,
    scenario_at,
)
from optibox.running.swap_worth import yearly_of
from optibox.running.swaps import Swap


@dataclass(frozen=True, slots=True, kw_only=True)
class PaybackRange:
    """Simple paybacks with all inputs at one level. [years]."""

    low: float
    mid: float
    high: float


def paybacks(swaps: Sequence[Swap], spreads: Spreads) -> list[PaybackRange]:
    """Return the paybacks of swaps of one machine, with inputs low, mid and high.

    Parameters
    ----------
    swaps : sequence of Swap
        Swaps of the same machine.
    spreads : Spreads
        By how much an input without bounds moves.
    """
    found: list[dict[str, float]] = [{} for _ in swaps]
    for level, position in LEVELS.items():
        corner: Corner = dict.fromkeys(INPUTS, position)
        before = _assessed(swaps[0].before, corner, spreads) if swaps else None
        for swap, row in zip(swaps, found, strict=True):
            after = _assessed(swap.after, corner, spreads)
            if before is not None:
                row[level] = payback_years(
                    after.cost.purchase - before.cost.purchase,
                    yearly_of(before).total - yearly_of(after).total,
                )
    return [PaybackRange(**row) for row in found]


def _assessed(found: Assessment, corner: Corner, spreads: Spreads) -> Assessment:
    build = build_at(found.build, corner, spreads)
    return assess(build, scenario_at(found.scenario, corner, spreads))
