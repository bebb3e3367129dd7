"""Solving the flat program until its bound meets what the evaluator says.

Each round: the solver's optimum names a machine; its wiring is tried out in full and
judged by ``assess``. Then these are added, as far as they are new, and the next round begins:

- the hours that an entry needs at least with drives such as these in it;
- the exact hours of what decides rates (entry, drives, board, cards, cache, network),
  valid only where all of it is chosen: the best over all ways to spread the drives over
  ports; where every way misses a rate, all of it is cut off;
- a tangent of the supply in the states of that year;
- the machine is cut off, its value being known.

The end is reached when the bound is no better than the best build seen.
"""

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice

from optibox.assess import Assessment, assess
from optibox.build import Build, Connection, Item, SlotUse
from optibox.catalog.attachment import Cable, NetworkLead
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply, Processor
from optibox.catalog.storage import BootMedium, DriveAdapter, SolidStateDrive
from optibox.certify.choosing import Counts
from optibox.certify.columns import ONE, Flat, Row, plus
from optibox.certify.domain import ItemOf, PartT
from optibox.certify.hardware import (
    Hardware,
    Platform,
    Roles,
    is_module,
    is_usb,
    module_places,
    slot_uses,
)
from optibox.certify.menu import Choice
from optibox.certify.program import (
    Solved,
    flat_program,
    indicator,
    wakes_share,
    watts,
    wear_row,
)
from optibox.certify.solvers import Solver, by_highs
from optibox.certify.wirings import (
    Bays,
    Device,
    Wiring,
    bay_groups,
    port_groups,
    spreads,
    wires_of,
    wirings,
)
from optibox.criteria import AIMS
from optibox.figures.power import Activity, drive_dc_w, loss_curve, state_dc_w
from optibox.physics.operation import Mix, Transfers
from optibox.physics.power import marginal_factor, wall_w
from optibox.scenario import Scenario

Names = tuple[str, ...]
Key = tuple[Names, Names]
"""What must be there, and modules on risers."""
MOST_WIRINGS = 20_000
TELLING = ("e:", "n:", "c:", "m:", "u:", "x:", "q:")
"""Beginnings of the binaries that make a machine, but for modules on risers."""


@dataclass
class FlatAnswer:
    """The optimum of the flat program by the evaluator's figures."""

    value: float = math.inf
    best: Assessment | None = None
    bound: float = -math.inf
    n_rounds: int = 0
    n_judged: int = 0
    seconds: float = 0.0
    is_proven: bool = False
    n_better: int = 0
    """Builds better than what was known, one after the other."""
    overpriced: str = ""
    """Where the program asks more for a machine than the evaluator, how much."""
    is_cut_short: bool = False
    """Some machine had more wirings than are tried: nothing is proven then."""


@dataclass
class Pick:
    """A solver's solution as parts."""

    flat: Flat
    values: dict[str, float]
    counts: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.counts = {
            key: round(sum(f * self.values[n] for n, f in row.items()))
            for key, row in self.flat.counts.items()
        }

    @property
    def by_key(self) -> dict[str, Item]:
        """Items by their keys."""
        return {item.key: item for item in self.flat.domain.items}

    def on(self, letter: str) -> list[str]:
        """Names of the variables of a letter that are not 0."""
        head = letter + ":"
        return [n for n, v in self.values.items() if n.startswith(head) and v > 0.5]

    def one(self, record: type[PartT]) -> ItemOf[PartT] | None:
        """Return the chosen item of a kind of which there is one at most."""
        found = [i for i in self.flat.of(record) if self.counts[i.key]]
        return found[0] if found else None

    def the(self, record: type[PartT]) -> ItemOf[PartT]:
        """Return the chosen item of a kind of which there is always one."""
        return next(i for i in self.flat.of(record) if self.counts[i.key])

    @property
    def choice(self) -> Choice:
        """The chosen entry."""
        (name,) = self.on("e")
        return next(c for c in self.flat.menu.choices if f"e:{c.name}" == name)

    def roles(self) -> Roles:
        """Return the chosen drives by role."""
        groups: list[Counts] = []
        for role in ("data", "parity"):
            counts = []
            for item in self.flat.menu.drives:
                row = self.flat.drives(item, role)
                n = round(sum(self.values[name] for name in row))
                if n:
                    counts.append((item, n))
            groups.append(tuple(counts))
        data, parity = groups
        cache = [(i, self.counts[i.key]) for i in self.flat.of(SolidStateDrive)]
        return Roles(data, parity, tuple((i, n) for i, n in cache if n))

    def cards(self) -> tuple[Counts, tuple[SlotUse, ...]]:
        """Cards with their counts and their slots."""
        places = [n.split(":") for n in self.on("c")]
        order = {i.key: at for at, i in enumerate(self.flat.domain.items)}
        places.sort(key=lambda p: (order[p[1]], p[3]))
        items = [self.by_key[p[1]] for p in places]
        keys = [i.key for i in items]
        counts = tuple((self.by_key[k], keys.count(k)) for k in dict.fromkeys(keys))
        return counts, slot_uses(items, [p[3] for p in places])

    def platform(self) -> Platform:
        """Return what carries the rest."""
        kinds: tuple[str, ...] = (
            "chassis",
            "board",
            "power supply",
            "network lead",
            "processor",
        )
        kinds += ("cooler", "memory", "mounting plate")
        parts = tuple(
            (i, self.counts[i.key])
            for i in self.flat.domain.items
            if i.part.kind in kinds and self.counts[i.key]
        )
        board, chassis = self.the(Board).part, self.the(Chassis).part
        return Platform(parts, board, chassis, self.the(BootMedium))

    def leads(self) -> Counts:
        """Return the power leads."""
        found = [(i, self.counts[i.key]) for i in self.flat.of(PowerLead)]
        return tuple((i, n) for i, n in found if n)

    def modules(
        self, devices: list[Device], uses: tuple[SlotUse, ...]
    ) -> Iterator[tuple[SlotUse, ...]]:
        """Every placement of modules that agrees with the solution's sockets."""
        want = sorted((n.split(":")[1], n.split(":")[3]) for n in self.on("m"))
        named = {u.name: self.by_key[u.key] for u in uses}
        for places in module_places(self.the(Board).part, uses, named, devices):
            have = [(u.key, u.slot) for u in places if "." not in u.slot]
            if sorted(have) == want:
                yield places


