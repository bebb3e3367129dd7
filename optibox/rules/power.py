"""Rules of currents, leads and connectors."""

from collections.abc import Iterator

from optibox.catalog.platform import PowerLead
from optibox.catalog.storage import HardDrive
from optibox.figures.power import (
    drive_5v_a,
    peak_dc_w,
    rail_12v_a,
    starts_in_turn,
)
from optibox.machine import Machine
from optibox.rules.context import Context, is_on_backplane
from optibox.rules.register import Finding, error, information, rule, warning
from optibox.rules.wiring import needs_port

SATA_PLUG_A = 4.5
"""Three 12 V pins of 1.5 A (Serial ATA specification, from memory)."""


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
    if taken > supply.rail_5v_a.mid:
        yield error(
            "P3", f"5 V: {taken:.1f} A taken, {supply.rail_5v_a.mid:.1f} A on the rail"
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


def supply_plugs(machine: Machine) -> dict[str, int]:
    """Return the drive power plugs that supply and board offer, by type."""
    plugs = {"sata": 0, "peripheral": 0}
    if machine.supply is not None:
        for lead in machine.supply.leads:
            plugs[lead.plug] += lead.count
    if machine.board is not None:
        plugs["sata"] += machine.board.dc_sata_plugs
    return plugs


def plugs_wanted(context: Context) -> dict[str, int]:
    """Return the power plugs that backplane and bare drives want, by type."""
    wanted = {"sata": 0, "peripheral": 0}
    chassis = context.machine.chassis
    inlets = chassis.backplane_power if chassis else ()
    for lead in inlets:
        wanted[lead.plug] += lead.count
    wanted["sata"] += len(bare_drives(context))
    return wanted


def bare_drives(context: Context) -> list[str]:
    """Return the names of drives that take a SATA power plug of their own."""
    chassis = context.machine.chassis
    names = []
    for drive in context.machine.drives:
        wire = drive.connection
        if not needs_port(drive) or wire is None:
            continue
        fed = chassis is not None and chassis.backplane_power
        if not (fed and chassis and is_on_backplane(chassis, wire.bay)):
            names.append(drive.name)
    return names


@rule(
    "C8",
    "Every drive gets power",
    "A drive or backplane without a power plug does not run.",
    remedy="Add a splitter or adapter, or use a supply with more leads.",
)
def power_plugs(context: Context) -> Iterator[Finding]:
    """Yield errors where plugs do not add up, and for dangerous adapters."""
    machine = context.machine
    wanted, have = plugs_wanted(context), supply_plugs(machine)
    for lead, count in machine.build.of(PowerLead):
        wanted[lead.takes_plug] += count
        have[lead.gives_plug] += count * lead.fan_out
    for plug, count in wanted.items():
        if count > have[plug]:
            yield error(
                "C8",
                f"{count} {plug} power plugs wanted, {have[plug]} there",
                "add a splitter or adapter, or choose a supply with more leads",
            )
    for lead in hanging_in_the_air(machine):
        yield error(
            "C8",
            f"{lead.name} takes a {lead.takes_plug} plug, which nothing gives it",
            "choose one for a plug that the supply has",
        )


def hanging_in_the_air(machine: Machine) -> list[PowerLead]:
    """Return the splitters and adapters that could hang on each other alone."""
    leads = [lead for lead, _ in machine.build.of(PowerLead)]
    fed = {plug for plug, count in supply_plugs(machine).items() if count}
    for _ in leads:
        fed |= {lead.gives_plug for lead in leads if lead.takes_plug in fed}
    return [lead for lead in leads if lead.takes_plug not in fed]


def is_burning(lead: PowerLead) -> bool:
    """Return whether an adapter is known to be dangerous: moulded, or several drives."""
    crosses = lead.takes_plug == "peripheral" and lead.gives_plug == "sata"
    return crosses and (lead.is_moulded == "yes" or lead.fan_out > 1)


def splitter_a(lead: PowerLead, spin_up_a: float) -> float:
    """Return the current that a splitter on one SATA plug draws. [A]; 0 for others."""
    return (
        lead.fan_out * spin_up_a
        if lead.takes_plug == "sata" and lead.fan_out > 1
        else 0.0
    )


@rule(
    "C8a",
    "No moulded 4-pin-to-SATA adapters",
    "Moulded 4-pin-to-SATA adapters have caught fire; several drives on one overheat it.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use crimped adapters, one drive on each.",
)
def moulded(context: Context) -> Iterator[Finding]:
    """Yield findings for adapters of the dangerous make."""
    for lead, _ in context.machine.build.of(PowerLead):
        if is_burning(lead):
            yield error(
                "C8a",
                f"{lead.name}: moulded, or several drives on one adapter",
                "use a crimped adapter, one drive each",
            )
        elif (
            lead.takes_plug == "peripheral"
            and lead.gives_plug == "sata"
            and lead.is_moulded == "unknown"
        ):
            yield warning(
                "C8a",
                f"{lead.name}: whether it is moulded is not known",
                "look before fitting it",
            )


@rule(
    "C9",
    "No lead carries too much",
    "Overloaded plugs and wires overheat and melt: a SATA plug carries 4.5 A on 12 V, a 4-pin lead is planned with 8 A.",
    remedy="Spread the drives over more leads.",
)
def lead_currents(context: Context) -> Iterator[Finding]:
    """Yield errors for overloaded splitters and 4-pin leads."""
    machine, chassis = context.machine, context.machine.chassis
    spins = [
        d.part.spin_up_12v_a.mid for d in machine.array if isinstance(d.part, HardDrive)
    ]
    for lead, _ in machine.build.of(PowerLead):
        drawn = splitter_a(lead, max(spins, default=0.0))
        if drawn > SATA_PLUG_A:
            yield error(
                "C9",
                f"{lead.name}: {drawn:.1f} A on one SATA plug, at most {SATA_PLUG_A} A",
                "use one that feeds fewer drives",
            )
    if chassis is None or not any(
        x.plug == "peripheral" for x in chassis.backplane_power
    ):
        return
    on_backplane = sum(
        d.part.spin_up_12v_a.mid
        for d in machine.array
        if isinstance(d.part, HardDrive)
        and d.connection
        and is_on_backplane(chassis, d.connection.bay)
    )
    leads = [
        x
        for x in (machine.supply.leads if machine.supply else ())
        if x.plug == "peripheral"
    ]
    allowed = machine.factors.peripheral_lead_a.mid * len(leads)
    if on_backplane > allowed:
        yield error(
            "C9",
            f"backplane: {on_backplane:.1f} A on {len(leads)} 4-pin lead{'' if len(leads) == 1 else 's'}, at most {allowed:.1f} A",
        )


@rule(
    "C10",
    "Power-disable drives are not held in reset",
    "3.3 V on pin 3 of the power plug holds such drives in reset: they look dead.",
    severities=(
        "error",
        "warning",
        "information",
    ),
    remedy="Use leads without 3.3 V, or a backplane fed by 4-pin plugs.",
)
def power_disable(context: Context) -> Iterator[Finding]:
    """Yield findings for drives with power-disable on plugs that carry 3.3 V."""
    machine, chassis = context.machine, context.machine.chassis
    bare = set(bare_drives(context))
    free = free_of_3v3(machine)
    inlets = (
        sum(x.count for x in chassis.backplane_power if x.plug == "sata")
        if chassis
        else 0
    )
    yes = [
        d
        for d in machine.array
        if isinstance(d.part, HardDrive) and d.part.has_power_disable == "yes"
    ]
    unknown = [
        d
        for d in machine.array
        if isinstance(d.part, HardDrive) and d.part.has_power_disable == "unknown"
    ]
    n_bare = sum(d.name in bare for d in yes)
    wanted = n_bare + (inlets if len(yes) > n_bare else 0)
    if wanted > free:
        yield error(
            "C10",
            f"{len(yes)} drives with power-disable want {wanted} plugs without 3.3 V, {free} there",
            "use leads without 3.3 V, or a backplane fed by 4-pin plugs",
        )
    elif yes:
        yield information(
            "C10",
            f"{len(yes)} drives with power-disable hang on plugs without 3.3 V: keep it so",
        )
    if unknown and free < len(unknown) and any(d.name in bare for d in unknown):
        yield warning(
            "C10",
            f"whether {len(unknown)} drives have power-disable is not known",
            "look for 3.3 V on pin 3 if they do not start",
        )


def free_of_3v3(machine: Machine) -> int:
    """Return the SATA power plugs that do not carry 3.3 V."""
    supply = machine.supply
    own = 0
    if supply is not None and not supply.carries_3v3:
        own = sum(x.count for x in supply.leads if x.plug == "sata")
    if machine.board is not None:
        own += machine.board.dc_sata_plugs
    return own + sum(
        count * lead.fan_out
        for lead, count in machine.build.of(PowerLead)
        if lead.gives_plug == "sata" and not lead.carries_3v3
    )
