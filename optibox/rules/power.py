"""Rules of rails and of the board's plugs."""

from collections.abc import Iterator

from optibox.figures.power import (
    drive_5v_a,
    low_volts_most_w,
    low_volts_w,
    peak_dc_w,
    rail_12v_a,
    starts_in_turn,
)
from optibox.machine import Machine
from optibox.rules.context import Context
from optibox.rules.demands import exceeds
from optibox.rules.register import Finding, error, rule, warning


def must_start_together(machine: Machine) -> bool:
    """Return whether nothing keeps all drives from starting at one instant."""
    if not starts_in_turn(machine):
        return True
    wakes = (
        machine.operation.wakes_together and machine.operation.timeout_min is not None
    )
    return wakes and not machine.scenario.choices.sequential_wake_verified


@rule(
    "P1",
    "The 12 V rail carries the spin-up",
    "Spin-up takes 3 to 5 times the idle current: an overloaded rail shuts the supply down or makes drives drop out.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Start drives in groups, or use a supply with more on 12 V.",
)
def rail_12v(context: Context) -> Iterator[Finding]:
    """Yield findings about the 12 V rail and the rated output at the worst instant."""
    machine, supply = context.machine, context.machine.supply
    if supply is None or not machine.array:
        return
    rail, n = supply.rail_12v_a.mid, len(machine.array)
    planned = rail * machine.factors.rail_share.mid
    one, all_at_once = rail_12v_a(machine, 1), rail_12v_a(machine, n)
    if one > planned:
        yield error(
            "P1",
            f"12 V: {one:.1f} A even one drive at a time, {planned:.1f} A to plan with",
            "choose a supply with more on 12 V",
        )
    if all_at_once > rail and not starts_in_turn(machine):
        yield error(
            "P1",
            f"12 V: {all_at_once:.1f} A all at once, {rail:.1f} A on the rail, and "
            "nothing makes them start in turn",
            "choose a supply with more on 12 V, or hosts that start drives in turn",
        )
    elif all_at_once > planned >= one and not _wakes_over(machine):
        group = max(g for g in range(1, n + 1) if rail_12v_a(machine, g) <= planned)
        yield warning(
            "P1",
            f"12 V: {all_at_once:.1f} A all at once; start at most {group} together",
        )
    peak = peak_dc_w(machine)
    if peak > supply.rated_w.mid:
        yield error(
            "P1",
            f"{peak:.0f} W at the worst instant, {supply.name} gives {supply.rated_w.mid:.0f} W",
            "choose a larger supply",
        )


def _wakes_over(machine: Machine) -> bool:
    """Return whether hosts stagger power-on, but one access can wake all at once."""
    return starts_in_turn(machine) and must_start_together(machine)


@rule(
    "P2",
    "The 12 V rail carries a wake",
    "Staggering at power-on says nothing of a stripe that one access wakes as a whole.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use a supply with more on 12 V, or see that drives wake in turn.",
)
def wake_12v(context: Context) -> Iterator[Finding]:
    """Yield findings where hosts stagger power-on and one access wakes all drives."""
    machine, supply = context.machine, context.machine.supply
    if supply is None or not machine.array or not _wakes_over(machine):
        return
    rail = supply.rail_12v_a.mid
    planned = rail * machine.factors.rail_share.mid
    together = rail_12v_a(machine, len(machine.array))
    fix = (
        "choose a supply with more on 12 V, let drives never stop, or see them wake "
        "one after the other and write choices.sequential_wake_verified = true"
    )
    if together > rail:
        yield error(
            "P2",
            f"12 V: {together:.1f} A when one access wakes all drives, {rail:.1f} A on "
            "the rail",
            fix,
        )
    elif together > planned >= rail_12v_a(machine, 1):
        yield warning(
            "P2",
            f"12 V: {together:.1f} A when one access wakes all drives, {planned:.1f} A "
            "to plan with",
            fix,
        )


@rule(
    "P3",
    "The 5 V rail carries the drives",
    "The 5 V rail sags and drives drop out; external supplies give little on it.",
    remedy="Use a supply with more on 5 V.",
)
def rail_5v(context: Context) -> Iterator[Finding]:
    """Yield an error where the drives take more than the 5 V rail gives."""
    supply = context.machine.supply
    if supply is None:
        return
    taken = sum(drive_5v_a(drive.part) for drive in context.machine.drives)
    if exceeds(taken, supply.rail_5v_a.mid):
        yield error(
            "P3", f"5 V: {taken:.1f} A taken, {supply.rail_5v_a.mid:.1f} A on the rail"
        )


@rule(
    "P8",
    "3.3 and 5 V together are within the supply",
    "Both rails come from one converter: beyond its watts both sag.",
    remedy="Use a supply with more on 3.3 and 5 V.",
)
def combined(context: Context) -> Iterator[Finding]:
    """Yield an error where 3.3 and 5 V together take more than the supply gives."""
    supply = context.machine.supply
    if supply is None:
        return
    most = low_volts_most_w(supply)
    taken = sum(low_volts_w(drive.part) for drive in context.machine.drives)
    if exceeds(taken, most):
        yield error(
            "P8", f"3.3 and 5 V: {taken:.0f} W taken, {most:.0f} W of the supply"
        )


@rule(
    "P5",
    "The supply's plugs suit the board",
    "The plugs do not go into each other, and adapters between them are not in the build.",
    remedy="Use a supply with the board's plugs.",
)
def board_plugs(context: Context) -> Iterator[Finding]:
    """Yield errors for board power plugs that are missing."""
    board, supply = context.machine.board, context.machine.supply
    if board is None or supply is None:
        return
    if supply.power_plug != board.power_inlet:
        yield error(
            "P5",
            f"{supply.name} has a {supply.power_plug} plug, {board.name} takes {board.power_inlet}",
        )
    if supply.power_plug == "atx24" and supply.cpu_power_plugs < board.cpu_power_plugs:
        yield error(
            "P5",
            f"{board.name} needs {board.cpu_power_plugs} processor plugs, {supply.name} has {supply.cpu_power_plugs}",
        )
