"""Every build of a tiny catalog, one after the other, judged by the evaluator alone.

Nothing here is shared with the planner's program, its bounds or its pruning. The
domain: one chassis, board, supply, boot medium and network lead; processor and cooler
where the board has a socket; memory modules; up to two controllers, two risers, one
network card, one display card over the board's slots; array drives of any mixture;
every layout, write mode, cache and timeout that the scenario's choices name.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise, permutations, product

from optibox.assess import Assessment, assess
from optibox.build import Build, DriveUse, Item, ItemCount, OperatingPlan, SlotUse
from optibox.build.items import items_of
from optibox.catalog.attachment import (
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.scenario import Scenario
from tests.support.choosing import Counts, multisets
from tests.support.wirings import Device, Wiring, bay_groups, port_groups, wirings

MOST_CONTROLLERS = 2
MOST_RISERS = 2
LEADS_EACH = 2
AIMS: dict[str, Callable[[Assessment], float]] = {
    "total cost": lambda found: found.total_cost,
    "purchase": lambda found: found.cost.purchase,
    "annual energy": lambda found: found.year.kwh,
    "asleep watts": lambda found: found.wall.asleep_w,
    "ingest": lambda found: found.rates.ingest_mb_s,
    "read": lambda found: found.rates.read_mb_s,
}
RATES = ("ingest", "read")
"""Aims that are made as large as possible."""


@dataclass(frozen=True)
class Platform:
    """What carries the rest."""

    parts: Counts
    board: Board
    chassis: Chassis
    boot: Item


@dataclass(frozen=True)
class Roles:
    """Which drives have which role."""

    data: Counts
    parity: Counts
    cache: Counts

    @property
    def n_parity(self) -> int:
        """Return the drives that hold nothing but parity."""
        return sum(n for _, n in self.parity)

    @property
    def arrangement(self) -> str:
        """Return the name of the cache arrangement."""
        return ("none", "single", "mirror")[sum(n for _, n in self.cache)]

    def named(self, boot: Item) -> list[Device]:
        """Return the drives by item and role, with their names."""
        devices = []
        groups = (("data", self.data), ("parity", self.parity), ("cache", self.cache))
        for role, counts in (*groups, ("boot", ((boot, 1),))):
            number = 0
            for item, n in counts:
                names = tuple(f"{role}-{number + i}" for i in range(1, n + 1))
                devices.append(Device(item, role, names))
                number += n
        return devices


@dataclass(frozen=True)
class Hardware:
    """A machine without its operating plan."""

    platform: Platform
    roles: Roles
    devices: tuple[Device, ...]
    slots: tuple[SlotUse, ...]
    cards: Counts
    wiring: Wiring
    leads: Counts

    def build(self, operation: OperatingPlan, shelf: "Shelf") -> Build:
        """Return the complete build."""
        drives = [
            DriveUse(name=name, key=d.item.key, role=d.role)
            for d in self.devices
            for name in d.names
        ]
        return Build(
            items=self.items(),
            drives=tuple(drives),
            connections=self.wiring.connections,
            slots=self.slots,
            operation=operation,
            spares=shelf.spares,
            postage=shelf.postage,
        )

    def items(self) -> tuple[ItemCount, ...]:
        """Return all pieces by item."""
        counts: Counter[str] = Counter()
        by_key = {}
        drives = [(d.item, len(d.names)) for d in self.devices]
        groups = (
            self.platform.parts,
            drives,
            self.cards,
            self.wiring.parts,
            self.leads,
        )
        for group in groups:
            for item, count in group:
                counts[item.key] += count
                by_key[item.key] = item
        return tuple(ItemCount(item=by_key[k], count=n) for k, n in counts.items())


@dataclass(frozen=True)
class Shelf:
    """What every build of a scenario has alike."""

    spares: tuple[ItemCount, ...]
    postage: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Domain:
    """A catalog and a scenario as the items that builds are made of."""

    catalog: Catalog
    scenario: Scenario
    items: tuple[Item, ...]

    def of(self, record: type[Part]) -> list[Item]:
        """Return the items of one kind."""
        return [item for item in self.items if isinstance(item.part, record)]

    @property
    def shelf(self) -> Shelf:
        """Return spares and postage."""
        by_key = {item.key: item for item in self.items}
        spares = tuple(
            ItemCount(item=by_key[spare.id], count=spare.count)
            for spare in self.scenario.spares
        )
        return Shelf(spares, tuple(sorted(self.catalog.postage.items())))


def domain_of(catalog: Catalog, scenario: Scenario) -> Domain:
    """Return the domain of a catalog under a scenario."""
    return Domain(catalog, scenario, items_of(catalog, scenario))


def all_builds(catalog: Catalog, scenario: Scenario) -> Iterator[Build]:
    """Yield every build of the planner's domain, fit or not."""
    domain = domain_of(catalog, scenario)
    shelf = domain.shelf
    for hardware in all_hardware(domain):
        for operation in operations(domain, hardware.roles):
            yield hardware.build(operation, shelf)


