"""A build: which items, how they are wired, how the machine is run."""

import math
from dataclasses import dataclass
from typing import Literal, TypeVar

from optibox.build.items import Item
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.scenario.records import CacheKind, Layout, WriteMode

Role = Literal["data", "parity", "cache", "boot"]
P = TypeVar("P", bound=Part)
BOARD = "board"
"""Name of the board among the hosts of drive ports."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPlan:
    """How the machine is run."""

    layout: Layout
    n_parity: Literal[0, 1, 2] = 0
    write_mode: WriteMode = "plain"
    cache: CacheKind = "none"
    timeout_min: float | None = None
    """Minutes without access until a drive stops; nothing = never."""

    flush_hour: float = 2.0
    checks_per_year: float = 4.0

    def __post_init__(self) -> None:
        has_modes = self.layout == "independent" and self.n_parity > 0
        if has_modes == (self.write_mode == "plain"):
            msg = f"write mode {self.write_mode} does not go with {self.layout} layout"
            raise ValueError(msg)
        if "pairs" in self.layout and self.n_parity:
            msg = "pairs have no parity drives"
            raise ValueError(msg)

    @property
    def timeout_h(self) -> float:
        """Return the timeout in hours, infinite where drives never stop."""
        return math.inf if self.timeout_min is None else self.timeout_min / 60

    @property
    def failures_survived(self) -> int:
        """Return how many drive failures lose nothing."""
        return 1 if "pairs" in self.layout else self.n_parity

    @property
    def wakes_together(self) -> bool:
        """Return whether one access can start all drives at the same instant."""
        return self.layout != "independent" or self.write_mode == "reconstruct"


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemCount:
    """So many pieces of one item."""

    item: Item
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveUse:
    """One drive (or boot medium) and its role; striped members are all data."""

    name: str
    key: str
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Connection:
    """One drive on its way to a port.

    ``bay`` is like ``3.5-2`` or ``2.5-1``; ``host`` is ``board`` or the name of a
    card; ``cable`` names the piece of cable (several drives share a breakout).
    ``connector`` and ``port`` count from 1 at the host; a plain SATA port is a
    connector with one port.
    """

    drive: str
    bay: str
    cable: str
    cable_key: str
    host: str
    connector: int
    port: int = 1
    adapter_key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerFeed:
    """What hangs on one power plug.

    ``load`` is a drive, an inlet of the backplane (``backplane-1``) or an adapter
    (``power-1``, whose item is ``key``). ``source`` is a lead of the supply
    (``lead-1``, in the order of its cell), ``board``, or an adapter; its plugs count
    from 1.
    """

    load: str
    source: str
    plug: int
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotUse:
    """One card, riser or module in a slot: ``P1``, or ``riser-1.2`` on a riser."""

    name: str
    key: str
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What stands around a machine, as far as it is known; nothing = not known."""

    ups_va: float | None = None
    """Apparent power that the battery supply gives. [VA]"""

    ups_minutes: float | None = None
    """Time that its battery lasts at this machine's load. [min]"""

    mtu_b: int | None = None
    """Largest frame payload set on this machine's network port. [B]"""

    other_end_mtu_b: int | None = None
    """The same at the other end and on the way there. [B]"""


UNKNOWN_SURROUNDINGS = Surroundings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Belongings:
    """What else bears on moving data into a machine."""

    beside: tuple[ItemCount, ...] = ()
    """Owned drives that it does not use, each lot with all its pieces."""

    filesystem_reserve: float | None = None
    """Share of a drive that its file system keeps, where not the usual one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A complete machine. Counts, drives, wiring and slots must tell one story."""

    items: tuple[ItemCount, ...]
    drives: tuple[DriveUse, ...]
    connections: tuple[Connection, ...]
    slots: tuple[SlotUse, ...]
    operation: OperatingPlan
    power: tuple[PowerFeed, ...] = ()
    """Every power plug in use; empty = not told, and taken as well as can be."""

    spares: tuple[ItemCount, ...] = ()
    """Pieces that lie on the shelf."""

    postage: tuple[tuple[str, float], ...] = ()
    """Postage of each seller that has any. [currency per order]"""

    around: Surroundings = UNKNOWN_SURROUNDINGS
    """Battery supply and network around the machine."""

    is_standing: bool = False
    """All of it stands there already: nobody moves data into it."""

    belongings: Belongings | None = None
    """What is owned beside it; nothing = not known."""

    def of(self, record: type[P]) -> tuple[tuple[P, int], ...]:
        """Return the parts of one kind with their counts."""
        return tuple(
            (entry.item.part, entry.count)
            for entry in self.items
            if isinstance(entry.item.part, record)
        )

    def one(self, record: type[P]) -> P | None:
        """Return the only part of a kind, or nothing."""
        found = self.of(record)
        return found[0][0] if found else None

    def item(self, key: str) -> Item:
        """Return the item with a key.

        Raises
        ------
        KeyError
            If the build does not hold it.
        """
        for entry in self.items:
            if entry.item.key == key:
                return entry.item
        raise KeyError(key)

    def bought(self) -> dict[str, int]:
        """Return the pieces to buy by key: used and spare ones less those in a box."""
        need: dict[str, int] = {}
        for entry in self.items + self.spares:
            if not entry.item.is_owned:
                key = entry.item.key
                need[key] = need.get(key, 0) + entry.count
        for entry in self.items:
            if not entry.item.is_owned:
                for key, count in box_from_text(entry.item.part.comes_with).items():
                    if key in need:
                        need[key] -= count * entry.count
        return {key: count for key, count in need.items() if count > 0}

    def in_role(self, *roles: Role) -> tuple[DriveUse, ...]:
        """Return the drives of some roles, in order."""
        return tuple(drive for drive in self.drives if drive.role in roles)