def machines(pick: Pick) -> Iterator[Build]:
    """Every build that a pick stands for: all wirings, with the cables it names.

    Equal ends of equal direction are one to the evaluator, so that of cables and
    adapters only those with a count are tried.
    """
    flat, platform, roles = pick.flat, pick.platform(), pick.roles()
    cards, uses = pick.cards()
    devices = roles.named(platform.boot)
    named = {u.name: pick.by_key[u.key] for u in uses}
    items = tuple(i for i in flat.domain.items if _is_tried(pick, i))
    wired = [
        d for d in devices if not is_module(d.item.part) and not is_usb(d.item.part)
    ]
    plan = pick.choice.plan(flat.scenario)
    for modules in pick.modules(devices, uses):
        ports = port_groups(platform.board, named)
        for wiring in wirings(wired, ports, bay_groups(platform.chassis), items):
            hardware = Hardware(
                platform,
                roles,
                tuple(devices),
                (*uses, *modules),
                cards,
                wiring,
                pick.leads(),
            )
            yield hardware.build(plan, flat.domain.shelf)


def _is_tried(pick: Pick, item: Item) -> bool:
    return isinstance(item.part, Cable | DriveAdapter) and bool(pick.counts[item.key])


ANYWHERE = Bays("any", "sata", 0, tuple(f"3.5-{n}" for n in range(1, 60)))


def paths(pick: Pick) -> Iterator[Build]:
    """Every way to spread a pick's drives over ports, without a thought of bays."""
    flat, platform, roles = pick.flat, pick.platform(), pick.roles()
    cards, uses = pick.cards()
    devices = roles.named(platform.boot)
    named = {u.name: pick.by_key[u.key] for u in uses}
    wired = [
        d for d in devices if not is_module(d.item.part) and not is_usb(d.item.part)
    ]
    plan = pick.choice.plan(flat.scenario)
    ports = [
        p
        for p in port_groups(platform.board, named)
        if flat.scenario.choices.allow_multipliers or not p.is_shared
    ]
    for modules in pick.modules(devices, uses):
        for spread in spreads(wired, ports, [ANYWHERE]):
            wires = tuple(
                Connection(
                    drive=w.name,
                    bay=w.bay_name,
                    cable="none",
                    cable_key="none",
                    host=w.port.host,
                    connector=w.place[0],
                    port=w.place[1],
                )
                for w in wires_of(spread)
            )
            bare = Hardware(
                platform,
                roles,
                tuple(devices),
                (*uses, *modules),
                cards,
                Wiring(wires, ()),
                (),
            )
            yield bare.build(plan, flat.domain.shelf)


OF_PATHS = frozenset(
    ("N1", "T1", "W1", "C1", "C5", "B4", "B5", "C11", "L4", "L5", "L6")
)
"""Rules that look at nothing beyond what ``key_of`` names."""


