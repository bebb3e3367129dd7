"""Menu entries of the flat program, and what a watt or a wake is worth in each.

Of the package this reads the evaluator's own arithmetic: the year's states for given
hours of transfer (``operating_year``), array rates, the price of a wake and annuities.
Writing those a second time would test nothing: both formulations are right when they
agree with the evaluator. Entries, bounds on hours and all coefficients are made here.

Longer transfers never save energy except through fewer wakes, so that energy is
counted at the shortest hours and wakes at the longest.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Literal

from optibox.build import OperatingPlan
from optibox.catalog.attachment import Controller, NetworkCard
from optibox.catalog.platform import Board, Processor
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.certify.domain import Domain, ItemOf, modes_of
from optibox.figures.money import wear_per_wake
from optibox.figures.power import Activity, activity_of, drive_dc_w
from optibox.figures.stages import array_write_mb_s, drive_mb_s, network_mb_s
from optibox.figures.terms import energy_annuity, plain_annuity
from optibox.figures.year import LONGEST_H, day_use
from optibox.physics.cache import transfer_hours
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.physics.operation import (
    ArrayShape,
    DayUse,
    Mix,
    StateYear,
    Transfers,
    operating_year,
)
from optibox.physics.zones import Member, lockstep_pass_hours, surface_pass_hours
from optibox.scenario import Scenario
from optibox.scenario.records import CacheKind, Layout, WriteMode
from optibox.units import BYTES_PER_MB, BYTES_PER_TB, MB_PER_GB, SECONDS_PER_HOUR

CACHE_DRIVES = {"none": 0, "single": 1, "mirror": 2}


@dataclass(frozen=True)
class Choice:
    """One entry of the menu: how the machine is run, with how many data drives."""

    layout: Layout
    n_parity: Literal[0, 1, 2]
    write_mode: WriteMode
    timeout_min: float | None
    n_data: int
    cache: CacheKind

    @property
    def name(self) -> str:
        """Layout, parity, mode, timeout, data drives and cache."""
        timeout = "never" if self.timeout_min is None else f"{self.timeout_min:g}"
        return f"{self.layout}/{self.n_parity}/{self.write_mode}/{timeout}/{self.n_data}/{self.cache}"

    @property
    def n_parity_drives(self) -> int:
        """Drives that hold nothing but parity."""
        return self.n_parity if self.layout == "independent" else 0

    @property
    def n_array(self) -> int:
        """Drives of data and parity."""
        return self.n_data + self.n_parity_drives

    @property
    def survives(self) -> int:
        """Failures that lose nothing."""
        return 1 if "pairs" in self.layout else self.n_parity

    @property
    def reconstructs(self) -> bool:
        """Whether parity is written from all data drives."""
        return self.write_mode == "reconstruct"

    def shape(self) -> ArrayShape:
        """Return what decides who spins."""
        return ArrayShape(
            layout=self.layout,
            reconstructs=self.reconstructs,
            n_data=self.n_data,
            n_parity=self.n_parity_drives,
            has_cache=self.cache != "none",
            timeout_h=math.inf if self.timeout_min is None else self.timeout_min / 60,
        )

    def plan(self, scenario: Scenario) -> OperatingPlan:
        """Return the operating plan of a build of this entry."""
        return OperatingPlan(
            layout=self.layout,
            n_parity=self.n_parity,
            write_mode=self.write_mode,
            cache=self.cache,
            timeout_min=self.timeout_min,
            flush_hour=scenario.usage.flush_hour,
            checks_per_year=scenario.usage.checks_per_year,
        )


def choices_of(scenario: Scenario) -> Iterator[Choice]:
    """Yield every entry whose numbers suit the layout and survive enough failures."""
    timeouts: list[float | None] = list(scenario.choices.timeouts_min)
    if scenario.choices.allow_never:
        timeouts.append(None)
    caches = [
        kind
        for kind in scenario.choices.caches
        if kind != "single" or not scenario.needs.needs_cache_mirror
    ]
    most = scenario.limits.array_drives
    for (layout, p, mode), timeout, cache in product(
        modes_of(scenario), timeouts, caches
    ):
        own = p if layout == "independent" else 0
        for n in range(1, most - own + 1):
            if layout == "striped" and n < p + 2:
                continue
            if "pairs" in layout and (n % 2 or n < (4 if "striped" in layout else 2)):
                continue
            found = Choice(layout, p, mode, timeout, n, cache)
            if found.survives >= scenario.needs.failures_survived:
                yield found


@dataclass(frozen=True)
class Terms:
    """The worth of a wall watt in an entry's states, for given hours of transfer."""

    states: tuple[tuple[Mix, Mix, Activity, float], ...]
    """Data and parity mix, activity, weight."""
    data_wakes: float
    parity_wakes: float

    @cached_property
    def weight(self) -> float:
        """Worth of a watt that is drawn all year."""
        return sum(w for *_, w in self.states)

    def active(self, which: str) -> float:
        """Weight of the states in which processor, network or cache work."""
        return sum(w for _, _, activity, w in self.states if getattr(activity, which))

    def wakes(self, role: str) -> float:
        """Return the wakes of a drive in a year."""
        return self.parity_wakes if role == "parity" else self.data_wakes

    def drive(self, part: HardDrive, role: str, *, wakes: float = 1.0) -> float:
        """Weighted DC watts of one drive; ``wakes`` scales those of starting it."""
        active, idle, standby, starts = self._shares[role]
        stopped = drive_dc_w(part, Mix())
        return (
            active * drive_dc_w(part, Mix(active=1.0))
            + idle * drive_dc_w(part, Mix(idle=1.0))
            + standby * stopped
            + wakes * starts * (drive_dc_w(part, Mix(wakes_per_h=1.0)) - stopped)
        )

    @cached_property
    def _shares(self) -> dict[str, tuple[float, float, float, float]]:
        """Weighted shares of a drive's time by role, at work, idle, stopped; starts."""
        found = {}
        by_role = {
            "data": [(data, weight) for data, _, _, weight in self.states],
            "parity": [(parity, weight) for _, parity, _, weight in self.states],
        }
        for role, mixes in by_role.items():
            found[role] = (
                sum(w * m.active for m, w in mixes),
                sum(w * m.idle for m, w in mixes),
                sum(w * m.standby for m, w in mixes),
                sum(w * m.wakes_per_h for m, w in mixes),
            )
        return found


