"""How bad it is to put a drive on a port, into a bay, behind a cable.

The weights only order findings by gravity: a drive without a port is not there at all,
one without a bay hangs loose, one without a cable wants a cable. They are judgement,
no source; what counts in the end is what the evaluator finds.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from optibox.build import Item
from optibox.build.sketch import WireSketch
from optibox.catalog.attachment import Controller
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board
from optibox.catalog.storage import (
    BootMedium,
    Drive,
    DriveAdapter,
    HardDrive,
    SolidStateDrive,
)
from optibox.completion.seats import BayGroup, CableKind, PortGroup
from optibox.machine.view import Machine
from optibox.rules.platform import LARGEST_32_BIT_TB
from optibox.rules.wiring import cable_direction

NO_PORT, NO_BAY, NO_CABLE, SHORT_CABLE = 1000.0, 250.0, 150.0, 140.0
WRONG_PROTOCOL, WRONG_ADDRESS, MULTIPLIED, ALLOWED_MULTIPLIER = 300.0, 200.0, 100.0, 8.0
TOO_HIGH, WRONG_HOLES, NO_ADAPTER = 100.0, 80.0, 120.0
NO_STANDBY, NO_HOT_PLUG, MIXED_HOSTS = 40.0, 40.0, 20.0
POWER_DISABLED, UNFED, ADAPTED, NEW_PIECE, ASSUMED = 3.0, 0.2, 0.5, 0.05, 0.3
TIE = 1.0
"""Sums within this are alike: only findings part them, not preferences."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """One drive on its way to a port, with what is known of the way."""

    name: str
    item: Item
    role: str
    width: str
    """Bay that it wants: 3.5, 2.5, or nothing."""
    wire: WireSketch

    @property
    def part(self) -> Drive | BootMedium:
        """Return the drive's part."""
        part = self.item.part
        if not isinstance(part, Drive | BootMedium):
            msg = f"{self.item.key} is not a drive"
            raise TypeError(msg)
        return part

    @property
    def is_free(self) -> bool:
        """Return whether nothing is known of its way."""
        wire = self.wire
        return (wire.bay, wire.host, wire.cable_key, wire.adapter_key) == (None,) * 4

    @property
    def height_mm(self) -> float:
        """Return the height of a small drive. [mm]."""
        part = self.part
        is_drive = isinstance(part, HardDrive | SolidStateDrive)
        return part.height_mm if is_drive else 7.0  # type: ignore[union-attr]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Which small parts may be taken that the sketch does not list."""

    cables: Mapping[CableKind, Item]
    """Cheapest of each kind; empty where the sketch lists its cables itself."""
    adapters: tuple[Item, ...] = ()


def host_part(machine: Machine, host: str) -> Board | Controller | None:
    """Return the part whose ports a host's are."""
    card = machine.cards.get(host)
    part = card.item.part if card else machine.board
    return part if isinstance(part, Board | Controller) else None


def port_cost(machine: Machine, rider: Rider, group: PortGroup) -> float:
    """Return how bad a port is for a drive."""
    part, host = rider.part, host_part(machine, group.host)
    choices = machine.scenario.choices
    cost = 0.0
    if isinstance(part, HardDrive) and part.interface == "sas":
        cost += 0.0 if getattr(host, "speaks_sas", False) else WRONG_PROTOCOL
    if isinstance(host, Controller):
        is_large = isinstance(part, HardDrive) and part.tb > LARGEST_32_BIT_TB
        cost += WRONG_ADDRESS if host.has_32_bit_addresses and is_large else 0.0
        is_array = rider.role in ("data", "parity")
        cost += NO_STANDBY if is_array and host.passes_standby == "no" else 0.0
    if group.is_multiplied:
        cost += ALLOWED_MULTIPLIER if choices.allow_multipliers else MULTIPLIED
    if machine.scenario.needs.hot_swap and not getattr(host, "has_hot_plug", False):
        cost += NO_HOT_PLUG
    return cost


def bay_cost(machine: Machine, rider: Rider, group: BayGroup) -> float | None:
    """Return how bad a bay is for a drive, adapters apart; nothing where it cannot be."""
    chassis, part = machine.chassis, rider.part
    if not rider.width or not group.size:
        return 0.0 if not rider.width and not group.size else None
    if rider.width > group.size or chassis is None:
        return None
    cost = 0.0 if group.is_fed or not chassis.backplane_power else UNFED
    cost += _power_disable(machine, rider, group)
    if rider.width == "3.5" and isinstance(part, HardDrive):
        picky = chassis.tray_holes == "middle side only"
        cost += WRONG_HOLES if picky and part.side_holes == "no middle side" else 0.0
    elif group.size == "2.5":
        cost += TOO_HIGH if rider.height_mm > chassis.bay_25_height_mm else 0.0
    else:
        cost += ADAPTED
    return cost


def _power_disable(machine: Machine, rider: Rider, group: BayGroup) -> float:
    """Return what speaks against a place whose plug carries 3.3 V."""
    part, chassis, supply = rider.part, machine.chassis, machine.supply
    if not isinstance(part, HardDrive) or part.has_power_disable != "yes":
        return 0.0
    by_sata = chassis is not None and any(
        lead.plug == "sata" for lead in chassis.backplane_power
    )
    has_3v3 = supply is None or supply.carries_3v3
    return POWER_DISABLED if has_3v3 and (by_sata or not group.is_fed) else 0.0


def adapter_fits(rider: Rider, group: BayGroup, part: Part) -> bool:
    """Return whether an adapter brings a small drive into a large bay."""
    if not isinstance(part, DriveAdapter) or rider.height_mm > part.max_height_mm:
        return False
    return part.fits_tray or not group.is_tray


def cable_kind(port: PortGroup, bay: BayGroup) -> CableKind:
    """Return the cable that a port and a bay want."""
    ends = (port.connector, bay.connector)
    return cable_direction(*ends), *ends


def new_piece_cost(
    kind: CableKind, listed: Mapping[CableKind, Collection[str]], stock: Stock
) -> float:
    """Return what it costs to begin another piece of cable of a kind."""
    if listed.get(kind):
        return NEW_PIECE
    if kind in stock.cables:
        return ASSUMED
    return NO_CABLE if not listed.get(kind) and not stock.cables else SHORT_CABLE
