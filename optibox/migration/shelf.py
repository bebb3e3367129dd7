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
    """Return whether old arrays cannot stand in the machine beside the new drives."""
    drives = standing(task)
    return (
        any(not d.is_built for d in drives) and not task.places.left(drives).is_enough
    )