ASLEEP = (Mix(), Mix())


@dataclass(frozen=True)
class Worth:
    """What the aim is made of: weights of purchase, energy, wear and so on."""

    purchase: float = 0.0
    money: float = 0.0
    kwh: float = 0.0
    asleep: float = 0.0
    wear: float = 0.0
    cache_wear: float = 0.0
    replacements: float = 0.0


def worth_of(scenario: Scenario, aim: str) -> Worth:
    """Return the weights of a minimised aim."""
    if aim == "purchase":
        return Worth(purchase=1.0)
    if aim == "annual energy":
        return Worth(kwh=1.0)
    if aim == "asleep watts":
        return Worth(asleep=1.0)
    if aim != "total cost":
        msg = f"the flat program minimises; it cannot raise '{aim}'"
        raise ValueError(msg)
    money, terms = scenario.money, scenario.money.terms
    plain = plain_annuity(money)
    back = money.resale_fraction / (1 + money.discount) ** money.years
    return Worth(
        purchase=("purchase" in terms) - ("resale" in terms) * back,
        money=energy_annuity(money) * ("energy" in terms),
        wear=plain * ("wear" in terms),
        cache_wear=plain * ("cache wear" in terms),
        replacements=plain * ("replacements" in terms),
    )


@dataclass(frozen=True)
class Menu:
    """The entries of a domain with bounds on their hours."""

    domain: Domain
    worth: Worth
    wanted: Callable[[Choice], bool] = lambda _: True
    """Entries that are looked at."""

    @property
    def scenario(self) -> Scenario:
        """What is asked."""
        return self.domain.scenario

    @cached_property
    def use(self) -> DayUse:
        """Hours and prices of a day."""
        usage = self.scenario.usage
        return day_use(self.scenario, usage.flush_hour, usage.checks_per_year)

    @cached_property
    def choices(self) -> tuple[Choice, ...]:
        """Every entry."""
        return tuple(c for c in choices_of(self.scenario) if self.wanted(c))

    @cached_property
    def drives(self) -> tuple[ItemOf[HardDrive], ...]:
        """Array drives without pending sectors."""
        return tuple(
            item
            for item in self.domain.of(HardDrive)
            if not (item.owned and item.owned.pending_sectors)
        )

    @cached_property
    def _terms(self) -> dict[tuple[Choice, Transfers], Terms]:
        return {}

    def terms(self, choice: Choice, times: Transfers) -> Terms:
        """Worth of a wall watt by state, for given hours of transfer."""
        key = (choice, times)
        if key not in self._terms:
            self._terms[key] = self._terms_of(choice, times)
        return self._terms[key]

    def _terms_of(self, choice: Choice, times: Transfers) -> Terms:
        year = operating_year(self.use, choice.shape(), times)
        states = [
            (s.data, s.parity, activity_of(s), self._weight(s)) for s in year.states
        ]
        if self.worth.asleep:
            still = activity_of(
                StateYear(
                    name="asleep", hours=0, money_per_w=0, data=Mix(), parity=Mix()
                )
            )
            states.append((*ASLEEP, still, self.worth.asleep))
        return Terms(
            tuple(s for s in states if s[3] > 0), year.data.wakes, year.parity.wakes
        )

    def _weight(self, state: StateYear) -> float:
        kwh = self.worth.kwh * state.hours / 1000
        return self.worth.money * state.money_per_w + kwh

    def rate(self, part: HardDrive, *, least: bool = False) -> float:
        """Best rate of a drive at the fill asked for; or its least, behind a leg."""
        s = self.scenario
        behind = least and s.choices.allow_multipliers
        port = s.overrides.sata_3g_mb_s.mid / 2 if least else math.inf
        return drive_mb_s(
            part, s.needs.fill_fraction, s.overrides, port, is_multiplied=behind
        )

    @staticmethod
    def _inner(part: HardDrive) -> float:
        return part.outer_rate_mb_s.mid * part.inner_ratio.mid

    def array_write(self, choice: Choice, data: float, parity: float) -> float:
        """Return the rate at which an array writes with these drive rates. [MB/s]."""
        return array_write_mb_s(
            choice.layout,
            choice.n_parity,
            reconstructs=choice.reconstructs,
            data=[data] * choice.n_data,
            parity=[parity] * choice.n_parity_drives,
            factors=self.scenario.overrides,
        )

    @cached_property
    def _volume_mb(self) -> float:
        return self.scenario.usage.ingest_gb_per_day * MB_PER_GB

    def _hours(self, rate: float) -> float:
        return min(LONGEST_H, transfer_hours(self._volume_mb, rate))

    def short(self, choice: Choice) -> Transfers:
        """Hours that no build of an entry undercuts."""
        fastest, check = self._best_drives
        return self._short(choice, self.array_write(choice, fastest, fastest), check)

    def short_with(
        self, choice: Choice, there: Sequence[tuple[ItemOf[HardDrive], str]]
    ) -> Transfers:
        """Hours that no build of an entry undercuts that has these drives among its own.

        Further members can only slow down writing and checking.
        """
        fastest, _ = self._best_drives
        data, parity = (
            min([fastest, *(self.rate(i.part) for i, r in there if r == role)])
            for role in ("data", "parity")
        )
        members = [
            Member(
                i.capacity_bytes,
                i.part.outer_rate_mb_s.mid,
                i.part.inner_ratio.mid,
                math.inf,
            )
            for i, _ in there
        ]
        write = self.array_write(choice, data, parity)
        return self._short(choice, write, lockstep_pass_hours(members))

    def _short(self, choice: Choice, write: float, check: float) -> Transfers:
        port = network_mb_s(
            self.scenario.needs.other_end_gbit_s, self.scenario.overrides
        )
        if choice.cache == "none":
            return Transfers(ingest_h=self._hours(min(write, port)), check_h=check)
        if len(set(self.use.prices)) > 1:
            # part of a burst may overflow into a cheaper hour: count no hours at all
            return Transfers(check_h=check)
        return Transfers(flush_h=self._hours(write), check_h=check)

    def _own_check(self, item: ItemOf[HardDrive]) -> float:
        part = item.part
        return surface_pass_hours(
            item.capacity_bytes, part.outer_rate_mb_s.mid, part.inner_ratio.mid
        )

    def long(self, choice: Choice) -> Transfers:
        """Hours that no build of an entry exceeds."""
        slowest, largest, inner = self._worst_drives
        # one direction of a link carries each member, the cache's copy and the network
        narrow = min(
            min(self._budgets, default=math.inf) / (choice.n_array + 2),
            min(self._half_duplex, default=math.inf) / (2 * choice.n_array + 3),
        )
        write = min(
            self.array_write(choice, slowest, slowest), narrow, self._slow_stages
        )
        check = largest / min(narrow, inner) / SECONDS_PER_HOUR
        hours = self._hours(write)
        if choice.cache == "none":
            return Transfers(ingest_h=hours, check_h=check)
        members = [i.part.write_mb_s.mid for i in self.domain.of(SolidStateDrive)]
        taken_in = self._hours(min([narrow, self._slow_stages, *members]))
        return Transfers(
            ingest_h=taken_in, overflow_h=hours, flush_h=hours, check_h=check
        )

    @cached_property
    def _worst_drives(self) -> tuple[float, float, float]:
        """Least rate, most to read in a check, least rate at the spindle. [MB/s, MB]."""
        slowest = min(self.rate(i.part, least=True) for i in self.drives)
        largest = max(i.capacity_bytes for i in self.drives) / BYTES_PER_MB
        return slowest, largest, min(0.8 * self._inner(i.part) for i in self.drives)

    @cached_property
    def _best_drives(self) -> tuple[float, float]:
        """Best rate, and least hours of a drive's own check. [MB/s, h]."""
        fastest = max(self.rate(i.part) for i in self.drives)
        return fastest, min(self._own_check(i) for i in self.drives)

    @cached_property
    def _slow_stages(self) -> float:
        ports = [i.part.network_gbit_s for i in self.domain.of(NetworkCard)]
        ports += [i.part.network_gbit_s or math.inf for i in self.domain.of(Board)]
        factors = self.scenario.overrides
        cores: list[Board | Processor] = [i.part for i in self.domain.of(Board)]
        cores += [i.part for i in self.domain.of(Processor)]
        rates = [network_mb_s(p, factors) for p in ports if math.isfinite(p)]
        rates += [network_mb_s(1.0, factors)]
        for part in cores:
            rates += [
                1000 * part.file_sharing_gb_s.mid,
                1000 * part.parity_gb_s_per_core.mid,
                1000 * part.encryption_gb_s_per_core.mid,
            ]
        return min(rates)

    @cached_property
    def _budgets(self) -> list[float]:
        """Least that each kind of shared link carries in one direction. [MB/s]."""
        pcie, found = self.scenario.overrides.pcie.mid, []
        for item in self.domain.of(Board):
            board = item.part
            if board.chipset_lanes:
                generation, lanes = board.chipset_generation, board.chipset_lanes
                found.append(pcie_planning_mb_s(generation, lanes, pcie))
            for slot in board.slots:
                left = [
                    r.other_lanes for r in board.sharing if r.other_slot == slot.name
                ]
                lanes = min([slot.lanes, *(n for n in left if n)])
                for card in self.domain.of(Controller):
                    generation = min(slot.generation, card.part.generation)
                    width = min(lanes, card.part.lanes)
                    found.append(pcie_planning_mb_s(generation, width, pcie))
                others: list[NetworkCard | SolidStateDrive] = [
                    i.part for i in self.domain.of(NetworkCard)
                ]
                others += [i.part for i in self.domain.of(SolidStateDrive)]
                for other in others:
                    if other.lanes:
                        generation = min(slot.generation, other.generation)
                        width = min(lanes, other.lanes)
                        found.append(pcie_planning_mb_s(generation, width, pcie))
        return found

    @cached_property
    def _half_duplex(self) -> list[float]:
        """Least budget of a multiplier's leg, where one is allowed. [MB/s]."""
        if not self.scenario.choices.allow_multipliers:
            return []
        host = self.scenario.overrides.multiplier_host_mb_s.mid
        return [
            host
            * c.part.host_link_gbit_s
            / 6.0
            / (1 if c.part.switching == "fis" else 3)
            for c in self.domain.of(Controller)
            if c.part.is_multiplied
        ]

    def wear(self, item: ItemOf[HardDrive], wakes: float) -> float:
        """Weighted wear of a drive's wakes in a year."""
        return (
            self.worth.wear * wakes * wear_per_wake(item.part, item.replacement_price)
        )

    def need_bytes(self) -> float:
        """Bytes that the array must hold, before reserve and fill limit."""
        s = self.scenario
        share = (1 - s.overrides.filesystem_reserve.mid) * s.overrides.fill_limit.mid
        return s.needs.capacity_tb * BYTES_PER_TB / share
