"""Rules of air and vibration around drives and hot cards."""

import math
from collections.abc import Iterator

from optibox.catalog.attachment import Card
from optibox.catalog.storage import HardDrive
from optibox.machine.bays import bay_number
from optibox.rules.context import Context
from optibox.rules.register import Finding, information, rule, warning

DRIVES_PER_FAN = 5
"""Spinning 3.5 inch drives, of 5 to 8 W each, that one fan drawing across them keeps at
25 to 45 degrees; common practice, no source. Field studies disagree on how much
temperature matters (Pinheiro, Weber, Barroso, FAST 2007, quoted from memory)."""

FEW_DRIVES = 3
"""So many drives cool themselves; common practice, no source."""

QUIET_CAGE = 4
"""Drives in one cage up to which their vibration does not add up; judgement."""


def _large(context: Context) -> list[HardDrive]:
    """Return the 3.5 inch drives that sit in bays of the chassis."""
    return [
        drive.part
        for drive in context.bay_drives
        if isinstance(drive.part, HardDrive)
        and drive.connection is not None
        and bay_number(drive.connection.bay)[0] == "3.5"
        and drive.part.form == "3.5"
    ]


@rule(
    "F7",
    "Enough fans draw across the drives",
    "Drives stacked close without moving air run hot; hot drives fail earlier.",
    severities=("warning",),
    remedy="Add a fan before the cage, leave bays empty, or use a chassis with more.",
)
def drive_fans(context: Context) -> Iterator[Finding]:
    """Yield a warning where there are fewer fans than one for five drives."""
    chassis, drives = context.machine.chassis, _large(context)
    if chassis is None or len(drives) <= FEW_DRIVES:
        return
    wanted = math.ceil(len(drives) / DRIVES_PER_FAN)
    if chassis.n_fans < wanted:
        heat = sum(part.idle_w.mid for part in drives)
        yield warning(
            "F7",
            f"{len(drives)} drives of {heat:.0f} W together behind {chassis.n_fans} fans, "
            f"{wanted} wanted",
        )


@rule(
    "F8",
    "Hot cards get air",
    "Passive cards of 10 W and more are made for the wind of a rack; without it they "
    "throttle, drop links or die.",
    severities=("warning",),
    remedy="Put a fan before its heat sink.",
)
def card_air(context: Context) -> Iterator[Finding]:
    """Yield warnings for passive hot cards outside racks with fans in a row."""
    chassis = context.machine.chassis
    if chassis is None or (chassis.shape == "rack" and chassis.n_fans >= 2):
        return
    for name, card in context.machine.cards.items():
        part = card.item.part
        if isinstance(part, Card) and part.needs_airflow:
            yield warning(
                "F8",
                f"{name} ({part.name}) is passive and gives off "
                f"{part.active_dc_w:.0f} W; a {chassis.shape} moves little air there",
            )


@rule(
    "F9",
    "Few plain drives shake each other",
    "Drives not made for cages lose track of the tracks when many spin side by side: "
    "slower, louder, more retries.",
    severities=("information",),
    remedy="Decouple the bays with rubber, or use drives made for cages.",
)
def vibration(context: Context) -> Iterator[Finding]:
    """Yield information where more than four unrated drives share a chassis."""
    plain = [part for part in _large(context) if not part.is_vibration_rated]
    if len(plain) > QUIET_CAGE:
        yield information(
            "F9", f"{len(plain)} drives that are not made for cages of many"
        )
