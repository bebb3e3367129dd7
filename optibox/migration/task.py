"""A build and what is known of owned drives, as the task of moving their data."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from optibox.build import Build, Item
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.attachment import Controller
from optibox.catalog.columns import Part
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.figures.capacity import array_bytes
from optibox.machine import DriveView, Machine, machine_of
from optibox.migration.records import Disk, Places, Task, Unit, Where
from optibox.scenario import OwnedPart, Scenario
from optibox.units import BYTES_PER_TB


def task_of(build: Build, scenario: Scenario) -> Task:
    """Return the task of reaching a build from the drives that a scenario owns.

    What a build file says of an owned part is replaced by what the scenario says of
    the one with the same id: it is newer.
    """
    machine = machine_of(_renewed(build, scenario), scenario)
    share = 1.0 - machine.factors.filesystem_reserve.mid
    is_home = _is_chassis_owned(machine.build)
    built = tuple(
        _disk(drive, share, is_home=is_home)
        for drive in machine.drives
        if isinstance(drive.part, Drive) and drive.role != "boot"
    )
    beside = tuple(_beside(machine, share, is_home=is_home))
    plan = machine.operation
    return Task(
        disks=built + beside,
        units=_units(machine, built, share),
        layout=plan.layout,
        n_parity=plan.n_parity if plan.layout == "independent" else 0,
        survives=plan.failures_survived,
        places=_places(machine),
    )


def _renewed(build: Build, scenario: Scenario) -> Build:
    """Return a build whose owned items carry the scenario's own history of them."""
    known = {owned.id + OWNED_SUFFIX: owned for owned in scenario.owned}

    def renewed(item: Item) -> Item:
        found = known.get(item.key)
        return replace(item, owned=found) if item.owned and found else item

    items = tuple(replace(e, item=renewed(e.item)) for e in build.items)
    return replace(build, items=items)


def _is_chassis_owned(build: Build) -> bool:
    return any(
        e.item.is_owned and isinstance(e.item.part, Chassis) for e in build.items
    )


def _disk(drive: DriveView, share: float, *, is_home: bool) -> Disk:
    role = drive.role if drive.role in ("parity", "cache") else "data"
    disk = described(drive.item.part, drive.item.owned, share, is_home=is_home)
    bay = drive.connection.bay if drive.connection else ""
    return replace(
        disk,
        name=drive.name,
        role=role,  # type: ignore[arg-type]  # one of the roles of a drive
        room_b=int(drive.item.capacity_bytes * share),
        width=disk.width if drive.connection else "",
        bay=bay,
    )


def described(
    part: Part, owned: OwnedPart | None, share: float, *, is_home: bool
) -> Disk:
    """Return what is known of one piece, without name and role."""
    room_b = 0
    if isinstance(part, Drive):
        hidden = owned.hidden_sectors if owned else 0
        room_b = int((part.capacity_bytes - 512 * hidden) * share)
    return Disk(
        name="",
        label=part.name,
        room_b=room_b,
        held_b=held_b(owned, room_b),
        has_copy=bool(owned and owned.second_copy),
        where=_where(owned, is_home=is_home),
        old_array=owned.old_array if owned else "",
        width=_width(part),
        is_hard=isinstance(part, HardDrive),
        is_bought=owned is None,
        is_counted_full=owned is not None
        and owned.holds_data is None
        and owned.held_tb is None,
    )


def held_b(owned: OwnedPart | None, room_b: int) -> int:
    """Return what one piece holds; an owned drive of which nothing is known is full. [B].

    Examples
    --------
    >>> held_b(OwnedPart(id="old"), 4_000), held_b(None, 4_000)
    (4000, 0)
    """
    if owned is None or owned.holds_data is False:
        return 0
    if owned.held_tb is None:
        return room_b
    return min(room_b, round(owned.held_tb * BYTES_PER_TB))


def _where(owned: OwnedPart | None, *, is_home: bool) -> Where:
    if owned is None:
        return "new"
    if owned.sits_in == "another machine":
        return "remote"
    return "here" if is_home and owned.sits_in != "loose" else "loose"


def _width(part: Part) -> Literal["3.5", "2.5", ""]:
    if isinstance(part, HardDrive):
        return part.form
    if isinstance(part, SolidStateDrive) and part.form == "2.5":
        return "2.5"
    return ""


