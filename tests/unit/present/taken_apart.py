"""An order list taken apart on paper: is everything there that the wiring asks for?

Nothing here uses the rules or the words of the order list: connectors, plugs and
pieces are counted from the parts' own columns and from the wiring alone. Common
practice, no source: every drive takes one data port and one power plug, a plug goes
into one socket, a multi-lane connector serves four drives.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator

from optibox.assess import Assessment
from optibox.catalog.attachment import Cable, Card, Controller, NetworkLead
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import (
    BootMedium,
    DriveAdapter,
    HardDrive,
    SolidStateDrive,
)
from optibox.report.order import OrderRow, order_list

LANES = {"sata": 1, "sff-8087": 4, "sff-8643": 4}


def order_list_faults(found: Assessment) -> list[str]:
    """Return what is missing or wrong in the order list of a machine."""
    return [
        *_pieces_add_up(found),
        *_boxes_hold_it(found),
        *_drives_have_all(found),
        *_cables_meet(found),
        *_adapters_there(found),
        *_cards_sit(found),
        *_power_adds_up(found),
        *_network_there(found),
        *_money_adds_up(found),
    ]


def _rows(found: Assessment) -> dict[tuple[str, bool], OrderRow]:
    return {(row.id, row.owned > 0): row for row in order_list(found)}


def _pieces_add_up(found: Assessment) -> Iterator[str]:
    rows = _rows(found)
    if len(rows) != len(order_list(found)):
        yield "a part stands twice on the list"
    wanted: Counter[tuple[str, bool]] = Counter()
    for entry in found.build.items + found.build.spares:
        wanted[entry.item.part.id, entry.item.owned is not None] += entry.count
    if set(wanted) != set(rows):
        yield f"list and build differ in {set(wanted) ^ set(rows)}"
    for key, row in rows.items():
        if row.owned + row.boxed + row.to_buy != wanted[key]:
            yield f"{key}: {row} does not come to {wanted[key]}"
        yield from _packs(row)


def _packs(row: OrderRow) -> Iterator[str]:
    if row.to_buy > row.packs * row.pack_size:
        yield f"{row.id}: {row.packs} packs hold less than {row.to_buy}"
    if row.packs and row.to_buy <= (row.packs - 1) * row.pack_size:
        yield f"{row.id}: a pack too many"


def _boxes_hold_it(found: Assessment) -> Iterator[str]:
    in_boxes: Counter[str] = Counter()
    for entry in found.build.items:
        if entry.item.owned is None:
            for piece in entry.item.part.comes_with.split("|"):
                match = re.fullmatch(r"\s*(\S+)(?:\s+x(\d+))?\s*", piece)
                if match:
                    in_boxes[match[1]] += int(match[2] or 1) * entry.count
    for row in order_list(found):
        if row.boxed > in_boxes[row.id]:
            yield f"{row.id}: {row.boxed} said to be boxed, {in_boxes[row.id]} are"


def _on_list(found: Assessment, record: type) -> Iterator[tuple[object, int]]:
    """Yield the parts of a kind with the pieces that the list brings in for use."""
    rows = _rows(found)
    for entry in found.build.items:
        if isinstance(entry.item.part, record):
            row = rows.get((entry.item.part.id, entry.item.owned is not None))
            yield entry.item.part, row.needed if row else 0


def _part(found: Assessment, key: str) -> object:
    return next(e.item.part for e in found.build.items if e.item.key == key)


def _drives_have_all(found: Assessment) -> Iterator[str]:
    wires = {wire.drive: wire for wire in found.build.connections}
    slots = {use.name for use in found.build.slots}
    used: Counter[str] = Counter()
    for drive in found.build.drives:
        used[drive.key] += 1
        part = _part(found, drive.key)
        in_cable = isinstance(part, HardDrive) or (
            isinstance(part, SolidStateDrive) and part.form == "2.5"
        )
        in_cable |= isinstance(part, BootMedium) and part.interface == "sata"
        in_socket = getattr(part, "form", "") == "m2"
        in_socket |= getattr(part, "interface", "") == "m2"
        if in_cable and drive.name not in wires:
            yield f"{drive.name} has no port"
        if in_socket and drive.name not in slots:
            yield f"{drive.name} has no socket"
    kinds = HardDrive | SolidStateDrive | BootMedium
    listed = {
        e.item.key: e.count
        for e in found.build.items
        if isinstance(e.item.part, kinds) and e.count
    }
    if dict(used) != listed:
        yield f"drives in use {dict(used)}, on the list {listed}"
    bays = [wire.bay for wire in found.build.connections if wire.bay]
    if len(set(bays)) != len(bays):
        yield "two drives in one bay"


def _cables_meet(found: Assessment) -> Iterator[str]:
    pieces = defaultdict(list)
    for wire in found.build.connections:
        pieces[wire.cable, wire.cable_key].append(wire)
    counts: Counter[str] = Counter()
    for (name, key), wires in pieces.items():
        cable = _part(found, key)
        assert isinstance(cable, Cable)
        counts[cable.id] += 1
        yield from _piece(found, name, cable, wires)
    have: Counter[str] = Counter()
    for part, count in _on_list(found, Cable):
        have[part.id] += count
    if counts != have:
        yield f"cables in use {dict(counts)}, on the list {dict(have)}"
    ports = [(w.host, w.connector, w.port) for w in found.build.connections]
    if len(set(ports)) != len(ports):
        yield "two drives on one port"


def _piece(found: Assessment, name: str, cable: Cable, wires: list) -> Iterator[str]:
    chassis = _chassis(found)
    if len(wires) > max(LANES[cable.controller_end], LANES[cable.drive_end]):
        yield f"{name} serves {len(wires)} drives"
    for wire in wires:
        here, there = _sockets(found, chassis, wire)
        if (cable.controller_end, cable.drive_end) != (here, there):
            yield f"{name} does not fit {here} of {wire.host} and {there} of {wire.bay}"
    for side in _plugs(cable, wires):
        if len(side) != 1:
            yield f"{name} plugs into {side}"


def _chassis(found: Assessment) -> Chassis:
    chassis = next(part for part, _ in _on_list(found, Chassis))
    assert isinstance(chassis, Chassis)
    return chassis


def _sockets(found: Assessment, chassis: Chassis, wire) -> tuple[str, str]:
    """Return the connector at the host and the one at the drive's end."""
    here = "sata"
    if wire.host != "board":
        key = next(use.key for use in found.build.slots if use.name == wire.host)
        card = _part(found, key)
        assert isinstance(card, Controller)
        here = card.connectors.connector
        assert 1 <= wire.connector <= card.connectors.count
    number = int(wire.bay.rpartition("-")[2] or 0) if wire.bay else 0
    behind = (
        chassis.bays_35 if chassis.backplane_bays is None else chassis.backplane_bays
    )
    is_behind = wire.bay.startswith("3.5") and number <= behind
    has_multi = chassis.backplane_connector.startswith("sff")
    return here, chassis.backplane_connector if is_behind and has_multi else "sata"


