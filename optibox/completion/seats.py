"""Where drives can go: ports of hosts, bays of the chassis, pieces of cable."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from optibox.build import BOARD, Build
from optibox.build.sketch import WireSketch
from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.notation import CONNECTOR_LANES, Connector
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import DriveAdapter
from optibox.machine.bays import is_on_backplane
from optibox.machine.view import Machine, multiplier_leg
from optibox.rules.context import backplane_connector

_Place = tuple[str | None, int | None, int | None]
CableKind = tuple[str, str, str]
"""Direction, end at the controller, end at the drives or the backplane."""


Ends = tuple[str, int]
"""What a piece of cable comes from, and the backplane's connector; 0 = plain plugs."""

LEGS = "legs"
"""Source of a piece that comes from plain ports, of one host or of several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortGroup:
    """Ports of one host that are alike: all plain ones, or one connector's lanes."""

    host: str
    connector: Connector
    number: int
    """Number of the multi-lane connector; 0 = all plain ports."""
    is_multiplied: bool
    places: tuple[tuple[int, int], ...]
    """Connector and port of each, from 1."""
    room: int
    """How many of them work and are free."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BayGroup:
    """Bays that are alike; the nameless one is for drives that need none."""

    size: str
    connector: Connector
    number: int
    """Number of the multi-lane connector behind them; 0 = none."""
    is_fed: bool
    """The backplane gives them power."""
    is_tray: bool
    places: tuple[str, ...]


@dataclass(kw_only=True)
class Seats:
    """Everything that drives are to be distributed over."""

    ports: list[PortGroup]
    bays: list[BayGroup]
    cables: dict[CableKind, list[str]]
    """Keys of the listed pieces of each kind that are not in use."""
    adapters: list[tuple[str, DriveAdapter]]
    far: dict[tuple[str, int], str] = field(default_factory=dict)
    """What connectors of hosts lead to already: ``sata``, or a backplane's number."""
    near: dict[int, str] = field(default_factory=dict)
    """What connectors of the backplane come from already: host, or host and number."""
    told: dict[str, Ends] = field(default_factory=dict)
    """Where pieces of cable go that are told by name: source and backplane connector."""


def seats_of(machine: Machine, wires: list[WireSketch]) -> Seats:
    """Return the free places of a machine beside what is wired already."""
    taken_ports: set[_Place] = {
        (w.host, w.connector, w.port) for w in wires if w.host and w.connector
    }
    taken_bays = {w.bay for w in wires if w.bay}
    return Seats(
        ports=list(_ports(machine, taken_ports, wires)),
        bays=list(_bays(machine.chassis, taken_bays)),
        cables=_cables(machine.build, wires),
        adapters=_adapters(machine.build, wires),
        far=_far(machine, wires),
        near=_near(machine, wires),
        told=_told(machine, wires),
    )


def _ports(
    machine: Machine,
    taken: set[_Place],
    wires: list[WireSketch],
) -> Iterator[PortGroup]:
    board = machine.board
    if board is not None and board.sata_ports:
        places = tuple(
            (n, 1) for n in range(1, board.sata_ports + 1) if (BOARD, n, 1) not in taken
        )
        used = sum(wire.host == BOARD and bool(wire.connector) for wire in wires)
        yield PortGroup(
            host=BOARD,
            connector="sata",
            number=0,
            is_multiplied=False,
            places=places,
            room=max(0, min(len(places), machine.onboard_ports - used)),
        )
    for name, card in machine.cards.items():
        if isinstance(card.item.part, Controller):
            yield from _controller_ports(name, card.item.part, taken)


