"""The one record that everything else speaks about: parts, wiring, operation."""

from optibox.build.items import Item, items_of
from optibox.build.records import (
    BOARD,
    Build,
    Connection,
    DriveUse,
    ItemCount,
    OperatingPlan,
    Role,
    SlotUse,
)

__all__ = [
    "BOARD",
    "Build",
    "Connection",
    "DriveUse",
    "Item",
    "ItemCount",
    "OperatingPlan",
    "Role",
    "SlotUse",
    "items_of",
]
