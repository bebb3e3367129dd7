"""The wiring map: every drive from its bay to the processor, every card in its slot."""

import math
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.build import BOARD
from optibox.catalog.attachment import Cable, Card, Controller, Riser
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.platform import PowerLead
from optibox.machine import DriveView, LinkView, Machine
from optibox.machine.view import trained
from optibox.present.looks import PLUGS, cable_ends, connector_name
from optibox.report.words import clean
from optibox.rules.context import (
    Context,
    backplane_connector,
    bay_number,
    is_on_backplane,
)
from optibox.rules.power import bare_drives, plugs_wanted, supply_plugs
from optibox.rules.wiring import needs_port

BAYS_PER_CONNECTOR = 4
"""Bays behind one multi-lane connector of a backplane."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringRow:
    """One drive on its way: bay, cable, port, card, slot, link, power."""

    drive: str
    role: str
    part_id: str
    label: str
    bay: str
    """Empty for what needs none."""
    is_on_backplane: bool
    adapter_id: str
    cable: str
    """Name of the piece; several drives share a breakout."""
    cable_id: str
    cable_words: str
    """Which end goes where."""
    leg: str
    """Which leg of a breakout, in words."""
    host: str
    """The board, the name of a card, or empty for a module."""
    host_label: str
    connector: int
    port: int
    port_words: str
    port_mb_s: float | None
    """Planning rate of the port; nothing where none is known."""
    slot: str
    link: str
    """The slot's link as it trains, in words."""
    link_mb_s: float | None
    """Planning rate of the narrowest shared link, nothing where none is shared."""
    shared_with: tuple[str, ...]
    """Other devices on the same slot or leg."""
    power: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRow:
    """One card in its slot."""

    name: str
    part_id: str
    label: str
    slot: str
    link: str
    link_mb_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerRow:
    """Drive power plugs of one type: what wants them, what gives them."""

    plug: str
    wanted: int
    given: int
    from_leads: int
    """Of the given ones, those on adapters and splitters."""


def wiring_rows(found: Assessment) -> tuple[WiringRow, ...]:
    """Return the way of every drive and boot medium, in the build's order."""
    return tuple(_row(found, drive) for drive in found.machine.drives)


def _row(found: Assessment, drive: DriveView) -> WiringRow:
    machine, wire = found.machine, drive.connection
    cable = _cable(machine, wire.cable_key if wire else "")
    links = [machine.links[name] for name in drive.path if name in machine.links]
    narrowest = min(links, key=lambda link: link.budget_mb_s, default=None)
    bay = wire.bay if wire else ""
    chassis = machine.chassis
    return WiringRow(
        drive=drive.name,
        role=drive.role,
        part_id=clean(drive.part.id),
        label=clean(drive.part.name),
        bay=clean(bay),
        is_on_backplane=bool(bay and chassis and is_on_backplane(chassis, bay)),
        adapter_id=clean(wire.adapter_key) if wire else "",
        cable=clean(wire.cable) if wire else "",
        cable_id=clean(cable.id) if cable else "",
        cable_words=", ".join(cable_ends(cable)) if cable else "",
        leg=_leg(machine, drive, cable),
        host=clean(wire.host) if wire else "",
        host_label=_host_label(machine, wire.host) if wire else "",
        connector=wire.connector if wire else 0,
        port=wire.port if wire else 0,
        port_words=_port_words(machine, drive),
        port_mb_s=_port_rate(machine, drive),
        slot=_slot_name(machine, drive),
        link=_link_words(narrowest),
        link_mb_s=narrowest.budget_mb_s if narrowest else None,
        shared_with=_sharers(machine, drive),
        power=_power_words(found, drive),
    )


def _port_rate(machine: Machine, drive: DriveView) -> float | None:
    in_slot = any(use.name == drive.name for use in machine.build.slots)
    is_known = drive.connection is not None or in_slot
    return drive.port_mb_s if is_known and math.isfinite(drive.port_mb_s) else None


def _cable(machine: Machine, key: str) -> Cable | None:
    for entry in machine.build.items:
        if entry.item.key == key and isinstance(entry.item.part, Cable):
            return entry.item.part
    return None


def _host_label(machine: Machine, host: str) -> str:
    if host == BOARD:
        return clean(machine.board.name) if machine.board else "no board"
    card = machine.cards.get(host)
    return clean(card.item.part.name) if card else "no such card"


