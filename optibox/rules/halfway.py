"""The machine while data move: as many drives stand in it as its power and air allow.

Empty drives that serve for a while, and members of an old array that is read, stand in
free bays beside the drives of the array. They are added one by one, and the rules of
power and air judge the machine with them, so that a finer rule holds here too.
"""

from collections.abc import Iterator
from dataclasses import replace

from optibox.build import Build, Connection, DriveUse, Item, ItemCount
from optibox.catalog.attachment import Controller
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.machine import Machine, machine_of
from optibox.migration import Disk, Task, candidates
from optibox.migration.task import parts_beside
from optibox.rules.context import Context
from optibox.rules.register import RULES

_HALFWAY = ("P", "C8", "C9", "C10", "F7", "F8", "F9")
"""Rules of power and air by the beginning of their ids; needs apply at the end."""


def powered(task: Task, context: Context) -> Task:
    """Return a task with no more places than the machine can feed and cool drives in.

    Parameters
    ----------
    task : Task
        What is moved into the machine.
    context : Context
        The machine with its figures.
    """
    extra = _extra(task)
    if not extra:
        return task
    before, n = _broken(context), 0
    for count in range(1, len(extra) + 1):
        machine = _with(context.machine, extra[:count])
        if machine is None or _broken(replace(context, machine=machine)) - before:
            break
        n = count
    if n == len(extra):
        return task
    standing = sum(bool(d.width) for d in task.built)
    places = replace(task.places, ports=min(task.places.ports, standing + n))
    return replace(task, places=places)


def _extra(task: Task) -> list[Disk]:
    """Return the drives that could stand in the machine beside those of the array."""
    sources = {n for s in task.sources for n in s.disks}
    read = [d for d in task.disks if d.name in sources and not d.is_built]
    beside = [d for d in (*read, *candidates(task)) if d.where != "remote" and d.width]
    return list(dict.fromkeys(beside)) if task.sources else []


def _broken(context: Context) -> set[tuple[str, str]]:
    """Return the rules of power and air that a machine breaks."""
    return {
        (finding.rule, finding.severity)
        for name, entry in RULES.items()
        if name.startswith(_HALFWAY)
        for finding in entry.check(context)
        if finding.severity == "error"
    }


def _with(machine: Machine, extra: list[Disk]) -> Machine | None:
    """Return the machine with more drives in free bays; nothing where there are none."""
    parts, build = parts_beside(machine), machine.build
    bays, ports = list(_bays(machine)), list(_ports(machine))
    items, drives, wires = [], [], []
    for number, disk in enumerate(extra, 1):
        bay = next((b for b in bays if b.startswith(disk.width)), None)
        if bay is None or not ports or disk.owner_id not in parts:
            return None
        bays.remove(bay)
        host, connector, port = ports.pop(0)
        key, name = f"beside {number}", f"beside {number}"
        item = Item(key=key, part=parts[disk.owner_id])
        items.append(ItemCount(item=item, count=1))
        drives.append(DriveUse(name=name, key=key, role="data"))
        wires.append(
            Connection(
                drive=name,
                bay=bay,
                cable="",
                cable_key="",
                host=host,
                connector=connector,
                port=port,
            )
        )
    # leads are hung anew as well as can be: plugs are free to be used meanwhile
    fuller: Build = replace(
        build,
        power=(),
        items=(*build.items, *items),
        drives=(*build.drives, *drives),
        connections=(*build.connections, *wires),
    )
    return machine_of(fuller, machine.scenario)


def _bays(machine: Machine) -> Iterator[str]:
    """Yield the free bays by name."""
    chassis = machine.chassis
    taken = {d.connection.bay for d in machine.drives if d.connection}
    if chassis is not None:
        for width, count in (("3.5", chassis.bays_35), ("2.5", chassis.bays_25)):
            names = (f"{width}-{number}" for number in range(1, count + 1))
            yield from (name for name in names if name not in taken)


def _ports(machine: Machine) -> Iterator[tuple[str, int, int]]:
    """Yield the free drive ports: host, connector, port."""
    taken = {
        (d.connection.host, d.connection.connector, d.connection.port)
        for d in machine.drives
        if d.connection
    }
    hosts = [("board", machine.onboard_ports, 1)]
    for name, card in machine.cards.items():
        if isinstance(card.item.part, Controller):
            lanes = CONNECTOR_LANES[card.item.part.connectors.connector]
            hosts.append((name, card.item.part.n_ports // lanes, lanes))
    for host, connectors, lanes in hosts:
        for connector in range(1, connectors + 1):
            for port in range(1, lanes + 1):
                if (host, connector, port) not in taken:
                    yield host, connector, port
