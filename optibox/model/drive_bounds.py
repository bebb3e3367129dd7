"""The least that the drives of a menu entry can cost, at a supply's slopes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from optibox.model.aims import WeighedState
from optibox.model.drive_sets import DriveSets
from optibox.model.drive_table import DriveTable, Flags, Floats
from optibox.model.menu import Entry, need_bytes
from optibox.model.starts import Starts, starts_of
from optibox.units import BYTES_PER_MB, BYTES_PER_TB, SECONDS_PER_HOUR

Stage = Literal["quick_by_width", "by_width", "sharp_by_width"]
"""Costs of drives by which frames are bounded, ever sharper."""
MOST_CLASSES = 5
"""Classes of speed that sharp bounds tell apart."""
MOST_RANGES = 3
"""Ranges of sizes that quick bounds tell apart."""
_PAIR = 2
SLACK = 1 - 1e-9
_At = tuple[Floats, float]
"""Weights of a watt and wakes of a year."""
_Case = tuple[float, Flags, tuple[_At, _At]]
"""Largest data drive, drives fast enough, and what holds for data and for parity."""


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveBound:
    """Least cost of an entry's drives by the aim."""

    entry: Entry
    table: DriveTable
    slopes: tuple[float, float]
    """Least and largest slope of a supply."""
    kin: tuple[Entry, ...] = ()
    """Entries that differ in their timeout alone: bounds then hold for them too."""

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Return the entry and its kin."""
        return (self.entry, *self.kin)

    @cached_property
    def identity(self) -> tuple[object, ...]:
        """Return what tells bounds of one gauge apart."""
        return self.entry.identity, *(entry.storage for entry in self.kin)

    @cached_property
    def data_cost(self) -> Floats:
        """Return the least cost of each drive as data; infinite where not eligible."""
        return self._cost("data", self.slopes[0])

    @cached_property
    def parity_cost(self) -> Floats:
        """Return the least cost of each drive as parity; infinite where not eligible."""
        return self._cost("parity", self.slopes[0])

    def _cost(self, role: str, slope: float) -> Floats:
        """Return the least cost of each drive in a role, for the kindest entry."""
        costs = np.full(len(self.table.items), np.inf)
        for entry, flags in zip(self.entries, self._flags[role], strict=True):
            if flags.any():
                own = np.where(flags, self.table.cost(role, entry, slope), np.inf)
                np.minimum(costs, own, out=costs)
        return costs

    @cached_property
    def _flags(self) -> dict[str, list[Flags]]:
        """Return by role which drives may have it in each entry."""
        return {
            "data": [self._holds(entry) for entry in self.entries],
            "parity": [self._guards(entry) for entry in self.entries],
        }

    def _holds(self, entry: Entry) -> Flags:
        flags, storage = self.table.eligible("data", entry), entry.storage
        least = 0.0
        if storage.layout == "striped":
            least = self.need_bytes / (storage.n_data - storage.n_parity) * SLACK
        elif storage.layout == "pairs" and storage.n_data == _PAIR:
            least = self.need_bytes * SLACK
        return flags & (self.table.capacity_bytes >= least)

    def _guards(self, entry: Entry) -> Flags:
        if not entry.storage.n_parity_drives:
            return np.zeros(len(self.table.items), dtype=bool)
        least = self.need_bytes / max(1, entry.storage.n_data) * SLACK
        flags = self.table.eligible("parity", entry)
        return flags & (self.table.capacity_bytes >= least)

    @cached_property
    def _may_hold(self) -> Flags:
        flags: Flags = np.logical_or.reduce(self._flags["data"])
        return flags

    @cached_property
    def _may_guard(self) -> Flags:
        flags: Flags = np.logical_or.reduce(self._flags["parity"])
        return flags

    @cached_property
    def need_bytes(self) -> float:
        """Return the bytes that the array must hold."""
        return need_bytes(self.entry.scenario)

    @cached_property
    def held_bytes(self) -> float:
        """Return what the data drives must hold together: pairs hold it twice."""
        return self.need_bytes * (2.0 if "pairs" in self.entry.storage.layout else 1.0)

    @cached_property
    def sets(self) -> DriveSets:
        """Return the sets of drives that the entry may have."""
        storage, table = self.entry.storage, self.table
        return DriveSets(
            capacity_bytes=table.capacity_bytes,
            group=table.group,
            n_classes=len(table.bay_heights_mm),
            framed=table.framed,
            limit=table.limit,
            n_data=storage.n_data,
            n_parity=storage.n_parity_drives,
            held_bytes=0.0 if storage.layout == "striped" else self.held_bytes,
        )

    @cached_property
    def crude(self) -> float:
        """Return a quick bound: so many of the cheapest, or so many bytes."""
        storage, costs = self.entry.storage, self.data_cost
        least = float(costs.min(initial=np.inf))
        if math.isinf(least) or self._capacity_out_of_reach():
            return math.inf
        value = storage.n_data * least
        if storage.layout != "striped":
            per_byte = float((costs / self.table.capacity_bytes).min())
            value = max(value, per_byte * self.held_bytes * SLACK)
        if not storage.n_parity_drives:
            return value
        return value + storage.n_parity_drives * float(self.parity_cost.min())

    def _capacity_out_of_reach(self) -> bool:
        if self.entry.storage.layout == "striped":
            return False
        usable = self.table.capacity_bytes[np.isfinite(self.data_cost)]
        most = float(usable.max(initial=0.0)) * self.entry.storage.n_data
        return most < self.held_bytes * SLACK

    @cached_property
    def tops(self) -> Floats:
        """Return the sizes that the largest data drive may have. [B]."""
        sizes = np.unique(self.table.capacity_bytes[self._may_hold])
        least = self.held_bytes / self.entry.storage.n_data * SLACK
        if self.entry.storage.layout == "striped":
            return sizes
        return sizes[sizes >= least]

    @cached_property
    def quick_by_width(self) -> Floats:
        """Return ``by_width`` at the least slope alone, for few ranges of sizes."""
        return self._quick(is_forced=False)

    def _quick(self, *, is_forced: bool) -> Floats:
        least = self._in_ranges(MOST_RANGES, self.slopes[:1], is_forced=is_forced)
        return np.repeat(least, 2, axis=1)

    @cached_property
    def by_width(self) -> Floats:
        """Return the least cost of all drives with k of them 3.5 inch wide.

        Shape (2, 2, 1, n_classes, n_array + 1): first for sets without SAS drives, then
        for all; for each slope; for each class of chassis.
        """
        return self._in_ranges(len(self.tops), self.slopes, is_forced=False)

    def with_each(self, stage: Stage) -> Floats:
        """Return the costs of a stage for sets with one of each drive in turn.

        Shape (2 or 4, 2, n_drives, n_classes, n_array + 1).
        """
        if stage not in self._with_each:
            if stage == "quick_by_width":
                found = self._quick(is_forced=True)
            elif stage == "by_width":
                found = self._in_ranges(len(self.tops), self.slopes, is_forced=True)
            else:
                found = self._sharp(is_forced=True)
            self._with_each[stage] = found
        return self._with_each[stage]

    @cached_property
    def _with_each(self) -> dict[Stage, Floats]:
        return {}

    def _in_ranges(
        self, n_most: int, slopes: tuple[float, ...], *, is_forced: bool
    ) -> Floats:
        """Return the least cost by width over ranges of the largest data drive.

        No parity drive is smaller than the range.
        """
        sizes = self.table.capacity_bytes
        ranges = [(0.0, np.inf)]
        if self.entry.storage.n_parity_drives:
            parts = np.array_split(self.tops, min(n_most, len(self.tops)) or 1)
            ranges = [(float(part[0]), float(part[-1])) for part in parts if len(part)]
        data, parity = [], []
        for slope in slopes:
            d, p = self._cost("data", slope), self._cost("parity", slope)
            for least, most in ranges:
                data.append(np.where(sizes <= most, d, np.inf))
                parity.append(np.where(sizes >= least, p, np.inf))
        shape = (-1, len(sizes))
        costs = np.array(data).reshape(shape), np.array(parity).reshape(shape)
        return self._least([0.0], *costs, n_slopes=len(slopes), is_forced=is_forced)

    @cached_property
    def sharp_by_width(self) -> Floats:
        """Return ``by_width`` with the pace of the set known, and with extras.

        Shape (4, 2, 1, n_classes, n_array + 1): the first without extras, the second with
        what sellers ask for postage, the third with a lead as well for each drive that must
        not see 3.3 V; the last of all sets, the others of those without SAS drives.
        Each size in turn is the largest of the data drives, each class of speed the
        slowest.
        """
        return self._sharp(is_forced=False)

    def _sharp(self, *, is_forced: bool) -> Floats:
        post = self.table.postage_share(self.entry.storage.n_array)
        lead = np.where(self.table.is_held_in_reset, self.table.lead_price, 0.0)
        extras = [0.0 * post, post, post + lead]
        return self._least(extras, *self._sharp_costs, is_forced=is_forced)

    def _least(
        self,
        extras: list[Floats] | list[float],
        data: Floats,
        parity: Floats,
        n_slopes: int = 2,
        *,
        is_forced: bool = False,
    ) -> Floats:
        """Return the least cost by width: with each of some extras, then of all sets.

        Costs have shape (n_slopes * n_cases, n_drives). What costs extra are sets
        without SAS drives.
        """
        n_sets = len(self.table.items) if is_forced else 1
        shape = n_sets, len(self.table.bay_heights_mm), self.entry.storage.n_array + 1
        if not len(data):
            return np.full((len(extras) + 1, n_slopes, *shape), np.inf)
        sas = np.where(self.table.is_sas, np.inf, 0.0)
        parts = [(data + sas + extra, parity + sas + extra) for extra in extras]
        if self.table.is_sas.any():
            parts.append((data, parity))
        best = self._cheapest(
            np.concatenate([d for d, _ in parts]),
            np.concatenate([p for _, p in parts]),
            is_forced=is_forced,
        )
        least: Floats = best.reshape(len(parts), n_slopes, -1, *shape).min(axis=2)
        if len(parts) == len(extras):
            none = np.full((1, n_slopes, *shape), np.inf)
            least = np.concatenate([least, none])
        return least

    def _cheapest(self, data: Floats, parity: Floats, *, is_forced: bool) -> Floats:
        """Return the least cost of sets by width that leave room for what drives hold."""
        saving = self.table.saving
        tolls = tuple(saving.tolls(self.entry, data, parity))
        if not tolls:
            return self.sets.by_width(data, parity, is_forced=is_forced)
        new = np.where(saving.is_held, np.inf, 0.0)
        each = [new, np.zeros(len(new)), *(toll.each for toll in tolls)]
        best = self.sets.by_width(
            np.concatenate([data + more for more in each]),
            np.concatenate([parity + more for more in each]),
            is_forced=is_forced,
        )
        best = best.reshape(len(each), len(data), *best.shape[1:])
        for number, toll in enumerate(tolls, 2):
            best[number] += toll.of_set[:, None, None, None]
        least: Floats = np.minimum(best[0], best[1:].max(axis=0))
        return least

    @cached_property
    def _sharp_costs(self) -> tuple[Floats, Floats]:
        """Return costs at each slope, by largest data drive and slowest class.

        Each of shape (2 * n_tops * n_classes, n_drives).
        """
        data, parity = [], []
        cases = self._cases()
        for slope in self.slopes:
            for top, flags, at in cases:
                may_hold, may_guard = self._flags_at(top, flags)
                d = self.table.cost("data", self.entry, slope, at[0])
                data.append(np.where(may_hold, d, np.inf))
                p = self.table.cost("parity", self.entry, slope, at[1])
                parity.append(np.where(may_guard, p, np.inf))
        shape = (-1, len(self.table.items))
        return np.array(data).reshape(shape), np.array(parity).reshape(shape)

    def _flags_at(self, top: float, fast: Flags) -> tuple[Flags, Flags]:
        sizes = self.table.capacity_bytes
        return self._may_hold & fast & (sizes <= top), (
            self._may_guard & fast & (sizes >= top)
        )

    def _cases(self) -> list[_Case]:
        """Return sizes of the largest data drive and classes of the slowest drive.

        Each with the drives that are no slower, and for data and parity the weights at
        the pace that such a set cannot exceed, and the wakes it cannot go below.
        """
        found: list[_Case] = []
        table = self.table
        able = self._may_hold | self._may_guard
        guard = float(table.capacity_bytes[self._may_guard].max(initial=0.0))
        for slow, fast in self._classes(able):
            flags = table.surface_mb_s >= slow
            inside = able & flags & (table.surface_mb_s <= fast)
            most_rate = float(table.rate_mb_s[inside].max(initial=0.0))
            least_rate = float(table.rate_mb_s[able & flags].min(initial=np.inf))
            hours_per_tb = table.hours_per_tb(slow, self.entry.pace.share_mb_s)
            for top in self.tops:
                may_hold, _ = self._flags_at(float(top), flags)
                most = float(table.capacity_bytes[may_hold].max(initial=0.0))
                if most < top * SLACK:
                    continue
                check_h = float(top) / BYTES_PER_MB / fast / SECONDS_PER_HOUR
                longest_h = max(float(top), guard) / BYTES_PER_TB * hours_per_tb
                weights = self.entry.weights_at(most_rate, check_h)
                wakes = self.entry.wakes_at(least_rate, longest_h)
                at = ((weights[0], wakes[0]), (weights[1], wakes[1]))
                found.append((float(top), flags, at))
        return found

    def _classes(self, able: Flags) -> list[tuple[float, float]]:
        """Return classes of speed, slowest first: slowest and fastest member."""
        speeds = np.unique(self.table.surface_mb_s[able])
        parts = np.array_split(speeds, min(MOST_CLASSES, len(speeds)) or 1)
        return [(float(p[0]), float(p[-1])) for p in parts if len(p)]

    @cached_property
    def starts(self) -> Starts:
        """Return what the drives draw at least while all start."""
        storage, table = self.entry.storage, self.table
        together = (
            storage.wakes_together
            and all(e.storage.timeout_min is not None for e in self.entries)
            and not self.entry.scenario.choices.sequential_wake_verified
        )
        return starts_of(
            table.start_a,
            table.start_w,
            table.is_large,
            self._may_hold | self._may_guard,
            storage.n_array,
            together=together,
        )

    def rise_of(self, kindest: "DriveBound") -> float:
        """Return by how much the drives cost more here than in a kind family, at least."""
        storage = self.entry.storage
        pairs = (
            (storage.n_data, self.data_cost, kindest.data_cost),
            (storage.n_parity_drives, self.parity_cost, kindest.parity_cost),
        )
        total = 0.0
        for n, mine, theirs in pairs:
            known = np.isfinite(mine)
            if n:
                more = (mine[known] - theirs[known]).min(initial=math.inf)
                total += n * max(0.0, float(more))
        return total

    def least_dc_w(self, states: Sequence[WeighedState]) -> Floats:
        """Return the least watts of all drives in each state, shape (n_states,). [W]."""
        storage = self.entry.storage
        total = np.zeros(len(states))
        for n, mixes, cost in (
            (storage.n_data, [s.data for s in states], self.data_cost),
            (storage.n_parity_drives, [s.parity for s in states], self.parity_cost),
        ):
            able = np.isfinite(cost)
            if n and able.any():
                total += n * self.table.dc_w(mixes)[able].min(axis=0)
        return total