def key_of(pick: Pick) -> tuple[Names, Names]:
    """Variables that must be 1 and 0 for a pick's rates to hold."""
    flat = pick.flat
    ones = [f"e:{pick.choice.name}"]
    for record in (Board, Processor, NetworkLead):
        item = pick.one(record)
        if item:
            ones.append(f"n:{item.key}")
    boot = pick.one(BootMedium)
    if boot and boot.part.interface != "m2":
        ones.append(f"n:{boot.key}")
    ones += _tops(pick, "x") + _tops(pick, "q")
    placed = [*pick.on("c"), *pick.on("m")]
    zeros = [n for n in flat.columns if n[:2] in ("c:", "m:") and n not in placed]
    # a slot of another board is empty, since this board is there
    board = pick.the(Board).key
    zeros = [n for n in zeros if n.split(":")[2] == board]
    return tuple(ones + placed), tuple(zeros)


def _tops(pick: Pick, letter: str) -> list[str]:
    """Return the last unary variable of each count that is not 0."""
    tops: dict[tuple[str, ...], str] = {}
    for name in pick.on(letter):
        head, _, k = name.rpartition(":")
        role, _, _ = head.rpartition(":")
        key = (head,) if letter == "x" else (role, head)
        if key not in tops or int(k) > int(tops[key].rpartition(":")[2]):
            tops[key] = name
    return list(tops.values())


