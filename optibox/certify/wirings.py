"""Every way to connect drives to ports and bays that can matter to the evaluator.

Ports of one host that share the same links are equal to the evaluator: it counts
drives by host and by shared link, never by port number. So are bays of one width
behind the same backplane connector (or behind none). One representative of each
distribution over such groups is enough; which of two equal drives goes where is
not told apart either.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations, product
from typing import TypeVar

from optibox.build import BOARD, Connection, Item
from optibox.build.records import Role
from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive
from optibox.certify.choosing import Counts, multisets

LANES = {"sata": 1, "sff-8087": 4, "sff-8643": 4}


@dataclass(frozen=True)
class Device:
    """So many equal drives of one role that want a port."""

    item: Item
    role: Role
    names: tuple[str, ...]

    @property
    def width(self) -> str:
        """Return the bay that it wants: 3.5, 2.5, or nothing."""
        part = self.item.part
        if isinstance(part, HardDrive):
            return part.form
        if isinstance(part, BootMedium):
            return "2.5" if part.needs_bay else ""
        return "2.5"


@dataclass(frozen=True)
class Ports:
    """Equal ports: of a host's plain connectors, or of one multi-lane connector."""

    host: str
    kind: str
    connector: int
    """Number of the multi-lane connector; 0 = all plain ones."""
    is_shared: bool
    """Behind the leg of a port multiplier."""
    places: tuple[tuple[int, int], ...]
    """Connector and port, from 1."""


@dataclass(frozen=True)
class Bays:
    """Equal bays: behind one backplane connector, or behind none."""

    label: str
    kind: str
    """Connector behind them; plain drives' own plug is ``sata``."""
    group: int
    """Number of the multi-lane backplane connector; 0 = none."""
    names: tuple[str, ...]


@dataclass(frozen=True)
class Wiring:
    """Connections with the cables and adapters that they take."""

    connections: tuple[Connection, ...]
    parts: tuple[tuple[Item, int], ...]


def port_groups(board: Board, cards: dict[str, Item]) -> list[Ports]:
    """Return the groups of equal ports of a board and its cards."""
    onboard = tuple((number, 1) for number in range(1, board.sata_ports + 1))
    groups = (
        [Ports(BOARD, "sata", 0, is_shared=False, places=onboard)] if onboard else []
    )
    for name, item in cards.items():
        if isinstance(item.part, Controller):
            groups += _controller_groups(name, item.part)
    return groups


def _controller_groups(name: str, part: Controller) -> list[Ports]:
    lanes = LANES[part.connectors.connector]
    found: dict[tuple[int, bool], list[tuple[int, int]]] = {}
    for index in range(part.connectors.count * lanes):
        # where ports outnumber the chip's, its last port feeds all the rest
        shared = part.is_multiplied and index >= (part.native_ports or 1) - 1
        number = index // lanes + 1
        key = (number if lanes > 1 else 0, shared)
        found.setdefault(key, []).append((number, index % lanes + 1))
    return [
        Ports(name, part.connectors.connector, number, shared, tuple(places))
        for (number, shared), places in found.items()
    ]


