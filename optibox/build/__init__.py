"""The one record that everything else speaks about: parts, wiring, operation."""

from optibox.build.items import Item, items_of
from optibox.build.records import (
    BOARD,
    Build,
    Connection,
    DriveUse,
    ItemCount,
    OperatingPlan,
    PowerFeed,
    Role,
    SlotUse,
    Surroundings,
)
from optibox.build.store import Label, build_text, load_build, save_build

__all__ = [
    "BOARD",
    "Build",
    "Connection",
    "DriveUse",
    "Item",
    "ItemCount",
    "Label",
    "OperatingPlan",
    "PowerFeed",
    "Role",
    "SlotUse",
    "Surroundings",
    "build_text",
    "items_of",
    "load_build",
    "save_build",
]
