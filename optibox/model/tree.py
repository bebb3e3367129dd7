"""The tree of bounds over the menu: storage, then cache and network, then board.

Each step down makes the bound sharper; nothing is solved here.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optibox.build import Item
from optibox.catalog.attachment import Cable
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import HardDrive
from optibox.criteria import Weights
from optibox.model.aims import Ceiling
from optibox.model.drive_bounds import DriveBound, Stage
from optibox.model.drive_table import DriveTable, Flags
from optibox.model.frames import Floats
from optibox.model.gauge import Gauge, Limit, limits_of
from optibox.model.ground import Ground
from optibox.model.kept import Kept
from optibox.model.load import Load
from optibox.model.menu import (
    Entry,
    Pace,
    Storage,
    least_largest_bytes,
    storages,
    write_mb_s,
)
from optibox.model.nodes import (
    Branch,
    Cluster,
    Family,
    Items,
    Leaf,
    Node,
    Pressing,
    Root,
)
from optibox.model.offers import Offers
from optibox.model.pace import asked_write_mb_s, slow_network_mb_s
from optibox.model.platform_bounds import Wants
from optibox.model.prune import kept_items, plain_cables
from optibox.model.sides import Sides
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.physics.zones import surface_pass_hours
from optibox.rules.demands import misses
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_MB, SECONDS_PER_HOUR

MOST_LEAVES = 200
"""Leaves of which the least cost with each item is kept for the next visit."""
HARDLY = 0.9
"""Share of a limit from which on it is measured sharply: below, it seldom binds."""


@dataclass(kw_only=True)
class Tree:
    """Nodes of one search, from roots to leaves."""

    ground: Ground
    scenario: Scenario
    """What is asked: the ground's scenario, or one that asks for more."""
    weights: Weights
    ceilings: tuple[Ceiling, ...] = ()
    prunes: bool = True
    """Whether items too dear for the ceiling, or beaten, are left out; off in tests."""
    n_entries: int = 0
    n_leaves: int = 0

    def __post_init__(self) -> None:
        """Take the ground as it is without pruning, where nothing is to be left out."""
        if self.prunes != self.ground.prunes:
            self.ground = replace(self.ground, prunes=self.prunes)

    @cached_property
    def offers(self) -> Offers:
        """Return the items that may be in a build."""
        return replace(self.ground.offers, scenario=self.scenario)

    @cached_property
    def drives(self) -> tuple[Item, ...]:
        """Return the hard drives on offer."""
        return self.offers.of(HardDrive)

    @cached_property
    def aim(self) -> Gauge:
        """Return the gauge of the aim."""
        return self.ground.gauge(self.weights)

    @cached_property
    def limits(self) -> list[Limit]:
        """Return the scenario's limits and the ceilings with their gauges."""
        ceilings = [(ceiling.weights, ceiling.most) for ceiling in self.ceilings]
        return [
            Limit(self.ground.gauge(weights), most)
            for weights, most in limits_of(self.scenario) + ceilings
        ]

    @cached_property
    def counts_hours(self) -> bool:
        """Return whether the aim, a limit or a ceiling depends on hours or wakes."""
        limit = self.scenario.limits
        return (
            limit.total_cost is not None
            or limit.annual_kwh is not None
            or self.weights.counts_hours
            or any(ceiling.weights.counts_hours for ceiling in self.ceilings)
        )

    @property
    def table(self) -> DriveTable:
        """Return the hard drives as columns."""
        return self.aim.table

    @cached_property
    def boards(self) -> tuple[Item, ...]:
        """Return the boards on offer."""
        return self.offers.of(Board)

    def families(self) -> Iterator[Family]:
        """Yield every storage arrangement but for its timeout, crudely bounded."""
        if not self.speeds:
            return
        most = min(self.scenario.limits.array_drives, self._most_bays)
        groups: dict[Storage, list[Storage]] = {}
        for storage in storages(self.scenario, most):
            groups.setdefault(storage.always_on, []).append(storage)
        for key, members in groups.items():
            if not self.counts_hours and key in members:
                # drives that never sleep are bought like any others, and wear least
                members = [key]  # noqa: PLW2901
            bound = self.table.least(key, self.aim.platforms.floor_watt)
            bound += self._least_frame(key) + self.sides.least_cache(key.cache)
            if math.isfinite(bound):
                yield Family(bound=bound, storages=tuple(members))

    def _of_family(self, node: Family) -> Iterator[Root]:
        needs, key = self.scenario.needs, node.storages[0].always_on
        scenario = self.ground.kindest(self.scenario, key)
        pace = self._pace(key, scenario)
        if pace is None or misses(pace.write_fast_mb_s, needs.write_mb_s):
            return
        entry, *kin = (
            Entry(
                scenario=scenario,
                weights=self.weights,
                storage=storage,
                cache=(),
                network_gbit_s=math.inf,
                pace=pace,
                use=self.ground.use,
                drives=self.drives,
                is_ideal=True,
            )
            for storage in node.storages
        )
        sides = self.sides.able(entry)
        if not sides:
            return
        drives = self.aim.drives(entry, tuple(kin))
        bound = (
            drives.crude + self._least_frame(key) + self.sides.least_cache(key.cache)
        )
        if math.isfinite(bound):
            yield Root(bound=max(node.bound, bound), drives=drives, sides=sides)

    def _values(self, drives: DriveBound, wants: Wants, stage: Stage) -> Floats:
        """Return the aim's bound of each frame, infinite where a limit breaks."""
        kept = np.zeros(len(self.aim.frames.rows))
        for limit in self.limits:
            over = limit.gauge.crude_values(drives, wants) > limit.room
            kept = np.where(over, np.inf, kept)
            if not np.isfinite(kept).any():
                return kept
        return kept + self.aim.values(drives, wants, stage)

    def children(self, node: Family | Root | Cluster | Branch) -> Iterator[Node]:
        """Yield a node's next, sharper nodes; some come back with a sharper bound."""
        if isinstance(node, Family):
            yield from self._of_family(node)
        elif isinstance(node, Root):
            yield from self._of_root(node)
        elif isinstance(node, Cluster):
            yield from self._of_cluster(node)
        else:
            yield from self._of_branch(node)

    def _of_root(self, node: Root) -> Iterator[Root | Cluster]:
        storage = node.drives.entry.storage
        n, least = storage.n_array, self.sides.least_cache(storage.cache)
        array = self.sides.array_wants(n)
        if not node.is_sharp:
            value = self._values(node.drives, array, "quick_by_width")
            bound = float(value.min(initial=math.inf)) + least
            if math.isfinite(bound):
                yield replace(node, bound=max(node.bound, bound), is_sharp=True)
            return
        for side in node.sides:
            wants = side.places.wants(array, side.network_gbit_s)
            extra = self.sides.extra(n, wants)
            if self.offers.insisted and math.isfinite(extra):
                # a part that is insisted on may bring what the cache wants
                extra = 0.0
            above = extra + side.caches[side.first].cost - least
            if math.isfinite(above):
                yield Cluster(
                    bound=node.bound + above,
                    drives=node.drives,
                    wants=wants,
                    caches=side.caches,
                    position=side.first,
                )

    def _of_cluster(self, node: Cluster) -> Iterator[Cluster | Branch]:
        """Yield a cluster with a sharper bound, its timeouts, or its next branch."""
        entry = _at(node.drives.entry, node.wants.network_gbit_s)
        able = self._next_cache(node, entry)
        if able is None:
            return
        cache = node.caches[able]
        if node.stages:
            values = self._values(node.drives, node.wants, node.stages[0])
            base = float(values.min(initial=math.inf))
            if math.isfinite(base):
                bound = max(node.bound, base + cache.cost)
                sharper = replace(node, bound=bound, base=base, position=able)
                spare = tuple(self._spare(node))
                yield replace(sharper, stages=node.stages[1:], spare=spare)
            return
        bound = max(node.bound, node.base + cache.cost)
        if able > node.position:
            yield replace(node, bound=bound, position=able)
        elif node.drives.kin:
            yield from self._timeouts(node)
        else:
            whole = replace(entry, cache=cache.items)
            yield Branch(
                bound=bound,
                entry=whole,
                drives=self.aim.drives(whole),
                cache_cost=cache.cost,
                wants=node.wants,
            )
            if able + 1 < len(node.caches):
                yield replace(node, bound=bound, position=able + 1)

    def _next_cache(self, node: Cluster, entry: Entry) -> int | None:
        """Return the place of a cluster's next cache that meets needs and limits."""
        place = self.sides.first_able(entry, node.caches, node.position)
        while place is not None:
            cache = node.caches[place].items
            pairs = zip(self.limits, node.spare, strict=False)
            if all(limit.gauge.cost_of(cache) <= spare for limit, spare in pairs):
                return place
            place = self.sides.first_able(entry, node.caches, place + 1)
        return None

    def _spare(self, node: Cluster) -> Iterator[float]:
        """Yield what each limit leaves to a cluster's cache in the kindest frame."""
        for limit in self.limits:
            crude = limit.gauge.crude_values(node.drives, node.wants)
            yield limit.room - float(crude.min(initial=math.inf))

    def _timeouts(self, node: Cluster) -> Iterator[Cluster]:
        """Yield a cluster of several timeouts as one for each of them."""
        for entry in node.drives.entries:
            drives = self.aim.drives(entry)
            bound = node.bound + drives.rise_of(node.drives)
            if math.isfinite(bound):
                yield replace(node, bound=bound, drives=drives, stages=("by_width",))

    def _of_branch(self, node: Branch) -> Iterator[Node]:
        frames, costs = self.aim.frames, self.aim.platforms.costs
        values = self._values(node.drives, node.wants, "by_width") + node.cache_cost
        least = np.full(len(frames.board_kin), np.inf)
        np.minimum.at(least, frames.rows[:, 0], values)
        self.n_entries += len(self.boards)
        for kin, value in zip(frames.board_kin, least, strict=True):
            if not math.isfinite(value):
                continue
            cheapest = min(costs[board.key] for board in kin)
            for board in kin:
                self.n_leaves += 1
                bound = float(value) + costs[board.key] - cheapest
                yield Leaf(
                    bound=max(node.bound, bound),
                    entry=node.entry,
                    board=board,
                    drives=node.drives,
                    cache_cost=node.cache_cost,
                    wants=node.wants,
                    spares=self.offers.spares,
                    postage=self.ground.catalog.postage,
                    frame_values=np.zeros(0),
                    ceilings=self.ceilings,
                )

    def sharpened(self, leaf: Leaf) -> Leaf | None:
        """Return a leaf with the sharpest bound there is; nothing if none keeps it."""
        entry = leaf.entry.at(self.ground.pace_of(leaf.entry, leaf.board))
        if not self.sides.is_able(entry):
            return None
        drives = self.aim.drives(entry)
        mine = self.aim.values(drives, leaf.wants, "sharp_by_width", leaf.board)
        mine = mine + leaf.cache_cost
        pressing = tuple(self._pressing(leaf, entry))
        for place in pressing:
            mine = np.where(place.frame_values > place.limit.room, np.inf, mine)
        bound = float(mine.min(initial=math.inf))
        if math.isinf(bound):
            return None
        return replace(
            leaf,
            entry=replace(entry, scenario=self.scenario),
            drives=drives,
            bound=max(leaf.bound, bound),
            frame_values=mine,
            is_sharp=True,
            pressing=pressing,
        )

    def _pressing(self, leaf: Leaf, entry: Entry) -> Iterator[Pressing]:
        """Yield the limits that a leaf can hardly keep, measured sharply."""
        for limit in self.limits:
            gauge = limit.gauge
            crude = gauge.crude_values(leaf.drives, leaf.wants)
            mine = self._rows_of(leaf.board)
            if float(crude[mine].min(initial=math.inf)) < HARDLY * limit.room:
                continue
            drives = gauge.drives(entry)
            values = gauge.values(drives, leaf.wants, "sharp_by_width", leaf.board)
            yield Pressing(
                limit=limit,
                entry=entry,
                board=leaf.board,
                drives=drives,
                wants=leaf.wants,
                frame_values=values + gauge.cost_of(entry.cache),
            )

    def _rows_of(self, board: Item) -> Flags:
        """Return which frames are of a board or its kin."""
        if board.key not in self._board_rows:
            frames = self.aim.frames
            for index, kin in enumerate(frames.board_kin):
                rows = frames.rows[:, 0] == index
                self._board_rows.update({member.key: rows for member in kin})
        return self._board_rows[board.key]

    @cached_property
    def _board_rows(self) -> dict[str, Flags]:
        return {}

    @cached_property
    def hopeless(self) -> set[tuple[Storage, tuple[str, ...], float, str]]:
        """Return the structures of leaves that are known to have no build."""
        return set()

    def awake(self, leaf: Leaf) -> Leaf | None:
        """Return a leaf with drives that never sleep, where those keep every limit.

        A limit on energy or cost can be kept by sleeping drives alone.
        """
        limit = self.scenario.limits
        is_limited = limit.total_cost is not None or limit.annual_kwh is not None
        if is_limited or self.ceilings or not self.scenario.choices.allow_never:
            return None
        storage = leaf.entry.storage.always_on
        entry = replace(leaf.entry, storage=storage)
        return replace(leaf, entry=entry, drives=self.aim.drives(entry))

    def items_for(self, leaf: Leaf, most: float) -> Items:
        """Return the items that a build of a leaf can hold, worth so much at most.

        Parameters
        ----------
        leaf : Leaf
            An entry on a board, sharply bounded.
        most : float
            What a build may be worth: the best known and the tolerance of ties.
        """
        if not self.prunes:
            return dict(self.offers.by_kind)
        kept = self._kept(self.aim, leaf, leaf, most)
        for pressing in leaf.pressing:
            limit = pressing.limit
            kept = _both(kept, self._kept(limit.gauge, leaf, pressing, limit.room))
        kept[Cable] = self._cables
        return _both(self.offers.by_kind, kept)

    @cached_property
    def _cables(self) -> tuple[Item, ...]:
        return plain_cables(self.offers, dict(self.ground.catalog.postage))

    def _kept(
        self, gauge: Gauge, leaf: Leaf, place: Leaf | Pressing, most: float
    ) -> Items:
        """Return the items with which a measure can stay so low."""
        cache = leaf.entry.cache

        def made() -> dict[str, float]:
            # a frame that breaks a limit, or does not suit, holds no item
            allowed = np.isfinite(leaf.frame_values)
            return gauge.values_with(place.drives, leaf.wants, leaf.board, allowed)

        keys = tuple(item.key for item in cache)
        key = (id(gauge), place.drives.identity, leaf.wants, leaf.board.key, keys)
        cost = gauge.cost_of(cache)
        least = {k: v + cost for k, v in self._least_with.get(key, made).items()}
        return kept_items(self.offers, least, cache, most)

    @cached_property
    def _least_with(self) -> Kept[dict[str, float]]:
        return Kept(MOST_LEAVES)

    @cached_property
    def _frame_cache(self) -> dict[int, float]:
        return {}

    def _least_frame(self, storage: Storage) -> float:
        """Return the least cost of a frame for so many drives, whatever they are."""
        n = storage.n_array
        if n not in self._frame_cache:
            load = Load(
                wants=self.sides.array_wants(n),
                modes=((np.zeros(0), np.zeros(0)),),
                processor_weight=0.0,
                drives=self.aim.no_drives(n),
            )
            values = self.aim.least(self.aim.frames, load)
            self._frame_cache[n] = float(values.min(initial=math.inf))
        return self._frame_cache[n]

    @property
    def speeds(self) -> list[float]:
        """Return the speeds of the network in use. [Gb/s]."""
        return self.sides.speeds

    @cached_property
    def sides(self) -> Sides:
        """Return the caches and network speeds to choose from."""
        return Sides(aim=self.aim, scenario=self.scenario)

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

    def _pace(self, storage: Storage, scenario: Scenario) -> Pace | None:
        """Return bounds on the pace of an array of drives on offer."""
        flags = self.table.suits("data", storage)
        if not flags.any():
            return None
        rates = self.table.rate_mb_s[flags]
        least = least_largest_bytes(storage, scenario)
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
            write_fast_mb_s=write_mb_s(storage, scenario, float(rates.max())),
            write_slow_mb_s=max(
                asked_write_mb_s(scenario, storage),
                0.3 * write_mb_s(storage, scenario, min(narrow, rates.min())),
            ),
            check_short_h=min(passes),
            check_long_h=largest / BYTES_PER_MB / slowest / SECONDS_PER_HOUR,
            network_slow_mb_s=slow_network_mb_s(scenario, narrow),
        )

    def _narrowest(self, storage: Storage) -> float:
        """Return the least rate that any link can leave to each drive. [MB/s]."""
        lane = pcie_planning_mb_s(1, 1, self.scenario.overrides.pcie.mid)
        return lane / (storage.n_array + 1)


def _both(items: Items, others: Items) -> Items:
    """Return the items, by kind, that are among others too."""
    keys = {item.key for kind in others.values() for item in kind}
    return {
        record: tuple(item for item in mine if item.key in keys)
        for record, mine in items.items()
    }


def _at(entry: Entry, network_gbit_s: float) -> Entry:
    """Return an entry at a network speed, its transfers taking their time."""
    return replace(entry, network_gbit_s=network_gbit_s, is_ideal=False)
