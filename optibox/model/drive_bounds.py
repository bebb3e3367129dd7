"""The least that the drives of a menu entry can cost: dynamic programming.

Capacity is counted in steps, each drive rounded up, so that the bound never
overstates; owned drives count once each.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.storage import HardDrive
from optibox.figures.year import rating_of
from optibox.model.aims import WeighedState, Weights
from optibox.model.eligible import least_role_mb_s, records_well
from optibox.model.menu import Entry, Storage, drive_watts, need_bytes, rate_of
from optibox.physics.operation import Mix
from optibox.scenario import Scenario

N_STEPS = 400
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class DriveTable:
    """The hard drives on offer as columns, for one scenario and one set of weights."""

    items: tuple[Item, ...]
    scenario: Scenario
    weights: Weights

    @cached_property
    def parts(self) -> tuple[HardDrive, ...]:
        """Return the drives' parts."""
        return tuple(i.part for i in self.items if isinstance(i.part, HardDrive))

    def _column(self, values: Sequence[float]) -> Floats:
        return np.array(values, dtype=float)

    @cached_property
    def capacity_bytes(self) -> Floats:
        """Return the capacities. [B]."""
        return self._column([float(item.capacity_bytes) for item in self.items])

    @cached_property
    def is_large(self) -> Flags:
        """Return which drives are 3.5 inch wide."""
        return np.array([part.form == "3.5" for part in self.parts], dtype=bool)

    @cached_property
    def limit(self) -> Floats:
        """Return the most pieces of each."""
        return self._column(
            [math.inf if i.limit is None else i.limit for i in self.items]
        )

    @cached_property
    def _watts(self) -> Floats:
        rows = [drive_watts(part) for part in self.parts]
        return np.array(rows, dtype=float).reshape(-1, 4)

    def dc_w(self, mix: Mix) -> Floats:
        """Return each drive's watts in a mix of states. [W]."""
        watts: Floats = self._watts @ np.array(
            [mix.active, mix.idle, mix.standby, mix.wakes_per_h]
        )
        return watts

    @cached_property
    def _price(self) -> Floats:
        weights = self.weights
        return self._column([weights.price(i) + weights.piece(i) for i in self.items])

    @cached_property
    def _wake(self) -> Floats:
        return self._column([self.weights.wake(i) for i in self.items])

    @cached_property
    def rate_mb_s(self) -> Floats:
        """Return the rates at the scenario's fill. [MB/s]."""
        return self._column([rate_of(item, self.scenario) for item in self.items])

    @cached_property
    def _wakes_left(self) -> Floats:
        """Return the wakes a year that the wear budget leaves."""
        budget = self.scenario.overrides.wear_budget.mid
        years = self.scenario.money.years
        return self._column(
            [
                (budget * rating_of(part) - item.starts) / years
                for item, part in zip(self.items, self.parts, strict=True)
            ]
        )

    def suits(self, role: str, storage: Storage) -> Flags:
        """Return which drives record well enough for a role."""
        return np.array(
            [records_well(p, role, storage) for p in self.parts], dtype=bool
        )

    def eligible(self, role: str, entry: Entry) -> Flags:
        """Return which drives may have a role: as ``eligible.is_eligible``, in columns."""
        least = least_role_mb_s(role, entry.storage, self.scenario)
        wakes = entry.wakes(role)
        fast = self.rate_mb_s >= least * (1 - 1e-9) - 1e-9
        lasting = (wakes <= 0) | (wakes <= self._wakes_left * (1 + 1e-12) + 1e-9)
        return self.suits(role, entry.storage) & fast & lasting

    def cost(
        self, role: str, entry: Entry, slope: float, largest_bytes: float = 0.0
    ) -> Floats:
        """Return what one drive in a role adds to the aim at least.

        With the capacity of the array's largest drive known, slow drives make its
        checks longer.
        """
        weights = self._weights_of(role, entry, largest_bytes)
        energy = (self._watts * weights.reshape(-1, 4)).sum(axis=1)
        wear = self._wake * entry.wakes(role)
        value: Floats = self._price + slope * energy + wear
        return value

    def _weights_of(self, role: str, entry: Entry, largest_bytes: float) -> Floats:
        """Return what a watt of each drive is worth, shape (n_drives, 4)."""
        key = (role, largest_bytes)
        if key not in entry.weight_tables:
            entry.weight_tables[key] = np.array(
                [entry.mix_weights(item, role, largest_bytes) for item in self.items]
            )
        found: Floats = entry.weight_tables[key]
        return found


