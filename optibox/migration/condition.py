"""When a build can be reached: a few inequalities in numbers of drives.

They hold exactly when the search finds a safe order, for independent drives, for
pairs of equal drives and for stripes; for other pairs they are necessary. No search
is needed to test them, and they are linear in the numbers of drives of each lot.

Let ``room`` be what a file system on a drive holds and ``h`` what it holds now, of
drives without a second copy elsewhere. Emptying a drive of the array takes ``h`` from
the room that is free anywhere and gives ``room`` back, never less. So drives are best
emptied in the order of what they hold, and each finds room if

    free room + sum of (room - h) over drives that hold less  >=  h.

A parity drive that was emptied can serve until the end, so that its room counts like
that of a data drive. In the end, all files stand on the array:

    sum of h  <=  room of the array.

A stripe cannot be written before all its members are empty: there the free room is
that of drives beside it alone, and it must take all that the members hold.
"""

from dataclasses import dataclass

from optibox.migration.records import Disk, Task
from optibox.migration.shelf import shelf_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Inequality:
    """One condition: what there is must be at least what is needed."""

    words: str
    have_b: int
    need_b: int

    @property
    def holds(self) -> bool:
        """Return whether it is met."""
        return self.have_b >= self.need_b


def conditions(task: Task) -> tuple[Inequality, ...]:
    """Return the inequalities of a task; a build can be reached if all hold."""
    held = [d for d in task.built if d.held_b and not d.has_copy]
    total = sum(d.held_b for d in held)
    room = sum(unit.room_b for unit in task.units)
    in_the_end = Inequality(words="files on the array", have_b=room, need_b=task.kept_b)
    beside = sum(d.room_b for d in shelf_of(task))
    if task.layout == "striped":
        return (
            Inequality(words="stripe made whole", have_b=beside, need_b=total),
            in_the_end,
        )
    return (*_turns(task, held, beside), in_the_end)


def are_exact(task: Task) -> bool:
    """Return whether a build can be reached wherever all conditions hold.

    They speak of drives, so that members of an old array, which are read together, can
    keep them and yet find no room.
    """
    if any(len(source.disks) > 1 for source in task.sources):
        return False
    if any(d.held_b > d.room_b or d.is_failing for d in task.built):
        return False
    if task.layout == "pairs":
        return len({unit.room_b for unit in task.units}) <= 1 and all(
            task.disk(name).room_b == unit.room_b
            for unit in task.units
            for name in unit.members
        )
    return task.layout in ("independent", "striped")


def _turns(task: Task, held: list[Disk], beside_b: int) -> tuple[Inequality, ...]:
    """Return one inequality for each amount that a drive of the array holds."""
    hard = [d for d in task.built if d.is_hard and d.role != "cache"]
    mine = [d for d in held if d in hard]
    free = beside_b + sum(d.room_b for d in hard if d not in mine)
    return tuple(
        Inequality(
            words=f"room to empty drives of {amount} bytes",
            have_b=free
            + sum(max(0, d.room_b - d.held_b) for d in mine if d.held_b < amount),
            need_b=amount,
        )
        for amount in sorted({d.held_b for d in mine})
    )
