"""What a move of data is made of: drives, places in the machine, steps.

Everything is counted in bytes of file systems, so that a full drive fits exactly
onto an empty one of the same size.
"""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

Where = Literal["new", "here", "loose", "remote"]
"""Bought; in this machine; on the shelf; in another machine that can be read."""

Kind = Literal[
    "take out",
    "seat",
    "read back",
    "fit",
    "test",
    "build",
    "check",
    "create",
    "lend",
    "copy",
    "verify",
    "erase",
    "add",
    "restore",
    "return",
]
ELSEWHERE = "elsewhere"
"""Where second copies are that the scenario speaks of."""

BORROWED = "borrowed-1"
"""Name of the drive that has to be borrowed where no order exists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disk:
    """One drive of the move: of the new array, or lying beside it."""

    name: str
    label: str = ""
    role: Literal["data", "parity", "cache", "beside"] = "data"
    room_b: int = 0
    """What a file system on it holds. [B]"""
    held_b: int = 0
    """What it holds now. [B]"""
    has_copy: bool = False
    """Whether all of that lies a second time elsewhere."""
    comes_back: bool = True
    """Whether files with a second copy come onto the new array too."""
    copy_on: str = ""
    """Where the second copy is, in words or as the id of an owned drive."""
    is_failing: bool = False
    """Whether sectors are pending, and nobody allowed to rely on it all the same."""
    where: Where = "new"
    old_array: str = ""
    owner_id: str = ""
    """Its id in the scenario, or that of the catalog."""
    serial: str = ""
    """Last digits of its serial number."""
    tb: float = 0.0
    """Its size as sold. [TB]"""
    mb_s: float = 0.0
    """What it reads and writes, as a mean over its surface. [MB/s]"""
    width: Literal["3.5", "2.5", ""] = "3.5"
    """Bay that it wants; nothing for a module on the board."""
    bay: str = ""
    """Its bay in the new machine, such as ``3.5-2``."""
    is_hard: bool = True
    is_bought: bool = False
    is_counted_full: bool = False
    """Whether nothing is said about what it holds."""

    @property
    def is_built(self) -> bool:
        """Return whether it is part of the new machine."""
        return self.role != "beside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A file system of the new array: a drive, a pair, or a whole stripe.

    It can be written once one drive of each group is in it; ``n_missing`` drives
    more would be redundancy that is added later.
    """

    name: str
    groups: tuple[tuple[str, ...], ...]
    room_b: int

    @property
    def members(self) -> tuple[str, ...]:
        """Return the names of all its drives."""
        return tuple(name for group in self.groups for name in group)


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Bays by width and drive ports of the new machine."""

    bays_35: int
    bays_25: int
    ports: int

    def left(self, disks: "tuple[Disk, ...] | list[Disk]") -> "Places":
        """Return what is left beside some drives; below 0 where they do not fit."""
        large, small = (sum(d.width == w for d in disks) for w in ("3.5", "2.5"))
        return Places(
            bays_35=self.bays_35 - large,
            bays_25=self.bays_25 - small,
            ports=self.ports - large - small,
        )

    @property
    def is_enough(self) -> bool:
        """Return whether nothing is short."""
        return min(self.bays_35, self.bays_25, self.ports) >= 0

    def takes(self, disk: Disk) -> bool:
        """Return whether one more drive finds a bay and a port."""
        return self.left((disk,)).is_enough


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """The question: drives with data, the array to be, places to put drives."""

    disks: tuple[Disk, ...]
    units: tuple[Unit, ...]
    layout: str
    n_parity: int
    """Drives of an independent array that hold parity."""
    survives: int
    """Failures that the finished array survives."""
    places: Places
    erases_late: bool = True
    """Whether originals are kept as long as room allows."""
    write_mb_s: float = 0.0
    """What the drives of the array take in while parity is kept. [MB/s]"""
    network_mb_s: float = 0.0
    """What file sharing moves over the network. [MB/s]"""
    check_h: float = 0.0
    """One pass over all drives of the array at once. [h]"""
    torn: tuple[str, ...] = ()
    """Old arrays that cannot be read as a whole, with the reason."""

    def disk(self, name: str) -> Disk:
        """Return the drive of a name."""
        return next(d for d in self.disks if d.name == name)

    @property
    def built(self) -> tuple[Disk, ...]:
        """Return the drives of the new machine."""
        return tuple(d for d in self.disks if d.is_built)

    @property
    def kept_b(self) -> int:
        """Return what has to be on the new array in the end. [B]."""
        return sum(s.held_b for s in self.sources if not s.stays_away)

    @property
    def sources(self) -> tuple["Source", ...]:
        """Return what has to be emptied: each reused drive that holds data.

        Members of one old array can only be read together, so that they count as
        one; drives beside the new machine are in it only with such an array.
        """
        groups: dict[str, list[Disk]] = {}
        for disk in self.disks:
            if disk.held_b or disk.old_array:
                key = f"array {disk.old_array}" if disk.old_array else disk.name
                groups.setdefault(key, []).append(disk)
        return tuple(
            Source(
                disks=tuple(d.name for d in found),
                held_b=sum(d.held_b for d in found),
                has_copy=all(d.has_copy or not d.held_b for d in found),
                comes_back=any(d.comes_back and d.held_b for d in found),
                is_failing=any(d.is_failing for d in found),
                name=found[0].old_array or found[0].name,
            )
            for found in groups.values()
            if any(d.is_built for d in found)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Drives that are emptied at once, and how much they hold."""

    name: str
    disks: tuple[str, ...]
    held_b: int
    has_copy: bool
    comes_back: bool = True
    """Whether its files are to be on the new array in the end."""
    is_failing: bool = False
    """Whether a drive of it has pending sectors: it is read first."""

    @property
    def stays_away(self) -> bool:
        """Return whether its files are left to their second copy."""
        return self.has_copy and not self.comes_back


