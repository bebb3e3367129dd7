"""What to look for when a part is ordered: the properties that the plan relies on.

One function per kind, the most decisive property first; whoever buys a substitute
needs all of them.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from optibox.build import Item
from optibox.catalog.attachment import (
    Cable,
    Card,
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
from optibox.catalog.storage import (
    BootMedium,
    DriveAdapter,
    HardDrive,
    SolidStateDrive,
)
from optibox.machine import DriveView, Machine
from optibox.machine.bays import is_on_backplane
from optibox.report.quantity import rate
from optibox.report.words import counted

_NAMES = {"sata": "SATA", "sff-8087": "SFF-8087", "sff-8643": "SFF-8643"}
_SPOKEN = {"sata": "SATA", "nvme": "NVMe"}
PLUGS = {"sata": "SATA power", "peripheral": "4-pin"}


def connector_name(connector: str) -> str:
    """Return what people call a connector."""
    return _NAMES.get(connector, connector)


def medium_name(medium: str) -> str:
    """Return what people call a network plug."""
    return {"sfp+": "SFP+"}.get(medium, medium)


def cable_ends(cable: Cable) -> tuple[str, ...]:
    """Return which end of a data cable goes where, in words, the telling end first.

    A forward and a reverse breakout look alike; only these words tell them apart.
    """
    host, far = connector_name(cable.controller_end), connector_name(cable.drive_end)
    return {
        "single": ("plain SATA plug at each end",),
        "forward": (f"{host} end at controller", "four SATA ends at the drives"),
        "reverse": (
            f"{far} end at backplane",
            "four SATA ends at the ports of board or controller",
        ),
        "straight": (f"{host} end at controller", f"{far} end at backplane"),
    }[cable.direction]


@dataclass(frozen=True)
class Reliance:
    """What a machine relies on in its parts."""

    machine: Machine

    @cached_property
    def slots_of(self) -> dict[str, list[str]]:
        """Return the slots in use by item key."""
        found: dict[str, list[str]] = {}
        for use in self.machine.build.slots:
            found.setdefault(use.key, []).append(use.slot)
        return found

    def drives_of(self, key: str) -> list[DriveView]:
        """Return the drives that are pieces of one item."""
        return [drive for drive in self.machine.drives if drive.item.key == key]

    def of(self, item: Item) -> tuple[str, ...]:
        """Return the properties of one item that this machine relies on."""
        writer = _WRITERS.get(type(item.part))
        return tuple(writer(self, item)) if writer else ()


_Writer = Callable[[Reliance, Item], Iterator[str]]
_WRITERS: dict[type[Part], _Writer] = {}


def _writer(record: type[Part]) -> Callable[[_Writer], _Writer]:
    def enter(function: _Writer) -> _Writer:
        _WRITERS[record] = function
        return function

    return enter


def _part(item: Item) -> Any:  # noqa: ANN401 - each writer knows its own kind
    return item.part


@_writer(Chassis)
def _chassis(to: Reliance, item: Item) -> Iterator[str]:
    part: Chassis = _part(item)
    bays = [d.connection.bay for d in to.machine.drives if d.connection]
    large, small = (
        sum(bay.startswith(size) for bay in bays) for size in ("3.5", "2.5")
    )
    words = [f"{n} of {size}" for n, size in ((large, "3.5"), (small, "2.5")) if n]
    if words:
        yield f"bays used: {' and '.join(words)} inch"
    behind = sum(is_on_backplane(part, bay) for bay in bays)
    if behind and part.backplane:
        yield f"backplane with {connector_name(part.backplane)}"
        fed = [counted(x.count, f"{PLUGS[x.plug]} inlet") for x in part.backplane_power]
        if fed:
            yield f"fed by {' and '.join(fed)}"
    if to.machine.board:
        yield f"takes a {to.machine.board.form} board"
    if part.bracket == "low" and to.machine.cards:
        yield "low-profile cards only"
    if to.machine.scenario.needs.hot_swap:
        yield "trays for hot-swap"


@_writer(PowerSupply)
def _supply(_to: Reliance, item: Item) -> Iterator[str]:
    part: PowerSupply = _part(item)
    plugs: dict[str, int] = {}
    for lead in part.leads:
        plugs[lead.plug] = plugs.get(lead.plug, 0) + lead.count
    if plugs:
        words = [f"{count} {PLUGS[plug]}" for plug, count in plugs.items()]
        yield f"plugs: {' and '.join(words)}"
    yield part.form if part.form == "brick" else f"{part.form.upper()} form"
    yield f"{part.rail_12v_a.mid:g} A on 12 V, {part.rail_5v_a.mid:g} A on 5 V"
    yield f"loses {part.loss_fixed_w.mid:g} W at no load"


@_writer(Board)
def _board(to: Reliance, item: Item) -> Iterator[str]:
    part: Board = _part(item)
    slots = {slot.name: slot for slot in part.slots}
    used = [slots[name] for name in to.machine.used_slots if name in slots]
    onboard = sum(
        d.connection.host == "board" for d in to.machine.drives if d.connection
    )
    if onboard:
        yield f"{onboard} of {counted(part.sata_ports, 'SATA port')} used"
    for slot in used:
        what = "M.2 socket" if slot.form == "m2" else "slot"
        yield f"{what} {slot.name} x{slot.lanes} Gen{slot.generation}"
    port = to.machine.network
    if port is not None and port.name == "board":
        yield f"{part.network_gbit_s:g} Gb/s port ({medium_name(part.network_medium)})"
    yield f"{part.memory_type.upper()} {part.memory_form.upper()}"
    if to.machine.scenario.needs.ecc:
        yield "corrects memory errors"
    if part.has_soldered_processor:
        yield "soldered processor"
    else:
        yield f"socket {part.socket}"


@_writer(Processor)
def _processor(to: Reliance, item: Item) -> Iterator[str]:
    part: Processor = _part(item)
    yield f"socket {part.socket}"
    if part.has_graphics:
        yield "display output"
    if to.machine.scenario.needs.ecc:
        yield "corrects memory errors"
    yield f"one stream {part.file_sharing_gb_s.mid * 1000:g} MB/s"


@_writer(Cooler)
def _cooler(to: Reliance, item: Item) -> Iterator[str]:
    part: Cooler = _part(item)
    if to.machine.chassis:
        most = to.machine.chassis.cooler_clearance_mm
        yield f"{part.height_mm:g} mm high, {most:g} at most"
    yield f"removes {part.tdp_w.mid:g} W"


@_writer(Memory)
def _memory(to: Reliance, item: Item) -> Iterator[str]:
    part: Memory = _part(item)
    yield f"{part.memory_type.upper()} {part.form.upper()}, {part.gib:g} GiB each"
    yield "registered" if part.is_registered else "not registered"
    if to.machine.scenario.needs.ecc:
        yield "with check bits"


@_writer(BootMedium)
def _boot(to: Reliance, item: Item) -> Iterator[str]:
    part: BootMedium = _part(item)
    yield {
        "usb": "in a USB place of the board",
        "sata": "on a SATA port of its own",
        "m2": f"M.2 module, {_SPOKEN[part.module_mode or 'sata']}",
    }[part.interface]
    if slots := to.slots_of.get(item.key):
        yield f"in {slots[0]}"


def _card(to: Reliance, item: Item) -> Iterator[str]:
    part: Card = _part(item)
    chassis = to.machine.chassis
    if part.bus == "pcie" and chassis and chassis.bracket == "low":
        yield "low-profile bracket in the box"
    if not part.is_deep_idle_blocker:
        yield "lets the processor sleep deeply"
    yield f"PCIe Gen{part.generation} x{part.lanes}"


@_writer(Controller)
def _controller(to: Reliance, item: Item) -> Iterator[str]:
    part: Controller = _part(item)
    if not part.is_multiplied:
        yield f"{part.n_ports} native ports, no multiplier"
    else:
        yield f"{part.n_ports} ports, some behind a multiplier"
    if part.connectors.connector != "sata":
        name = connector_name(part.connectors.connector)
        yield counted(part.connectors.count, f"{name} connector")
    if part.pass_through in ("yes", "after new firmware"):
        after = " once its firmware is changed" if part.pass_through != "yes" else ""
        yield f"passes drives through{after}"
    if to.machine.operation.timeout_min is not None and part.passes_standby == "yes":
        yield "lets drives sleep"
    if to.machine.scenario.needs.hot_swap:
        yield "ports take drives while running"
    yield from _card(to, item)


@_writer(NetworkCard)
def _network_card(to: Reliance, item: Item) -> Iterator[str]:
    part: NetworkCard = _part(item)
    yield f"{part.network_gbit_s:g} Gb/s, {medium_name(part.medium)}"
    yield from _card(to, item)


@_writer(Riser)
def _riser(to: Reliance, item: Item) -> Iterator[str]:
    part: Riser = _part(item)
    if part.has_switch:
        yield "with a switch chip, slot need not split its lanes"
    elif part.n_sockets > 1:
        yield "without switch chip: the slot splits its lanes"
    yield f"{counted(part.n_sockets, 'M.2 socket')} x{part.socket_lanes}"
    yield from _card(to, item)


@_writer(DisplayCard)
def _display(to: Reliance, item: Item) -> Iterator[str]:
    part: DisplayCard = _part(item)
    yield "remote management" if part.is_management else "shows the firmware"
    yield from _card(to, item)


@_writer(SolidStateDrive)
def _solid(to: Reliance, item: Item) -> Iterator[str]:
    part: SolidStateDrive = _part(item)
    where = "2.5 inch SATA" if part.form == "2.5" else f"M.2 {_SPOKEN[part.interface]}"
    yield f"{where}, {part.tb * 1000:g} GB"
    yield f"writes {rate(part.write_mb_s.mid)} for hours"
    yield f"rated for {part.tbw.mid:g} TB written"
    if part.has_power_loss_protection:
        yield "power-loss protection"
    if slots := to.slots_of.get(item.key):
        yield f"in {' and '.join(slots)}"


@_writer(HardDrive)
def _hard(to: Reliance, item: Item) -> Iterator[str]:
    part: HardDrive = _part(item)
    how = f", {part.recording} recording" if part.recording != "unknown" else ""
    yield f"{part.tb:g} TB{how}"
    if part.has_power_disable == "no" and any(
        d.connection for d in to.drives_of(item.key)
    ):
        yield "no power-disable pin"
    elif part.has_power_disable == "yes":
        yield "power-disable: needs a plug without 3.3 V"
    yield f"{rate(part.outer_rate_mb_s.mid)} when empty"
    if part.interface == "sas":
        yield "SAS plug"
    if part.form == "2.5":
        yield f"{part.height_mm:g} mm high"
    chassis = to.machine.chassis
    if (
        chassis
        and chassis.tray_holes == "middle side only"
        and part.side_holes == "all"
    ):
        yield "middle side holes"
    if math.isfinite(part.idle_w.mid):
        yield f"{part.idle_w.mid:g} W spinning, {part.standby_w.mid:g} W asleep"


@_writer(DriveAdapter)
def _adapter(_to: Reliance, item: Item) -> Iterator[str]:
    part: DriveAdapter = _part(item)
    yield "holes meet the tray's" if part.fits_tray else "screws into a fixed bay"
    yield f"drives up to {part.max_height_mm:g} mm"


@_writer(Cable)
def _cable(_to: Reliance, item: Item) -> Iterator[str]:
    part: Cable = _part(item)
    yield from cable_ends(part)
    if part.direction in ("forward", "reverse"):
        yield f"a {part.direction} breakout"
    yield f"{part.length_m * 100:g} cm"
    if part.has_sideband:
        yield "with sideband wires"


@_writer(PowerLead)
def _power_lead(_to: Reliance, item: Item) -> Iterator[str]:
    part: PowerLead = _part(item)
    if part.is_moulded == "no":
        yield "crimped"
    if part.gives_plug == "sata" and not part.carries_3v3:
        yield "without 3.3 V"
    takes, gives = PLUGS[part.takes_plug], PLUGS[part.gives_plug]
    yield f"one {takes} plug to {part.fan_out} {gives}"


@_writer(MountingPlate)
def _plate(_to: Reliance, item: Item) -> Iterator[str]:
    part: MountingPlate = _part(item)
    yield f"{part.supply_form.upper()} supply in a {part.opening_form.upper()} opening"


@_writer(NetworkLead)
def _network_lead(_to: Reliance, item: Item) -> Iterator[str]:
    part: NetworkLead = _part(item)
    yield f"{part.type}, {part.network_gbit_s:g} Gb/s, {part.length_m:g} m"
    yield f"{medium_name(part.medium)} at both ends"
    yield "measure the way first"
