"""What stands beside the array: sets of cache drives, and speeds of the network."""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations_with_replacement

import numpy as np

from optibox.build import Item
from optibox.catalog.attachment import NetworkCard, NetworkLead
from optibox.catalog.platform import Board
from optibox.catalog.storage import SolidStateDrive
from optibox.model.frames import WAYS, Floats
from optibox.model.gauge import Gauge
from optibox.model.menu import Entry, Storage, cache_usable_mb
from optibox.model.platform_bounds import Wants
from optibox.model.rate_steps import RateSteps
from optibox.rules.demands import misses
from optibox.scenario import Scenario
from optibox.units import MB_PER_GB


@dataclass(frozen=True, slots=True)
class CacheSet:
    """Drives of a cache, none for no cache, with what they add at least."""

    items: tuple[Item, ...]
    cost: float

    def count(self, form: str, interface: str) -> int:
        """Return how many of them have a form and an interface."""
        return sum(
            isinstance(i.part, SolidStateDrive)
            and (i.part.form, i.part.interface) == (form, interface)
            for i in self.items
        )


@dataclass(frozen=True, slots=True)
class CachePlaces:
    """What a set of cache drives wants of the platform."""

    n_cabled: int
    n_nvme: int
    n_sata_modules: int
    socket_mb_s: float

    def wants(self, array: Wants, network_gbit_s: float) -> Wants:
        """Return what an array wants with them, at a network speed."""
        return replace(
            array,
            n_ports=array.n_ports + self.n_cabled,
            n_bays=array.n_bays + self.n_cabled,
            network_gbit_s=network_gbit_s,
            n_nvme=self.n_nvme,
            n_sata_modules=self.n_sata_modules,
            socket_mb_s=self.socket_mb_s,
        )


@dataclass(frozen=True, slots=True)
class Side:
    """Caches of one sort with a network speed."""

    network_gbit_s: float
    places: CachePlaces
    caches: tuple[CacheSet, ...]
    """The cheapest first."""
    first: int
    """Place of the first of them that meets the needs."""


