"""Rules of ports, backplanes and data cables."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from optibox.build import BOARD
from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.storage import HardDrive
from optibox.machine import DriveView
from optibox.machine.bays import needs_port
from optibox.rules.context import Context, backplane_connector
from optibox.rules.register import Finding, error, information, rule, warning

_DIRECTIONS = {
    (False, False): "single",
    (True, False): "forward",
    (False, True): "reverse",
    (True, True): "straight",
}
DIRECTION_WORDS = {
    "single": "a single SATA cable",
    "forward": "a forward breakout (multi-lane end at the controller)",
    "reverse": "a reverse breakout (multi-lane end at the backplane)",
    "straight": "a straight multi-lane cable",
}


def cable_direction(host_connector: str, bay_connector: str) -> str:
    """Return the direction that a cable between two connectors must have.

    Examples
    --------
    >>> cable_direction("sata", "sff-8087")
    'reverse'
    """
    return _DIRECTIONS[host_connector != "sata", bay_connector != "sata"]


@rule(
    "C1",
    "Every drive has exactly one port",
    "A drive without a port of its own is not there.",
    remedy="Connect it to a free port, or add a controller.",
)
def one_port(context: Context) -> Iterator[Finding]:
    """Yield errors for missing, doubled and non-existent ports."""
    for drive in context.machine.drives:
        if needs_port(drive) and drive.connection is None:
            yield error(
                "C1", f"{drive.name} is on no port", "connect it to a free port"
            )
    seen: Counter[tuple[str, int, int]] = Counter()
    for drive in context.bay_drives:
        wire = drive.connection
        if wire is None:
            continue
        seen[wire.host, wire.connector, wire.port] += 1
        if not _port_exists(context, wire.host, wire.connector, wire.port):
            yield error(
                "C1",
                f"{drive.name} is on port {wire.connector}.{wire.port} of {wire.host}, "
                "which does not exist",
            )
    for (host, number, port), count in seen.items():
        if count > 1:
            yield error("C1", f"port {number}.{port} of {host} holds {count} drives")
    yield from _onboard_ports(context)


def _onboard_ports(context: Context) -> Iterator[Finding]:
    machine = context.machine
    onboard = sum(
        d.connection.host == BOARD for d in context.bay_drives if d.connection
    )
    if machine.board and onboard > machine.onboard_ports:
        yield error(
            "C1",
            f"{onboard} drives on onboard ports, of which {machine.onboard_ports} work "
            f"(of {machine.board.sata_ports}, the rest is lost to shared slots)",
            "use a controller or leave the shared slot empty",
        )


def _port_exists(context: Context, host: str, connector: int, port: int) -> bool:
    machine = context.machine
    if host == BOARD:
        ports = machine.board.sata_ports if machine.board else 0
        return 1 <= connector <= ports and port == 1
    card = machine.cards.get(host)
    if card is None or not isinstance(card.item.part, Controller):
        return False
    have = card.item.part.connectors
    lanes = CONNECTOR_LANES[have.connector]
    return 1 <= connector <= have.count and 1 <= port <= lanes


@rule(
    "C3",
    "Cables have the right ends, the right way round",
    "Forward and reverse breakouts look the same and do not replace each other: with the wrong one no drive is seen.",
    remedy="Use a cable of the right direction.",
)
def cable_ends(context: Context) -> Iterator[Finding]:
    """Yield an error for each cable that is missing or the wrong way round."""
    for way in _ways(context):
        want = cable_direction(way.host_end, way.bay_end)
        if way.cable is None:
            yield error("C3", f"{way.drives}: no cable; wanted {DIRECTION_WORDS[want]}")
        elif way.cable.direction != want:
            yield error(
                "C3",
                f"{way.drives}: {way.cable.name} is "
                f"{DIRECTION_WORDS[way.cable.direction]}, {way.cable.controller_end} to "
                f"{way.cable.drive_end}; {way.host} has {way.host_end}, {way.bays} "
                f"{way.bay_end}",
                f"use {DIRECTION_WORDS[want]} {way.host_end} to {way.bay_end}",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """A piece of cable between two connectors, with the drives on it in words."""

    cable: Cable | None
    host: str
    host_end: str
    bay_end: str
    drives: str
    bays: str


def _ways(context: Context) -> Iterator[_Way]:
    """Yield every piece of cable once for each pair of connectors that it joins."""
    chassis = context.machine.chassis
    found: dict[tuple[str, str, str, str], list[DriveView]] = {}
    for drive in context.bay_drives:
        wire = drive.connection
        near = context.connectors_by_host.get(wire.host) if wire else None
        if wire is not None and near is not None and chassis is not None:
            far, _ = backplane_connector(chassis, wire.bay)
            key = (wire.cable or drive.name, wire.host, near, far)
            found.setdefault(key, []).append(drive)
    for (_, host, host_end, bay_end), drives in found.items():
        bays = [d.connection.bay for d in drives if d.connection and d.connection.bay]
        yield _Way(
            cable=context.cable(drives[0]),
            host=host,
            host_end=host_end,
            bay_end=bay_end,
            drives=", ".join(drive.name for drive in drives),
            bays=f"{'bay' if len(bays) == 1 else 'bays'} {', '.join(bays)}",
        )


def _direction(context: Context, drive: DriveView) -> str | None:
    """Return the direction of cable that a drive's port and bay want."""
    wire, chassis = drive.connection, context.machine.chassis
    host_end = context.connectors_by_host.get(wire.host) if wire else None
    if wire is None or chassis is None or host_end is None:
        return None
    return cable_direction(host_end, backplane_connector(chassis, wire.bay)[0])