def _leg(machine: Machine, drive: DriveView, cable: Cable | None) -> str:
    wire, chassis = drive.connection, machine.chassis
    if cable is None or wire is None or chassis is None:
        return ""
    _, number = backplane_connector(chassis, wire.bay)
    behind = f"backplane connector {number}" if number else ""
    if cable.direction == "forward":
        return f"SATA end {wire.port} is for this drive"
    if cable.direction == "reverse":
        place = (bay_number(wire.bay)[1] - 1) % BAYS_PER_CONNECTOR + 1
        return f"SATA end {place} is for bay {clean(wire.bay)}, {behind}"
    return behind if cable.direction == "straight" else ""


def _port_words(machine: Machine, drive: DriveView) -> str:
    """Return the port in words: the plug to look for on the board or card."""
    wire = drive.connection
    if wire is None:
        return _module_words(machine, drive)
    if wire.host == BOARD:
        return f"SATA port {wire.connector} of the board"
    card = machine.cards.get(wire.host)
    part = card.item.part if card else None
    if not isinstance(part, Controller):
        return f"port {wire.connector} of {clean(wire.host)}"
    name = connector_name(part.connectors.connector)
    if CONNECTOR_LANES[part.connectors.connector] == 1:
        return f"{name} port {wire.connector} of {clean(wire.host)}"
    return (
        f"lane {wire.port} of {name} connector {wire.connector} of {clean(wire.host)}"
    )


def _module_words(machine: Machine, drive: DriveView) -> str:
    slot = _slot_name(machine, drive)
    if slot:
        return f"M.2 socket {slot}"
    return "USB place inside the case" if not needs_port(drive) else "no port"


def _slot_name(machine: Machine, drive: DriveView) -> str:
    wire = drive.connection
    if wire is not None:
        card = machine.cards.get(wire.host)
        return clean(card.slot.name) if card and card.slot else ""
    place = next((s for s in machine.build.slots if s.name == drive.name), None)
    return clean(place.slot) if place else ""


def _link_words(link: LinkView | None) -> str:
    return clean(link.words) if link else ""


def _sharers(machine: Machine, drive: DriveView) -> tuple[str, ...]:
    """Return what else hangs on the links of a drive; equal names once."""
    mine = set(drive.path)
    others = [d.name for d in machine.drives if d != drive and mine & set(d.path)]
    port = machine.network
    if port is not None and mine & set(port.path):
        name = "network port of the board" if port.name == BOARD else port.name
        others.append(name)
    return tuple(dict.fromkeys(clean(name) for name in others))


def _power_words(found: Assessment, drive: DriveView) -> str:
    if not needs_port(drive) or drive.connection is None:
        return "from its socket"
    if drive.name in bare_drives(context_of(found)):
        return "a SATA power plug of its own"
    return "through the backplane"


def context_of(found: Assessment) -> Context:
    """Return an assessment as what rules look at."""
    return Context(
        machine=found.machine,
        capacity=found.capacity,
        rates=found.rates,
        year=found.year,
        wall=found.wall,
        cost=found.cost,
    )


def card_rows(found: Assessment) -> tuple[CardRow, ...]:
    """Return every card in its slot with the link that it gets."""
    machine, rows = found.machine, []
    for name, card in machine.cards.items():
        part, slot = card.item.part, card.slot
        link = machine.links.get(slot.name) if slot else None
        words = "no slot"
        if slot is not None and isinstance(part, Card | Riser):
            generation, lanes = trained(part, slot)
            words = f"PCIe Gen{generation} x{lanes}"
        rows.append(
            CardRow(
                name=clean(name),
                part_id=clean(part.id),
                label=clean(part.name),
                slot=clean(slot.name) if slot else "",
                link=words,
                link_mb_s=link.budget_mb_s if link else None,
            )
        )
    return tuple(rows)


def power_rows(found: Assessment) -> tuple[PowerRow, ...]:
    """Return the balance of drive power plugs by type, adapters counted on both sides."""
    machine = found.machine
    wanted, given = plugs_wanted(context_of(found)), supply_plugs(machine)
    extra = dict.fromkeys(given, 0)
    for lead, count in machine.build.of(PowerLead):
        wanted[lead.takes_plug] += count
        extra[lead.gives_plug] += count * lead.fan_out
    return tuple(
        PowerRow(
            plug=PLUGS[plug],
            wanted=wanted[plug],
            given=given[plug] + extra[plug],
            from_leads=extra[plug],
        )
        for plug in given
        if wanted[plug] or given[plug] or extra[plug]
    )
