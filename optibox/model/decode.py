"""From the program's counts to a build with every drive on its port and in its bay.

Counts say how many drives of a role hang on a group of ports; which of equal drives
goes where follows here, the same way every time.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from optibox.build import (
    BOARD,
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    SlotUse,
)
from optibox.catalog.attachment import Cable, Card, Controller, Riser
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.platform import Chassis, PowerLead
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.machine import Machine
from optibox.machine.view import multiplier_leg
from optibox.model.draft import Draft, Group, Shape
from optibox.model.rows_wiring import NO_BAY, SMALL, shape_of
from optibox.model.solver import Solution
from optibox.rules.wiring import cable_direction
from optibox.scenario import Scenario
from optibox.wiring.loads import ends_of
from optibox.wiring.seat import GaveUpError, seated

PATIENCE = 20_000
"""Ways to hang adapters and drives on plugs that are looked at for one solution."""

_CARD_NAMES = {
    "controller": "controller",
    "network card": "network",
    "riser": "riser",
    "display card": "display",
}


class NoWiringError(Exception):
    """The counts cannot be wired: the rows were a relaxation in this case."""


class NoPowerError(NoWiringError):
    """The adapters chosen cannot be hung so that every edge carries its load."""

    def __init__(self, machine: Machine, *, is_certain: bool) -> None:
        super().__init__("no power tree")
        self.machine = machine
        self.is_certain = is_certain
        """Whether the search for a tree came to its end."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """One drive to be connected."""

    name: str
    item: Item
    role: str
    shape: Shape


@dataclass(kw_only=True)
class _Bench:
    """What is still free while wiring."""

    chassis: Chassis
    bays_25: list[int]
    plain_35: list[int]
    multi: dict[int, list[int]]
    """Free bays by backplane connector."""
    cables: dict[tuple[str, str, str], list[str]]
    adapters: list[Item]
    connections: list[Connection] = field(default_factory=list)
    n_cables: int = 0

    def take_cable(self, kind: tuple[str, str, str]) -> tuple[str, str]:
        """Return the name and key of a new piece of cable."""
        pool = self.cables.get(kind)
        if not pool:
            msg = f"no cable left of {kind}"
            raise NoWiringError(msg)
        self.n_cables += 1
        return f"cable-{self.n_cables}", pool.pop(0)


def decode(draft: Draft, solution: Solution) -> Build:
    """Return the build that a solution describes.

    Raises
    ------
    NoWiringError
        If the counts do not allow a wiring.
    NoPowerError
        If its power plugs do not carry what hangs on them in any way.
    """
    units, drives = _units(draft, solution)
    slots, cards = _slots(draft, solution, drives)
    bench = _bench(draft, solution)
    _wire(draft, solution, units, cards, bench)
    counts = _counts(draft, solution, bench)
    scenario = draft.entry.scenario
    build = Build(
        items=tuple(
            ItemCount(item=item, count=counts[item.key])
            for item in draft.everything()
            if counts[item.key]
        ),
        drives=tuple(DriveUse(name=n, key=k, role=r) for n, k, r in drives),  # type: ignore[arg-type]
        connections=tuple(sorted(bench.connections, key=lambda c: _order(c.drive))),
        slots=tuple(slots),
        operation=draft.entry.storage.plan(scenario),
        spares=tuple(
            ItemCount(item=draft.by_key[key], count=count)
            for key, count in draft.spares.items()
            if key in draft.by_key
        ),
        postage=tuple(sorted(draft.postage.items())),
    )
    return _with_power(build, scenario)


def _with_power(build: Build, scenario: Scenario) -> Build:
    """Return a build with its power tree, and no adapters but those on the tree."""
    machine = Machine(build=build, scenario=scenario)
    try:
        feeds = seated(ends_of(machine), PATIENCE)
    except GaveUpError:
        raise NoPowerError(machine, is_certain=False) from None
    if feeds is None:
        raise NoPowerError(machine, is_certain=True)
    hung = Counter(feed.key for feed in feeds if feed.key)
    items = tuple(
        replace(entry, count=hung[entry.item.key])
        if isinstance(entry.item.part, PowerLead)
        else entry
        for entry in build.items
    )
    return replace(build, items=tuple(e for e in items if e.count), power=feeds)


def _order(name: str) -> tuple[str, int]:
    word, _, number = name.rpartition("-")
    return word, int(number or 0)


def _units(  # noqa: C901 - roles in one list, in their order
    draft: Draft, solution: Solution
) -> tuple[list[_Unit], list[tuple[str, str, str]]]:
    """Return the drives to be connected, and all drives with their roles."""
    units: list[_Unit] = []
    drives: list[tuple[str, str, str]] = []

    def add(item: Item, role: str, shape: Shape | None) -> None:
        number = sum(r == role for _, _, r in drives) + 1
        name = f"{role}-{number}"
        drives.append((name, item.key, role))
        if shape is not None:
            units.append(_Unit(name, item, role, shape))

    for role in ("data", "parity"):
        for item in _by_size(draft):
            expression = draft.drives.get((item.key, role))
            if expression is not None:
                for _ in range(solution.count(expression)):
                    add(item, role, shape_of(draft, item.key))
    for item in draft.entry.cache:
        part = item.part
        bay = isinstance(part, SolidStateDrive) and part.form == "2.5"
        add(item, "cache", SMALL if bay else None)
    for item in draft.of(BootMedium):
        part = item.part
        if not isinstance(part, BootMedium) or not solution.count(draft.count(item)):
            continue
        shape = (
            (SMALL if part.needs_bay else NO_BAY) if part.interface == "sata" else None
        )
        add(item, "boot", shape)
    return units, drives


def _by_size(draft: Draft) -> list[Item]:
    return sorted(
        draft.of(HardDrive), key=lambda item: (-item.capacity_bytes, item.key)
    )


def _slots(
    draft: Draft, solution: Solution, drives: list[tuple[str, str, str]]
) -> tuple[list[SlotUse], dict[tuple[str, str], str]]:
    """Return the slots in use, and the names of cards by item key and slot."""
    uses: list[SlotUse] = []
    cards: dict[tuple[str, str], str] = {}
    by_key = draft.by_key
    waiting = {k: [n for n, key, _ in drives if key == k] for _, k, _ in drives}
    sockets: list[tuple[str, Riser]] = []
    for (key, berth), one in draft.placed.items():
        if not solution.count(one):
            continue
        part = by_key[key].part
        if isinstance(part, Card):
            word = _CARD_NAMES[part.kind]
            number = sum(use.name.startswith(word) for use in uses) + 1
            name = cards[key, berth.slot.name] = f"{word}-{number}"
            if isinstance(part, Riser):
                n = solution.count(draft.riser_room[key, berth])
                sockets += [(f"{name}.{i + 1}", part) for i in range(n)]
        else:
            name = waiting[key].pop(0)
        uses.append(SlotUse(name=name, key=key, slot=berth.slot.name))
    for key, count in draft.on_riser.items():
        for _ in range(solution.count(count)):
            if not sockets:
                msg = "no riser socket left"
                raise NoWiringError(msg)
            place, _ = sockets.pop(0)
            uses.append(SlotUse(name=waiting[key].pop(0), key=key, slot=place))
    return uses, cards


def _bench(draft: Draft, solution: Solution) -> _Bench:
    chassis = next(
        item.part
        for item in draft.of(Chassis)
        if isinstance(item.part, Chassis) and solution.count(draft.loose[item.key])
    )
    behind = chassis.bays_on_backplane
    is_multi = chassis.backplane not in (None, "sata")
    multi: dict[int, list[int]] = {}
    if is_multi:
        for bay in range(1, behind + 1):
            multi.setdefault((bay - 1) // 4 + 1, []).append(bay)
    plain = range(behind + 1 if is_multi else 1, chassis.bays_35 + 1)
    return _Bench(
        chassis=chassis,
        bays_25=list(range(1, chassis.bays_25 + 1))[: _n_bare_small(draft, solution)],
        plain_35=list(plain),
        multi=multi,
        cables=_cables(draft, solution),
        adapters=[
            item
            for item in draft.of(DriveAdapter)
            for _ in range(solution.count(draft.loose[item.key]))
        ],
    )


def _n_bare_small(draft: Draft, solution: Solution) -> int:
    """Return the small drives that sit in 2.5 inch bays; others have an adapter.

    An adapter may be there to put a drive on a backplane that feeds it.
    """
    small = sum(
        solution.count(count)
        for (_, shape, _), count in draft.on_port.items()
        if shape.form == "2.5"
    )
    return max(0, small - solution.count(draft.adapted))


def _cables(draft: Draft, solution: Solution) -> dict[tuple[str, str, str], list[str]]:
    pool: dict[tuple[str, str, str], list[str]] = {}
    for item in draft.of(Cable):
        part = item.part
        if isinstance(part, Cable):
            kind = (part.direction, part.controller_end, part.drive_end)
            n = solution.count(draft.loose[item.key])
            pool.setdefault(kind, []).extend([item.key] * n)
    return pool


def _wire(
    draft: Draft,
    solution: Solution,
    units: list[_Unit],
    cards: dict[tuple[str, str], str],
    bench: _Bench,
) -> None:
    n_plain_bp = _plain_on_backplane(draft, solution, bench)
    for group in draft.groups:
        here = _units_of(draft, solution, group, units)
        if not here:
            continue
        host = BOARD
        if group.berth is not None:
            host = cards[group.host, group.berth.slot.name]
        ports = _ports(group)
        n_multi = {
            kind: solution.count(count)
            for (other, kind), count in draft.to_multi.items()
            if other == group and solution.count(count)
        }
        for kind, count in n_multi.items():
            chosen = _for_backplane(here, count, bench)
            _multi_lane(group, host, ports, kind, chosen, bench)
        _plain(group, host, ports, here, bench, n_plain_bp)


def _plain_on_backplane(draft: Draft, solution: Solution, bench: _Bench) -> list[int]:
    """Order the plain 3.5 inch bays: those that the backplane feeds, as counted, first.

    Drives with power-disable come first in ``_units_of``, so they get the fed bays.
    """
    behind = bench.chassis.bays_on_backplane
    if bench.multi or not bench.chassis.backplane_power or not behind:
        return []
    fed = solution.count(draft.on_backplane)
    on, off = bench.plain_35[:behind], bench.plain_35[behind:]
    bench.plain_35 = on[:fed] + off + on[fed:]
    return on[:fed]


def _units_of(
    draft: Draft, solution: Solution, group: Group, units: list[_Unit]
) -> list[_Unit]:
    """Take the group's drives out of those still to be connected."""
    taken: list[_Unit] = []
    for (role, shape, other), count in draft.on_port.items():
        if other != group:
            continue
        for _ in range(solution.count(count)):
            found = next(u for u in units if (u.role, u.shape) == (role, shape))
            units.remove(found)
            taken.append(found)
    return sorted(taken, key=lambda u: (not _has_power_disable(u), -_height_mm(u)))


