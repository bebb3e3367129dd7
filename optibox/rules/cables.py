"""Rules of data cables beyond their ends: length, lamps, spares."""

from collections.abc import Iterator

from optibox.catalog.attachment import Cable
from optibox.rules.context import Context
from optibox.rules.register import Finding, information, rule, warning

SATA_CABLE_M = 1.0
"""Longest internal SATA cable (Serial ATA specification, quoted from memory). [m]"""


@rule(
    "C6",
    "Data cables are short enough",
    "Longer cables lose bits: links drop to a lower rate, time out, or fail under load.",
    severities=("warning",),
    remedy="Use a cable of at most 1 m.",
)
def cable_length(context: Context) -> Iterator[Finding]:
    """Yield warnings for cables over 1 m that carry SATA; SAS carries further."""
    for piece, drives in context.pieces():
        cable = context.cable(drives[0])
        speaks_sata = any(getattr(d.part, "interface", "") != "sas" for d in drives)
        if cable is not None and speaks_sata and cable.length_m > SATA_CABLE_M:
            yield warning(
                "C6",
                f"{piece} ({cable.name}) is {cable.length_m:g} m long, SATA is made for "
                f"{SATA_CABLE_M:g} m",
            )


@rule(
    "C7",
    "The trays' lamps are connected",
    "Activity and locate lamps stay dark, and the wrong drive is pulled more easily. "
    "Common practice, no source.",
    severities=("warning",),
    remedy="Use a cable with the sideband lead, or label the bays.",
)
def sideband(context: Context) -> Iterator[Finding]:
    """Yield warnings for reverse breakouts that carry no sideband signals."""
    for piece, drives in context.pieces():
        cable = context.cable(drives[0])
        if (
            cable is not None
            and cable.direction == "reverse"
            and not cable.has_sideband
        ):
            bays = ", ".join(d.connection.bay for d in drives if d.connection)
            yield warning(
                "C7", f"{piece} ({cable.name}) carries no signals for lamps: {bays}"
            )


@rule(
    "C14",
    "A spare cable lies on the shelf",
    "A broken cable looks like a broken drive; a spare one tells them apart in "
    "minutes. Common practice, no source.",
    severities=("information",),
    remedy="Add one spare of each type.",
)
def spare_cables(context: Context) -> Iterator[Finding]:
    """Yield information for each type of cable in use without a spare of its ends."""
    kinds: dict[tuple[str, str, str], str] = {}
    for drive in context.bay_drives:
        cable = context.cable(drive)
        if cable is not None:
            ends: tuple[str, str, str] = (
                cable.direction,
                cable.controller_end,
                cable.drive_end,
            )
            kinds.setdefault(ends, cable.name)
    spares: set[tuple[str, str, str]] = {
        (e.item.part.direction, e.item.part.controller_end, e.item.part.drive_end)
        for e in context.machine.build.spares
        if isinstance(e.item.part, Cable)
    }
    for kind, name in kinds.items():
        if kind not in spares:
            yield information("C14", f"no spare for {name}")
