"""The menu of operation: what one program takes as fixed, and what follows from it.

With layout, write mode, timeout, number of drives, cache and network speed fixed,
sessions per drive, hours, wakes and every needed rate are constants.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any, TypeAlias

import numpy as np

from optibox.build import Item, OperatingPlan
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.criteria import Weights
from optibox.figures.capacity import usable_share
from optibox.figures.chains import cache_region, mirrored_phases
from optibox.figures.stages import array_write_mb_s, drive_mb_s, network_mb_s
from optibox.figures.year import LONGEST_H
from optibox.model.aims import WeighedState, weighed_states
from optibox.physics.cache import (
    flush_hours,
    ingest,
    transfer_hours,
    usable_cache_mb,
)
from optibox.physics.operation import (
    ArrayShape,
    DayUse,
    OperatingYear,
    Transfers,
    operating_year,
)
from optibox.physics.zones import surface_pass_hours
from optibox.rules.demands import misses
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_MB, BYTES_PER_TB, MB_PER_GB, SECONDS_PER_HOUR

MixWeights: TypeAlias = tuple[float, float, float, float]
"""Active, idle, standby, wakes an hour."""


PACE_STEP_MB_S, PACE_STEP_H = 40.0, 2.0
"""Steps to which drives' own paces are rounded in bounds."""
WRITE_STEP_MB_S, CHECK_STEP_H = 2.0, 0.25
"""Steps to which the paces of sets of drives are rounded in bounds, to the kind side:
far below a minor unit a year, and many sets then share their year."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    """The array's side of a menu entry; striped members all count as data drives."""

    layout: str
    n_parity: int
    write_mode: str
    timeout_min: float | None
    n_data: int
    cache: str

    @property
    def n_parity_drives(self) -> int:
        """Return the drives that hold nothing but parity."""
        return self.n_parity if self.layout == "independent" else 0

    @property
    def n_array(self) -> int:
        """Return the array's drives."""
        return self.n_data + self.n_parity_drives

    @property
    def always_on(self) -> "Storage":
        """Return the same with drives that never sleep: what timeouts have in common."""
        return replace(self, timeout_min=None)

    @property
    def reconstructs(self) -> bool:
        """Return whether every write reaches all drives."""
        return self.write_mode == "reconstruct"

    def plan(self, scenario: Scenario) -> OperatingPlan:
        """Return the operating plan."""
        return OperatingPlan(
            layout=self.layout,  # type: ignore[arg-type]
            n_parity=self.n_parity,  # type: ignore[arg-type]
            write_mode=self.write_mode,  # type: ignore[arg-type]
            cache=self.cache,  # type: ignore[arg-type]
            timeout_min=self.timeout_min,
            flush_hour=scenario.usage.flush_hour,
            checks_per_year=scenario.usage.checks_per_year,
        )

    @property
    def wakes_together(self) -> bool:
        """Return whether one access can start all drives at once."""
        return self.layout != "independent" or self.reconstructs

    @property
    def shape(self) -> ArrayShape:
        """Return what decides who spins."""
        timeout = math.inf if self.timeout_min is None else self.timeout_min / 60
        return ArrayShape(
            layout=self.layout,  # type: ignore[arg-type]
            reconstructs=self.reconstructs,
            n_data=self.n_data,
            n_parity=self.n_parity_drives,
            has_cache=self.cache != "none",
            timeout_h=timeout,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Bounds on what a build of an entry can reach.

    Energy is counted at the fast end (least hours), wear at the slow one (least
    wakes), so that the program never overstates a cost.
    """

    write_fast_mb_s: float
    write_slow_mb_s: float
    check_short_h: float
    check_long_h: float
    network_fast_mb_s: float = math.inf
    """Most that the processor moves over the network."""
    network_slow_mb_s: float = 1.0
    share_mb_s: float = 0.0
    """Least that a shared link leaves to a drive; 0 if not known."""
    moved_slow_mb_s: float = 0.0
    """Least that links and processor leave to writing; 0 if not known."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry of the menu, with the constants that follow."""

    scenario: Scenario
    weights: Weights
    storage: Storage
    cache: tuple[Item, ...]
    network_gbit_s: float
    pace: Pace
    use: DayUse
    """The scenario's usage as plain numbers."""
    drives: tuple[Item, ...] = ()
    """Hard drives on offer."""
    is_ideal: bool = False
    """Whether transfers take no time: a bound on all caches and network speeds."""

    known: Transfers | None = None
    """Hours of transfer, where drives and paths are fixed and they are known."""

    @cached_property
    def identity(self) -> tuple[object, ...]:
        """Return what tells entries apart whose weights are known.

        Scenarios may differ by the rates and the room that they need.
        """
        cache = tuple(item.key for item in self.cache)
        asked = self.scenario.needs.rates, self.network_gbit_s, self.is_ideal
        return self.storage, cache, self.pace, self.known, asked

    def at(self, pace: Pace) -> "Entry":
        """Return the entry with tighter bounds on its pace."""
        return replace(self, pace=pace)

    def _transfers(
        self, write_mb_s: float, check_h: float, network_mb_s: float = math.inf
    ) -> Transfers:
        if self.is_ideal:
            return self._least_transfers(write_mb_s, check_h)
        return transfers_at(
            self.scenario,
            self.cache,
            min(network_mb_s, self.port_mb_s),
            write_mb_s,
            check_h,
        )

    @property
    def network_mb_s(self) -> float:
        """Return the most that port and processor move over the network. [MB/s]."""
        return min(self.port_mb_s, self.pace.network_fast_mb_s)

    @property
    def takes_in(self) -> bool:
        """Return whether a burst comes in as fast as asked, with all at its fastest."""
        ingest = best_ingest_mb_s(
            self.scenario, self.cache, self.network_mb_s, self.pace.write_fast_mb_s
        )
        return not misses(ingest, self.scenario.needs.ingest_mb_s)

    @property
    def port_mb_s(self) -> float:
        """Return what the network port moves. [MB/s]."""
        return network_mb_s(self.network_gbit_s, self.scenario.overrides)

    def _least_transfers(self, write_mb_s: float, check_h: float) -> Transfers:
        """Return transfers that no cache and no network speed undercuts.

        All that comes in is written to the array once, in one block at best. With
        prices by the hour another hour might be cheaper: then nothing is counted.
        """
        if len(set(self.use.prices)) > 1:
            return Transfers(check_h=check_h)
        volume_mb = self.scenario.usage.ingest_gb_per_day * MB_PER_GB
        hours = min(LONGEST_H, transfer_hours(volume_mb, write_mb_s))
        if self.storage.cache == "none":
            return Transfers(ingest_h=hours, check_h=check_h)
        return Transfers(flush_h=hours, check_h=check_h)

    def _operating(
        self, write_mb_s: float, check_h: float, network_mb_s: float
    ) -> OperatingYear:
        times = self.known or self._transfers(write_mb_s, check_h, network_mb_s)
        return operating_year(self.use, self.storage.shape, times)

    @property
    def fast_transfers(self) -> Transfers:
        """Return a day's transfers at the fast end."""
        pace = self.pace
        return self._transfers(
            pace.write_fast_mb_s, pace.check_short_h, pace.network_fast_mb_s
        )

    @cached_property
    def fast_year(self) -> OperatingYear:
        """Return the year at the fast end."""
        pace = self.pace
        return self._operating(
            pace.write_fast_mb_s, pace.check_short_h, pace.network_fast_mb_s
        )

    @cached_property
    def slow_year(self) -> OperatingYear:
        """Return the year at the slow end."""
        pace = self.pace
        return self._operating(
            pace.write_slow_mb_s, pace.check_long_h, pace.network_slow_mb_s
        )

    @cached_property
    def states(self) -> tuple[WeighedState, ...]:
        """Return the states that count, with the weight of a wall watt in each."""
        return weighed_states(self.weights, self.fast_year)

    @cached_property
    def watt_weight(self) -> float:
        """Return what a wall watt throughout the year is worth to the aim."""
        return sum(state.weight for state in self.states)

    def own_pace(self, item: Item) -> tuple[float, float]:
        """Return a drive's own write rate and check time, rounded to the kind side.

        No array writes faster than with all drives like this one, and no check is
        shorter than this drive's pace over the largest drive's capacity; so no build
        that holds it has less energy from it. Few different paces serve many drives.
        """
        part = item.part
        if self.is_ideal or not isinstance(part, HardDrive):
            return math.inf, 0.0
        if item.key not in self._own_writes:
            own = write_mb_s(self.storage, self.scenario, rate_of(item, self.scenario))
            self._own_writes[item.key] = (
                math.ceil(own / PACE_STEP_MB_S) * PACE_STEP_MB_S
            )
        largest = max(item.capacity_bytes, self.least_largest_bytes)
        check = surface_pass_hours(
            largest, part.outer_rate_mb_s.mid, part.inner_ratio.mid
        )
        return (
            min(self._own_writes[item.key], self.pace.write_fast_mb_s),
            max(math.floor(check / PACE_STEP_H) * PACE_STEP_H, self.pace.check_short_h),
        )

    @cached_property
    def _own_writes(self) -> dict[str, float]:
        return {}

    @cached_property
    def _years(self) -> dict[tuple[float, float], OperatingYear]:
        return {}

    def _year_at(self, pace: tuple[float, float]) -> OperatingYear:
        if pace not in self._years:
            self._years[pace] = self._operating(*pace, self.pace.network_fast_mb_s)
        return self._years[pace]

    @cached_property
    def weight_tables(self) -> dict[str, Any]:
        """Return tables of weights by role, filled as needed."""
        return {}

    @cached_property
    def _mixes(self) -> dict[tuple[str, float, float], MixWeights]:
        return {}

    @cached_property
    def least_largest_bytes(self) -> float:
        """Return the least that the largest data drive must hold. [B]."""
        return least_largest_bytes(self.storage, self.scenario)

    def mix_weights(self, item: Item, role: str) -> MixWeights:
        """Return what a watt of a drive is worth active, idle, standing and waking."""
        return self.mix_weights_at(self.own_pace(item), role)

    def mix_weights_at(self, pace: tuple[float, float], role: str) -> MixWeights:
        """Return ``mix_weights`` of a drive with a pace of its own."""
        key = (role, *pace)
        if key not in self._mixes:
            year = self.fast_year if self.is_ideal else self._year_at(pace)
            self._mixes[key] = _mix_weights(self.weights, year, role)
        return self._mixes[key]

    def weights_at(self, rate_mb_s: float, check_h: float) -> tuple[Any, Any]:
        """Return the weights of data and parity, each of shape (4,), at a known pace.

        Parameters
        ----------
        rate_mb_s : float
            Rate of the slowest drive at the scenario's fill. [MB/s]
        check_h : float
            Length of a check. [h]
        """
        year = self.fast_year
        if not self.is_ideal:
            own = write_mb_s(self.storage, self.scenario, rate_mb_s)
            own = math.ceil(own / WRITE_STEP_MB_S) * WRITE_STEP_MB_S
            write = min(own, self.pace.write_fast_mb_s)
            check_h = math.floor(check_h / CHECK_STEP_H) * CHECK_STEP_H
            year = self._year_at((write, max(check_h, self.pace.check_short_h)))
        data, parity = (
            np.array(_mix_weights(self.weights, year, role))
            for role in ("data", "parity")
        )
        return data, parity

    def drive_excess(self, item: Item, role: str, slope: float) -> float:
        """Return what a drive's own year adds to its energy beyond the entry's year."""
        if not isinstance(item.part, HardDrive):
            return 0.0
        watts = drive_watts(item.part)
        own = self.mix_weights(item, role)
        common = _mix_weights(self.weights, self.fast_year, role)
        beyond = sum((o - c) * w for o, c, w in zip(own, common, watts, strict=True))
        return slope * max(0.0, beyond)

    def wakes(self, role: str) -> float:
        """Return the least wakes a year of a drive in a role."""
        year = self._least_wakes_year if self.is_ideal else self.slow_year
        wakes = year.parity.wakes if role == "parity" else year.data.wakes
        # of longer blocks than there are, a check may find the drives awake
        return max(0.0, wakes - self.use.checks_per_year) if self.is_ideal else wakes

    @cached_property
    def _least_wakes_year(self) -> OperatingYear:
        """Return a year of longer blocks than any cache or network makes.

        More time covered by blocks means fewer wakes at random; what is ingested is
        written at most twice, as overflow and by the flush.
        """
        pace = self.pace
        volume_mb = self.scenario.usage.ingest_gb_per_day * MB_PER_GB
        if self.storage.cache == "none":
            rate = min(pace.write_slow_mb_s, pace.network_slow_mb_s, self.port_mb_s)
            hours = min(LONGEST_H, transfer_hours(volume_mb, rate))
            times = Transfers(ingest_h=hours, check_h=pace.check_long_h)
        else:
            hours = min(LONGEST_H, transfer_hours(2 * volume_mb, pace.write_slow_mb_s))
            times = Transfers(flush_h=hours, check_h=pace.check_long_h)
        return operating_year(self.use, self.storage.shape, times)

    def wakes_at(self, rate_mb_s: float, check_h: float) -> tuple[float, float]:
        """Return the least wakes of a data and a parity drive at a known pace.

        Parameters
        ----------
        rate_mb_s : float
            Rate that no drive falls below, at the scenario's fill. [MB/s]
        check_h : float
            Length of a check that none exceeds. [h]
        """
        pace = self.pace
        if self.is_ideal or not pace.share_mb_s:
            return self.wakes("data"), self.wakes("parity")
        behind = 1.0
        if self.scenario.choices.allow_multipliers:
            behind = self.scenario.overrides.multiplier_single_drive.mid
        own = behind * write_mb_s(self.storage, self.scenario, rate_mb_s)
        write = max(pace.write_slow_mb_s, min(own, pace.moved_slow_mb_s))
        check = min(check_h, pace.check_long_h)
        year = self._operating(write, check, pace.network_slow_mb_s)
        return year.data.wakes, year.parity.wakes


def need_bytes(scenario: Scenario) -> float:
    """Return the bytes that the array must hold before reserve and fill limit."""
    share = usable_share(scenario.overrides)
    return scenario.needs.capacity_tb * BYTES_PER_TB / share


def least_largest_bytes(storage: Storage, scenario: Scenario) -> float:
    """Return the least that the largest data drive of an array must hold. [B]."""
    width = storage.n_data
    if storage.layout == "striped":
        width -= storage.n_parity
    elif "pairs" in storage.layout:
        width //= 2
    return need_bytes(scenario) / max(1, width) * (1 - 1e-9)


def drive_watts(part: HardDrive) -> MixWeights:
    """Return a drive's watts active, idle and standing, and those of a wake an hour."""
    return (
        part.active_dc_w,
        part.idle_w.mid,
        part.standby_w.mid,
        part.spin_up_j.mid / SECONDS_PER_HOUR,
    )


@lru_cache(maxsize=4_000)
def _mix_weights(weights: Weights, year: OperatingYear, role: str) -> MixWeights:
    active = idle = standby = wakes = 0.0
    for state in weighed_states(weights, year):
        mix = state.parity if role == "parity" else state.data
        active += state.weight * mix.active
        idle += state.weight * mix.idle
        standby += state.weight * mix.standby
        wakes += state.weight * mix.wakes_per_h
    return active, idle, standby, wakes


def transfers_at(
    scenario: Scenario,
    cache: tuple[Item, ...],
    network: float,
    write_mb_s: float,
    check_h: float,
) -> Transfers:
    """Return a day's transfers where network and drives write at given rates.

    Nothing else is taken to be slower.
    """
    volume_mb = scenario.usage.ingest_gb_per_day * MB_PER_GB
    direct = min(write_mb_s, network)
    if not cache:
        return Transfers(
            ingest_h=min(LONGEST_H, transfer_hours(volume_mb, direct)), check_h=check_h
        )
    usable = cache_usable_mb(scenario, cache)
    phases = mirrored_phases(
        [cache_region(item.part, port_mb_s(item, scenario)) for item in cache],  # type: ignore[arg-type]
        usable,
        direct,
    )
    fast, slow, overflow = ingest(volume_mb, 0.0, phases, network).phases
    flush = min(write_mb_s, cache_read_mb_s(scenario, cache))
    return Transfers(
        ingest_h=min(LONGEST_H, fast.hours + slow.hours),
        overflow_h=min(LONGEST_H, overflow.hours),
        flush_h=min(LONGEST_H, flush_hours(volume_mb, usable, flush)),
        check_h=check_h,
    )


def port_mb_s(item: Item, scenario: Scenario) -> float:
    """Return the best rate of a drive's own port. [MB/s]."""
    part = item.part
    if isinstance(part, SolidStateDrive) and part.interface == "nvme":
        return math.inf
    return scenario.overrides.sata_6g_mb_s.mid


def cache_usable_mb(scenario: Scenario, cache: tuple[Item, ...]) -> float:
    """Return what a cache takes in. [MB]."""
    return usable_cache_mb(
        [item.capacity_bytes / BYTES_PER_MB for item in cache],
        scenario.overrides.cache_reserve.mid,
    )


def cache_read_mb_s(scenario: Scenario, cache: tuple[Item, ...]) -> float:
    """Return the rate at which a flush reads the cache. [MB/s]."""
    return min(
        min(item.part.read_mb_s.mid, port_mb_s(item, scenario))
        for item in cache
        if isinstance(item.part, SolidStateDrive)
    )


def best_ingest_mb_s(
    scenario: Scenario, cache: tuple[Item, ...], network: float, write_mb_s: float
) -> float:
    """Return the best burst ingest where network and drives reach given rates. [MB/s]."""
    direct = min(write_mb_s, network)
    if not cache:
        return direct
    phases = mirrored_phases(
        [cache_region(item.part, port_mb_s(item, scenario)) for item in cache],  # type: ignore[arg-type]
        cache_usable_mb(scenario, cache),
        direct,
    )
    return ingest(scenario.burst_gb * MB_PER_GB, 0.0, phases, network).mean_mb_s


def rate_of(item: Item, scenario: Scenario) -> float:
    """Return a hard drive's rate at the scenario's fill on a 6 Gb/s port. [MB/s]."""
    if not isinstance(item.part, HardDrive):
        return 0.0
    return drive_mb_s(
        item.part,
        scenario.needs.fill_fraction,
        scenario.overrides,
        port_of(item, scenario),
        is_multiplied=False,
    )


def port_of(item: Item, scenario: Scenario) -> float:
    """Return the planning rate of a hard drive's own interface. [MB/s]."""
    factors = scenario.overrides
    if not isinstance(item.part, HardDrive) or item.part.link_gbit_s >= 6.0:
        wide = item.part.link_gbit_s // 6.0 if isinstance(item.part, HardDrive) else 1.0
        return factors.sata_6g_mb_s.mid * wide
    return factors.sata_3g_mb_s.mid * item.part.link_gbit_s / 3.0


def write_mb_s(storage: Storage, scenario: Scenario, rate: float) -> float:
    """Return how fast an array of equal drives is written. [MB/s]."""
    return array_write_mb_s(
        storage.layout,
        storage.n_parity,
        reconstructs=storage.reconstructs,
        data=[rate] * storage.n_data,
        parity=[rate] * storage.n_parity_drives,
        factors=scenario.overrides,
    )


def storages(scenario: Scenario, n_most: int) -> Iterator[Storage]:
    """Yield every array side of the menu that the scenario's choices allow."""
    choices, least = scenario.choices, scenario.needs.failures_survived
    timeouts: list[float | None] = list(choices.timeouts_min)
    if choices.allow_never or not timeouts:
        timeouts.append(None)
    modes = [
        (layout, parity, mode)
        for layout, parity, mode in _LAYOUTS
        if layout in choices.layouts
        and (mode in choices.write_modes or mode == "plain")
        and (1 if "pairs" in layout else parity) >= least
    ]
    for layout, parity, mode in modes:
        for n_data in _drive_counts(layout, parity, n_most):
            for timeout in timeouts:
                for cache in choices.caches:
                    if cache == "single" and scenario.needs.needs_cache_mirror:
                        continue
                    yield Storage(
                        layout=layout,
                        n_parity=parity,
                        write_mode=mode,
                        timeout_min=timeout,
                        n_data=n_data,
                        cache=cache,
                    )


_LAYOUTS = (
    ("independent", 0, "plain"),
    ("independent", 1, "read-modify-write"),
    ("independent", 1, "reconstruct"),
    ("independent", 2, "read-modify-write"),
    ("independent", 2, "reconstruct"),
    ("striped", 1, "plain"),
    ("striped", 2, "plain"),
    ("pairs", 0, "plain"),
    ("striped pairs", 0, "plain"),
)
"""The closed list of layouts with the write modes they know."""


def _drive_counts(layout: str, parity: int, n_most: int) -> range:
    if layout == "independent":
        return range(1, n_most - parity + 1)
    if layout == "striped":
        return range(parity + 2, n_most + 1)
    return range(2 if layout == "pairs" else 4, n_most + 1, 2)