def _controller_ports(
    name: str, part: Controller, taken: set[_Place]
) -> Iterator[PortGroup]:
    kind = part.connectors.connector
    lanes = CONNECTOR_LANES[kind]
    groups: dict[tuple[int, bool], list[tuple[int, int]]] = {}
    for index in range(part.n_ports):
        place = (index // lanes + 1, index % lanes + 1)
        number = place[0] if lanes > 1 else 0
        is_leg = multiplier_leg(part, index) is not None
        found = groups.setdefault((number, is_leg), [])
        if (name, *place) not in taken:
            found.append(place)
    for (number, is_leg), places in groups.items():
        yield PortGroup(
            host=name,
            connector=kind,
            number=number,
            is_multiplied=is_leg,
            places=tuple(places),
            room=len(places),
        )


def _bays(chassis: Chassis | None, taken: set[str]) -> Iterator[BayGroup]:
    yield BayGroup(
        size="", connector="sata", number=0, is_fed=False, is_tray=False, places=()
    )
    if chassis is None:
        return
    groups: dict[tuple[str, Connector, int, bool, bool], list[str]] = {}
    names = [f"3.5-{n}" for n in range(1, chassis.bays_35 + 1)]
    names += [f"2.5-{n}" for n in range(1, chassis.bays_25 + 1)]
    for name in names:
        behind = is_on_backplane(chassis, name)
        kind, number = backplane_connector(chassis, name)
        is_fed = behind and bool(chassis.backplane_power)
        is_tray = behind and chassis.tray_holes != "none"
        found = groups.setdefault((name[:3], kind, number, is_fed, is_tray), [])
        if name not in taken:
            found.append(name)
    for (size, kind, number, is_fed, is_tray), places in groups.items():
        yield BayGroup(
            size=size,
            connector=kind,
            number=number,
            is_fed=is_fed,
            is_tray=is_tray,
            places=tuple(places),
        )


def _cables(build: Build, wires: list[WireSketch]) -> dict[CableKind, list[str]]:
    pieces = {(w.cable_key, w.cable) for w in wires if w.cable_key}
    used = Counter(key for key, _ in pieces)
    pool: dict[CableKind, list[str]] = {}
    for entry in build.items:
        part = entry.item.part
        if isinstance(part, Cable):
            left = max(0, entry.count - used[entry.item.key])
            pool.setdefault(kind_of(part), []).extend([entry.item.key] * left)
    return pool


def kind_of(part: Cable) -> CableKind:
    """Return direction and ends of a cable."""
    return part.direction, part.controller_end, part.drive_end


def _adapters(build: Build, wires: list[WireSketch]) -> list[tuple[str, DriveAdapter]]:
    used = Counter(wire.adapter_key for wire in wires if wire.adapter_key)
    return [
        (entry.item.key, entry.item.part)
        for entry in build.items
        if isinstance(entry.item.part, DriveAdapter)
        for _ in range(max(0, entry.count - used[entry.item.key]))
    ]


def _far(machine: Machine, wires: list[WireSketch]) -> dict[tuple[str, int], str]:
    found = {}
    for wire in wires:
        card = machine.cards.get(wire.host or "")
        part = card.item.part if card else None
        if not isinstance(part, Controller) or wire.connector is None or not wire.bay:
            continue
        if part.connectors.connector != "sata" and machine.chassis is not None:
            _, number = backplane_connector(machine.chassis, wire.bay)
            found[card.name if card else "", wire.connector] = str(number or "sata")
    return found


def _near(machine: Machine, wires: list[WireSketch]) -> dict[int, str]:
    found = {}
    for wire in wires:
        if wire.bay and wire.host and machine.chassis is not None:
            _, number = backplane_connector(machine.chassis, wire.bay)
            if number:
                found[number] = near_name(wire.host, _lane_number(machine, wire))
    return found


def _told(machine: Machine, wires: list[WireSketch]) -> dict[str, Ends]:
    found: dict[str, Ends] = {}
    for wire in wires:
        if wire.cable and wire.host and wire.connector and wire.bay and machine.chassis:
            _, behind = backplane_connector(machine.chassis, wire.bay)
            lane = _lane_number(machine, wire)
            found.setdefault(wire.cable, ends_of(wire.host, lane, behind))
    return found


def ends_of(host: str, number: int, behind: int) -> Ends:
    """Return what tells a piece of cable apart from others: its multi-lane ends."""
    return (f"{host}:{number}" if number else LEGS), behind


def _lane_number(machine: Machine, wire: WireSketch) -> int:
    card = machine.cards.get(wire.host or "")
    part = card.item.part if card else None
    if isinstance(part, Controller) and part.connectors.connector != "sata":
        return wire.connector or 0
    return 0


def near_name(host: str, number: int) -> str:
    """Return how the source of a backplane's connector is told apart."""
    return f"{host}:{number}" if number else host
