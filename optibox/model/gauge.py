"""One measure of a build, bounded from below: the aim, or what a limit speaks of."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import NetworkLead
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, HardDrive
from optibox.criteria import LIMITS, Weights
from optibox.figures.power import ALL_ACTIVE, part_dc_w
from optibox.model.aims import at_most
from optibox.model.drive_bounds import DriveBound, Stage
from optibox.model.drive_table import DriveTable
from optibox.model.frames import Floats, Frames
from optibox.model.kept import Kept
from optibox.model.load import Load
from optibox.model.menu import Entry
from optibox.model.offers import Offers
from optibox.model.platform_bounds import Platforms, Wants
from optibox.model.rows_money import cache_wear_of
from optibox.model.slot_bounds import CARDS
from optibox.scenario import Scenario
from optibox.units import DAYS_PER_YEAR, HOURS_PER_YEAR

FORCED = (
    Chassis,
    PowerSupply,
    Processor,
    Cooler,
    Memory,
    BootMedium,
    NetworkLead,
    *CARDS,
)
"""Kinds with a summand of their own in the bound of a frame, beside its board."""
MOST_DRIVES, MOST_VALUES = 500, 400
"""Bounds of drives and of frames that are kept for the next question."""
Shorts = npt.NDArray[np.float32]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Gauge:
    """Bounds of one measure for every frame and every set of drives."""

    offers: Offers
    weights: Weights
    watt_weight: float
    """What a wall watt throughout the year is worth to the measure."""

    @cached_property
    def table(self) -> DriveTable:
        """Return the hard drives as columns."""
        return DriveTable(
            items=self.offers.of(HardDrive),
            scenario=self.offers.scenario,
            weights=self.weights,
            postage=self.offers.catalog.postage,
            bay_heights_mm=self.platforms.bay_heights_mm,
            adapter_price=self.platforms.adapter_price,
            lead_price=self.platforms.clean_plug,
        )

    @cached_property
    def platforms(self) -> Platforms:
        """Return the costs of everything but drives."""
        return Platforms(
            offers=self.offers,
            weights=self.weights,
            watt_weight=self.watt_weight * (1 - 1e-9),
        )

    @cached_property
    def frames(self) -> Frames:
        """Return the triples of board, chassis and supply, kin as one."""
        return Frames(platforms=self.platforms)

    def frames_of(self, board: Item) -> Frames:
        """Return every triple with a board."""
        if board.key not in self._frames_of:
            self._frames_of[board.key] = Frames(platforms=self.platforms, only=board)
        return self._frames_of[board.key]

    @cached_property
    def _frames_of(self) -> dict[str, Frames]:
        return {}

    def drives(self, entry: Entry, kin: tuple[Entry, ...] = ()) -> DriveBound:
        """Return the bounds of the drives of an entry, and of its kin with it."""
        key = (entry.identity, *(other.storage for other in kin))

        def made() -> DriveBound:
            mine, *theirs = (replace(e, weights=self.weights) for e in (entry, *kin))
            return DriveBound(
                entry=mine, table=self.table, slopes=self._slopes, kin=tuple(theirs)
            )

        return self._drive_bounds.get(key, made)

    @cached_property
    def _drive_bounds(self) -> Kept[DriveBound]:
        return Kept(MOST_DRIVES)

    @cached_property
    def _slopes(self) -> tuple[float, float]:
        return self.platforms.slope, self.platforms.steepest

    def values(
        self, drives: DriveBound, wants: Wants, stage: Stage, board: Item | None = None
    ) -> Floats:
        """Return the least of the measure for each frame, shape (n_rows,).

        Frames are those with a board, or all with kin as one.
        """

        def made() -> Shorts:
            frames = self.frames_of(board) if board else self.frames
            load = self._load(drives, wants, getattr(drives, stage))
            least = self.least(frames, load)
            for index in self._insisted_drives:
                with_one = replace(load, drives=drives.with_each(stage)[:, :, index])
                held = frames.bounds(with_one).min(axis=0)
                least = np.maximum(least, held)
            return _short(least)

        key = (drives.identity, wants, stage, board.key if board else "")
        return self._values.get(key, made).astype(np.float64)

    def least(self, frames: Frames, load: Load) -> Floats:
        """Return the least of the measure for each frame with what is insisted on.

        Shape (n_rows,). Of drives only the load says anything.
        """
        least = frames.bound(load)
        for items in self.offers.insisted:
            if all(isinstance(item.part, (Board, *FORCED)) for item in items):
                # where nothing on offer is meant, nothing keeps the wish
                held = frames.bounds(load, items).min(axis=0, initial=np.inf)
                least = np.maximum(least, held)
        return least

    @cached_property
    def _insisted_drives(self) -> list[list[int]]:
        """Return the places of drives of which the scenario insists on one."""
        place = {item.key: index for index, item in enumerate(self.table.items)}
        return [
            [place[item.key] for item in items]
            for items in self.offers.insisted
            if items and all(item.key in place for item in items)
        ]

    @cached_property
    def _values(self) -> Kept[Shorts]:
        return Kept(MOST_VALUES)

    def values_with(
        self, drives: DriveBound, wants: Wants, board: Item, allowed: Flags
    ) -> dict[str, float]:
        """Return the least of the measure of builds on a board with each item, by key.

        For items of the kinds that the bound has a summand of; of others there is
        nothing to say.

        Parameters
        ----------
        drives : DriveBound
            What is asked for.
        wants : Wants
            Ports, bays and network speed.
        board : Item
            The board.
        allowed : array, shape (n_rows,)
            Which frames with the board count.
        """
        frames, found = self.frames_of(board), {}
        load = self._load(drives, wants, drives.sharp_by_width)
        items = self.offers.of(*FORCED)
        with_each = replace(load, drives=drives.with_each("sharp_by_width"))
        for forced, values in (
            (items, frames.bounds(load, items)),
            (self.table.items, frames.bounds(with_each)),
        ):
            least = np.where(allowed, values, np.inf).min(axis=1, initial=np.inf)
            found.update(
                {item.key: float(v) for item, v in zip(forced, least, strict=True)}
            )
        return found

    def no_drives(self, n_array: int) -> Floats:
        """Return costs of drives for a load, all of them nothing."""
        return np.zeros((2, 2, 1, len(self.platforms.bay_heights_mm), n_array + 1))

    def _load(self, drives: DriveBound, wants: Wants, costs: Floats) -> Load:
        entries = drives.entries
        return Load(
            wants=wants,
            modes=tuple(
                (
                    np.array([state.weight for state in entry.states]),
                    drives.least_dc_w(entry.states),
                )
                for entry in entries
            ),
            processor_weight=min(
                sum(s.weight for s in entry.states if s.activity.processor)
                for entry in entries
            ),
            drives=costs,
            n_small=wants.n_bays - drives.entry.storage.n_array,
            starts=drives.starts,
            cache_w=sum(part_dc_w(i.part, ALL_ACTIVE) for i in drives.entry.cache),
        )

    def cost_of(self, cache: tuple[Item, ...]) -> float:
        """Return what a set of cache drives adds at least."""
        key = tuple(item.key for item in cache)
        if key not in self._cache_costs:
            worn = cache_wear_of(self.offers.scenario, cache, self.weights)
            self._cache_costs[key] = sum(self.platforms.costs[k] for k in key) + worn
        return self._cache_costs[key]

    @cached_property
    def _cache_costs(self) -> dict[tuple[str, ...], float]:
        return {}

    def crude_values(self, drives: DriveBound, wants: Wants) -> Floats:
        """Return a quick bound of the measure for each frame, transfers left out.

        Parameters
        ----------
        drives : DriveBound
            What is asked for, bounded by any gauge.
        wants : Wants
            Ports, bays and network speed.
        """
        mine = self.drives(*self._ideal(drives))
        values = self.values(mine, wants, "quick_by_width")
        return values + self.cost_of(drives.entry.cache)

    def _ideal(self, drives: DriveBound) -> tuple[Entry, tuple[Entry, ...]]:
        """Return what decides the quick bounds: timeouts count for energy and wear."""
        first, *others = (
            replace(e, is_ideal=True, cache=(), network_gbit_s=math.inf)
            for e in drives.entries
        )
        if self.weights.counts_hours:
            return first, tuple(others)
        return replace(first, storage=first.storage.always_on), ()


def _short(values: Floats) -> Shorts:
    """Return values as short numbers that are no larger: half the memory."""
    short = values.astype(np.float32)
    is_above = short > values
    short[is_above] = np.nextafter(short[is_above], np.float32(-np.inf))
    return short


@dataclass(frozen=True, slots=True)
class Limit:
    """A measure and the most that it may be."""

    gauge: Gauge
    most: float

    @property
    def room(self) -> float:
        """Return the limit with what rounding may add."""
        return at_most(self.most)


def limits_of(scenario: Scenario) -> list[tuple[Weights, float]]:
    """Return the measures that a scenario limits, and by how much."""
    rows = [
        (criterion.weights(scenario), criterion.asked_of(scenario))
        for criterion in LIMITS.values()
        if criterion.weights is not None
    ]
    return [(weights, most) for weights, most in rows if most is not None]


def aim_watt_weight(weights: Weights, prices: tuple[float, ...]) -> float:
    """Return what a wall watt throughout the year is worth to an aim.

    ``prices`` are those of the hours of day. [currency/kWh]
    """
    year = DAYS_PER_YEAR * sum(prices) / 1000.0
    always = weights.asleep_w + weights.spinning_w
    return weights.money_energy * year + weights.kwh * HOURS_PER_YEAR / 1000.0 + always
