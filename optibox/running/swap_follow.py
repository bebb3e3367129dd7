"""What follows from the chosen parts: cables, adapters, plates, power leads, cooler.

Each is the cheapest that fits, pieces in hand first, then what lies in the boxes of
new parts.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush
from itertools import count as numbers
from itertools import product

from optibox.build import Item, ItemCount, PowerFeed
from optibox.catalog.attachment import Cable, NetworkCard, NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import DriveAdapter, HardDrive, SolidStateDrive
from optibox.machine.bays import is_on_backplane
from optibox.rules.leads import is_never_safe
from optibox.rules.platform import cooler_suits
from optibox.running.swap_kit import Kit
from optibox.running.swap_stock import Stock
from optibox.running.swap_wires import Wire
from optibox.scenario import Factors, Scenario
from optibox.wiring.loads import Ends, piece_of
from optibox.wiring.seat import GaveUpError, kin_of, seated

MOST_POWER_LEADS = 8
"""Power adapters and splitters of one machine; more are no tidy machine."""


@dataclass(kw_only=True)
class Purse:
    """Takes pieces for a machine, cheapest first, and remembers what was taken."""

    stock: Stock
    used: Counter[str] = field(default_factory=Counter)
    boxed: Counter[str] = field(default_factory=Counter)
    sellers: set[str] = field(default_factory=set)

    @classmethod
    def for_kit(cls, kit: Kit, stock: Stock) -> "Purse":
        """Return a purse that knows what the chosen parts bring."""
        purse = cls(stock=stock, used=Counter(kit.counts()))
        for key, n in kit.counts().items():
            item = stock.by_key[key]
            if not item.is_owned:
                purse.sellers.add(item.part.seller)
                for boxed, pieces in box_from_text(item.part.comes_with).items():
                    purse.boxed[boxed] += pieces * n
        return purse

    def extra(self, item: Item, pieces: int = 1) -> float:
        """Return what so many more pieces cost, postage included. [currency]."""
        if item.is_owned:
            return 0.0
        have, box = self.used[item.key], self.boxed[item.key]
        before = item.cost(max(0, have - box))
        after = item.cost(max(0, have + pieces - box))
        seller = item.part.seller
        is_new = after > 0 and seller not in self.sellers
        return after - before + (self.stock.post_of.get(seller, 0.0) if is_new else 0.0)

    def can(self, item: Item, pieces: int = 1) -> bool:
        """Return whether so many more pieces are to be had."""
        return item.limit is None or self.used[item.key] + pieces <= item.limit

    def take(self, item: Item, pieces: int = 1) -> None:
        """Note pieces as taken."""
        if self.extra(item, pieces) > 0:
            self.sellers.add(item.part.seller)
        self.used[item.key] += pieces

    def cheapest(
        self, record: type[Part], suits: Callable[..., bool], preferred: str = ""
    ) -> Item | None:
        """Return the cheapest piece of a kind that suits, the preferred one in ties."""
        fits = [i for i in self.stock.of(record) if self.can(i) and suits(i.part)]
        return min(
            fits,
            key=lambda i: (self.extra(i), i.key != preferred, not i.is_owned, i.key),
            default=None,
        )


def with_cooler(kit: Kit, stock: Stock, chassis: Chassis) -> Kit | None:
    """Return the kit with a cooler where its processor has none that suits."""
    processor = kit.one(Processor)
    if processor is None:
        return kit
    held = kit.one(Cooler)

    def suits(part: Cooler) -> bool:
        return (
            cooler_suits(part, processor)
            and part.height_mm <= chassis.cooler_clearance_mm
        )

    if held is not None and suits(held):
        return kit
    others = [e for e in kit.loose if not isinstance(e.item.part, Cooler)]
    bare = kit.with_loose(others)
    found = Purse.for_kit(bare, stock).cheapest(Cooler, suits)
    return _with(bare, found)


def with_network_lead(kit: Kit, stock: Stock, scenario: Scenario) -> Kit | None:
    """Return the kit with a lead for the network port that is used, and no other."""
    port = _port(kit, scenario)
    if port is None:
        return kit
    gbit_s, medium = port
    held = [e for e in kit.loose if isinstance(e.item.part, NetworkLead)]
    others = [e for e in kit.loose if not isinstance(e.item.part, NetworkLead)]
    fits = [e for e in held if getattr(e.item.part, "medium", "") == medium]
    if fits:
        return kit.with_loose([*others, *fits])
    bare = kit.with_loose(others)
    wanted = min(gbit_s, scenario.needs.other_end_gbit_s)
    found = Purse.for_kit(bare, stock).cheapest(
        NetworkLead, lambda p: p.medium == medium and p.network_gbit_s >= wanted
    )
    return _with(bare, found)


def _with(kit: Kit, item: Item | None) -> Kit | None:
    """Return a kit with one more loose part; nothing where there is none."""
    if item is None:
        return None
    return kit.with_loose([*kit.loose, ItemCount(item=item, count=1)])


def _port(kit: Kit, scenario: Scenario) -> tuple[float, str] | None:
    board = kit.one(Board)
    ports: list[tuple[float, str]] = []
    if board is not None and board.network_gbit_s:
        ports.append((board.network_gbit_s, board.network_medium))
    for placed in kit.cards:
        part = placed.item.part
        if isinstance(part, NetworkCard):
            ports.append((part.network_gbit_s, part.medium))
    other = scenario.needs.other_end_medium
    return max(ports, key=lambda p: (p[1] == other, p[0]), default=None)


def cables_for(
    purse: Purse, ends: tuple[str, str, str], preferred: Sequence[str]
) -> list[Item] | None:
    """Take so many cables with the given direction and ends; nothing if there are not.

    Parameters
    ----------
    purse : Purse
        Takes what costs nothing first, then the row whose packs are cheapest for all
        that is left.
    ends : tuple of str
        Direction, connector at the controller, connector at the drives.
    preferred : sequence of str
        The key of the cable that each piece was, blank where it is a new one.
    """

    def suits(part: Cable) -> bool:
        return (part.direction, part.controller_end, part.drive_end) == ends

    taken: list[Item] = []
    while len(taken) < len(preferred):
        found = purse.cheapest(Cable, suits, preferred[len(taken)])
        if found is None:
            return None
        if purse.extra(found) > 0:
            return _rest_of_cables(purse, suits, taken, len(preferred))
        purse.take(found)
        taken.append(found)
    return taken


def _rest_of_cables(
    purse: Purse, suits: Callable[[Cable], bool], taken: list[Item], wanted: int
) -> list[Item] | None:
    """Take what is left as pieces of one row or of two, whatever is cheapest."""
    left = wanted - len(taken)
    rows = [i for i in purse.stock.of(Cable) if suits(i.part)]  # type: ignore[arg-type]
    best: tuple[float, tuple[str, str], list[Item]] | None = None
    for one, other in product(rows, rows):
        for n in range(1, left + 1) if one is not other else (left,):
            if purse.can(one, n) and purse.can(other, left - n):
                price = purse.extra(one, n)
                price += purse.extra(other, left - n) if left > n else 0.0
                pieces = [one] * n + [other] * (left - n)
                ranked = (round(price, 6), (one.key, other.key), pieces)
                if best is None or ranked[:2] < best[:2]:
                    best = ranked
    if best is None:
        return None
    for item in best[2]:
        purse.take(item)
    return [*taken, *best[2]]


def adapter_for(
    purse: Purse, wire: Wire, chassis: Chassis, preferred: str
) -> Item | None:
    """Take a frame for a small drive in a large bay; nothing if there is none."""
    part = wire.drive.item.part
    height = part.height_mm if isinstance(part, HardDrive | SolidStateDrive) else 7.0
    strict = is_on_backplane(chassis, wire.bay) and chassis.tray_holes != "none"
    found = purse.cheapest(
        DriveAdapter,
        lambda p: p.max_height_mm >= height and (p.fits_tray or not strict),
        preferred,
    )
    if found is not None:
        purse.take(found)
    return found


def plate_for(purse: Purse, chassis: Chassis, supply: PowerSupply) -> bool:
    """Take a mounting plate where the supply needs one; false if there is none."""
    if supply.form == "brick" or supply.form in chassis.supply_forms:
        return True
    found = purse.cheapest(
        MountingPlate,
        lambda p: (
            p.supply_form == supply.form and p.opening_form in chassis.supply_forms
        ),
    )
    if found is None:
        return False
    purse.take(found)
    return True


def leads_for(
    purse: Purse, ends: Ends, before: Counter[str]
) -> tuple[PowerFeed, ...] | None:
    """Take the power leads to fit: those in hand, none, or the cheapest that do.

    Parameters
    ----------
    purse : Purse
        Takes the leads.
    ends : Ends
        What gives power and what wants it, adapters not counted.
    before : Counter
        Power leads of the present machine by key.

    Returns
    -------
    tuple of PowerFeed or None
        What hangs on which plug; nothing where no leads will do.
    """
    by_key = purse.stock.by_key
    same = Counter(
        {k: n for k, n in before.items() if k in by_key and by_key[k].is_owned}
    )
    for counts in (same, Counter[str]()):
        if _hung(purse, ends, counts) is not None:
            break
    else:
        key = (_signature(ends), frozenset(purse.sellers))
        memory = purse.stock.memory
        if key not in memory:
            memory[key] = _cheapest_leads(purse, ends)
        found = memory[key]
        if found is None:
            return None
        counts = found
    feeds = _hung(purse, ends, counts)
    if feeds is None:
        return None
    for key_, n in counts.items():
        purse.take(by_key[key_], n)
    return feeds


def _signature(ends: Ends) -> tuple[object, ...]:
    """Return what tells the ends of power trees apart, names aside."""
    leads = sorted((lead.make for lead in ends.leads), key=repr)
    loads = sorted((kin_of(load) for load in ends.loads), key=repr)
    draws = sorted(repr(load.draws) for load in ends.loads if len(load.draws) > 1)
    groups = sorted(ends.groups.items())
    return tuple(leads), tuple(loads), tuple(draws), tuple(groups)


def _hung(
    purse: Purse, ends: Ends, counts: Counter[str]
) -> tuple[PowerFeed, ...] | None:
    """Return a way to hang everything with some leads, none of them overloaded."""
    parts = _as_parts(purse, counts)
    if not _adds_up(ends, [(part, n) for _, part, n in parts]):
        return None
    pieces = [
        piece_of(part, key, f"{key}-{number}", ends.factors)
        for key, part, n in parts
        for number in range(n)
    ]
    try:
        return seated(replace(ends, pieces=tuple(pieces)))
    except GaveUpError:
        return None


def _adds_up(ends: Ends, leads: Iterable[tuple[PowerLead, int]]) -> bool:
    """Return whether there are plugs enough of each type, currents not looked at."""
    wanted = Counter[str](load.plug for load in ends.loads)
    given = Counter[str]()
    for giver in ends.leads:
        given[giver.gives] += giver.n_plugs
    for lead, n in leads:
        wanted[lead.takes_plug] += n
        given[lead.gives_plug] += n * lead.fan_out
    return all(given[plug] >= n for plug, n in wanted.items())


def _cheapest_leads(purse: Purse, ends: Ends) -> Counter[str] | None:
    """Return the cheapest power leads with which everything can be hung."""
    if not any(giver.n_plugs for giver in ends.leads):
        return None
    offers = _lead_offers(purse, ends.factors)
    heap: list[tuple[float, int, tuple[int, ...], int]]
    heap = [(0.0, 0, (0,) * len(offers), 0)]
    order = numbers(1)
    while heap:
        _, _, pieces, first = heappop(heap)
        counts = Counter({offers[i].key: n for i, n in enumerate(pieces) if n})
        if _hung(purse, ends, counts) is not None:
            return counts
        if sum(pieces) == MOST_POWER_LEADS:
            continue
        for at in range(first, len(offers)):
            item, n = offers[at], pieces[at] + 1
            if purse.can(item, n):
                more = (*pieces[:at], n, *pieces[at + 1 :])
                heappush(heap, (_price(purse, offers, more), next(order), more, at))
    return None


def _lead_offers(purse: Purse, factors: Factors) -> list[Item]:
    """Return the power leads that are safe here: all in hand, the cheapest of a make."""
    owned, by_make = list[Item](), dict[tuple[object, ...], Item]()
    for item in purse.stock.of(PowerLead):
        part = item.part
        if not isinstance(part, PowerLead) or is_never_safe(part):
            continue
        if item.is_owned:
            owned.append(item)
            continue
        giver = piece_of(part, "", "", factors)
        make = giver.make
        known = by_make.setdefault(make, item)
        if purse.extra(item) < purse.extra(known):
            by_make[make] = item
    return owned + list(by_make.values())


def _as_parts(purse: Purse, counts: Counter[str]) -> list[tuple[str, PowerLead, int]]:
    parts = ((key, purse.stock.by_key[key].part, n) for key, n in counts.items())
    return [(key, part, n) for key, part, n in parts if isinstance(part, PowerLead)]


def _price(purse: Purse, offers: list[Item], pieces: tuple[int, ...]) -> float:
    """Return what some power leads cost, postage of new sellers included."""
    # a piece in hand is never taken for its own sake
    total, sellers = 1e-6 * sum(pieces), set[str]()
    for item, n in zip(offers, pieces, strict=True):
        if n and not item.is_owned:
            have = max(0, purse.used[item.key] - purse.boxed[item.key])
            total += item.cost(have + n) - item.cost(have)
            sellers.add(item.part.seller)
    new = sellers - purse.sellers
    return total + sum(purse.stock.post_of.get(seller, 0.0) for seller in new)
