"""What a rule may look at: the machine and the figures computed from it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.notation import Connector
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.figures.capacity import CapacityLadder
from optibox.figures.power import WallPower
from optibox.figures.rates import Rates
from optibox.figures.terms import CostTerms
from optibox.figures.year import Year
from optibox.machine import DriveView, Machine
from optibox.machine.bays import bay_number, is_on_backplane
from optibox.scenario import Scenario
from optibox.wiring import PowerTree, tree_of


@dataclass(frozen=True, kw_only=True)
class Context:
    """A machine with its figures."""

    machine: Machine
    capacity: CapacityLadder
    rates: Rates
    year: Year
    wall: WallPower
    cost: CostTerms

    @property
    def scenario(self) -> Scenario:
        """Return the scenario."""
        return self.machine.scenario

    @cached_property
    def power(self) -> PowerTree:
        """Return the power tree."""
        return tree_of(self.machine)

    @cached_property
    def bay_drives(self) -> tuple[DriveView, ...]:
        """Return the drives that have a connection."""
        return tuple(d for d in self.machine.drives if d.connection is not None)

    @cached_property
    def connectors_by_host(self) -> dict[str, Connector]:
        """Return the connector type of each host of ports."""
        found: dict[str, Connector] = {"board": "sata"}
        for name, card in self.machine.cards.items():
            if isinstance(card.item.part, Controller):
                found[name] = card.item.part.connectors.connector
        return found

    def cable(self, drive: DriveView) -> Cable | None:
        """Return the cable of a drive, or nothing."""
        if drive.connection is None:
            return None
        try:
            part = self.machine.build.item(drive.connection.cable_key).part
        except KeyError:
            return None
        return part if isinstance(part, Cable) else None

    def pieces(self) -> Iterator[tuple[str, list[DriveView]]]:
        """Yield each piece of cable with the drives on it."""
        found: dict[str, list[DriveView]] = {}
        for drive in self.bay_drives:
            if drive.connection is not None:
                found.setdefault(drive.connection.cable, []).append(drive)
        yield from found.items()


def backplane_connector(chassis: Chassis, bay: str) -> tuple[Connector, int]:
    """Return the connector type behind a bay, and its number for multi-lane ones."""
    if not is_on_backplane(chassis, bay) or chassis.backplane in (None, "sata"):
        return "sata", 0
    return chassis.backplane or "sata", (bay_number(bay)[1] - 1) // 4 + 1


def width_of(drive: DriveView) -> str:
    """Return the width of the bay that a drive wants; nothing if none."""
    part = drive.part
    if isinstance(part, HardDrive):
        return part.form
    if isinstance(part, SolidStateDrive):
        return "2.5" if part.form == "2.5" else ""
    return "2.5" if isinstance(part, BootMedium) and part.needs_bay else ""