@rule(
    "C2",
    "Multi-lane connectors meet their like",
    "Multi-lane plugs of different types do not go into each other: no drive behind "
    "them is seen.",
    remedy="Use a cable with the two connectors that are there.",
)
def connector_types(context: Context) -> Iterator[Finding]:
    """Yield errors for cables of the right direction with an end of another type."""
    for way in _ways(context):
        cable, ends = way.cable, (way.host_end, way.bay_end)
        if cable is None or cable.direction != cable_direction(*ends):
            continue
        if (cable.controller_end, cable.drive_end) != ends:
            yield error(
                "C2",
                f"{way.drives}: {cable.name} goes from {cable.controller_end} to "
                f"{cable.drive_end}; {way.host} has {way.host_end}, {way.bays} "
                f"{way.bay_end}",
                f"use a cable {way.host_end} to {way.bay_end}",
            )


@rule(
    "C4",
    "Enough cables, each on one connector",
    "One connector serves four bays; what hangs beyond that is not connected.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use one cable for each connector.",
)
def cable_count(context: Context) -> Iterator[Finding]:
    """Yield errors for overfull pieces of cable and missing pieces."""
    used: Counter[str] = Counter()
    owner: dict[str, str] = {}
    for piece, drives in context.pieces():
        cable = context.cable(drives[0])
        if cable is None or drives[0].connection is None:
            continue
        used[drives[0].connection.cable_key] += 1
        yield from _piece(context, piece, drives, cable)
        for place in sorted(set().union(*_ends(context, drives, cable))):
            other = owner.setdefault(place, piece)
            if other != piece:
                yield error("C4", f"{piece} and {other} share {place}")
    for key, count in used.items():
        have = sum(e.count for e in context.machine.build.items if e.item.key == key)
        if have < count:
            yield error("C4", f"{count} of {key} in use, {have} on the list")


def _piece(
    context: Context, piece: str, drives: list[DriveView], cable: Cable
) -> Iterator[Finding]:
    if len(drives) > cable.n_drives:
        yield error(
            "C4", f"{piece} serves {len(drives)} drives, at most {cable.n_drives}"
        )
    wanted = {_direction(context, drive) for drive in drives}
    wrong_way = bool(wanted - {None, cable.direction})  # which C3 says
    for places in _ends(context, drives, cable):
        if len(places) > 1 and not wrong_way:
            yield error(
                "C4", f"{piece} would have to reach {', '.join(sorted(places))}"
            )
    hosts = {d.connection.host for d in drives if d.connection}
    if cable.direction == "reverse" and len(hosts) > 1:
        yield warning(
            "C4",
            f"the legs of {piece} come from {len(hosts)} hosts: it works, but the "
            "order of the bays and hot-plug differ",
        )


