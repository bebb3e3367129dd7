"""Which drive hangs on which port and sits in which bay.

Drives stay where they were as long as port and bay are still there; the others take
the first port and bay that go together. Several orders are tried, and the evaluator
says which of them works and costs least.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from optibox.build import BOARD, Connection, SlotUse
from optibox.catalog.attachment import Controller
from optibox.catalog.columns import Part
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.machine.bays import is_on_backplane
from optibox.machine.view import multiplier_leg
from optibox.rules.context import backplane_connector
from optibox.rules.platform import LARGEST_32_BIT_TB
from optibox.running.swap_kit import Kit, Placed
from optibox.running.swap_seats import ports_onboard


@dataclass(frozen=True, slots=True)
class Port:
    """One port of a host."""

    host: str
    connector: int
    number: int
    kind: str
    part: Board | Controller = field(compare=False)
    is_shared: bool = False

    @property
    def plug(self) -> tuple[str, int] | None:
        """Return the multi-lane connector it belongs to, or nothing."""
        return None if self.kind == "sata" else (self.host, self.connector)


@dataclass(frozen=True, slots=True)
class Wire:
    """A drive with its port and bay; cable and adapter are still open."""

    drive: Placed
    port: Port
    bay: str

    @property
    def width(self) -> str:
        """Return the bay that the drive wants."""
        return width_of_part(self.drive.item.part)


def width_of_part(part: Part) -> str:
    """Return the width of the bay that a part wants; nothing if none."""
    if isinstance(part, HardDrive):
        return part.form
    if isinstance(part, SolidStateDrive):
        return "2.5" if part.form == "2.5" else ""
    return "2.5" if isinstance(part, BootMedium) and part.needs_bay else ""


def wants_port(part: Part) -> bool:
    """Return whether a part hangs on a SATA or SAS port."""
    if isinstance(part, SolidStateDrive):
        return part.form == "2.5"
    return isinstance(part, HardDrive) or (
        isinstance(part, BootMedium) and part.interface == "sata"
    )


def ports_of(kit: Kit, board: Board, seats: Sequence[SlotUse]) -> list[Port]:
    """Return every port of a machine, the board's first."""
    working = ports_onboard(kit, board, tuple(seats))
    ports = [Port(BOARD, n, 1, "sata", board) for n in range(1, working + 1)]
    for placed in kit.cards:
        part = placed.item.part
        if not isinstance(part, Controller):
            continue
        lanes = CONNECTOR_LANES[part.connectors.connector]
        ports += [
            Port(
                placed.name,
                index // lanes + 1,
                index % lanes + 1,
                part.connectors.connector,
                part,
                is_shared=multiplier_leg(part, index) is not None,
            )
            for index in range(part.n_ports)
        ]
    return ports


@dataclass(kw_only=True)
class _Table:
    """What is taken while wiring."""

    chassis: Chassis
    places: Sequence[str]
    """Bays in the order in which they are taken."""

    used: set[tuple[str, int, int]] = field(default_factory=set)
    bays: set[str] = field(default_factory=set)
    far_of: dict[tuple[str, int], int] = field(default_factory=dict)
    """Backplane connector (0 = plain plugs) that a host's connector leads to."""

    near_of: dict[int, tuple[str, int]] = field(default_factory=dict)
    """Host and its connector (0 = plain ports) that a backplane connector hangs on."""

    def takes(self, port: Port, bay: str) -> bool:
        """Return whether port and bay are free and one cable can join them."""
        if (port.host, port.connector, port.number) in self.used or (
            bay and bay in self.bays
        ):
            return False
        _, far = backplane_connector(self.chassis, bay)
        near = (port.host, port.connector if port.plug else 0)
        if port.plug and self.far_of.get(port.plug, far) != far:
            return False
        return not far or self.near_of.get(far, near) == near

    def take(self, port: Port, bay: str) -> None:
        """Note port and bay as taken."""
        self.used.add((port.host, port.connector, port.number))
        if bay:
            self.bays.add(bay)
        _, far = backplane_connector(self.chassis, bay)
        if port.plug:
            self.far_of[port.plug] = far
        if far:
            self.near_of[far] = (port.host, port.connector if port.plug else 0)


def wirings(
    kit: Kit,
    ports: Sequence[Port],
    chassis: Chassis,
    before: Sequence[Connection],
    *,
    may_share: bool,
) -> Iterator[list[Wire]]:
    """Yield ways to wire a machine, the one nearest to what was there first.

    Parameters
    ----------
    kit : Kit
        The chosen parts.
    ports : sequence of Port
        The machine's ports.
    chassis : Chassis
        Its bays.
    before : sequence of Connection
        How drives were wired.
    may_share : bool
        Whether drives may hang behind a port multiplier.
    """
    drives = [p for p in kit.drives if wants_port(p.item.part)]
    usable = [p for p in ports if may_share or not p.is_shared]
    cards_first = sorted(usable, key=lambda p: p.host == BOARD)
    old = {c.drive: c for c in before}
    trials = [(old, usable, _by_height)]
    trials += [({}, usable, order) for order in _ORDERS]
    if len({p.host for p in usable}) > 1:
        trials += [({}, cards_first, order) for order in _ORDERS]
        trials += [({}, _in_turn(usable), order) for order in _ORDERS]
    bays = _bays_of(chassis)
    ways = [(trial, bays) for trial in trials]
    if chassis.backplane not in (None, "sata"):
        # bays off the backplane take other cables
        ways += [(({}, usable, order), bays[::-1]) for order in _ORDERS]
    seen = set()
    for (kept, order, rank), places in ways:
        table = _Table(chassis=chassis, places=places)
        wires = _wire_all(kit, sorted(drives, key=rank), order, table, kept)
        if wires is None:
            continue
        key = _alike(wires, chassis)
        if key not in seen:
            seen.add(key)
            yield wires


