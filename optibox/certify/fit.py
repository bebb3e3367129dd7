"""The flat program's rows of mechanics, slots, the array and the network."""

from itertools import pairwise

from optibox.build import Item
from optibox.catalog.attachment import (
    Card,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.notation import SharingRule, Slot
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.certify.columns import CARDS, Flat, Row, boot_of, placed, plus, sum_of
from optibox.certify.domain import ItemOf
from optibox.certify.menu import CACHE_DRIVES
from optibox.figures.stages import array_read_mb_s, network_mb_s, processor_mb_s
from optibox.rules.lanes import (
    module_mode,
)
from optibox.rules.mechanics import card_fits
from optibox.rules.platform import cooler_suits, module_suits
from optibox.scenario import Scenario


def platform(flat: Flat) -> None:
    """K1, B1: one of each."""
    boards = flat.of(Board)
    socketed = flat.loose(Board, lambda b: not b.has_soldered_processor)
    for always in (Chassis, Board, PowerSupply, NetworkLead):
        flat.row("one", flat.loose(always), "=", 1.0)
    for beside in (Processor, Cooler):
        flat.row("one", plus(flat.loose(beside), socketed, -1.0), "=", 0.0)
    flat.row("one_boot", boot_of(flat), "=", 1.0)
    usb = boot_of(flat, lambda p: p.interface == "usb")
    headers = {f"n:{b.key}": -float(b.part.usb_headers) for b in boards}
    flat.row("B1", plus(usb, headers), "<=", 0.0)
    flat.row("entry", flat.entries(lambda _: True), "=", 1.0)
    flat.row("one_display", flat.cards(DisplayCard), "<=", 1.0)
    flat.row("one_network_card", flat.cards(NetworkCard), "<=", 1.0)


def boards_fit(flat: Flat) -> None:
    """F1, F4, M3, P5: what goes with a board, a processor, a cooler."""
    for board in flat.of(Board):
        _board_fits(flat, board)
    for processor in flat.of(Processor):
        _needs(flat, "M3", processor, _coolers_for(flat, processor.part))
    for cooler in flat.of(Cooler):
        _needs(flat, "F4", cooler, _cases_above(flat, cooler.part))


def _needs(flat: Flat, rule: str, item: Item, any_of: Row) -> None:
    """Require one of some others where an item is there."""
    flat.row(rule, plus({f"n:{item.key}": 1.0}, any_of, -1.0), "<=", 0.0)


def _board_fits(flat: Flat, board: ItemOf[Board]) -> None:
    part = board.part
    _needs(flat, "F1", board, flat.loose(Chassis, lambda c: part.form in c.board_forms))

    def feeds(supply: PowerSupply) -> bool:
        few = supply.cpu_power_plugs < part.cpu_power_plugs
        return supply.power_plug == part.power_inlet and not (
            supply.power_plug == "atx24" and few
        )

    _needs(flat, "P5", board, flat.loose(PowerSupply, feeds))
    if part.has_soldered_processor:
        return

    def goes_in(processor: Processor) -> bool:
        top = part.processor_tdp_max_w
        return processor.socket == part.socket and not (
            top and processor.tdp_w.mid > top.mid
        )

    _needs(flat, "M3", board, flat.loose(Processor, goes_in))


def _coolers_for(flat: Flat, processor: Processor) -> Row:
    return flat.loose(Cooler, lambda cooler: cooler_suits(cooler, processor))


def _cases_above(flat: Flat, cooler: Cooler) -> Row:
    return flat.loose(Chassis, lambda c: cooler.height_mm <= c.cooler_clearance_mm)


def _wishes(flat: Flat) -> None:
    """L9, M2, D3, D4: what is shown, asked for and insisted on."""
    s = flat.scenario
    shown = flat.loose(
        Board,
        lambda b: b.has_management or (b.has_soldered_processor and b.has_graphics),
    )
    plus(shown, flat.loose(Processor, lambda c: c.has_graphics))
    flat.row("L9", plus(shown, flat.cards(DisplayCard)), ">=", 1.0)
    if s.needs.management:
        managed = flat.loose(Board, lambda b: b.has_management)
        plus(managed, flat.cards(DisplayCard, lambda c: c.is_management))
        flat.row("D4", managed, ">=", 1.0)
    if s.needs.ecc:
        flat.row("M2", flat.loose(Board, lambda b: not b.has_ecc), "=", 0.0)
        flat.row("M2", flat.loose(Processor, lambda c: not c.has_ecc), "=", 0.0)
    flat.row("D3", flat.loose(Chassis, lambda c: not _stands(c, s)), "=", 0.0)
    for wanted in s.insist:
        found = [
            i
            for i in flat.domain.items
            if wanted in (i.key, i.part.id, i.owned.id if i.owned else "")
        ]
        flat.row("D4", sum_of(flat.counts[i.key] for i in found), ">=", 1.0)


def _stands(chassis: Chassis, s: Scenario) -> bool:
    units = s.limits.rack_units
    if units is not None and not 1 <= chassis.rack_units <= units:
        return False
    if s.needs.hot_swap and not chassis.has_hot_plug:
        return False
    return s.limits.shape is None or chassis.shape == s.limits.shape


def _supplies_fit(flat: Flat) -> None:
    for form in {u.part.form for u in flat.of(PowerSupply)} - {"brick"}:
        _form_fits(flat, form)
    for plate in flat.of(MountingPlate):
        _needs(flat, "F6", plate, _cases_with(flat, plate.part.opening_form))


def _form_fits(flat: Flat, form: str) -> None:
    left = flat.loose(PowerSupply, lambda u: u.form == form)
    ok = _cases_with(flat, form)
    plus(ok, flat.loose(MountingPlate, lambda m: m.supply_form == form))
    flat.row("F6", plus(left, ok, -1.0), "<=", 0.0)


def _cases_with(flat: Flat, form: str) -> Row:
    return flat.loose(Chassis, lambda c: form in c.supply_forms)


def _memory(flat: Flat) -> None:
    s = flat.scenario
    every = flat.of(Memory)
    for item in every:
        first = {n: 1.0 for n in flat.columns if n == f"u:{item.key}:1"}
        if s.needs.ecc and not item.part.has_ecc:
            flat.row("M2", dict(first), "=", 0.0)
        flat.row("M1", plus(first, _boards_for(flat, item.part), -1.0), "<=", 0.0)
    number = sum_of(flat.counts[i.key] for i in every)
    gib = sum_of(plus({}, flat.counts[i.key], i.part.gib) for i in every)
    flat.row("K1", dict(number), ">=", 1.0)
    flat.row("D4", dict(gib), ">=", s.needs.memory_gib * (1 - 1e-9))
    sockets = {f"n:{b.key}": -float(b.part.memory_slots) for b in flat.of(Board)}
    flat.row("M1", plus(number, sockets), "<=", 0.0)
    most = {f"n:{b.key}": -b.part.memory_max_gib for b in flat.of(Board)}
    flat.row("M1", plus(dict(gib), most), "<=", 0.0)
    if flat.of(Processor):
        top = 1e5
        seats = {f"n:{c.key}": top - c.part.memory_max_gib for c in flat.of(Processor)}
        flat.row("M1", plus(gib, seats), "<=", top)


def _boards_for(flat: Flat, module: Memory) -> Row:
    return flat.loose(Board, lambda board: module_suits(module, board))


def slots(flat: Flat) -> None:  # noqa: C901 - one rule after the other
    """L1, L3, L4, L5, L6, F5: cards and modules in their slots."""
    for board in flat.of(Board):
        me = {f"n:{board.key}": 1.0}
        used = {s.name: _in_slot(flat, board, s) for s in board.part.slots}
        for users in used.values():
            flat.row("L4", plus(dict(users), me, -1.0), "<=", 0.0)
        for rule in board.part.sharing:
            if rule.other_slot in used and rule.other_lanes == 0:
                both = plus(dict(used[rule.other_slot]), in_mode(flat, board, rule))
                flat.row("L4", both, "<=", 1.0)
        _cpu_lanes(flat, board, used)
    for record in CARDS:
        for card in flat.of(record):
            ok = _cases_for(flat, card.part)
            for name in flat.counts[card.key]:
                flat.row("F5", plus({name: 1.0}, ok, -1.0), "<=", 0.0)
    for item in flat.of(SolidStateDrive):
        if module_mode(item.part):
            flat.row(
                "cache_placed",
                plus(placed(flat, item), flat.counts[item.key], -1.0),
                "=",
                0.0,
            )
    _on_risers(flat)


def _cases_for(flat: Flat, card: Card) -> Row:
    return flat.loose(
        Chassis, lambda c: card_fits(card, c.bracket, c.card_clearance_mm)
    )


def _in_slot(flat: Flat, board: Item, slot: Slot) -> Row:
    tail = f":{board.key}:{slot.name}"
    return {n: 1.0 for n in (*flat.names("c"), *flat.names("m")) if n.endswith(tail)}


def in_mode(flat: Flat, board: ItemOf[Board], rule: SharingRule) -> Row:
    """Return the uses of a slot in the mode that a sharing rule speaks of."""
    slot = next((s for s in board.part.slots if s.name == rule.slot), None)
    if slot is None:
        return {}
    by_key = {i.key: i.part for i in flat.domain.items}
    found = {}
    for name in _in_slot(flat, board, slot):
        part = by_key[name.split(":")[1]]
        mode = module_mode(part) or "pcie"
        if rule.mode in ("", mode):
            found[name] = 1.0
    return found


def _cpu_lanes(flat: Flat, board: ItemOf[Board], used: dict[str, Row]) -> None:
    """L6, with the fewest lanes that sharing can leave to a slot."""
    lanes: Row = {}
    for slot in board.part.slots:
        if slot.uplink == "cpu":
            other = [
                r.other_lanes for r in board.part.sharing if r.other_slot == slot.name
            ]
            plus(lanes, used[slot.name], float(min([slot.lanes, *other])))
    if board.part.has_soldered_processor:
        flat.row("L6", lanes, "<=", float(board.part.cpu_lanes))
        return
    for item in flat.of(Processor):
        big = flat.largest(lanes)
        left = plus(dict(lanes), {f"n:{item.key}": big, f"n:{board.key}": big})
        flat.row("L6", left, "<=", item.part.cpu_lanes + 2 * big)


def _on_risers(flat: Flat) -> None:
    on = {n: 1.0 for n in flat.columns if n.startswith("r:")}
    if not on:
        return
    room: Row = {}
    by_key = {i.key: i for i in flat.of(Riser)}
    for board in flat.of(Board):
        splits = board.part.has_soldered_processor or any(
            p.part.can_bifurcate for p in flat.of(Processor)
        )
        for slot in board.part.slots:
            for item in by_key.values():
                name = flat.card(item, board, slot)
                if name in flat.columns:
                    room[name] = float(_sockets(item.part, slot, splits=splits))
    flat.row("L5", plus(on, room, -1.0), "<=", 0.0)


def _sockets(riser: Riser, slot: Slot, *, splits: bool) -> int:
    if riser.has_switch:
        return riser.n_sockets
    split = min(slot.lanes, riser.lanes) // 4 if slot.can_bifurcate and splits else 1
    return min(riser.n_sockets, max(1, split))


def array(flat: Flat) -> None:
    """A0, A1, A3, A4, A11, N1 of single drives, W1, and the cache's size."""
    menu, chosen = flat.menu, flat.chosen
    for role in ("data", "parity"):
        total = sum_of(flat.drives(i, role) for i in menu.drives)
        for c in menu.choices:
            n = c.n_data if role == "data" else c.n_parity_drives
            plus(total, chosen(c), -float(n))
        flat.row(f"A0 {role}", total, "=", 0.0)
    cache = sum_of(flat.counts[i.key] for i in flat.of(SolidStateDrive))
    for c in menu.choices:
        plus(cache, chosen(c), -float(CACHE_DRIVES[c.cache]))
    flat.row("A0 cache", cache, "=", 0.0)
    for item in menu.drives:
        if item.limit is not None:
            both = plus(flat.drives(item, "data"), flat.drives(item, "parity"))
            flat.row("stock", both, "<=", float(item.limit))
    _capacity(flat)
    _sizes_and_sectors(flat)
    _drive_alone(flat)


def _capacity(flat: Flat) -> None:
    menu, need = flat.menu, flat.menu.need_bytes() * (1 - 1e-9)
    tera = 1e12
    held = sum_of(
        plus({}, flat.drives(i, "data"), i.capacity_bytes / tera) for i in menu.drives
    )
    wants: Row = {}
    for c in menu.choices:
        share = {"independent": 1.0, "striped": 0.0}.get(c.layout, 2.0)
        plus(wants, flat.chosen(c), share * need / tera)
    flat.row("A11", plus(held, wants, -1.0), ">=", 0.0)
    _pairs(flat, need / tera)
    for item in menu.drives:
        small = _too_small(flat, item.capacity_bytes, need)
        flat.row("A11", plus(small, flat.some(item, "data")), "<=", 1.0)


def _too_small(flat: Flat, size_bytes: float, need: float) -> Row:
    """Return the stripes that hold too little with members of a size."""
    return flat.entries(
        lambda c: c.layout == "striped" and size_bytes * (c.n_data - c.n_parity) < need
    )


def _pairs(flat: Flat, need: float) -> None:
    """A11 of pairs: each step of size counts once for each whole pair that reaches it."""
    pairs = flat.entries(lambda c: "pairs" in c.layout)
    if not pairs:
        return
    sizes = sorted({i.capacity_bytes / 1e12 for i in flat.menu.drives})
    held: Row = {}
    for below, size in pairwise([0.0, *sizes]):
        whole = flat.var(f"pairs of {size}", flat.most // 2)
        large = sum_of(
            flat.drives(i, "data")
            for i in flat.menu.drives
            if i.capacity_bytes / 1e12 >= size
        )
        flat.row("A2", plus(plus({}, whole, 2.0), large, -1.0), "<=", 0.0)
        plus(held, whole, size - below)
    flat.row("A11", plus(held, pairs, -need), ">=", 0.0)


def _sizes(flat: Flat) -> None:
    """A1 by thresholds: data above a size, or parity up to it, not both."""
    drives = flat.menu.drives
    n_data = max((c.n_data for c in flat.menu.choices), default=0)
    n_parity = max((c.n_parity_drives for c in flat.menu.choices), default=0)
    for size in sorted({i.capacity_bytes for i in drives}) if n_parity else ():
        small = flat.var(f"parity up to {size}")
        parity = sum_of(
            flat.drives(i, "parity") for i in drives if i.capacity_bytes <= size
        )
        data = sum_of(flat.drives(i, "data") for i in drives if i.capacity_bytes > size)
        flat.row("A1", plus(parity, small, -float(n_parity)), "<=", 0.0)
        flat.row("A1", plus(data, small, float(n_data)), "<=", float(n_data))


def _sizes_and_sectors(flat: Flat) -> None:
    _sizes(flat)
    drives = flat.menu.drives
    mixed = flat.entries(lambda c: c.survives == 0 and c.layout == "independent")
    for i in drives:
        if i.part.recording == "shingled":
            striped = flat.entries(lambda c: "striped" in c.layout)
            flat.row("A4", plus(striped, flat.some(i, "data")), "<=", 1.0)
        for j in drives:
            if j.capacity_bytes < i.capacity_bytes:
                pair = plus(flat.some(i, "data"), flat.some(j, "parity"))
                flat.row("A1", pair, "<=", 1.0)
            if i.part.sector_logical_b < j.part.sector_logical_b:
                for role, other in (
                    ("data", "data"),
                    ("data", "parity"),
                    ("parity", "data"),
                    ("parity", "parity"),
                ):
                    pair = plus(flat.some(i, role), flat.some(j, other))
                    flat.row("A3", plus(pair, mixed, -1.0), "<=", 1.0)


def _drive_alone(flat: Flat) -> None:
    """Entries that one drive makes impossible: too slow a rate, too many wakes."""
    menu, needs = flat.menu, flat.scenario.needs
    best = max((menu.rate(i.part) for i in menu.drives), default=0.0)
    long = {c: menu.terms(c, menu.long(c)) for c in menu.choices}
    for item in menu.drives:
        rate = menu.rate(item.part)
        for role in ("data", "parity"):
            bad: Row = {}
            for c in menu.choices:
                if role == "parity" and not c.n_parity_drives:
                    continue
                write = menu.array_write(
                    c, *((rate, best) if role == "data" else (best, rate))
                )
                read = array_read_mb_s(
                    c.layout,
                    c.n_parity,
                    [rate if role == "data" else best] * c.n_data,
                    flat.scenario.overrides,
                )
                slow = write < needs.write_mb_s * (
                    1 - 1e-6
                ) or read < needs.read_mb_s * (1 - 1e-6)
                slow |= c.cache == "none" and write < needs.ingest_mb_s * (1 - 1e-6)
                if slow or _is_worn(flat, item, long[c].wakes(role)):
                    plus(bad, flat.chosen(c))
            if bad and flat.some(item, role):
                flat.row("N1/W1", plus(bad, flat.some(item, role)), "<=", 1.0)


def _is_worn(flat: Flat, item: ItemOf[HardDrive], wakes: float) -> bool:
    s, part = flat.scenario, item.part
    rating = min(part.start_stop_rating.mid, part.load_unload_rating.mid)
    budget = s.overrides.wear_budget.mid * rating
    return wakes > 0 and item.starts + wakes * s.money.years > budget * (1 + 1e-9)


def network(flat: Flat) -> None:
    """N1: a port, a lead and a processor that are fast enough."""
    s = flat.scenario
    needs, factors = s.needs, s.overrides
    rate = max(needs.read_mb_s, needs.write_mb_s, needs.ingest_mb_s)

    def good(gbit_s: float | None, medium: str | None, least: float = 0.0) -> bool:
        if gbit_s is None:
            return False
        fast = bool(gbit_s) and network_mb_s(
            min(gbit_s, needs.other_end_gbit_s), factors
        ) >= rate * (1 - 1e-6)
        return fast and medium == needs.other_end_medium and gbit_s >= least

    least = needs.network_gbit_s or 0.0
    ports = flat.loose(Board, lambda b: good(b.network_gbit_s, b.network_medium, least))
    plus(
        ports,
        flat.cards(NetworkCard, lambda c: good(c.network_gbit_s, c.medium, least)),
    )
    flat.row("N1", ports, ">=", 1.0)
    flat.row(
        "N1",
        flat.loose(NetworkLead, lambda p: good(p.network_gbit_s, p.medium)),
        ">=",
        1.0,
    )

    def is_slow(part: Board | Processor) -> bool:
        reached = processor_mb_s(part, needs, has_network=True, has_parity=False)
        return reached < rate * (1 - 1e-6)

    slow = flat.loose(Board, lambda b: b.has_soldered_processor and is_slow(b))
    flat.row("N1", slow, "=", 0.0)
    flat.row("N1", flat.loose(Processor, is_slow), "=", 0.0)


FAMILIES = (
    platform,
    boards_fit,
    _supplies_fit,
    _memory,
    _wishes,
    slots,
    array,
    network,
)
