"""Nodes of the tree of bounds, from storage arrangements to whole entries on a board."""

from dataclasses import dataclass

from optibox.build import Item
from optibox.catalog.columns import Part
from optibox.model.aims import Ceiling
from optibox.model.drive_bounds import DriveBound, Stage
from optibox.model.frames import Floats
from optibox.model.gauge import Limit
from optibox.model.menu import Entry, Storage
from optibox.model.platform_bounds import Wants
from optibox.model.sides import CacheSet, Side

Items = dict[type[Part], tuple[Item, ...]]


@dataclass(frozen=True, kw_only=True)
class Family:
    """Storage arrangements that differ in their timeout alone."""

    bound: float
    storages: tuple[Storage, ...]


@dataclass(frozen=True, kw_only=True)
class Root:
    """A family with bounds of its drives: any cache of its kind, network, board."""

    bound: float
    drives: DriveBound
    sides: tuple[Side, ...]
    is_sharp: bool = False


@dataclass(frozen=True, kw_only=True)
class Cluster:
    """Entries of a root that want the same ports, bays and network speed.

    They differ in their timeouts and caches. First each timeout becomes a cluster of
    its own, then its caches become branches in the order of their cost.
    """

    bound: float
    drives: DriveBound
    wants: Wants
    caches: tuple[CacheSet, ...]
    stages: tuple[Stage, ...] = ("quick_by_width", "by_width")
    """Costs of drives by which it is still to be bounded, one after the other."""
    base: float = 0.0
    """Bound without the cache."""
    position: int = 0
    """How many of its caches have become branches."""
    spare: tuple[float, ...] = ()
    """What each limit leaves to a cache at most."""


@dataclass(frozen=True, kw_only=True)
class Branch:
    """A whole entry, on any board."""

    bound: float
    entry: Entry
    drives: DriveBound
    cache_cost: float
    wants: Wants


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A whole entry on one board: what a program is made of."""

    bound: float
    entry: Entry
    board: Item
    drives: DriveBound
    cache_cost: float
    wants: Wants
    spares: dict[str, int]
    postage: dict[str, float]
    frame_values: Floats
    """Bound of each frame with this board, once it is sharp."""
    ceilings: tuple[Ceiling, ...] = ()
    is_sharp: bool = False
    n_visits: int = 0
    pressing: tuple["Pressing", ...] = ()
    """Limits that it can hardly keep."""

    @property
    def structure(self) -> tuple[Storage, tuple[str, ...], float, str]:
        """Return all but the timeout: what decides whether it can be built."""
        cache = tuple(item.key for item in self.entry.cache)
        speed = self.entry.network_gbit_s
        return self.entry.storage.always_on, cache, speed, self.board.key


@dataclass(frozen=True, kw_only=True)
class Pressing:
    """A limit that a leaf can hardly keep: the leaf, measured by what is limited."""

    limit: Limit
    entry: Entry
    board: Item
    drives: DriveBound
    wants: Wants
    frame_values: Floats


Node = Family | Root | Cluster | Branch | Leaf
