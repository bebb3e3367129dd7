"""A decision made out of a scenario: the whole catalog, or one machine's swaps."""

from collections.abc import Sequence
from dataclasses import dataclass

from optibox.running.sensitivity_decision import ListDecision, Option
from optibox.running.sensitivity_inputs import Spreads
from optibox.running.swaps import Swap, SwapList

MOST_OPTIONS = 80
"""Swaps that take part at most: those with the best net value, and those that save
most a year, which dear energy could bring to the front."""


@dataclass(frozen=True, kw_only=True)
class SwapOptions:
    """A decision among doing nothing and the swaps of a machine."""

    decision: ListDecision
    idle: Option
    by_option: dict[int, Swap]
    """Swaps by the identity of their options."""

    n_left: int

    def swap_of(self, option: Option) -> Swap | None:
        """Return the swap behind an option; nothing for doing nothing."""
        return self.by_option.get(id(option))


def swap_options(
    found: SwapList, spreads: Spreads, *, most: int = MOST_OPTIONS
) -> SwapOptions:
    """Return the decision whether and what to change in a machine.

    Parameters
    ----------
    found : SwapList
        The machine with its swaps.
    spreads : Spreads
        By how much inputs without bounds move.
    most : int
        Swaps that take part at most.
    """
    swaps = _promising(found.swaps, most)
    idle = Option(build=found.before.build, name="do nothing")
    options = [Option(build=swap.after.build) for swap in swaps]
    decision = ListDecision(
        options=[idle, *options], scenario=found.before.scenario, spreads=spreads
    )
    return SwapOptions(
        decision=decision,
        idle=idle,
        by_option={id(o): s for o, s in zip(options, swaps, strict=True)},
        n_left=len(found.swaps) - len(swaps),
    )


def _promising(swaps: Sequence[Swap], most: int) -> list[Swap]:
    if len(swaps) <= most:
        return list(swaps)
    by_saving = sorted(swaps, key=lambda s: -s.saving_per_year)[: most // 4]
    names = {id(s) for s in by_saving}
    rest = [s for s in swaps if id(s) not in names][: most - len(by_saving)]
    wanted = names | {id(s) for s in rest}
    return [s for s in swaps if id(s) in wanted]
