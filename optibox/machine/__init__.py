"""A build seen as a machine: links, hosts, drives on their paths."""

from optibox.machine.view import (
    CHIPSET,
    CardView,
    DriveView,
    LinkView,
    Machine,
    machine_of,
)

__all__ = ["CHIPSET", "CardView", "DriveView", "LinkView", "Machine", "machine_of"]