@dataclass(frozen=True, kw_only=True)
class DriveBound:
    """Least cost of an entry's drives, by the aim, at the best supply's slope."""

    entry: Entry
    table: DriveTable
    slope: float

    @cached_property
    def data_cost(self) -> Floats:
        """Return the cost of each drive as data; infinite where not eligible."""
        flags = self.table.eligible("data", self.entry)
        storage = self.entry.storage
        if storage.layout == "striped":
            least = self.need_bytes / (storage.n_data - storage.n_parity) * (1 - 1e-9)
            flags = flags & (self.table.capacity_bytes >= least)
        return np.where(flags, self.table.cost("data", self.entry, self.slope), np.inf)

    @cached_property
    def parity_cost(self) -> Floats:
        """Return the cost of each drive as parity; infinite where not eligible."""
        if not self.entry.storage.n_parity_drives:
            return np.full(len(self.table.items), np.inf)
        least = self.need_bytes / max(1, self.entry.storage.n_data) * (1 - 1e-9)
        flags = self.table.eligible("parity", self.entry)
        flags &= self.table.capacity_bytes >= least
        return np.where(
            flags, self.table.cost("parity", self.entry, self.slope), np.inf
        )

    @cached_property
    def need_bytes(self) -> float:
        """Return the bytes that the array must hold."""
        return need_bytes(self.entry.scenario)

    @cached_property
    def held_bytes(self) -> float:
        """Return what the data drives must hold together: pairs hold it twice."""
        return self.need_bytes * (2.0 if "pairs" in self.entry.storage.layout else 1.0)

    @cached_property
    def crude(self) -> float:
        """Return a quick bound: so many of the cheapest, or so many bytes."""
        n, costs = self.entry.storage.n_data, self.data_cost
        least = float(costs.min(initial=np.inf))
        if math.isinf(least) or self._capacity_out_of_reach():
            return math.inf
        value = n * least
        if self.entry.storage.layout != "striped":
            per_byte = float((costs / self.table.capacity_bytes).min())
            value = max(value, per_byte * self.held_bytes * (1 - 1e-9))
        return value + self._parity_value

    def _capacity_out_of_reach(self) -> bool:
        if self.entry.storage.layout == "striped":
            return False
        usable = self.table.capacity_bytes[np.isfinite(self.data_cost)]
        most = float(usable.max(initial=0.0)) * self.entry.storage.n_data
        return most < self.held_bytes * (1 - 1e-9)

    @cached_property
    def steps(self) -> npt.NDArray[np.int64]:
        """Return the drives' capacities in steps, rounded up."""
        exact = self.table.capacity_bytes / (self.held_bytes / N_STEPS)
        steps: npt.NDArray[np.int64] = np.minimum(
            N_STEPS, np.ceil(exact * (1 + 1e-9))
        ).astype(np.int64)
        return steps

    @cached_property
    def _useful(self) -> list[int]:
        return self._useful_of(self.data_cost)

    def _useful_of(self, costs: Floats) -> list[int]:
        """Return the drives that none of their size and form replaces, by size."""
        limit, table = self.table.limit, self.table
        order = sorted(
            (i for i in range(len(costs)) if math.isfinite(costs[i])),
            key=lambda i: (table.capacity_bytes[i], table.is_large[i], costs[i]),
        )
        kept: list[int] = []
        done: set[tuple[float, bool]] = set()
        for i in order:
            kind = (float(table.capacity_bytes[i]), bool(table.is_large[i]))
            if kind not in done:
                kept.append(i)
            if math.isinf(limit[i]):
                done.add(kind)
        return kept

    @cached_property
    def by_width(self) -> Floats:
        """Return the least cost of all drives with k of them 3.5 inch wide.

        Shape (n_array + 1,). Sizes are taken in rising order: with a size as the
        largest among the data drives, no parity drive is smaller.
        """
        storage, n = self.entry.storage, self.entry.storage.n_data
        best = np.full(storage.n_array + 1, np.inf)
        if storage.layout == "striped":
            return self._striped_by_width()
        large, small = (np.full((n + 1, N_STEPS + 1), np.inf) for _ in range(2))
        large[0, 0] = small[0, 0] = 0.0
        useful, sizes = self._useful, self.table.capacity_bytes
        for position, i in enumerate(useful):
            self._add(large if self.table.is_large[i] else small, i)
            is_last = position + 1 == len(useful)
            if not is_last and sizes[useful[position + 1]] == sizes[i]:
                continue
            if not is_last and not storage.n_parity_drives:
                continue
            parity = self._parity_by_width(float(sizes[i]))
            if np.isfinite(parity).any():
                _join(best, _both(large, small), parity)
        return best

    @cached_property
    def sharp_by_width(self) -> Floats:
        """Return ``by_width`` with the size of the array's largest drive fixed in turn.

        Some drive of that size is in the array, a parity drive where there is one.
        """
        best = np.full(self.entry.storage.n_array + 1, np.inf)
        sizes = self.table.capacity_bytes
        has_parity = self.entry.storage.n_parity_drives > 0
        tops = self.parity_cost if has_parity else self.data_cost
        for size in np.unique(sizes[np.isfinite(tops)]):
            np.minimum(best, self._with_largest(float(size)), out=best)
        return best

    def _with_largest(self, size: float) -> Floats:
        """Return the least cost by width of arrays whose largest drive has a size."""
        storage, table = self.entry.storage, self.table
        fits = table.capacity_bytes <= size
        exact = table.capacity_bytes == size
        data = self._at_size("data", size, np.isfinite(self.data_cost) & fits)
        if storage.n_parity_drives:
            parity = self._at_size("parity", size, np.isfinite(self.parity_cost) & fits)
            first = self._split(np.where(exact, parity, np.inf), 1)
            rest = self._split(parity, storage.n_parity_drives - 1)
            tops = _sums(first, rest)
            return _sums(self._data_by_width(data, storage.n_data), tops)
        first = self._split(np.where(exact, data, np.inf), 1)
        rest = self._data_by_width(
            data, storage.n_data - 1, N_STEPS - self._steps_of(size)
        )
        return _sums(first, rest)

    def _at_size(self, role: str, size: float, flags: Flags) -> Floats:
        costs = self.table.cost(role, self.entry, self.slope, size)
        return np.where(flags, costs, np.inf)

    def _steps_of(self, size: float) -> int:
        exact = size / (self.held_bytes / N_STEPS)
        return int(min(N_STEPS, math.ceil(exact * (1 + 1e-9))))

    def _data_by_width(self, costs: Floats, n: int, steps: int = N_STEPS) -> Floats:
        """Return the least cost of n drives that hold some steps, k of them 3.5 inch."""
        if self.entry.storage.layout == "striped":
            return self._split(costs, n)
        large, small = (np.full((n + 1, N_STEPS + 1), np.inf) for _ in range(2))
        large[0, 0] = small[0, 0] = 0.0
        for i in self._useful_of(costs):
            self._add(large if self.table.is_large[i] else small, i, float(costs[i]))
        return _both(large, small, steps)

    def _add(self, table: Floats, i: int, price: float | None = None) -> None:
        """Let a drive take part in a table of least costs by number and steps."""
        n = len(table) - 1
        size, limit = int(self.steps[i]), self.table.limit[i]
        cost = float(self.data_cost[i]) if price is None else price
        if limit >= n:
            for used in range(1, n + 1):
                _improve(table[used], table[used - 1], size, cost)
            return
        for _ in range(int(limit)):
            for used in range(n, 0, -1):
                _improve(table[used], table[used - 1], size, cost)

    def _parity_by_width(self, least_bytes: float) -> Floats:
        """Return the least cost of the parity drives with k of them 3.5 inch wide."""
        n = self.entry.storage.n_parity_drives
        enough = self.table.capacity_bytes >= least_bytes
        costs = np.where(enough, self.parity_cost, np.inf)
        return self._split(costs, n)

    def _split(self, costs: Floats, n: int) -> Floats:
        """Return the cost of n cheapest drives with k of them 3.5 inch wide."""
        large = np.where(self.table.is_large, costs, np.inf)
        small = np.where(self.table.is_large, np.inf, costs)
        limit = self.table.limit
        return np.array(
            [
                _cheapest(large, limit, k) + _cheapest(small, limit, n - k)
                for k in range(n + 1)
            ]
        )

    def _striped_by_width(self) -> Floats:
        return self._split(self.data_cost, self.entry.storage.n_data)

    @cached_property
    def value(self) -> float:
        """Return the least cost of all drives; infinite where none do."""
        return float(self.by_width.min(initial=np.inf))

    @cached_property
    def _held(self) -> Floats:
        """Return the least cost of n data drives that hold s steps or more."""
        n = self.entry.storage.n_data
        best = np.full((n + 1, N_STEPS + 1), np.inf)
        best[0, 0] = 0.0
        for i in self._useful:
            self._add(best, i)
        return _at_least(best)

    def least_dc_w(self, state: WeighedState) -> float:
        """Return the least watts of all drives in a state. [W]."""
        storage = self.entry.storage
        total = 0.0
        for n, mix, cost in (
            (storage.n_data, state.data, self.data_cost),
            (storage.n_parity_drives, state.parity, self.parity_cost),
        ):
            watts = self.table.dc_w(mix)[np.isfinite(cost)]
            total += n * float(watts.min(initial=np.inf)) if n and len(watts) else 0.0
        return total

    @cached_property
    def _data_value(self) -> float:
        storage = self.entry.storage
        if storage.layout == "striped":
            return _cheapest(self.data_cost, self.table.limit, storage.n_data)
        return float(self._held[storage.n_data, N_STEPS])

    @cached_property
    def _parity_value(self) -> float:
        n = self.entry.storage.n_parity_drives
        return _cheapest(self.parity_cost, self.table.limit, n)

    def forced(self, index: int) -> float:
        """Return the least cost of all drives with one of an item among them."""
        storage, values = self.entry.storage, [math.inf]
        cost = float(self.data_cost[index])
        if math.isfinite(cost) and storage.layout == "striped":
            values.append(
                _with_one(self.data_cost, self.table.limit, storage.n_data, cost)
            )
        elif math.isfinite(cost):
            rest = max(0, N_STEPS - int(self.steps[index]))
            ahead = float(self._held[storage.n_data - 1, rest])
            values.append(ahead + cost + self._parity_value)
        cost = float(self.parity_cost[index])
        if math.isfinite(cost):
            n = storage.n_parity_drives
            with_one = _with_one(self.parity_cost, self.table.limit, n, cost)
            values.append(self._data_value + with_one)
        return min(values)