def _has_power_disable(unit: _Unit) -> bool:
    part = unit.item.part
    return isinstance(part, HardDrive) and part.has_power_disable == "yes"


def _ports(group: Group) -> Iterator[tuple[int, int]]:
    """Yield the free ports of a group as connector and port."""
    part = group.item.part if group.item else None
    if not isinstance(part, Controller):
        for port in range(1, group.n_ports + 1):
            yield port, 1
        return
    lanes = CONNECTOR_LANES[part.connectors.connector]
    for index in range(part.n_ports):
        is_leg = multiplier_leg(part, index) is not None
        if is_leg == group.is_leg:
            yield index // lanes + 1, index % lanes + 1


def _for_backplane(here: list[_Unit], count: int, bench: _Bench) -> list[_Unit]:
    """Take the drives of a group that go to a multi-lane backplane: large ones first."""
    order = sorted(here, key=lambda u: (u.shape.form != "3.5", u.shape.form != "2.5"))
    chosen = order[:count]
    if any(u.shape.form == "" for u in chosen):
        msg = "a drive without bay cannot sit on a backplane"
        raise NoWiringError(msg)
    for unit in chosen:
        here.remove(unit)
    del bench
    return chosen


def _multi_lane(
    group: Group,
    host: str,
    ports: Iterator[tuple[int, int]],
    kind: str,
    chosen: list[_Unit],
    bench: _Bench,
) -> None:
    """Connect drives to backplane connectors, four (or the bays left) to a piece."""
    direction = cable_direction(group.connector, kind)
    while chosen:
        connector = _emptiest(bench)
        bays = bench.multi.pop(connector)
        piece, key = bench.take_cable((direction, group.connector, kind))
        here, chosen = chosen[: len(bays)], chosen[len(bays) :]
        places = _next_ports(ports, len(here), group)
        for unit, bay, (number, port) in zip(here, bays, places, strict=False):
            bench.connections.append(
                Connection(
                    drive=unit.name,
                    bay=f"3.5-{bay}",
                    cable=piece,
                    cable_key=key,
                    host=host,
                    connector=number,
                    port=port,
                    adapter_key=_adapter(unit, bench, on_tray=True),
                )
            )


