"""The tree of bounds over the menu: storage, then cache and network, then board.

Each step down makes the bound sharper; nothing is solved here.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations_with_replacement

from optibox.build import Item
from optibox.catalog.attachment import Controller, NetworkCard, NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.model.aims import Weights
from optibox.model.drive_bounds import DriveBound, DriveTable
from optibox.model.menu import (
    Entry,
    Pace,
    Storage,
    best_ingest_mb_s,
    storages,
    write_mb_s,
)
from optibox.model.offers import Offers
from optibox.model.platform_bounds import Platforms, Wants
from optibox.model.prune import kept_items
from optibox.model.rows_money import cache_wear_of
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.physics.zones import surface_pass_hours
from optibox.rules.demands import misses
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_MB, SECONDS_PER_HOUR

Items = dict[type[Part], tuple[Item, ...]]


@dataclass(frozen=True, kw_only=True)
class Root:
    """A storage arrangement with any cache of its kind, any network, any board."""

    bound: float
    entry: Entry
    drives: DriveBound
    is_sharp: bool = False


@dataclass(frozen=True, kw_only=True)
class Branch:
    """A whole entry, on any board."""

    bound: float
    entry: Entry
    drives: DriveBound
    cache_cost: float
    wants: Wants
    is_sharp: bool = False


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


Node = Root | Branch | Leaf


@dataclass(kw_only=True)
class Tree:
    """Nodes of one search, from roots to leaves."""

    offers: Offers
    weights: Weights
    postage: dict[str, float]
    prunes: bool = True
    """Whether items too dear for the ceiling are left out; off in tests."""
    n_entries: int = 0
    n_leaves: int = 0
    _platforms: list[Platforms] = field(default_factory=list)

    @property
    def scenario(self) -> Scenario:
        """Return the scenario."""
        return self.offers.scenario

    @cached_property
    def drives(self) -> tuple[Item, ...]:
        """Return the hard drives on offer."""
        return self.offers.of(HardDrive)

    @cached_property
    def table(self) -> DriveTable:
        """Return the hard drives as columns."""
        return DriveTable(
            items=self.drives, scenario=self.scenario, weights=self.weights
        )

    @cached_property
    def boards(self) -> tuple[Item, ...]:
        """Return the boards on offer."""
        return self.offers.of(Board)

    def roots(self) -> Iterator[Root]:
        """Yield every storage arrangement that can meet the needs, crudely bounded."""
        needs = self.scenario.needs
        most = min(self.scenario.limits.array_drives, self._most_bays)
        for storage in storages(self.scenario, most):
            pace = self._pace(storage)
            if pace is None or misses(pace.write_fast_mb_s, needs.write_mb_s):
                continue
            entry = Entry(
                scenario=self.scenario,
                weights=self.weights,
                storage=storage,
                cache=(),
                network_gbit_s=max(self.speeds, default=1.0),
                pace=pace,
                drives=self.drives,
                is_ideal=True,
            )
            platforms = self.platforms(entry)
            drives = DriveBound(entry=entry, table=self.table, slope=platforms.slope)
            bound = drives.crude + self._least_platform(storage.n_array)
            if math.isfinite(bound):
                bound += self._least_cache(storage.cache)
                yield Root(bound=bound, entry=entry, drives=drives)

    def platforms(self, entry: Entry) -> Platforms:
        """Return the platform bounds; the weight of a watt all year is one and the same."""
        if not self._platforms:
            self._platforms.append(
                Platforms(
                    offers=self.offers,
                    weights=self.weights,
                    watt_weight=entry.watt_weight * (1 - 1e-9),
                )
            )
        return self._platforms[0]

    def children(self, node: Root | Branch) -> Iterator[Node]:
        """Yield a node's next, sharper nodes; first itself with its best bound."""
        if isinstance(node, Root):
            yield from self._of_root(node)
        else:
            yield from self._of_branch(node)

    def _of_root(self, node: Root) -> Iterator[Node]:
        storage = node.entry.storage
        others = self._least_platform(storage.n_array) + self._least_cache(
            storage.cache
        )
        if not node.is_sharp:
            bound = max(node.bound, node.drives.value + others)
            if math.isfinite(bound):
                yield replace(node, bound=bound, is_sharp=True)
            return
        for speed in self.speeds:
            for cache, cost in self.caches(storage.cache):
                entry = replace(
                    node.entry, cache=cache, network_gbit_s=speed, is_ideal=False
                )
                ingest = best_ingest_mb_s(
                    self.scenario, cache, speed, entry.pace.write_fast_mb_s
                )
                if misses(ingest, self.scenario.needs.ingest_mb_s):
                    continue
                yield self._branch(node, entry, cost)

    def _branch(self, node: Root, entry: Entry, cache_cost: float) -> Branch:
        platforms = self.platforms(entry)
        on_cable = sum(
            isinstance(i.part, SolidStateDrive) and i.part.form == "2.5"
            for i in entry.cache
        )
        n = entry.storage.n_array + on_cable
        wants = Wants(n_ports=n, n_bays=n, network_gbit_s=entry.network_gbit_s)
        worn = cache_cost + cache_wear_of(entry, self.weights)
        return Branch(
            bound=max(node.bound, node.drives.value + worn + self._least_on(wants)),
            entry=entry,
            drives=DriveBound(entry=entry, table=self.table, slope=platforms.slope),
            cache_cost=worn,
            wants=wants,
        )

    def _of_branch(self, node: Branch) -> Iterator[Node]:
        if not node.is_sharp:
            value = node.drives.value + node.cache_cost + self._least_on(node.wants)
            if math.isfinite(value):
                yield replace(node, bound=max(node.bound, value), is_sharp=True)
            return
        platforms = self.platforms(node.entry)
        for board in self.boards:
            self.n_entries += 1
            platform = platforms.bound(board, node.wants).value
            value = platform + node.drives.value + node.cache_cost
            if math.isfinite(value):
                self.n_leaves += 1
                wide = self._links_are_wide(board, node.entry.storage)
                yield Leaf(
                    bound=max(node.bound, value),
                    entry=replace(node.entry, links_are_wide=wide),
                    board=board,
                    drives=node.drives,
                    cache_cost=node.cache_cost,
                    wants=node.wants,
                    spares=self.offers.spares,
                    postage=self.postage,
                )

    def items_for(self, leaf: Leaf, ceiling: float) -> Items:
        """Return the items that a build of a leaf below a ceiling can hold, by kind."""
        if not self.prunes:
            return dict(self.offers.by_kind)
        platforms = self.platforms(leaf.entry)
        return kept_items(self.offers, platforms, leaf, ceiling, self.postage)

    @cached_property
    def _platform_cache(self) -> dict[Wants, float]:
        return {}

    def _least_on(self, wants: Wants) -> float:
        """Return the least platform over all boards."""
        if wants not in self._platform_cache:
            platforms = self._platforms[0]
            self._platform_cache[wants] = min(
                (platforms.bound(board, wants).value for board in self.boards),
                default=math.inf,
            )
        return self._platform_cache[wants]

    def _least_platform(self, n: int) -> float:
        return min(
            (
                self._least_on(Wants(n_ports=n, n_bays=n, network_gbit_s=speed))
                for speed in self.speeds
            ),
            default=math.inf,
        )

    @cached_property
    def speeds(self) -> list[float]:
        """Return the speeds of the network in use, at the other end's plug. [Gb/s]."""
        needs = self.scenario.needs
        medium, most = needs.other_end_medium, needs.other_end_gbit_s
        ports = {
            i.part.network_gbit_s
            for i in self.offers.items
            if isinstance(i.part, NetworkCard | NetworkLead) and i.part.medium == medium
        }
        ports |= {
            b.part.network_gbit_s
            for b in self.boards
            if isinstance(b.part, Board)
            and b.part.network_gbit_s
            and b.part.network_medium == medium
        }
        least = min(needs.network_gbit_s or 0.0, most)
        return sorted({min(port, most) for port in ports if port and port >= least})

    def caches(self, kind: str) -> list[tuple[tuple[Item, ...], float]]:
        """Return every set of cache drives of an arrangement with its cost."""
        if kind == "none":
            return [((), 0.0)]
        if kind not in self._cache_sets:
            size = 2 if kind == "mirror" else 1
            costs = self._platforms[0].costs
            self._cache_sets[kind] = [
                (drives, sum(costs[i.key] for i in drives))
                for drives in combinations_with_replacement(
                    self.offers.of(SolidStateDrive), size
                )
                if all(i.limit is None or drives.count(i) <= i.limit for i in drives)
            ]
        return self._cache_sets[kind]

    @cached_property
    def _cache_sets(self) -> dict[str, list[tuple[tuple[Item, ...], float]]]:
        return {}

    def _least_cache(self, kind: str) -> float:
        return min((cost for _, cost in self.caches(kind)), default=math.inf)

    @cached_property
    def _most_bays(self) -> int:
        return max(
            (
                i.part.bays_35 + i.part.bays_25
                for i in self.offers.of(Chassis)
                if isinstance(i.part, Chassis)
            ),
            default=0,
        )

    def _pace(self, storage: Storage) -> Pace | None:
        """Return bounds on the pace of an array of drives on offer."""
        flags = self.table.suits("data", storage)
        if not flags.any():
            return None
        rates = self.table.rate_mb_s[flags]
        least = self._least_largest(storage)
        suited = [
            (i.capacity_bytes, p.outer_rate_mb_s.mid, p.inner_ratio.mid)
            for i, p, good in zip(self.drives, self.table.parts, flags, strict=True)
            if good
        ]
        passes = [
            surface_pass_hours(size, outer, k)
            for size, outer, k in suited
            if size >= least * (1 - 1e-9)
        ]
        if not passes:
            return None
        narrow = self._narrowest(storage)
        largest = max(size for size, _, _ in suited)
        slowest = min([narrow, *(0.5 * outer * k for _, outer, k in suited)])
        return Pace(
            write_fast_mb_s=write_mb_s(storage, self.scenario, float(rates.max())),
            write_slow_mb_s=0.3
            * write_mb_s(storage, self.scenario, min(narrow, float(rates.min()))),
            check_short_h=min(passes),
            check_long_h=largest / BYTES_PER_MB / slowest / SECONDS_PER_HOUR,
        )

    def _least_largest(self, storage: Storage) -> float:
        """Return the least that the largest data drive must hold. [B]."""
        entry_need = DriveBound.need_of(self.scenario)
        width = storage.n_data
        if storage.layout == "striped":
            width -= storage.n_parity
        elif "pairs" in storage.layout:
            width //= 2
        return entry_need / max(1, width)

    def _narrowest(self, storage: Storage) -> float:
        """Return the least rate that any link can leave to each drive. [MB/s]."""
        lane = pcie_planning_mb_s(1, 1, self.scenario.overrides.pcie.mid)
        return lane / (storage.n_array + 1)

    def _links_are_wide(self, board: Item, storage: Storage) -> bool:
        """Return whether every port hangs on links that can never slow the drives."""
        part = board.part
        if not isinstance(part, Board) or self.offers.of(Controller):
            return False
        if not part.chipset_lanes:
            return True
        budget = pcie_planning_mb_s(part.chipset_generation, part.chipset_lanes)
        return budget >= (storage.n_array + 4) * 300.0