def all_hardware(domain: Domain) -> Iterator[Hardware]:
    """Yield every machine without its operating plan."""
    roles = list(all_roles(domain))
    for platform in platforms(domain):
        bays = bay_groups(platform.chassis)
        for cards, card_slots in card_places(domain, platform.board):
            named = {use.name: _by_key(cards, use.key) for use in card_slots}
            ports = port_groups(platform.board, named)
            for role in roles:
                devices = role.named(platform.boot)
                for modules in module_places(
                    platform.board, card_slots, named, devices
                ):
                    wired = [d for d in devices if not is_module(d.item.part)]
                    wired = [d for d in wired if not _is_usb(d.item.part)]
                    for wiring in wirings(wired, ports, bays, domain.items):
                        for leads in lead_counts(domain):
                            yield Hardware(
                                platform,
                                role,
                                tuple(devices),
                                (*card_slots, *modules),
                                cards,
                                wiring,
                                leads,
                            )


def _by_key(counts: Counts, key: str) -> Item:
    return next(item for item, _ in counts if item.key == key)


def _is_usb(part: Part) -> bool:
    return isinstance(part, BootMedium) and part.interface == "usb"


def is_module(part: Part) -> bool:
    """Return whether a drive goes into an M.2 socket."""
    if isinstance(part, SolidStateDrive):
        return part.form == "m2"
    return isinstance(part, BootMedium) and part.interface == "m2"


def platforms(domain: Domain) -> Iterator[Platform]:
    """Yield every combination of the parts that exist once, and of memory modules."""
    basic = (Chassis, Board, PowerSupply, BootMedium, NetworkLead)
    for chosen in product(*(domain.of(record) for record in basic)):
        chassis, board, supply, boot, _ = chosen
        fixed = tuple((item, 1) for item in chosen if item is not boot)
        for core in _processors(domain, board.part):
            for plate in _plates(domain, chassis.part, supply.part):
                for modules in multisets(
                    domain.of(Memory), 1, max(1, board.part.memory_slots)
                ):
                    parts = (*fixed, *core, *plate, *modules)
                    yield Platform(parts, board.part, chassis.part, boot)


def _processors(domain: Domain, board: Board) -> Iterator[Counts]:
    if board.has_soldered_processor:
        yield ()
        return
    for processor, cooler in product(domain.of(Processor), domain.of(Cooler)):
        yield (processor, 1), (cooler, 1)


def _plates(domain: Domain, chassis: Chassis, supply: PowerSupply) -> Iterator[Counts]:
    """Yield no plate, and each one where the supply does not fit as it is.

    A plate has a price and nothing else that any figure reads, so that one which is
    not needed never makes a build better.
    """
    yield ()
    if supply.form not in chassis.supply_forms:
        for plate in domain.of(MountingPlate):
            yield ((plate, 1),)


def card_places(
    domain: Domain, board: Board
) -> Iterator[tuple[Counts, tuple[SlotUse, ...]]]:
    """Yield every set of cards in every assignment to slots."""
    sets = product(
        multisets(domain.of(Controller), 0, MOST_CONTROLLERS),
        list(multisets(domain.of(NetworkCard), 0, 1)),
        list(multisets(domain.of(Riser), 0, MOST_RISERS)),
        list(multisets(domain.of(DisplayCard), 0, 1)),
    )
    for groups in sets:
        cards = tuple(pair for group in groups for pair in group)
        flat = [item for item, n in cards for _ in range(n)]
        for slots in permutations(board.slots, len(flat)):
            if not _in_order(flat, [slot.name for slot in slots]):
                continue
            if all(
                (item.part.bus == "m2") == (slot.form == "m2")
                for item, slot in zip(flat, slots, strict=True)
            ):
                yield cards, _slot_uses(flat, [slot.name for slot in slots])


def _in_order(items: list[Item], slots: list[str]) -> bool:
    """Return whether equal cards come in the order of their slots: each pair once."""
    pairs = pairwise(zip(items, slots, strict=True))
    return all(a[0].key != b[0].key or a[1] < b[1] for a, b in pairs)


def _slot_uses(items: list[Item], slots: list[str]) -> tuple[SlotUse, ...]:
    uses, numbers = [], Counter()
    for item, slot in zip(items, slots, strict=True):
        word = item.part.kind.split()[0]
        numbers[word] += 1
        name = f"{word}-{numbers[word]}"
        uses.append(SlotUse(name=name, key=item.key, slot=slot))
    return tuple(uses)