def _beside(machine: Machine, share: float, *, is_home: bool) -> Iterator[Disk]:
    """Yield owned drives that the new machine does not use, and spares of the shelf."""
    build = machine.build
    used = Counter(drive.key for drive in build.drives)
    for owned in machine.scenario.owned:
        key = owned.id + OWNED_SUFFIX
        part = owned.part or _part_of(build, key)
        n_left = owned.count - used[key]
        if isinstance(part, Drive) and n_left > 0:
            disk = described(part, owned, share, is_home=is_home)
            yield from _pieces(disk, owned.id, n_left)
    for entry in build.spares:
        if isinstance(entry.item.part, HardDrive) and not entry.item.is_owned:
            disk = described(entry.item.part, None, share, is_home=is_home)
            yield from _pieces(disk, f"spare {entry.item.key}", entry.count)


def _part_of(build: Build, key: str) -> Part | None:
    return next((e.item.part for e in build.items if e.item.key == key), None)


def _pieces(disk: Disk, name: str, count: int) -> Iterator[Disk]:
    for number in range(1, count + 1):
        shown = name if count == 1 else f"{name} no. {number}"
        yield replace(disk, name=shown, role="beside")


def _places(machine: Machine) -> Places:
    chassis = machine.chassis
    ports = machine.onboard_ports + sum(
        card.item.part.n_ports
        for card in machine.cards.values()
        if isinstance(card.item.part, Controller)
    )
    # drives in adapters stand in larger bays; a boot medium on a port keeps it
    wires = [d for d in machine.drives if d.connection]
    boot = sum(d.role == "boot" for d in wires)
    adapted = sum(
        _width(d.part) == "2.5" and d.connection.bay.startswith("3.5")
        for d in wires
        if d.connection and d.role != "boot"
    )
    in_bays = [d.connection.bay for d in wires if d.connection and d.role == "boot"]
    large, small = (sum(b.startswith(w) for b in in_bays) for w in ("3.5", "2.5"))
    bays_35 = chassis.bays_35 if chassis else 0
    bays_25 = chassis.bays_25 if chassis else 0
    return Places(
        bays_35=bays_35 - adapted - large,
        bays_25=bays_25 + adapted - small,
        ports=ports - boot,
    )


def _units(machine: Machine, disks: tuple[Disk, ...], share: float) -> tuple[Unit, ...]:
    layout, data = machine.operation.layout, [d for d in disks if d.role == "data"]
    if layout == "independent":
        return tuple(
            Unit(name=d.name, groups=((d.name,),), room_b=d.room_b) for d in data
        )
    if layout == "striped":
        sizes = [machine_bytes(machine, d.name) for d in data]
        whole = array_bytes(layout, machine.operation.n_parity, sizes)
        groups = tuple((d.name,) for d in data)
        return (Unit(name="the stripe", groups=groups, room_b=int(whole * share)),)
    pairs = _pairs(data)
    if layout == "pairs":
        return tuple(
            Unit(
                name=f"pair {a.name} and {b.name}",
                groups=((a.name, b.name),),
                room_b=min(a.room_b, b.room_b),
            )
            for a, b in pairs
        )
    return (
        Unit(
            name="the stripe of pairs",
            groups=tuple((a.name, b.name) for a, b in pairs),
            room_b=sum(min(a.room_b, b.room_b) for a, b in pairs),
        ),
    )


def machine_bytes(machine: Machine, name: str) -> int:
    """Return the bytes of one drive of a machine. [B]."""
    return next(d.item.capacity_bytes for d in machine.drives if d.name == name)


def _pairs(data: list[Disk]) -> list[tuple[Disk, Disk]]:
    """Return neighbours by size as pairs; equal ones so that most have an empty drive.

    A pair can take data as soon as one side of it is empty. Which of equal drives comes
    first in the build makes no difference.
    """
    ordered = sorted(
        data, key=lambda d: (-d.room_b, -d.held_b, d.has_copy, d.old_array)
    )
    found: list[tuple[Disk, Disk]] = []
    while len(ordered) >= 2:
        first = ordered.pop(0)
        equal = [d for d in ordered if d.room_b == ordered[0].room_b]
        unlike = [d for d in equal if bool(d.held_b) != bool(first.held_b)]
        second = (unlike or equal)[0]
        ordered.remove(second)
        found.append((first, second))
    return found
