"""Which drives stand in the machine while data move, and which may serve beside it."""

from optibox.migration.records import Disk, Task


def candidates(task: Task) -> list[Disk]:
    """Return empty hard drives beside the new machine, the largest first.

    A member of an old array that holds files is no empty drive: it is what the array
    survives a failure with. One with pending sectors would be the only place of a file.
    """
    in_use = {d.old_array for d in task.disks if d.held_b} - {""}
    sources = {n for s in task.sources for n in s.disks}
    empty = [
        d
        for d in task.disks
        if not d.is_built
        and d.is_hard
        and not d.held_b
        and not d.is_failing
        and d.name not in sources
        and d.old_array not in in_use
    ]
    return sorted(empty, key=lambda d: (-d.room_b, d.name))


def standing(task: Task) -> list[Disk]:
    """Return drives that keep their place in the machine all the time."""
    sources = {n for s in task.sources for n in s.disks}
    return [
        d
        for d in task.disks
        if d.is_built or (d.name in sources and d.where != "remote")
    ]


def shelf_of(task: Task) -> list[Disk]:
    """Return the drives that can serve for a while in places that are free."""
    left, found = task.places.left(standing(task)), []
    for disk in candidates(task):
        if disk.where == "remote":
            found.append(disk)
        elif left.takes(disk):
            left = left.left((disk,))
            found.append(disk)
    return found


def is_crowded(task: Task) -> bool:
    """Return whether old arrays cannot stand in the machine beside the new drives.

    Drives that the array can start without may come in when the old ones are out.
    """
    return late_for_old(task) is None


def late_for_old(task: Task) -> list[Disk] | None:
    """Return the fewest drives that are fitted last, so that old arrays have places.

    Nothing where not even that is enough.
    """
    drives, late = standing(task), list[Disk]()
    if all(d.is_built for d in drives):
        return late
    waiting = sorted(_startable(task), key=lambda d: (d.room_b, d.name))
    while not task.places.left([d for d in drives if d not in late]).is_enough:
        left = task.places.left([d for d in drives if d not in late])
        short = {
            "3.5": left.bays_35 < 0 or left.ports < 0,
            "2.5": left.bays_25 < 0 or left.ports < 0,
        }
        found = next((d for d in waiting if short.get(d.width) and d not in late), None)
        if found is None:
            return None
        late.append(found)
    return late


def _startable(task: Task) -> list[Disk]:
    """Return empty drives that the array can start without: parity, second sides."""
    sources = {n for s in task.sources for n in s.disks}
    free = [
        d
        for d in task.built
        if d.name not in sources and not d.held_b and d.where != "here" and d.is_hard
    ]
    parity = [d for d in free if d.role == "parity"]
    second = []
    for group in (g for u in task.units for g in u.groups if len(g) > 1):
        sides = sorted((d for d in free if d.name in group), key=lambda d: d.room_b)
        second += sides[1:]
    return [*parity, *second]