Move: TypeAlias = tuple[str, str, str, int]
"""Whose files (name of the source), from where, to where, bytes."""

Gone: TypeAlias = tuple[str, str, int]
"""Content that ends: on which drive, whose files (name of the source), bytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do, as the planner of the move orders it."""

    kind: Kind
    disks: tuple[str, ...] = ()
    moves: tuple[Move, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step with the state of everything after it."""

    number: int
    action: Action
    destroys: tuple[Gone, ...] = ()
    """Drives whose content ends here, whose files it was, how much. [B]"""
    copies: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Of each source that the step touches: where its files are after the step."""
    free_b: int = 0
    """Room left in file systems of the new array. [B]"""
    lent_b: int = 0
    """Room left on drives that serve for a while. [B]"""
    left: Places = field(default_factory=lambda: Places(bays_35=0, bays_25=0, ports=0))
    survives: int = 0
    """Failures that the array survives as it is now."""
    hours: float = 0.0
    """How long it takes at the rates of drives and network. [h]"""
    exposed: tuple[str, ...] = ()
    """Sources whose files are in one place only, without redundancy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Why there is no safe order, and what would make one."""

    borrow_b: int = 0
    """Room to borrow or buy first. [B]"""
    homeless_b: int = 0
    """What the new array cannot hold at all. [B]"""
    torn: str = ""
    """Why an old array cannot be read as a whole."""
    is_crowded: bool = False
    """Whether an old array cannot stand in the machine while it is read."""
    needs_place: bool = False
    """Whether the machine has no free bay or port for what is borrowed."""
    source: str = ""
    """What cannot be emptied."""
    source_b: int = 0
    """What it holds; all sources together where the array is too small. [B]"""
    room_b: int = 0
    """Room that there is for it at best. [B]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """The safe order with the fewest bytes copied, or what it lacks."""

    task: Task
    steps: tuple[Step, ...] = ()
    copied_b: int = 0
    """Bytes written by all copies together."""
    twice_b: int = 0
    """Bytes among them that had to be copied a second time."""
    shortage: Shortage | None = None
    """Where there is no safe order; the steps then hold with what is borrowed."""

    @property
    def hours(self) -> float:
        """Return how long all steps take, one after the other. [h]."""
        return sum(step.hours for step in self.steps)

    @property
    def is_needed(self) -> bool:
        """Return whether any reused drive holds data."""
        return bool(self.task.sources)

    @property
    def is_safe(self) -> bool:
        """Return whether the build can be reached with what there is."""
        return self.shortage is None

    @property
    def held_b(self) -> int:
        """Return what all sources hold together. [B]."""
        return sum(source.held_b for source in self.task.sources)

    def exposed(self) -> dict[str, tuple[int, int]]:
        """Return sources that lie in one place for a while: from step to step."""
        found: dict[str, tuple[int, int]] = {}
        for step in self.steps:
            for name in step.exposed:
                first = found.get(name, (step.number, 0))[0]
                found[name] = (first, step.number)
        return found
