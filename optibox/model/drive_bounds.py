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
from optibox.figures.capacity import usable_share
from optibox.figures.year import rating_of
from optibox.model.aims import Weights
from optibox.model.eligible import least_role_mb_s, records_well
from optibox.model.menu import Entry, Storage, rate_of
from optibox.physics.operation import Mix
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_TB, SECONDS_PER_HOUR

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
    def limit(self) -> Floats:
        """Return the most pieces of each."""
        return self._column(
            [math.inf if i.limit is None else i.limit for i in self.items]
        )

    @cached_property
    def _watts(self) -> Floats:
        rows = [
            (
                p.active_dc_w,
                p.idle_w.mid,
                p.standby_w.mid,
                p.spin_up_j.mid / SECONDS_PER_HOUR,
            )
            for p in self.parts
        ]
        return np.array(rows, dtype=float).reshape(-1, 4)

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

    def cost(self, role: str, entry: Entry, slope: float) -> Floats:
        """Return what one drive in a role adds to the aim at least."""
        weight = np.zeros(4)
        for state in entry.states:
            mix: Mix = state.parity if role == "parity" else state.data
            weight += state.weight * np.array(
                [mix.active, mix.idle, mix.standby, mix.wakes_per_h]
            )
        wear = self._wake * entry.wakes(role)
        return self._price + slope * (self._watts @ weight) + wear


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
        return self.need_of(self.entry.scenario)

    @staticmethod
    def need_of(scenario: Scenario) -> float:
        """Return the bytes that an array must hold under a scenario."""
        share = usable_share(scenario.overrides)
        return scenario.needs.capacity_tb * BYTES_PER_TB / share

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

    def _useful(self) -> list[int]:
        """Return the drives that no unlimited drive replaces: larger and no dearer."""
        costs, steps, limit = self.data_cost, self.steps, self.table.limit
        order = sorted(
            (i for i in range(len(costs)) if math.isfinite(costs[i])),
            key=lambda i: (costs[i], -steps[i]),
        )
        kept: list[int] = []
        largest = -1
        for i in order:
            if steps[i] > largest:
                kept.append(i)
                if math.isinf(limit[i]):
                    largest = int(steps[i])
        return kept

    @cached_property
    def held(self) -> Floats:
        """Return the least cost of n data drives that hold s steps or more.

        Shape (n_data + 1, N_STEPS + 1).
        """
        n = self.entry.storage.n_data
        best = np.full((n + 1, N_STEPS + 1), np.inf)
        best[0, 0] = 0.0
        for i in self._useful():
            size, cost, limit = (
                int(self.steps[i]),
                float(self.data_cost[i]),
                self.table.limit[i],
            )
            if limit >= n:
                for used in range(1, n + 1):
                    _improve(best[used], best[used - 1], size, cost)
            else:
                for _ in range(int(limit)):
                    for used in range(n, 0, -1):
                        _improve(best[used], best[used - 1], size, cost)
        return np.minimum.accumulate(best[:, ::-1], axis=1)[:, ::-1]

    @cached_property
    def value(self) -> float:
        """Return the least cost of all drives; infinite where none do."""
        return self._data_value + self._parity_value

    @cached_property
    def _data_value(self) -> float:
        storage = self.entry.storage
        if storage.layout == "striped":
            return _cheapest(self.data_cost, self.table.limit, storage.n_data)
        return float(self.held[storage.n_data, N_STEPS])

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
            ahead = float(self.held[storage.n_data - 1, rest])
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
        used = min(left, limit[i])
        total += used * float(costs[i])
        left -= used
        if left <= 0:
            return total
    return math.inf


def _with_one(costs: Floats, limit: Floats, n: int, cost: float) -> float:
    """Return a lower bound of n pieces of which one has a given cost."""
    return _cheapest(costs, limit, n - 1) + cost


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