@dataclass(frozen=True, kw_only=True)
class Sides:
    """Caches and network speeds to choose from, and which of them can meet the needs."""

    aim: Gauge
    scenario: Scenario

    @cached_property
    def speeds(self) -> list[float]:
        """Return the speeds of the network in use, at the other end's plug. [Gb/s]."""
        offers, needs = self.aim.offers, self.scenario.needs
        medium, most = needs.other_end_medium, needs.other_end_gbit_s
        ports = {
            i.part.network_gbit_s
            for i in offers.items
            if isinstance(i.part, NetworkCard | NetworkLead) and i.part.medium == medium
        }
        ports |= {
            b.part.network_gbit_s
            for b in offers.of(Board)
            if isinstance(b.part, Board)
            and b.part.network_gbit_s
            and b.part.network_medium == medium
        }
        least = min(needs.network_gbit_s or 0.0, most)
        return sorted({min(port, most) for port in ports if port and port >= least})

    # -- caches

    def caches(self, kind: str) -> list[CacheSet]:
        """Return every set of cache drives of a kind, the cheapest first."""
        if kind not in self._caches:
            self._caches[kind] = sorted(self._sets(kind), key=lambda cache: cache.cost)
        return self._caches[kind]

    @cached_property
    def _caches(self) -> dict[str, list[CacheSet]]:
        return {}

    def _sets(self, kind: str) -> list[CacheSet]:
        insisted = [
            {item.key for item in items}
            for items in self.aim.offers.insisted
            if items and all(isinstance(i.part, SolidStateDrive) for i in items)
        ]
        if kind == "none":
            return [] if insisted else [CacheSet((), 0.0)]
        size = 2 if kind == "mirror" else 1
        return [
            CacheSet(drives, self.aim.cost_of(drives))
            for drives in combinations_with_replacement(
                self.aim.offers.of(SolidStateDrive), size
            )
            if all(i.limit is None or drives.count(i) <= i.limit for i in drives)
            and all(any(i.key in keys for i in drives) for keys in insisted)
        ]

    def least_cache(self, kind: str) -> float:
        """Return what a cache of a kind adds at least."""
        caches = self.caches(kind)
        return caches[0].cost if caches else math.inf

    def by_places(self, kind: str) -> dict[CachePlaces, tuple[CacheSet, ...]]:
        """Return the sets of a kind by what they want of the platform."""
        if kind not in self._by_places:
            found: dict[CachePlaces, list[CacheSet]] = {}
            for cache in self.caches(kind):
                found.setdefault(self.places(cache), []).append(cache)
            self._by_places[kind] = {p: tuple(sets) for p, sets in found.items()}
        return self._by_places[kind]

    @cached_property
    def _by_places(self) -> dict[str, dict[CachePlaces, tuple[CacheSet, ...]]]:
        return {}

    def places(self, cache: CacheSet) -> CachePlaces:
        """Return what a set of cache drives wants of the platform.

        A module that takes in whole bursts must be reached as fast as is asked; where
        some of a burst goes past it, a slower one may do.
        """
        scenario, n_nvme = self.scenario, cache.count("m2", "nvme")
        n_sata = cache.count("m2", "sata")
        is_whole = n_nvme + n_sata and (
            scenario.burst_gb * MB_PER_GB <= cache_usable_mb(scenario, cache.items)
        )
        return CachePlaces(
            n_cabled=len(cache.items) - n_nvme - n_sata,
            n_nvme=n_nvme,
            n_sata_modules=n_sata,
            socket_mb_s=self._steps.up(scenario.needs.ingest_mb_s) if is_whole else 0.0,
        )

    # -- what they add to a frame

    @cached_property
    def _steps(self) -> RateSteps:
        return self.aim.offers.shared(RateSteps)

    def array_wants(self, n_array: int) -> Wants:
        """Return what an array alone wants, at the least speed of the network."""
        return Wants(
            n_ports=n_array,
            n_bays=n_array,
            network_gbit_s=min(self.speeds),
            network_mb_s=self._steps.up(self.scenario.needs.fastest_mb_s),
        )

    def extra(self, n_array: int, wants: Wants) -> float:
        """Return what wants add at least to those of the array at the least speed.

        Infinite where no frame keeps them. Cards may be bought for their ports, for
        drives that speak SAS, or to start drives in turn; each way is compared with
        itself, since what one way adds to another shrinks as the wants grow.
        """
        key = (n_array, wants)
        if key not in self._extras:
            base = self.array_wants(n_array)
            pairs = zip(self._cores(base), self._cores(wants), strict=True)
            self._extras[key] = min(_least_rise(low, high) for low, high in pairs)
        return self._extras[key]

    @cached_property
    def _extras(self) -> dict[tuple[int, Wants], float]:
        return {}

    def _cores(self, wants: Wants) -> list[Floats]:
        """Return the cost of processor, cards and cables for each way to buy them."""
        return [self.aim.frames.core(wants, way)[0] for way in WAYS]

    # -- what meets the needs

    def is_able(self, entry: Entry) -> bool:
        """Return whether an entry at its fastest takes in what is asked, in time."""
        if entry.scenario is not self.scenario:
            entry = replace(entry, scenario=self.scenario)
        needs = self.scenario.needs
        if misses(entry.network_mb_s, max(needs.read_mb_s, needs.write_mb_s)):
            return False
        return entry.takes_in and _fits_day(entry)

    def able(self, entry: Entry) -> tuple[Side, ...]:
        """Return the sides with a cache that meets the needs, for some storage.

        Neither cache, speed nor timeout of the entry matter.
        """
        kind, found = entry.storage.cache, []
        entry = replace(entry, scenario=self.scenario)
        for speed in self.speeds:
            at = replace(entry, network_gbit_s=speed, is_ideal=False)
            if misses(at.port_mb_s, self.scenario.needs.fastest_mb_s):
                continue
            for places, caches in self._ever_able(kind, at).items():
                first = self.first_able(at, caches, 0)
                if first is not None:
                    found.append(Side(speed, places, caches, first))
        return tuple(found)

    def first_able(
        self, entry: Entry, caches: tuple[CacheSet, ...], start: int
    ) -> int | None:
        """Return the first place from some one on of a cache that meets the needs.

        What the drives' own timeout is does not matter.
        """
        places = self.places(caches[0])
        key = (entry.storage.always_on, entry.network_gbit_s, places)
        known = self._ables.setdefault(key, {})
        for index in range(start, len(caches)):
            if index not in known:
                whole = replace(entry, cache=caches[index].items)
                known[index] = self.is_able(whole)
            if known[index]:
                return index
        return None

    @cached_property
    def _ables(self) -> dict[tuple[Storage, float, CachePlaces], dict[int, bool]]:
        return {}

    def _ever_able(
        self, kind: str, entry: Entry
    ) -> dict[CachePlaces, tuple[CacheSet, ...]]:
        """Return the caches that take in what is asked with any array, at a speed."""
        key = (kind, entry.network_gbit_s)
        if key not in self._ever:
            fastest = replace(
                entry.pace, write_fast_mb_s=math.inf, network_fast_mb_s=math.inf
            )
            at = replace(entry, pace=fastest)
            found = {}
            for places, caches in self.by_places(kind).items():
                fast = tuple(cache for cache in caches if self._takes_in(at, cache))
                if fast:
                    found[places] = fast
            self._ever[key] = found
        return self._ever[key]

    def _takes_in(self, fastest: Entry, cache: CacheSet) -> bool:
        """Return whether a cache takes in what is asked: if so, at more speed too."""
        speed, key = fastest.network_gbit_s, tuple(item.key for item in cache.items)
        enough = self._enough_gbit_s.get(key, math.inf)
        if speed < enough and replace(fastest, cache=cache.items).takes_in:
            enough = self._enough_gbit_s[key] = speed
        return speed >= enough

    @cached_property
    def _enough_gbit_s(self) -> dict[tuple[str, ...], float]:
        return {}

    @cached_property
    def _ever(self) -> dict[tuple[str, float], dict[CachePlaces, tuple[CacheSet, ...]]]:
        return {}


def _least_rise(low: Floats, high: Floats) -> float:
    """Return the least by which one cost of frames is above another, 0 at least."""
    known = np.isfinite(low) & np.isfinite(high)
    return max(0.0, float((high[known] - low[known]).min(initial=math.inf)))


def _fits_day(entry: Entry) -> bool:
    """Return whether transfers at their fastest leave the day its margin."""
    times = entry.fast_transfers
    daily = times.ingest_h + times.flush_h + times.overflow_h
    return daily * entry.scenario.overrides.interval_margin.mid <= 24.0
