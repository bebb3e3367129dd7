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
from itertools import permutations, product

from optibox.assess import Assessment, assess
from optibox.build import Build, Item, OperatingPlan, SlotUse
from optibox.catalog.attachment import (
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
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
from optibox.certify.choosing import Counts, multisets
from optibox.certify.domain import Domain, Shelf, domain_of, modes_of
from optibox.certify.hardware import (
    Hardware,
    Platform,
    Roles,
    in_order,
    is_module,
    is_usb,
    module_places,
    slot_uses,
)
from optibox.certify.wirings import bay_groups, port_groups, wirings
from optibox.scenario import Scenario

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
                    wired = [d for d in wired if not is_usb(d.item.part)]
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
            if not in_order(flat, [slot.name for slot in slots]):
                continue
            if all(
                (item.part.bus == "m2") == (slot.form == "m2")
                for item, slot in zip(flat, slots, strict=True)
            ):
                yield cards, slot_uses(flat, [slot.name for slot in slots])


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
        p for layout, p, _ in modes_of(domain.scenario) if layout == "independent"
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


def operations(domain: Domain, roles: Roles) -> Iterator[OperatingPlan]:
    """Yield every operating plan that roles allow."""
    scenario = domain.scenario
    timeouts: list[float | None] = list(scenario.choices.timeouts_min)
    if scenario.choices.allow_never:
        timeouts.append(None)
    for layout, n_parity, mode in modes_of(scenario):
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
        "C11",
        "F2",
        "F2a",
        "F3",
        "B4",
        "C13",
    )
)

_OF_POWER = frozenset(("C8", "C8a", "C9", "C10", "P7"))


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
            # how many drives may start at once decides what hangs on which plug
            (
                _OF_POWER,
                (
                    "power",
                    self._number(hardware),
                    plan.n_parity,
                    plan.wakes_together and plan.timeout_min is not None,
                ),
            ),
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