@dataclass
class Oracle:
    """The rounds of one question."""

    flat: Flat
    aim: str
    deadline: float
    solver: Solver = by_highs
    ends_at_better: bool = False
    """A build better than the one known is the end."""
    answer: FlatAnswer = field(default_factory=FlatAnswer)
    years: dict[Key, list[Transfers]] = field(default_factory=dict)
    bent: set[tuple[Key, str]] = field(default_factory=set)
    supports: set[Names] = field(default_factory=set)

    @property
    def tolerance(self) -> float:
        """How close bound and value must come."""
        return AIMS[self.aim].tolerance

    def run(self) -> FlatAnswer:
        """Go round until nothing better can be left."""
        started = time.monotonic()
        while True:
            left = self.deadline - time.monotonic()
            if left <= 0:
                break
            try:
                solved = self.solver(self.flat, left)
            except TimeoutError:
                break
            self.answer.n_rounds += 1
            bound = solved.objective if solved else math.inf
            self.answer.bound = min(bound, self.answer.value)
            if bound >= self.answer.value - self.tolerance or not solved:
                self.answer.is_proven = not self.answer.is_cut_short
                break
            self._tighten(solved)
            if self.answer.overpriced or (self.ends_at_better and self.answer.n_better):
                break
        self.answer.seconds = time.monotonic() - started
        return self.answer

    def _tighten(self, solved: Solved) -> None:
        """Add what this solution shows to have been held too low."""
        pick = Pick(self.flat, solved.values)
        ones, zeros = key_of(pick)
        key = (ones, tuple(pick.on("r")))
        known = key in self.years
        self._learn_drives(pick)
        if not known:
            self._learn(pick, key, ones, zeros)
        if not self.years[key]:
            return
        value = self._judge(pick)
        if value < solved.objective - self.tolerance:
            self.answer.overpriced = f"{solved.objective:.4f} for {value:.4f}"
        if not known or value <= solved.objective + self.tolerance:
            return
        supply = pick.the(PowerSupply)
        bend = (key, supply.key)
        if bend not in self.bent and len(self.years[key]) == 1 and self.flat.weight:
            self.bent.add(bend)
            if self._bend(pick, self.years[key][0], supply, ones, zeros):
                return
        self._exclude(pick)

    def _learn_drives(self, pick: Pick) -> None:
        """Add the hours that an entry needs at least with drives such as these in it."""
        flat, choice = self.flat, pick.choice
        names = [n for n in pick.on("x") if n.endswith(":1")]
        support = (choice.name, *names)
        if support in self.supports or not flat.weight:
            return
        self.supports.add(support)
        by_key = {i.key: i for i in flat.menu.drives}
        there = [(by_key[n.split(":")[1]], n.split(":")[2]) for n in names]
        times = flat.menu.short_with(choice, there)
        terms = flat.menu.terms(choice, times)
        share = wakes_share(terms, flat.menu.terms(choice, flat.menu.long(choice)))
        rest, spun = watts(flat, [terms], share)
        literals = [{n: 1.0} for n in (f"e:{choice.name}", *names)]
        indicator(flat, rest, {"rest": 1.0}, literals)
        indicator(flat, spun, {"spun": 1.0}, literals)

    def _learn(self, pick: Pick, key: Key, ones: Names, zeros: Names) -> None:
        """Add the exact hours of what decides rates, or cut it off."""
        found: dict[Transfers, float] = {}
        for build in paths(pick):
            self.answer.n_judged += 1
            judged = assess(build, self.flat.scenario)
            if not OF_PATHS & {f.rule for f in judged.errors}:
                found[judged.year.transfers] = 1.0
        self.years[key] = list(found)
        flat, choice = self.flat, pick.choice
        if not found:
            row = plus(dict.fromkeys(ones, 1.0), dict.fromkeys(zeros, -1.0))
            flat.row("no path", row, "<=", len(ones) - 1.0)
            return
        if not flat.weight and not flat.menu.worth.wear:
            return
        terms = [flat.menu.terms(choice, times) for times in found]
        literals = [{n: 1.0} for n in ones]
        closed = dict.fromkeys(zeros, 1.0)
        if flat.weight:
            rest, spun = watts(flat, terms)
            indicator(flat, rest, {"rest": 1.0}, literals, closed)
            indicator(flat, spun, {"spun": 1.0}, literals, closed)
        if "wear" in flat.columns:
            row = wear_row(
                flat,
                min(t.data_wakes for t in terms),
                min(t.parity_wakes for t in terms),
            )
            indicator(flat, row, {"wear": 1.0}, literals, closed)

    def _judge(self, pick: Pick) -> float:
        """Return the least value of a pick's wirings; remember the best of all."""
        least, value_of = math.inf, AIMS[self.aim].value_of
        for number, build in enumerate(islice(machines(pick), MOST_WIRINGS + 1)):
            self.answer.n_judged += 1
            self.answer.is_cut_short |= number == MOST_WIRINGS
            judged = assess(build, self.flat.scenario)
            if judged.is_fit:
                least = min(least, value_of(judged))
                if value_of(judged) < self.answer.value:
                    self.answer.value, self.answer.best = value_of(judged), judged
                    self.answer.n_better += 1
                    self.flat.ceiling = self.answer.value - self.tolerance
        return least

    def _bend(
        self,
        pick: Pick,
        times: Transfers,
        supply: ItemOf[PowerSupply],
        ones: Names,
        zeros: Names,
    ) -> bool:
        """Hold energy above the supply's curve in each state of an exact year."""
        flat = self.flat
        build = next(paths(pick), None)
        if build is None:
            return False
        machine = assess(build, flat.scenario).machine
        curve, terms = loss_curve(supply.part), flat.menu.terms(pick.choice, times)
        total: Row = {}
        for data, parity, activity, weight in terms.states:
            at = state_dc_w(machine, data, parity, activity)
            slope = marginal_factor(at, curve)
            plus(total, self._state(data, parity, activity), weight * slope)
            plus(total, {ONE: weight * (wall_w(at, curve) - slope * at)})
        literals = [{n: 1.0} for n in (*ones, f"n:{supply.key}")]
        indicator(flat, total, {"energy": 1.0}, literals, dict.fromkeys(zeros, 1.0))
        return True

    def _state(self, data: Mix, parity: Mix, activity: Activity) -> Row:
        """Return the DC watts of a state as a row."""
        flat = self.flat
        row = dict(flat.watt_groups["idle"])
        for which in ("processor", "network", "cache"):
            if getattr(activity, which):
                plus(row, flat.watt_groups[which])
        for item in flat.menu.drives:
            plus(row, flat.drives(item, "data"), drive_dc_w(item.part, data))
            plus(row, flat.drives(item, "parity"), drive_dc_w(item.part, parity))
        return row

    def _exclude(self, pick: Pick) -> None:
        """Cut a pick off: every part and place, with no cables beside its own kinds."""
        flat, values = self.flat, pick.values
        ones: list[str] = []
        zeros: list[str] = []
        for name in flat.columns:
            if name[:2] in TELLING:
                (ones if values[name] > 0.5 else zeros).append(name)
            elif name[:2] in ("w:", "a:") and values[name] < 0.5:
                zeros.append(name)
        row = plus(dict.fromkeys(ones, 1.0), dict.fromkeys(zeros, -1.0))
        flat.row("seen", row, "<=", len(ones) - 1.0)


def flat_optimum(
    catalog: Catalog,
    scenario: Scenario,
    aim: str = "",
    *,
    time_limit_s: float = 600.0,
    known: Assessment | None = None,
) -> FlatAnswer:
    """Return the best build of a minimised aim by the flat program, proven or not.

    A build that is known already is only to be beaten.
    """
    deadline = time.monotonic() + time_limit_s
    aim = aim or scenario.choices.aim
    oracle = Oracle(flat_program(catalog, scenario, aim), aim, deadline)
    if known is not None:
        value = AIMS[aim].value_of(known)
        oracle.answer.value, oracle.answer.best = value, known
        oracle.flat.ceiling = value - oracle.tolerance
    return oracle.run()
