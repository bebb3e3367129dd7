"""The hard drives on offer as columns: what each costs an aim, and where it may go."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.storage import HardDrive
from optibox.criteria import Weights
from optibox.figures.power import spin_up_dc_w
from optibox.figures.year import rating_of
from optibox.model.eligible import least_role_mb_s, records_well
from optibox.model.menu import Entry, Storage, drive_watts, need_bytes, rate_of
from optibox.model.pace import members_of
from optibox.model.saving import Saving
from optibox.physics.operation import Mix
from optibox.physics.zones import lockstep_pass_hours
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_TB

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_KINDS = 4
"""Ways a drive draws power: active, idle, standing, waking."""


@dataclass(frozen=True, kw_only=True)
class DriveTable:
    """The hard drives on offer as columns, for one scenario and one set of weights."""

    items: tuple[Item, ...]
    scenario: Scenario
    weights: Weights
    postage: Mapping[str, float]
    """Postage by seller."""
    bay_heights_mm: tuple[float, ...] = (math.inf,)
    """Heights that 2.5 inch bays of chassis take: a class of chassis for each. [mm]"""
    adapter_price: Callable[[float], float] = lambda _: 0.0
    """What an adapter that takes a height adds to the aim at least."""
    lead_price: float = 0.0
    """What a plug without 3.3 V for one drive adds to the aim at least."""

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
    def saving(self) -> Saving:
        """Return what the drives hold already."""
        return Saving(items=self.items, scenario=self.scenario)

    @cached_property
    def is_large(self) -> Flags:
        """Return which drives are 3.5 inch wide."""
        return np.array([part.form == "3.5" for part in self.parts], dtype=bool)

    @cached_property
    def group(self) -> Ints:
        """Return 0 for wide drives, for others 1 + the first class high enough."""
        heights = self._column([part.height_mm for part in self.parts])
        small: Ints = np.searchsorted(np.array(self.bay_heights_mm), heights) + 1
        return np.where(self.is_large, 0, small)

    @cached_property
    def framed(self) -> Floats:
        """Return what an adapter of each drive costs at least."""
        return self._column([self.adapter_price(p.height_mm) for p in self.parts])

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

    def dc_w(self, mixes: Sequence[Mix]) -> Floats:
        """Return each drive's watts in mixes of states, shape (n_drives, n_mixes). [W]."""
        shares = [(m.active, m.idle, m.standby, m.wakes_per_h) for m in mixes]
        watts: Floats = self._watts @ np.array(shares).reshape(-1, _KINDS).T
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
        """Return which drives record well enough for a role and can be emptied for it."""
        key = (role, storage.layout)
        if key not in self._suits:
            self._suits[key] = np.array(
                [records_well(p, role, storage) for p in self.parts], dtype=bool
            ) & self.saving.can_serve(storage)
        return self._suits[key]

    @cached_property
    def _suits(self) -> dict[tuple[str, str], Flags]:
        return {}

    def eligible(self, role: str, entry: Entry) -> Flags:
        """Return which drives may have a role: as ``eligible.is_eligible``, in columns."""
        least = least_role_mb_s(role, entry.storage, entry.scenario)
        wakes = entry.wakes(role)
        fast = self.rate_mb_s >= least * (1 - 1e-9) - 1e-9
        lasting = (wakes <= 0) | (wakes <= self._wakes_left * (1 + 1e-12) + 1e-9)
        return self.suits(role, entry.storage) & fast & lasting

    def cost(
        self,
        role: str,
        entry: Entry,
        slope: float,
        at: tuple[Floats, float] | None = None,
    ) -> Floats:
        """Return what one drive in a role adds to the aim at least.

        Parameters
        ----------
        role : str
            'data' or 'parity'.
        entry : Entry
            The menu entry.
        slope : float
            Watts at the wall for one more at the part.
        at : array of shape (4,) and number, optional
            What a watt active, idle, standing and a wake an hour are worth, and the
            wakes of a year; those of each drive's own pace if not given.
        """
        weights, wakes = at or (self._weights_of(role, entry), entry.wakes(role))
        energy = (
            self._watts @ weights.ravel()
            if weights.size == _KINDS
            else (self._watts * weights).sum(axis=1)
        )
        wear = self._wake * wakes
        value: Floats = self._price + slope * energy + wear
        return value

    def least(self, storage: Storage, floor_watt: float) -> float:
        """Return a quick bound on the drives of an arrangement, whatever its timeout.

        Parameters
        ----------
        storage : Storage
            The arrangement.
        floor_watt : float
            What a watt throughout the year is worth at least.
        """
        watts = self._watts[:, :3].min(axis=1)
        costs = self._price + floor_watt * watts
        data = np.where(self.suits("data", storage), costs, np.inf)
        need = need_bytes(self.scenario)
        if storage.layout == "striped":
            least = need / (storage.n_data - storage.n_parity) * (1 - 1e-9)
            data = np.where(self.capacity_bytes >= least, data, np.inf)
        value = storage.n_data * float(data.min(initial=np.inf))
        if storage.layout != "striped" and math.isfinite(value):
            held = need * (2.0 if "pairs" in storage.layout else 1.0)
            per_byte = float((data / self.capacity_bytes).min())
            value = max(value, per_byte * held * (1 - 1e-9))
        if storage.n_parity_drives:
            enough = self.capacity_bytes >= need / storage.n_data * (1 - 1e-9)
            guard = np.where(self.suits("parity", storage) & enough, costs, np.inf)
            value += storage.n_parity_drives * float(guard.min(initial=np.inf))
        return value

    def _weights_of(self, role: str, entry: Entry) -> Floats:
        """Return what a watt of each drive is worth, shape (n_drives or 1, 4)."""
        if role not in entry.weight_tables:
            paces, place = self._own_paces(entry)
            rows = np.array([entry.mix_weights_at(pace, role) for pace in paces])
            entry.weight_tables[role] = rows.reshape(-1, _KINDS)[place]
        found: Floats = entry.weight_tables[role]
        return found

    def _own_paces(self, entry: Entry) -> tuple[list[tuple[float, float]], Ints]:
        """Return the different paces of drives in an entry, and each drive's place."""
        pace = entry.pace.write_fast_mb_s, entry.pace.check_short_h
        key = (entry.storage.always_on, pace, entry.is_ideal)
        if key not in self._paces:
            # in an ideal entry all drives have the same pace
            items = self.items[:1] if entry.is_ideal else self.items
            own = [entry.own_pace(item) for item in items]
            different = sorted(set(own))
            self._paces[key] = (
                different,
                np.array([different.index(p) for p in own], dtype=np.int64),
            )
        return self._paces[key]

    @cached_property
    def _paces(self) -> dict[object, tuple[list[tuple[float, float]], Ints]]:
        return {}

    @cached_property
    def surface_mb_s(self) -> Floats:
        """Return the mean rates over whole surfaces. [MB/s]."""
        return self._column(
            [
                p.outer_rate_mb_s.mid * (1.0 + p.inner_ratio.mid) / 2.0
                for p in self.parts
            ]
        )

    def hours_per_tb(self, slowest_mb_s: float, share_mb_s: float) -> float:
        """Return the time of a check for each TB of the largest drive, at most. [h/TB].

        With drives whose mean rate over the surface is at least so much, each with a
        share of its link.
        """
        key = (slowest_mb_s, share_mb_s)
        if key not in self._hours:
            fast = [
                item
                for item, mean in zip(self.items, self.surface_mb_s, strict=True)
                if mean >= slowest_mb_s
            ]
            members = [
                replace(member, capacity_bytes=BYTES_PER_TB)
                for member in members_of(fast, share_mb_s, self.scenario)
            ]
            self._hours[key] = lockstep_pass_hours(members)
        return self._hours[key]

    @cached_property
    def _hours(self) -> dict[tuple[float, float], float]:
        return {}

    @cached_property
    def start_a(self) -> Floats:
        """Return what each drive draws from 12 V while it starts. [A]."""
        return self._column(
            [max(p.spin_up_12v_a.mid, p.run_12v_a.mid) for p in self.parts]
        )

    @cached_property
    def start_w(self) -> Floats:
        """Return what each drive draws while it starts. [W]."""
        return self._column([max(spin_up_dc_w(p), p.active_dc_w) for p in self.parts])

    @cached_property
    def is_sas(self) -> Flags:
        """Return which drives need a controller that speaks SAS."""
        return np.array([p.interface == "sas" for p in self.parts], dtype=bool)

    @cached_property
    def is_held_in_reset(self) -> Flags:
        """Return which drives a plug with 3.3 V holds in reset."""
        return np.array([p.has_power_disable == "yes" for p in self.parts], dtype=bool)

    def postage_share(self, n: int) -> Floats:
        """Return a n-th of the postage that each drive's seller asks, by the aim."""
        postage = self.postage
        weight = self.weights.purchase / n
        return self._column(
            [
                0.0 if i.is_owned else weight * postage.get(i.part.seller or "", 0.0)
                for i in self.items
            ]
        )