def _plugs(cable: Cable, wires: list) -> Iterator[set[tuple[str, int]]]:
    if cable.controller_end != "sata":
        yield {(wire.host, wire.connector) for wire in wires}
    if cable.drive_end != "sata":
        yield {("backplane", (int(w.bay.rpartition("-")[2]) - 1) // 4) for w in wires}


def _adapters_there(found: Assessment) -> Iterator[str]:
    used = Counter(w.adapter_key for w in found.build.connections if w.adapter_key)
    listed = {
        e.item.key: e.count
        for e in found.build.items
        if isinstance(e.item.part, DriveAdapter)
    }
    if dict(used) != listed:
        yield f"adapters in use {dict(used)}, on the list {listed}"
    keys = {drive.name: drive.key for drive in found.build.drives}
    for wire in found.build.connections:
        form = getattr(_part(found, keys[wire.drive]), "form", "")
        if form == "2.5" and wire.bay.startswith("3.5") and not wire.adapter_key:
            yield f"{wire.drive} hangs loose in {wire.bay}"


def _cards_sit(found: Assessment) -> Iterator[str]:
    drives = {drive.name for drive in found.build.drives}
    placed = Counter(u.key for u in found.build.slots if u.name not in drives)
    listed = {
        e.item.key: e.count for e in found.build.items if isinstance(e.item.part, Card)
    }
    if dict(placed) != listed:
        yield f"cards in slots {dict(placed)}, on the list {listed}"


def _power_adds_up(found: Assessment) -> Iterator[str]:
    """Count plugs: supply and board give, backplane, bare drives and leads take."""
    balance = _plugs_given(found)
    for part, count in _on_list(found, PowerLead):
        balance[part.takes_plug] -= count
        balance[part.gives_plug] += count * part.fan_out
    chassis = _chassis(found)
    for inlet in chassis.backplane_power:
        balance[inlet.plug] -= inlet.count
    behind = (
        chassis.bays_35 if chassis.backplane_bays is None else chassis.backplane_bays
    )
    feeds = chassis.backplane_connector != "none" and bool(chassis.backplane_power)
    for wire in found.build.connections:
        size, _, number = wire.bay.rpartition("-")
        if not (feeds and size == "3.5" and int(number) <= behind):
            balance["sata"] -= 1
    for plug, left in balance.items():
        if left < 0:
            yield f"{-left} {plug} power plugs are missing"


def _plugs_given(found: Assessment) -> Counter[str]:
    given: Counter[str] = Counter()
    for part, _ in _on_list(found, PowerSupply):
        for lead in part.leads:
            given[lead.plug] += lead.count
    for part, _ in _on_list(found, Board):
        given["sata"] += part.dc_sata_plugs
    return given


def _network_there(found: Assessment) -> Iterator[str]:
    port = found.machine.network
    media = {part.medium for part, n in _on_list(found, NetworkLead) if n}
    if port is None:
        yield "no network port"
    elif port.medium not in media:
        yield f"no network lead with {port.medium} plugs"


def _money_adds_up(found: Assessment) -> Iterator[str]:
    sellers = {row.seller for row in order_list(found) if row.to_buy}
    sent = sum(price for seller, price in found.build.postage if seller in sellers)
    total = sum(row.packs * row.pack_price for row in order_list(found)) + sent
    if abs(total - found.cost.purchase) > 1e-6:
        yield f"rows come to {total}, the purchase to {found.cost.purchase}"
