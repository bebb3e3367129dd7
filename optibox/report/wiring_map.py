"""The wiring map: every drive from its bay to the processor, every card in its slot."""

import math
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.build import BOARD
from optibox.catalog.attachment import Cable, Card, Controller, Riser
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.machine import DriveView, LinkView, Machine
from optibox.machine.bays import bay_number, is_on_backplane, needs_port
from optibox.machine.view import trained
from optibox.report.looks import PLUGS, cable_ends, connector_name
from optibox.report.quantity import number
from optibox.report.words import and_list, clean, counted
from optibox.rules.context import Context, backplane_connector
from optibox.wiring import PowerTree, tree_of
from optibox.wiring.loads import INLET
from optibox.wiring.words import (
    edge_words,
    giver_words,
    plug_name,
    power_short,
    power_words,
)

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
    power_short: str
    """The same in few words, for a table."""


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
    """One power plug in use."""

    load: str
    """What hangs on it: a drive, an inlet of the backplane, an adapter."""
    part_id: str
    """The adapter's part; empty for others."""
    label: str
    plug: str
    """Its type."""
    source: str
    """A lead of the supply, the board, or an adapter."""
    number: int
    """Which plug of it, from 1."""
    words: str
    """The plug and all that lies between it and the supply."""
    carries_3v3: bool
    on_12v_at_work_a: float
    on_12v_at_start_a: float
    on_5v_a: float
    most_a: float
    """What plug and adapter carry on each voltage. [A]"""


def wiring_rows(found: Assessment) -> tuple[WiringRow, ...]:
    """Return the way of every drive and boot medium, in the build's order."""
    tree = power_of(found)
    return tuple(_row(found, drive, tree) for drive in found.machine.drives)


def _row(found: Assessment, drive: DriveView, tree: PowerTree) -> WiringRow:
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
        power=_power_words(tree, drive),
        power_short=_power_short(tree, drive),
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


def _power_words(tree: PowerTree, drive: DriveView) -> str:
    if not needs_port(drive) or drive.connection is None:
        return "from its socket"
    return clean(power_words(tree, drive.name))


def _power_short(tree: PowerTree, drive: DriveView) -> str:
    if not needs_port(drive) or drive.connection is None:
        return "socket"
    return clean(power_short(tree, drive.name))


def power_of(found: Assessment) -> PowerTree:
    """Return the power tree of a build."""
    return tree_of(found.machine)


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
    """Return every power plug in use, lead by lead."""
    tree = power_of(found)
    return tuple(
        PowerRow(
            load=clean(edge.feed.load),
            part_id=clean(edge.piece.key) if edge.piece else "",
            label=clean(edge.piece.label) if edge.piece else "",
            plug=PLUGS[edge.plug],
            source=clean(edge.feed.source),
            number=edge.feed.plug,
            words=clean(edge_words(tree, edge)),
            carries_3v3=edge.has_3v3,
            on_12v_at_work_a=edge.carries.at_work_12v_a,
            on_12v_at_start_a=edge.carries.at_start_12v_a,
            on_5v_a=edge.carries.on_5v_a,
            most_a=edge.most_a,
        )
        for edge in tree.edges
    )


def power_sentence(found: Assessment) -> str:
    """Return in one sentence what hangs on how many leads, and the fullest edge."""
    tree = power_of(found)
    if not tree.loads:
        return ""
    inlets = sum(load.name.startswith(INLET) for load in tree.loads)
    drives = len(tree.loads) - inlets
    fed = [counted(drives, "drive")] if drives else []
    fed += [counted(inlets, "backplane inlet")] if inlets else []
    used = {edge.path[0].name for edge in tree.edges}
    n_pieces = sum(edge.piece is not None for edge in tree.edges)
    through = f" through {counted(n_pieces, 'adapter')}" if n_pieces else ""
    text = f"{and_list(fed)} on {counted(len(used), 'power lead')}{through}"
    edges = [
        (giver_words(lead), tree.on_lead(lead).worst_a, lead.most_a)
        for lead in tree.leads
    ]
    edges += [(plug_name(e), e.carries.worst_a, e.most_a) for e in tree.edges]
    unfed = f"; {len(tree.unfed)} without a plug" if tree.unfed else ""
    if not tree.edges:
        return clean(text + unfed)
    name, worst_a, most_a = max(edges, key=lambda e: e[1] / max(e[2], 1e-9))
    full = (
        f"; the fullest, {name}, carries {number(worst_a, 1)} of {number(most_a, 1)} A"
    )
    return clean(text + full + unfed)
