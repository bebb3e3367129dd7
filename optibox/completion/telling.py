"""What was assumed about a wiring, and why a part of it cannot be, in words."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from optibox.build import Item
from optibox.build.sketch import Sketch
from optibox.catalog.attachment import Cable, Controller
from optibox.completion.costs import Rider
from optibox.machine.view import Machine
from optibox.rules.context import backplane_connector
from optibox.rules.wiring import DIRECTION_WORDS, cable_direction


def small_part_words(
    extra: Mapping[str, int], items: Mapping[str, Item], lead: Item | None
) -> Iterator[str]:
    """Yield the small parts that were taken although nobody listed them."""
    counts = dict(extra)
    parts = {key: item.part for key, item in items.items()}
    if lead is not None:
        counts[lead.key], parts[lead.key] = 1, lead.part
    for key, count in counts.items():
        part = parts[key]
        yield f"{count} x {part.name} [{part.id}]: no {part.kind} is listed"


def wiring_words(sketch: Sketch, machine: Machine) -> Iterator[str]:
    """Yield what was filled in of slots and wiring."""
    open_slots = {s.name for s in sketch.slots if not s.slot}
    for use in machine.build.slots:
        if use.name in open_slots:
            yield f"{use.name} ({machine.build.item(use.key).part.name}): in {use.slot}"
    known = {wire.drive: wire for wire in sketch.wires}
    for drive in machine.drives:
        wire, told = drive.connection, known.get(drive.name)
        if wire is None or (told is not None and told.is_whole):
            continue
        port = f"{wire.connector}.{wire.port}"
        if wire.host == "board" or wire.port == 1:
            port = str(wire.connector) if not _is_multi(machine, wire.host) else port
        bay = f", bay {wire.bay}" if wire.bay else ""
        yield f"{drive.name}: port {port} of {wire.host}{bay}{_by(machine, wire.cable_key)}"


def _by(machine: Machine, key: str) -> str:
    return f", {machine.build.item(key).part.name}" if key else ""


def _is_multi(machine: Machine, host: str) -> bool:
    card = machine.cards.get(host)
    part = card.item.part if card else None
    return isinstance(part, Controller) and part.connectors.connector != "sata"


def cannot_words(
    machine: Machine, riders: Sequence[Rider], homeless: Sequence[str]
) -> Iterator[str]:
    """Yield what no wiring of these parts can do, with the reason."""
    for name in homeless:
        yield f"{name}: no slot of the board is left that it could go into"
    yield from _ports(machine, riders)
    yield from _bays(machine, riders)
    yield from _frames(machine, riders)
    yield from _protocols(machine, riders)
    yield from _cables(machine, riders)


def _ports(machine: Machine, riders: Sequence[Rider]) -> Iterator[str]:
    wired = {wire.drive for wire in machine.build.connections}
    bare = [rider.name for rider in riders if rider.name not in wired]
    if not bare:
        return
    controllers = {
        name: card.item.part.n_ports
        for name, card in machine.cards.items()
        if isinstance(card.item.part, Controller)
    }
    words = [f"{machine.onboard_ports} on the board"]
    words += [f"{count} on {name}" for name, count in controllers.items()]
    yield f"{_names(bare)}: no port is left ({', '.join(words)})"


def _bays(machine: Machine, riders: Sequence[Rider]) -> Iterator[str]:
    wants = {rider.name: rider.width for rider in riders if rider.width}
    loose: dict[str, list[str]] = {}
    for wire in machine.build.connections:
        if wire.drive in wants and not wire.bay:
            loose.setdefault(wants[wire.drive], []).append(wire.drive)
    chassis = machine.chassis
    have = {"3.5": chassis.bays_35, "2.5": chassis.bays_25} if chassis else {}
    for width, names in loose.items():
        yield (
            f"{_names(names)}: no bay of {width} inch is left "
            f"({have.get(width, 0)} in the chassis)"
        )


def _frames(machine: Machine, riders: Sequence[Rider]) -> Iterator[str]:
    """Yield the small drives in large bays for which no frame is there."""
    small = {rider.name for rider in riders if rider.width == "2.5"}
    bare = [
        wire.drive
        for wire in machine.build.connections
        if wire.drive in small and wire.bay.startswith("3.5") and not wire.adapter_key
    ]
    if bare:
        yield f"{_names(bare)}: no bay of 2.5 inch is left, and no frame for a larger one"


def _protocols(machine: Machine, riders: Sequence[Rider]) -> Iterator[str]:
    """Yield the SAS drives for which only SATA ports are left."""
    sas = {r.name for r in riders if getattr(r.part, "interface", "") == "sas"}
    lost = [
        wire.drive
        for wire in machine.build.connections
        if wire.drive in sas and not _speaks_sas(machine, wire.host)
    ]
    if lost:
        yield f"{_names(lost)}: no SAS port is left, and a SATA port does not do"


def _speaks_sas(machine: Machine, host: str) -> bool:
    card = machine.cards.get(host)
    part = card.item.part if card else None
    return isinstance(part, Controller) and part.speaks_sas


def _cables(machine: Machine, riders: Sequence[Rider]) -> Iterator[str]:
    """Yield the ways for which no cable of the right ends is there."""
    names = {rider.name for rider in riders if rider.wire.cable_key is None}
    wanting: Counter[tuple[str, str, str]] = Counter()
    for wire in machine.build.connections:
        if wire.drive not in names or machine.chassis is None or not wire.bay:
            continue
        card = machine.cards.get(wire.host)
        part = card.item.part if card else None
        host: str = "sata"
        if isinstance(part, Controller):
            host = part.connectors.connector
        far: str = backplane_connector(machine.chassis, wire.bay)[0]
        kind = (cable_direction(host, far), host, far)
        cable = machine.build.item(wire.cable_key).part if wire.cable_key else None
        if not isinstance(cable, Cable) or kind != (
            cable.direction,
            cable.controller_end,
            cable.drive_end,
        ):
            wanting[kind] += 1
    for (direction, host, bay), count in wanting.items():
        yield (
            f"{count} drives: {DIRECTION_WORDS[direction]}, {host} to {bay}, is not "
            "among the parts"
        )


def _names(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