def _emptiest(bench: _Bench) -> int:
    if not bench.multi:
        msg = "no backplane connector left"
        raise NoWiringError(msg)
    return max(bench.multi, key=lambda number: (len(bench.multi[number]), -number))


def _next_ports(
    ports: Iterator[tuple[int, int]], count: int, group: Group
) -> list[tuple[int, int]]:
    """Return the next ports; a multi-lane connector takes one piece and no more."""
    found = [next(ports, (0, 0)) for _ in range(count)]
    if (0, 0) in found:
        msg = f"no port left on {group.name}"
        raise NoWiringError(msg)
    lanes = CONNECTOR_LANES[group.connector]
    if lanes > 1:
        for _ in range(-count % lanes):
            next(ports, None)
    return found


def _plain(
    group: Group,
    host: str,
    ports: Iterator[tuple[int, int]],
    units: list[_Unit],
    bench: _Bench,
    fed_bays: list[int],
) -> None:
    """Connect drives that end in a plain SATA plug, by single or forward cables."""
    direction = cable_direction(group.connector, "sata")
    step = 1 if direction == "single" else 4
    del fed_bays
    while units:
        here, units = units[:step], units[step:]
        piece, key = bench.take_cable((direction, group.connector, "sata"))
        places = _next_ports(ports, len(here), group)
        for unit, (number, port) in zip(here, places, strict=True):
            bay, adapter = _plain_bay(unit, bench)
            bench.connections.append(
                Connection(
                    drive=unit.name,
                    bay=bay,
                    cable=piece,
                    cable_key=key,
                    host=host,
                    connector=number,
                    port=port,
                    adapter_key=adapter,
                )
            )