def module_places(
    board: Board,
    used: tuple[SlotUse, ...],
    cards: dict[str, Item],
    devices: list[Device],
) -> Iterator[tuple[SlotUse, ...]]:
    """Yield every assignment of M.2 modules to sockets of the board and of risers.

    Sockets of one riser are equal (same slot, same lanes): they are filled in order.
    """
    taken = {use.slot for use in used}
    sockets = [s.name for s in board.slots if s.form == "m2" and s.name not in taken]
    for name, item in cards.items():
        if isinstance(item.part, Riser):
            sockets += [f"{name}.{n}" for n in range(1, item.part.n_sockets + 1)]
    modules = [(n, d.item) for d in devices if is_module(d.item.part) for n in d.names]
    for places in permutations(sockets, len(modules)):
        if not _in_order([item for _, item in modules], list(places)):
            continue
        if not _fills_risers_in_order(places):
            continue
        yield tuple(
            SlotUse(name=name, key=item.key, slot=place)
            for (name, item), place in zip(modules, places, strict=True)
        )


def _fills_risers_in_order(places: tuple[str, ...]) -> bool:
    numbers: dict[str, list[int]] = {}
    for place in places:
        riser, dot, number = place.rpartition(".")
        if dot:
            numbers.setdefault(riser, []).append(int(number))
    return all(found == list(range(1, len(found) + 1)) for found in numbers.values())


def lead_counts(domain: Domain) -> Iterator[Counts]:
    """Yield every choice of up to two of each power lead."""
    leads = domain.of(PowerLead)
    tops = [LEADS_EACH if i.limit is None else min(LEADS_EACH, i.limit) for i in leads]
    for counts in product(*(range(top + 1) for top in tops)):
        yield tuple((i, n) for i, n in zip(leads, counts, strict=True) if n)


def all_roles(domain: Domain) -> Iterator[Roles]:
    """Yield every mixture of array drives by role with every cache."""
    drives = domain.of(HardDrive)
    most = domain.scenario.limits.array_drives
    parities = {
        p for layout, p, _ in _modes(domain.scenario) if layout == "independent"
    }
    for n_parity in sorted(parities | {0}):
        for data in multisets(drives, 1, most - n_parity):
            for parity in multisets(drives, n_parity, n_parity):
                if _is_to_be_had(data, parity):
                    for cache in _caches(domain):
                        yield Roles(data, parity, cache)


def _is_to_be_had(*groups: Counts) -> bool:
    counts: Counter[str] = Counter()
    limits = {}
    for group in groups:
        for item, count in group:
            counts[item.key] += count
            limits[item.key] = item.limit
    return all(limits[k] is None or n <= limits[k] for k, n in counts.items())


def _caches(domain: Domain) -> Iterator[Counts]:
    sizes = {"none": 0, "single": 1, "mirror": 2}
    for kind in domain.scenario.choices.caches:
        yield from multisets(domain.of(SolidStateDrive), sizes[kind], sizes[kind])


def _modes(scenario: Scenario) -> Iterator[tuple[str, int, str]]:
    """Yield the layouts of the closed list with parity and write mode."""
    layouts, modes = scenario.choices.layouts, scenario.choices.write_modes
    if "independent" in layouts:
        yield "independent", 0, "plain"
        for n_parity, mode in product((1, 2), ("read-modify-write", "reconstruct")):
            if mode in modes:
                yield "independent", n_parity, mode
    if "striped" in layouts:
        yield "striped", 1, "plain"
        yield "striped", 2, "plain"
    for layout in ("pairs", "striped pairs"):
        if layout in layouts:
            yield layout, 0, "plain"


def operations(domain: Domain, roles: Roles) -> Iterator[OperatingPlan]:
    """Yield every operating plan that roles allow."""
    scenario = domain.scenario
    timeouts: list[float | None] = list(scenario.choices.timeouts_min)
    if scenario.choices.allow_never:
        timeouts.append(None)
    for layout, n_parity, mode in _modes(scenario):
        if roles.n_parity != (n_parity if layout == "independent" else 0):
            continue
        for timeout in timeouts:
            yield OperatingPlan(
                layout=layout,
                n_parity=n_parity,
                write_mode=mode,
                cache=roles.arrangement,
                timeout_min=timeout,
                flush_hour=scenario.usage.flush_hour,
                checks_per_year=scenario.usage.checks_per_year,
            )


def count_builds(catalog: Catalog, scenario: Scenario, most: int) -> int:
    """Return how many builds there are, or a number above ``most``."""
    domain = domain_of(catalog, scenario)
    sizes: dict[int, int] = {}
    total = 0
    for hardware in all_hardware(domain):
        key = id(hardware.roles)
        if key not in sizes:
            sizes[key] = sum(1 for _ in operations(domain, hardware.roles))
        total += sizes[key]
        if total > most:
            return total
    return total


