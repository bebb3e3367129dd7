"""Bays by name, what plugs into the backplane, what hangs on cables."""

from optibox.catalog.platform import Chassis
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.machine.view import DriveView


def bay_number(bay: str) -> tuple[str, int]:
    """Return a bay's size and number; number 0 where the name is none.

    Examples
    --------
    >>> bay_number("3.5-12")
    ('3.5', 12)
    """
    size, _, number = bay.rpartition("-")
    return (size, int(number)) if number.isdigit() else (bay, 0)


def is_on_backplane(chassis: Chassis, bay: str) -> bool:
    """Return whether a bay's drive plugs into the backplane."""
    size, number = bay_number(bay)
    return size == "3.5" and 1 <= number <= chassis.bays_on_backplane


def needs_port(drive: DriveView) -> bool:
    """Return whether a drive needs a SATA or SAS port by cable."""
    part = drive.part
    if isinstance(part, SolidStateDrive):
        return part.form == "2.5"
    return isinstance(part, HardDrive) or (
        isinstance(part, BootMedium) and part.interface == "sata"
    )