def _ends(
    context: Context, drives: list[DriveView], cable: Cable
) -> Iterator[set[str]]:
    """Yield the multi-lane connectors that a piece of cable plugs into, by end."""
    wires = [d.connection for d in drives if d.connection]
    chassis = context.machine.chassis
    if cable.controller_end != "sata":
        yield {f"connector {w.connector} of {w.host}" for w in wires}
    if cable.drive_end != "sata" and chassis is not None:
        yield {
            f"backplane connector {backplane_connector(chassis, w.bay)[1]}"
            for w in wires
        }


@rule(
    "C5",
    "SAS drives are on SAS ports",
    "A SATA port cannot talk to a SAS drive, and the plug has a bridge that keeps it out.",
    remedy="Put it on a SAS controller.",
)
def sas_ports(context: Context) -> Iterator[Finding]:
    """Yield errors for SAS drives on SATA ports."""
    for drive in context.bay_drives:
        part, wire = drive.part, drive.connection
        if wire is None or not isinstance(part, HardDrive) or part.interface != "sas":
            continue
        card = context.machine.cards.get(wire.host)
        host = card.item.part if card else None
        if not (isinstance(host, Controller) and host.speaks_sas):
            yield error(
                "C5", f"{drive.name} is a SAS drive on a SATA port of {wire.host}"
            )


@rule(
    "C11",
    "No drive behind a port multiplier",
    "Drives behind a port multiplier share a link, and one hung drive resets all of them.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use a controller whose ports are all native.",
)
def multipliers(context: Context) -> Iterator[Finding]:
    """Yield findings for drives behind hidden or stated multipliers."""
    for drive in context.bay_drives:
        if not drive.is_multiplied or drive.connection is None:
            continue
        text = f"{drive.name} hangs behind a port multiplier of {drive.connection.host}"
        if context.scenario.choices.allow_multipliers:
            yield warning("C11", text + "; one hung drive resets all behind it")
        else:
            yield error("C11", text, "use a controller whose ports are all native")


@rule(
    "C12",
    "The card's ports are native",
    "More ports than the chip has hang on a hidden multiplier; what is unknown counts as one.",
    severities=("warning",),
    remedy="Find out the chip's native ports, or use a card that states them.",
)
def hidden_multiplier(context: Context) -> Iterator[Finding]:
    """Yield warnings for cards whose topology is hidden or unknown."""
    for name, card in context.machine.cards.items():
        part = card.item.part
        if isinstance(part, Controller) and part.is_multiplied:
            native = "unknown" if part.native_ports is None else str(part.native_ports)
            yield warning(
                "C12",
                f"{name} ({part.name}) has {part.n_ports} ports, native ones: {native}, "
                f"topology {part.topology}: treated as multiplied",
            )


@rule(
    "C13",
    "Drives can be exchanged while running",
    "Pulling a drive while it runs can hang the machine or go unnoticed.",
    severities=(
        "error",
        "information",
    ),
    remedy="Switch off to exchange drives, or use trays and ports made for it.",
)
def hot_swap(context: Context) -> Iterator[Finding]:
    """Yield errors where hot-swap is needed and not there, else what to do without."""
    machine = context.machine
    if not context.scenario.needs.hot_swap:
        yield from _power_off(context)
        return
    if machine.chassis and not machine.chassis.has_hot_plug:
        yield error("C13", f"{machine.chassis.name} has no trays for hot-swap")
    hosts = {d.connection.host for d in machine.array if d.connection}
    for host in sorted(hosts):
        card = machine.cards.get(host)
        part = card.item.part if card else machine.board
        if part is not None and not getattr(part, "has_hot_plug", False):
            yield error("C13", f"the ports of {host} do not take drives while running")


def _power_off(context: Context) -> Iterator[Finding]:
    """Yield information where drives may not be exchanged while running."""
    machine = context.machine
    missing = []
    if machine.chassis and not machine.chassis.has_hot_plug:
        missing.append(f"{machine.chassis.name} has no trays for it")
    hosts = sorted({d.connection.host for d in machine.array if d.connection})
    for host in hosts:
        card = machine.cards.get(host)
        part = card.item.part if card else machine.board
        if part is not None and not getattr(part, "has_hot_plug", False):
            missing.append(f"the ports of {host} are not made for it")
    if missing and machine.array:
        yield information(
            "C13",
            f"drives are not exchanged while running: {'; '.join(missing)}",
            "power off to swap",
        )