@dataclass
class Outcome:
    """What an enumeration found."""

    n_builds: int = 0
    n_assessed: int = 0
    fit: list[Assessment] = field(default_factory=list)
    unfit: Counter = field(default_factory=Counter)
    """Builds by the rules that they break."""
    alone: dict[str, float] = field(default_factory=dict)
    """Least total cost of builds that break one rule alone, by rule."""

    def best(self, aim: str) -> tuple[float, Assessment] | None:
        """Return the best fit build of an aim with its value."""
        if not self.fit:
            return None
        value_of, sign = AIMS[aim], -1 if aim in RATES else 1
        found = min(self.fit, key=lambda a: sign * value_of(a))
        return value_of(found), found

    def binding(self) -> set[str]:
        """Return the rules that alone keep a cheaper build from being the answer."""
        best = self.best("total cost")
        value = best[0] if best else float("inf")
        return {rule for rule, cost in self.alone.items() if cost < value - 1e-6}


# What each rule looks at. Two builds that agree in it are judged alike by the rule, so
# that the second need not be assessed once the first is known to break it.
_OF_PLATFORM = frozenset(("F1", "F4", "F6", "P5", "M1", "M2", "M3", "D3"))
_OF_SLOTS = frozenset(("L1", "L3", "L4", "L5", "L6", "F5", "B3", "L9"))
_OF_ROLES = frozenset(("A0", "A1", "A3", "A4", "A7", "A8", "A11", "D1"))
_OF_HARDWARE = frozenset(
    (
        "C1",
        "C2",
        "C3",
        "C4",
        "C5",
        "C8",
        "C9",
        "C10",
        "C11",
        "F2",
        "F2a",
        "F3",
        "B4",
        "C13",
    )
)


@dataclass
class _Judge:
    """Assesses builds; skips those that repeat what a rule has refused already."""

    scenario: Scenario
    outcome: Outcome
    skips: bool
    refused: set = field(default_factory=set)
    numbers: dict[int, tuple[int, object]] = field(default_factory=dict)

    def judge(self, hardware: Hardware, operation: OperatingPlan, shelf: Shelf) -> None:
        """Assess one build, unless the like of it was refused already."""
        self.outcome.n_builds += 1
        keys = self._keys(hardware, operation)
        if self.skips and any(key in self.refused for _, key in keys):
            return
        self.outcome.n_assessed += 1
        found = assess(hardware.build(operation, shelf), self.scenario)
        broken = frozenset(finding.rule for finding in found.errors)
        if not broken:
            self.outcome.fit.append(found)
            return
        self.outcome.unfit[broken] += 1
        if len(broken) == 1:
            (rule,) = broken
            known = self.outcome.alone.get(rule, float("inf"))
            self.outcome.alone[rule] = min(known, found.total_cost)
        self.refused.update(key for rules, key in keys if rules & broken)

    def _keys(
        self, hardware: Hardware, plan: OperatingPlan
    ) -> tuple[tuple[frozenset, tuple], ...]:
        platform, roles = self._number(hardware.platform), self._number(hardware.roles)
        return (
            (_OF_PLATFORM, ("platform", platform)),
            (_OF_SLOTS, ("slots", platform, hardware.slots)),
            (_OF_ROLES, ("roles", roles, plan.layout, plan.n_parity, plan.cache)),
            (_OF_HARDWARE, ("hardware", self._number(hardware))),
        )

    def _number(self, thing: object) -> int:
        """Return a number for an object, which is kept so that none is used twice."""
        return self.numbers.setdefault(id(thing), (len(self.numbers), thing))[0]


def outcome_of(catalog: Catalog, scenario: Scenario, *, skips: bool = True) -> Outcome:
    """Return every fit build of a catalog under a scenario.

    ``skips = False`` assesses each single build.
    """
    domain = domain_of(catalog, scenario)
    shelf, judge = domain.shelf, _Judge(scenario, Outcome(), skips)
    for hardware in all_hardware(domain):
        for operation in operations(domain, hardware.roles):
            judge.judge(hardware, operation, shelf)
    return judge.outcome


def best(
    catalog: Catalog, scenario: Scenario, aim: str
) -> tuple[float, Assessment] | None:
    """Return the best build of an aim with its value, or nothing where none is fit."""
    return outcome_of(catalog, scenario).best(aim)


__all__ = [
    "AIMS",
    "RATES",
    "Outcome",
    "all_builds",
    "best",
    "count_builds",
    "outcome_of",
]
