"""The register of kinds: name, record, file."""

from optibox.catalog.attachment import (
    Cable,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive

KINDS: tuple[type[Part], ...] = (
    Chassis,
    Board,
    Processor,
    Cooler,
    Memory,
    PowerSupply,
    PowerLead,
    MountingPlate,
    Controller,
    Riser,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    HardDrive,
    SolidStateDrive,
    BootMedium,
    DriveAdapter,
    Cable,
)
"""Every kind, in the order in which a machine is put together."""

KIND_BY_NAME: dict[str, type[Part]] = {record.kind: record for record in KINDS}


def file_name(kind: str) -> str:
    """Return the file of a kind in a catalog folder.

    Examples
    --------
    >>> file_name("solid-state drive")
    'solid-state-drive.csv'
    """
    return kind.replace(" ", "-") + ".csv"