def _plain_bay(unit: _Unit, bench: _Bench) -> tuple[str, str]:
    if not unit.shape.form:
        return "", ""
    if unit.shape.form == "2.5" and bench.bays_25 and _is_low(unit, bench):
        return f"2.5-{bench.bays_25.pop(0)}", ""
    if not bench.plain_35:
        msg = f"no bay left for {unit.name}"
        raise NoWiringError(msg)
    # small drives leave the backplane's trays to the large ones
    bay = bench.plain_35.pop(-1 if unit.shape.form == "2.5" else 0)
    on_tray = bay <= bench.chassis.bays_on_backplane
    return f"3.5-{bay}", _adapter(unit, bench, on_tray=on_tray)


def _height_mm(unit: _Unit) -> float:
    part = unit.item.part
    return part.height_mm if isinstance(part, HardDrive | SolidStateDrive) else 7.0


def _is_low(unit: _Unit, bench: _Bench) -> bool:
    return _height_mm(unit) <= bench.chassis.bay_25_height_mm


def _adapter(unit: _Unit, bench: _Bench, *, on_tray: bool) -> str:
    """Take the plainest adapter that does for a small drive in a large bay."""
    if unit.shape.form != "2.5":
        return ""
    strict = on_tray and bench.chassis.tray_holes != "none"
    for item in sorted(bench.adapters, key=_plainness):
        part = item.part
        if not isinstance(part, DriveAdapter) or part.max_height_mm < _height_mm(unit):
            continue
        if part.fits_tray or not strict:
            bench.adapters.remove(item)
            return item.key
    msg = f"no adapter left for {unit.name}"
    raise NoWiringError(msg)


def _plainness(item: Item) -> tuple[bool, float, str]:
    part = item.part
    if not isinstance(part, DriveAdapter):
        return True, 0.0, item.key
    return part.fits_tray, part.max_height_mm, item.key


def _counts(draft: Draft, solution: Solution, bench: _Bench) -> dict[str, int]:
    """Return every item's count; cables and adapters as many as were used."""
    counts = {
        item.key: solution.count(draft.count(item)) for item in draft.everything()
    }
    for item in draft.of(Cable, DriveAdapter):
        counts[item.key] = 0
    pieces = {c.cable: c.cable_key for c in bench.connections}
    for key in pieces.values():
        counts[key] += 1
    for connection in bench.connections:
        if connection.adapter_key:
            counts[connection.adapter_key] += 1
    return counts