def _in_turn(ports: Sequence[Port]) -> list[Port]:
    """Return ports so that drives spread over hosts and links one after the other."""
    numbers: Counter[tuple[str, bool]] = Counter()
    turn = {}
    for port in ports:
        turn[port] = numbers[port.host, port.is_shared]
        numbers[port.host, port.is_shared] += 1
    return sorted(ports, key=lambda port: (turn[port], port.is_shared))


def _alike(wires: Sequence[Wire], chassis: Chassis) -> tuple[object, ...]:
    """Return what wirings share that the evaluator cannot tell apart."""
    return tuple(
        sorted(
            (
                wire.drive.role or "",
                wire.drive.item.key,
                wire.port.host,
                wire.port.is_shared,
                wire.bay[:3],
                is_on_backplane(chassis, wire.bay),
            )
            for wire in wires
        )
    )


def _by_height(placed: Placed) -> tuple[bool, float]:
    part = placed.item.part
    return width_of_part(part) == "", -_height(part)


def _parity_first(placed: Placed) -> tuple[bool, float]:
    return placed.role != "parity", _by_height(placed)[1]


def _fast_first(placed: Placed) -> tuple[bool, float]:
    part = placed.item.part
    rate = part.outer_rate_mb_s.mid if isinstance(part, HardDrive) else 0.0
    return placed.role not in ("data", "parity"), -rate


def _slow_first(placed: Placed) -> tuple[bool, float]:
    is_other, rate = _fast_first(placed)
    return is_other, -rate


_ORDERS = (_by_height, _parity_first, _fast_first, _slow_first)
"""Which drives choose their port first: what shares a slow link decides rates."""


def _height(part: Part) -> float:
    return part.height_mm if isinstance(part, HardDrive | SolidStateDrive) else 7.0


def _wire_all(
    kit: Kit,
    drives: Sequence[Placed],
    ports: Sequence[Port],
    table: _Table,
    kept: Mapping[str, Connection],
) -> list[Wire] | None:
    found = list[Wire]()
    by_place = {(p.host, p.connector, p.number): p for p in ports}
    waiting = []
    for drive in drives:
        wire = _as_before(kit, drive, by_place, table, kept.get(drive.name))
        if wire is None:
            waiting.append(drive)
        else:
            table.take(wire.port, wire.bay)
            found.append(wire)
    for drive in waiting:
        wire = next(_open(kit, drive, ports, table), None)
        if wire is None:
            return None
        table.take(wire.port, wire.bay)
        found.append(wire)
    order = {p.name: n for n, p in enumerate(kit.placed)}
    return sorted(found, key=lambda w: order[w.drive.name])


def _as_before(
    kit: Kit,
    drive: Placed,
    ports: Mapping[tuple[str, int, int], Port],
    table: _Table,
    old: Connection | None,
) -> Wire | None:
    if old is None:
        return None
    port = ports.get((old.host, old.connector, old.port))
    if port is None or not _may_hang(kit, drive, port):
        return None
    if old.bay not in _bays(drive.item.part, table):
        return None
    return Wire(drive, port, old.bay) if table.takes(port, old.bay) else None


def _open(
    kit: Kit, drive: Placed, ports: Sequence[Port], table: _Table
) -> Iterator[Wire]:
    bays = _bays(drive.item.part, table)
    for port in ports:
        if not _may_hang(kit, drive, port):
            continue
        for bay in bays:
            if table.takes(port, bay):
                yield Wire(drive, port, bay)


def _bays_of(chassis: Chassis) -> list[str]:
    large = [f"3.5-{n}" for n in range(1, chassis.bays_35 + 1)]
    return large + [f"2.5-{n}" for n in range(1, chassis.bays_25 + 1)]


def _bays(part: Part, table: _Table) -> list[str]:
    """Return the bays that take a part, those of its own width first."""
    large = [bay for bay in table.places if bay.startswith("3.5")]
    width = width_of_part(part)
    if width == "3.5":
        return large
    if width == "2.5":
        small = [bay for bay in table.places if bay.startswith("2.5")]
        # a small drive leaves the first trays to large ones
        low = small if _height(part) <= table.chassis.bay_25_height_mm else []
        return low + large[::-1]
    return [""]


def _may_hang(kit: Kit, drive: Placed, port: Port) -> bool:
    """Return whether the evaluator could accept a drive on a port."""
    part, host = drive.item.part, port.part
    if not isinstance(part, HardDrive):
        return True
    if not isinstance(host, Controller):
        return part.interface == "sata"
    if part.interface == "sas" and not host.speaks_sas:
        return False
    if host.has_32_bit_addresses and part.tb > LARGEST_32_BIT_TB:
        return False
    sleeps = kit.operation.timeout_min is not None
    return not (sleeps and host.passes_standby == "no")
