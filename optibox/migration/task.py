"""A build and what is known of owned drives, as the task of moving their data."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from optibox.build import Build, Item
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.attachment import Controller
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Chassis, PowerSupply
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.figures.capacity import array_bytes
from optibox.figures.chains import check_hours
from optibox.figures.stages import array_write_mb_s, network_mb_s
from optibox.machine import DriveView, Machine, machine_of
from optibox.migration.records import Disk, Places, Task, Unit, Where
from optibox.physics.zones import surface_pass_hours
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
    is_gone = _is_other_machine_reused(machine.build)
    built = tuple(
        _disk(drive, share, is_home=is_home)
        for drive in machine.drives
        if isinstance(drive.part, Drive) and drive.role != "boot"
    )
    beside = tuple(_beside(machine, share, is_home=is_home))
    disks = with_copies_apart(_told_apart(built) + beside)
    if is_gone:
        disks = tuple(
            replace(d, where="loose") if d.where == "remote" else d for d in disks
        )
    built = tuple(d for d in disks if d.is_built)
    plan = machine.operation
    write_mb_s, check_h = _array_rates(machine)
    return Task(
        disks=disks,
        units=_units(machine, built, share),
        erases_late=machine.scenario.choices.erase_late,
        write_mb_s=write_mb_s,
        network_mb_s=_network_rate(machine),
        check_h=check_h,
        torn=tuple(_torn(disks, machine)),
        layout=plan.layout,
        n_parity=plan.n_parity if plan.layout == "independent" else 0,
        survives=plan.failures_survived,
        places=_places(machine),
    )


def _told_apart(built: tuple[Disk, ...]) -> tuple[Disk, ...]:
    """Return drives with the serial numbers that the pieces of each lot have."""
    taken: Counter[str] = Counter()
    found = []
    for disk in sorted(built, key=lambda d: (len(d.bay), d.bay, d.name)):
        serials = disk.serial.split("\n") if disk.serial else []
        number = taken[disk.owner_id]
        taken[disk.owner_id] += 1
        serial = serials[number] if number < len(serials) else ""
        found.append(replace(disk, serial=serial))
    order = {disk.name: number for number, disk in enumerate(built)}
    return tuple(sorted(found, key=lambda d: order[d.name]))


def with_copies_apart(disks: tuple[Disk, ...]) -> tuple[Disk, ...]:
    """Return drives without second copies that lie on drives which are erased too.

    Two drives that back each other up are not both given up for the other's sake.
    """
    reused = {d.owner_id for d in disks if d.is_built}
    return tuple(
        replace(d, has_copy=False) if d.has_copy and d.copy_on in reused else d
        for d in disks
    )


def _torn(disks: tuple[Disk, ...], machine: Machine) -> Iterator[str]:
    """Yield why old arrays of which a drive is reused cannot be read as a whole."""
    for name in sorted({d.old_array for d in disks if d.is_built and d.old_array}):
        members = [d for d in disks if d.old_array == name]
        remote = [d for d in members if d.where == "remote"]
        if remote and len(remote) < len(members):
            yield (
                f"drives of the old array {name} sit in two machines, and it can only "
                "be read where all of them are"
            )
        if not _is_known(name, len(members), machine):
            yield (
                f"which other drives belong to the old array {name} is not known from "
                "the build alone: name the scenario, or say array_members"
            )


def _is_known(name: str, count: int, machine: Machine) -> bool:
    """Return whether all members of an old array are named, or enough of them."""
    if any(o.old_array == name for o in machine.scenario.owned):
        return True
    if machine.build.belongings is not None:
        return True
    owned = [e.item.owned for e in machine.build.items if e.item.owned]
    said = [o for o in owned if o.old_array == name and o.array_members]
    return bool(said) and all(
        count >= (o.array_members or 0) - o.array_may_miss for o in said
    )


_FRAME = (Board, Chassis, PowerSupply)


def _is_other_machine_reused(build: Build) -> bool:
    """Return whether board, case or supply come out of the machine that was read."""
    return any(
        e.item.owned is not None
        and e.item.owned.sits_in == "another machine"
        and isinstance(e.item.part, _FRAME)
        for e in build.items
    )


def mean_mb_s(part: Part) -> float:
    """Return what a drive reads or writes, as a mean over its surface. [MB/s]."""
    if isinstance(part, HardDrive):
        hours = surface_pass_hours(
            part.capacity_bytes, part.outer_rate_mb_s.mid, part.inner_ratio.mid
        )
        return part.capacity_bytes / 1e6 / (hours * 3600)
    if isinstance(part, SolidStateDrive):
        return part.write_mb_s.mid
    return 0.0


def _array_rates(machine: Machine) -> tuple[float, float]:
    """Return what drives of the array take in, and the time of a pass over them."""

    def rates(role: str) -> list[float]:
        return [
            min(mean_mb_s(d.part), d.port_mb_s)
            for d in machine.drives
            if d.role == role and isinstance(d.part, Drive)
        ]

    data, plan = rates("data"), machine.operation
    if not data:
        return 0.0, 0.0
    rate = array_write_mb_s(
        plan.layout,
        plan.n_parity,
        reconstructs=plan.write_mode == "reconstruct",
        data=data,
        parity=rates("parity"),
        factors=machine.factors,
    )
    return rate, check_hours(machine)


def _network_rate(machine: Machine) -> float:
    gbit_s = machine.network.gbit_s if machine.network else 0.0
    other = machine.scenario.needs.other_end_gbit_s
    return network_mb_s(min(gbit_s, other), machine.factors) if gbit_s else 0.0


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
        comes_back=not owned or owned.bring_back,
        copy_on=owned.second_copy_on if owned else "",
        is_failing=bool(owned and owned.pending_sectors and not owned.trust_pending),
        owner_id=owned.id if owned else part.id,
        serial="\n".join(owned.serials) if owned else "",
        tb=getattr(part, "tb", 0.0),
        mb_s=mean_mb_s(part),
        where=_where(owned, is_home=is_home),
        old_array=owned.old_array if owned else "",
        width=_width(part),
        is_hard=isinstance(part, HardDrive),
        is_bought=owned is None,
        is_counted_full=owned is not None
        and owned.held_tb is None
        and not owned.holds_nothing,
    )


def held_b(owned: OwnedPart | None, room_b: int) -> int:
    """Return what one piece holds; an owned drive of which nothing is known is full. [B].

    Examples
    --------
    >>> held_b(OwnedPart(id="old"), 4_000), held_b(None, 4_000)
    (4000, 0)
    """
    if owned is None or owned.holds_nothing:
        return 0
    if owned.held_tb is None:
        return room_b
    return round(owned.held_tb * BYTES_PER_TB)


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
    for owned, part in _belonging(machine):
        key = owned.id + OWNED_SUFFIX
        n_left = owned.count - used[key]
        if isinstance(part, Drive) and n_left > 0:
            disk = described(part, owned, share, is_home=is_home)
            serials = owned.serials[used[key] :]
            yield from _pieces(disk, owned.id, n_left, serials)
    for entry in build.spares:
        if isinstance(entry.item.part, HardDrive) and not entry.item.is_owned:
            disk = described(entry.item.part, None, share, is_home=is_home)
            yield from _pieces(disk, f"spare {entry.item.key}", entry.count)


def _belonging(machine: Machine) -> Iterator[tuple[OwnedPart, Part | None]]:
    """Yield owned parts: the scenario's, and what the build alone remembers.

    Where a scenario owns something, it is newer. Members of an old array that it does
    not name are in it all the same.
    """
    build, said = machine.build, machine.scenario.owned
    for owned in said:
        yield owned, owned.part or _part_of(build, owned.id + OWNED_SUFFIX)
    known = {owned.id for owned in said}
    used = {drive.key for drive in build.drives}
    arrays = {
        e.item.owned.old_array
        for e in build.items
        if e.item.owned and e.item.key in used
    } - {""}
    beside = build.belongings.beside if build.belongings else ()
    for entry in (*build.items, *beside):
        mine = entry.item.owned
        if mine is None or mine.id in known:
            continue
        if not said or mine.old_array in arrays:
            known.add(mine.id)
            yield mine, entry.item.part


def parts_beside(machine: Machine) -> dict[str, Part]:
    """Return the drives that lie beside a machine, by their ids."""
    found: dict[str, Part] = {
        e.item.part.id: e.item.part
        for e in machine.build.spares
        if isinstance(e.item.part, Drive)
    }
    for owned, part in _belonging(machine):
        if isinstance(part, Drive):
            found[owned.id] = part
    return found


def _part_of(build: Build, key: str) -> Part | None:
    return next((e.item.part for e in build.items if e.item.key == key), None)


def _pieces(
    disk: Disk, name: str, count: int, serials: tuple[str, ...] = ()
) -> Iterator[Disk]:
    for number in range(1, count + 1):
        shown = name if count == 1 else f"{name} no. {number}"
        serial = serials[number - 1] if number <= len(serials) else ""
        yield replace(disk, name=shown, role="beside", serial=serial)


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