def _cheapest(costs: Floats, limit: Floats, n: int) -> float:
    """Return the cost of the n cheapest pieces within their limits."""
    if n == 0:
        return 0.0
    total, left = 0.0, float(n)
    for i in np.argsort(costs, kind="stable"):
        if not math.isfinite(costs[i]):
            break
        used = min(left, float(limit[i]))
        total += used * float(costs[i])
        left -= used
        if left <= 0:
            return total
    return math.inf


def _with_one(costs: Floats, limit: Floats, n: int, cost: float) -> float:
    """Return a lower bound of n pieces of which one has a given cost."""
    return _cheapest(costs, limit, n - 1) + cost


def _at_least(table: Floats) -> Floats:
    """Return the least over all steps from s on."""
    return np.minimum.accumulate(table[:, ::-1], axis=1)[:, ::-1]


def _both(large: Floats, small: Floats, steps: int = N_STEPS) -> Floats:
    """Return the least cost of n drives of which k are of the first table.

    Shape (n + 1,): together they hold some steps.
    """
    n = len(large) - 1
    enough = _at_least(small)[:, ::-1]
    first = N_STEPS - steps
    tail = np.repeat(enough[:, -1:], first, axis=1)
    shifted = np.concatenate([enough[:, first:], tail], axis=1)
    return np.array([float((large[k] + shifted[n - k]).min()) for k in range(n + 1)])


def _sums(one: Floats, other: Floats) -> Floats:
    """Return the least sums by added index: of widths k and m those of k + m."""
    best = np.full(len(one) + len(other) - 1, np.inf)
    for k, cost in enumerate(one):
        if math.isfinite(cost):
            span = slice(k, k + len(other))
            np.minimum(best[span], other + cost, out=best[span])
    return best


def _join(best: Floats, data: Floats, parity: Floats) -> None:
    """Lower the cost by width where data and parity together are cheaper."""
    for k, cost in enumerate(parity):
        if math.isfinite(cost):
            span = slice(k, k + len(data))
            np.minimum(best[span], data + cost, out=best[span])


def _improve(target: Floats, source: Floats, size: int, cost: float) -> None:
    """Let one more drive of a size bring ``source`` to ``target`` where cheaper."""
    last = len(source) - 1
    if size < last:
        np.minimum(
            target[size:last], source[: last - size] + cost, out=target[size:last]
        )
    # whatever runs over the last step counts as the last step
    over = float(source[max(0, last - size) :].min()) + cost
    target[last] = min(float(target[last]), over)