def bay_groups(chassis: Chassis) -> list[Bays]:
    """Return the groups of equal bays of a chassis."""
    n_behind, kind = chassis.bays_on_backplane, chassis.backplane or "sata"
    names = [f"3.5-{number}" for number in range(1, chassis.bays_35 + 1)]
    behind, plain = names[:n_behind], names[n_behind:]
    step = LANES[kind] if kind != "sata" else max(1, n_behind)
    groups = [
        Bays(f"back {at // step}", kind, at // step + 1, tuple(behind[at : at + step]))
        for at in range(0, n_behind, step)
    ]
    if kind == "sata":
        groups = [Bays(g.label, g.kind, 0, g.names) for g in groups]
    groups.append(Bays("plain", "sata", 0, tuple(plain)))
    small = tuple(f"2.5-{number}" for number in range(1, chassis.bays_25 + 1))
    groups.append(Bays("small", "sata", 0, small))
    return [group for group in groups if group.names]


Place = tuple[Ports, Bays | None]
Spread = tuple[tuple[Device, tuple[tuple[Place, int], ...]], ...]


def spreads(
    devices: list[Device], ports: list[Ports], bays: list[Bays]
) -> Iterator[Spread]:
    """Yield every distribution of devices over ports and bays, equal ones once."""
    seen = set()
    for spread in _spread(devices, ports, bays, Counter(), Counter()):
        if not _cables_can_reach(spread):
            continue
        key = _canonical(spread, bays)
        if key not in seen:
            seen.add(key)
            yield spread


def _places(device: Device, ports: list[Ports], bays: list[Bays]) -> list[Place]:
    if not device.width:
        return [(port, None) for port in ports]
    wide = device.width == "3.5"
    fits = [bay for bay in bays if not (wide and bay.label == "small")]
    return list(product(ports, fits))


def _spread(
    devices: list[Device],
    ports: list[Ports],
    bays: list[Bays],
    used_ports: Counter[Ports],
    used_bays: Counter[Bays],
) -> Iterator[Spread]:
    if not devices:
        yield ()
        return
    first, rest = devices[0], devices[1:]
    places = _places(first, ports, bays)
    for counts in _compositions(len(first.names), len(places)):
        taken = tuple((p, n) for p, n in zip(places, counts, strict=True) if n)
        ports_now, bays_now = used_ports.copy(), used_bays.copy()
        for (port, bay), n in taken:
            ports_now[port] += n
            if bay is not None:
                bays_now[bay] += n
        if any(n > len(port.places) for port, n in ports_now.items()):
            continue
        if any(n > len(bay.names) for bay, n in bays_now.items()):
            continue
        for others in _spread(rest, ports, bays, ports_now, bays_now):
            yield ((first, taken), *others)


def _compositions(total: int, n_parts: int) -> Iterator[tuple[int, ...]]:
    if n_parts <= 1:
        if n_parts == 1 or total == 0:
            yield (total,) * n_parts
        return
    for first in range(total, -1, -1):
        for rest in _compositions(total - first, n_parts - 1):
            yield (first, *rest)


def _ends(spread: Spread) -> Iterator[tuple[Ports, Bays | None]]:
    for _, taken in spread:
        for place, _ in taken:
            yield place


def _cables_can_reach(spread: Spread) -> bool:
    """Return whether each multi-lane connector needs to meet one piece of cable only.

    A backplane connector takes one cable, from one connector of a controller or from
    the plain ports of one host; a controller's connector takes one cable as well.
    """
    of_back: dict[int, set[tuple[str, int]]] = {}
    of_host: dict[tuple[str, int], set[int]] = {}
    for port, bay in _ends(spread):
        group = bay.group if bay else 0
        if group:
            of_back.setdefault(group, set()).add((port.host, port.connector))
        if port.connector:
            of_host.setdefault((port.host, port.connector), set()).add(group)
    numbers = [len(x) for x in of_back.values()] + [len(x) for x in of_host.values()]
    return all(n == 1 for n in numbers)


Content = tuple[tuple[str, tuple[tuple[str, str, bool, str, int], ...]], ...]
"""By host, what hangs on each of its connectors: role, item, sharing, bay, number."""


def _canonical(spread: Spread, bays: list[Bays]) -> Content:
    """Return what equal spreads share: numbers of equal connectors do not count."""
    groups = [bay for bay in bays if bay.group]
    found = []
    for order in permutations(groups):
        if [len(b.names) for b in order] != [len(b.names) for b in groups]:
            continue
        renamed = {old: new.label for old, new in zip(groups, order, strict=True)}
        found.append(_by_connector(spread, renamed))
    return min(found)


def _by_connector(spread: Spread, renamed: dict[Bays, str]) -> Content:
    content: dict[tuple[str, int], list[tuple[str, str, bool, str, int]]] = {}
    for device, taken in spread:
        for (port, bay), n in taken:
            label = renamed.get(bay, bay.label) if bay else ""
            content.setdefault((port.host, port.connector), []).append(
                (device.role, device.item.key, port.is_shared, label, n)
            )
    return tuple(sorted((host, tuple(sorted(c))) for (host, _), c in content.items()))


Piece = tuple[str | int, ...]
"""What names a piece of cable."""


@dataclass(frozen=True)
class Wire:
    """One drive on its port and in its bay."""

    device: Device
    name: str
    port: Ports
    place: tuple[int, int]
    bay: Bays | None
    bay_name: str

    @property
    def ends(self) -> tuple[str, str, str]:
        """Return direction, controller end and drive end of its cable."""
        host, back = self.port.kind, self.bay.kind if self.bay else "sata"
        direction = {
            (False, False): "single",
            (True, False): "forward",
            (False, True): "reverse",
            (True, True): "straight",
        }[host != "sata", back != "sata"]
        return direction, host, back

    @property
    def piece(self) -> Piece:
        """Return what names the piece of cable that it shares with others."""
        if self.port.connector:
            return self.port.host, self.port.connector
        return ("back", self.bay.group) if self.bay and self.bay.group else (self.name,)

    @property
    def needs_adapter(self) -> bool:
        """Return whether a small drive sits in a large bay."""
        return self.device.width == "2.5" and self.bay_name.startswith("3.5")


def wires_of(spread: Spread) -> list[Wire]:
    """Return the drives of a spread one by one, ports and bays in order."""
    free_ports = {port: list(port.places) for port, _ in _ends(spread)}
    free_bays = {bay: list(bay.names) for _, bay in _ends(spread) if bay}
    wires = []
    for device, taken in spread:
        names = list(device.names)
        for (port, bay), n in taken:
            for _ in range(n):
                bay_name = free_bays[bay].pop(0) if bay else ""
                place = free_ports[port].pop(0)
                wires.append(Wire(device, names.pop(0), port, place, bay, bay_name))
    return wires


def wirings(
    devices: list[Device], ports: list[Ports], bays: list[Bays], items: tuple[Item, ...]
) -> Iterator[Wiring]:
    """Yield every wiring with every choice of cables and adapters."""
    for spread in spreads(devices, ports, bays):
        wires = wires_of(spread)
        for cables in _cable_choices(wires, items):
            for adapters in _adapter_choices(wires, items):
                yield _wiring(wires, cables, adapters)


def _cable_choices(
    wires: list[Wire], items: tuple[Item, ...]
) -> Iterator[dict[Piece, Item]]:
    """Yield the cable of each piece.

    Length and sideband are for warnings alone, so that pieces with the same ends are
    equal: a multiset of cables for each kind of ends is enough.
    """
    pieces: dict[tuple[str, str, str], list[Piece]] = {}
    for wire in wires:
        found = pieces.setdefault(wire.ends, [])
        if wire.piece not in found:
            found.append(wire.piece)
    per_kind = []
    for ends, names in pieces.items():
        offers = [item for item in items if _cable_ends(item) == ends]
        chosen = multisets(offers, len(names), len(names))
        per_kind.append([_dealt(names, counts) for counts in chosen])
    for choice in product(*per_kind):
        yield {piece: item for part in choice for piece, item in part.items()}


NameT = TypeVar("NameT", str, Piece)


def _cable_ends(item: Item) -> tuple[str, str, str] | None:
    part = item.part
    if not isinstance(part, Cable):
        return None
    return part.direction, part.controller_end, part.drive_end


def _dealt(names: list[NameT], counts: Counts) -> dict[NameT, Item]:
    flat = [item for item, n in counts for _ in range(n)]
    return dict(zip(names, flat, strict=True))


def _adapter_choices(
    wires: list[Wire], items: tuple[Item, ...]
) -> Iterator[dict[str, Item]]:
    """Yield the adapter of each drive that needs one.

    Height and tray holes matter, so drives of another kind or another bay group take
    theirs independently; within a group drives are equal.
    """
    groups: dict[tuple[str, str, str], list[str]] = {}
    for wire in wires:
        if wire.needs_adapter and wire.bay:
            key = (wire.device.item.key, wire.device.role, wire.bay.label)
            groups.setdefault(key, []).append(wire.name)
    offers = [item for item in items if isinstance(item.part, DriveAdapter)]
    per_group = [
        [_dealt(names, c) for c in multisets(offers, len(names), len(names))]
        for names in groups.values()
    ]
    for choice in product(*per_group):
        yield {name: item for part in choice for name, item in part.items()}


def _wiring(
    wires: list[Wire], cables: dict[Piece, Item], adapters: dict[str, Item]
) -> Wiring:
    pieces = {piece: f"cable-{n}" for n, piece in enumerate(cables, 1)}
    connections = tuple(
        Connection(
            drive=wire.name,
            bay=wire.bay_name,
            cable=pieces[wire.piece],
            cable_key=cables[wire.piece].key,
            host=wire.port.host,
            connector=wire.place[0],
            port=wire.place[1],
            adapter_key=adapters[wire.name].key if wire.name in adapters else "",
        )
        for wire in wires
    )
    counts = Counter(item.key for item in (*cables.values(), *adapters.values()))
    by_key = {item.key: item for item in (*cables.values(), *adapters.values())}
    return Wiring(connections, tuple((by_key[k], n) for k, n in counts.items()))
