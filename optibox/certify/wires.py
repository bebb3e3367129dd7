"""The flat program's rows of ports, cables, bays, plugs and currents."""

import math
from collections.abc import Callable
from functools import partial
from operator import is_, le

from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.certify.columns import Flat, Row, anything, boot_of, plus, sum_of
from optibox.certify.domain import ItemOf
from optibox.certify.fit import in_mode
from optibox.figures.power import base_12v_a, drive_5v_a, low_volts_most_w, low_volts_w
from optibox.physics.wires import wire_most_a
from optibox.rules.platform import LARGEST_32_BIT_TB

KINDS = ("sata", "sff-8087", "sff-8643")
DIRECTIONS = {
    (False, False): "single",
    (True, False): "forward",
    (False, True): "reverse",
    (True, True): "straight",
}


def array_drives(flat: Flat, wanted: Callable[[HardDrive], bool] = anything) -> Row:
    """Return the sum of the array drives that a condition holds for."""
    return sum_of(
        flat.drives(i, role)
        for i in flat.menu.drives
        for role in ("data", "parity")
        if wanted(i.part)
    )


def bay_cache(flat: Flat, wanted: Callable[[SolidStateDrive], bool] = anything) -> Row:
    """Return the sum of the cache drives on cables."""
    return sum_of(
        flat.counts[i.key]
        for i in flat.of(SolidStateDrive)
        if i.part.form == "2.5" and wanted(i.part)
    )


def others_on_cables(flat: Flat) -> Row:
    """Cache drives and boot media on ports."""
    boots = boot_of(flat, lambda p: p.interface == "sata")
    return plus(bay_cache(flat), boots)


def hosts(flat: Flat) -> list[tuple[str, Controller]]:
    """Each controller in each slot of each board: its column and part."""
    by_key = {i.key: i.part for i in flat.of(Controller)}
    names = flat.names("c")
    return [(n, by_key[n.split(":")[1]]) for n in names if n.split(":")[1] in by_key]


def usable_ports(part: Controller, *, allow: bool) -> int:
    """Ports of a controller that drives may hang on."""
    if not part.is_multiplied or allow:
        return part.n_ports
    return (part.native_ports or 1) - 1


def ports(flat: Flat) -> None:
    """C1, C5, C11, C13, B4, B5: each drive on a port that takes it."""
    s, top = flat.scenario, flat.most + 3
    boards = flat.of(Board)
    onboard = flat.var("y:board", top)
    have = {f"n:{b.key}": -float(b.part.sata_ports) for b in boards}
    flat.row("C1", plus(dict(onboard), have), "<=", 0.0)
    for board in boards:
        _ports_lost(flat, board, onboard)
    on_cards = {}
    for name, part in hosts(flat):
        on_cards[name] = (flat.var(f"y:{name}", top), part)
        n = usable_ports(part, allow=s.choices.allow_multipliers)
        flat.row("C1", plus(dict(on_cards[name][0]), {name: -float(n)}), "<=", 0.0)
    cards = sum_of(y for y, _ in on_cards.values())
    drives, others = array_drives(flat), others_on_cables(flat)
    total = plus(plus(dict(onboard), cards), plus(dict(drives), others), -1.0)
    flat.row("C1", total, "=", 0.0)

    def on(wanted: Callable[[Controller], bool]) -> Row:
        return sum_of(y for y, part in on_cards.values() if wanted(part))

    sas = array_drives(flat, lambda p: p.interface == "sas")
    flat.row("C5", plus(sas, on(lambda c: c.speaks_sas), -1.0), "<=", 0.0)
    large = array_drives(flat, lambda p: p.tb > LARGEST_32_BIT_TB)
    small = plus(plus(dict(drives), others), large, -1.0)
    flat.row("B4", plus(on(lambda c: c.has_32_bit_addresses), small, -1.0), "<=", 0.0)
    never = plus({}, flat.entries(lambda c: c.timeout_min is None), float(top))
    awake = plus(on(lambda c: c.passes_standby == "no"), others, -1.0)
    flat.row("B5", plus(awake, never, -1.0), "<=", 0.0)
    if s.needs.hot_swap:
        cold = plus(on(lambda c: not c.has_hot_plug), others, -1.0)
        flat.row("C13", cold, "<=", 0.0)
    _cables(flat, onboard, on_cards)


def _ports_lost(flat: Flat, board: ItemOf[Board], onboard: Row) -> None:
    """L4: ports that used sockets take, rule by rule, together where some are left."""
    part, top = board.part, float(flat.most + 3)
    rules = [r for r in part.sharing if r.ports_lost]
    together = sum(r.ports_lost for r in rules) <= part.sata_ports
    for group in [rules] if together and rules else [[r] for r in rules]:
        left = plus(dict(onboard), {f"n:{board.key}": top})
        for rule in group:
            lost = min(rule.ports_lost, part.sata_ports)
            # one device in a slot: the sum of its uses is at most 1
            plus(left, in_mode(flat, board, rule), float(lost))
        flat.row("L4", left, "<=", top + part.sata_ports)


def _cables(
    flat: Flat, onboard: Row, on_cards: dict[str, tuple[Row, Controller]]
) -> None:
    """C2, C3, C4 by kind of host and of bay; F2 for bays behind the backplane."""
    top = flat.most + 3
    ways = {(h, b): flat.var(f"f:{h}:{b}", top) for h in KINDS for b in KINDS}
    for h in KINDS:
        here = sum_of(y for y, p in on_cards.values() if p.connectors.connector == h)
        if h == "sata":
            plus(here, onboard)
        out = sum_of(ways[h, b] for b in KINDS)
        flat.row("C2", plus(here, out, -1.0), "=", 0.0)
    for (h, b), way in ways.items():
        direction = DIRECTIONS[h != "sata", b != "sata"]
        room: Row = {}
        for item in flat.of(Cable):
            p = item.part
            if (p.direction, p.controller_end, p.drive_end) == (direction, h, b):
                plus(room, {f"w:{item.key}": float(p.n_drives)})
        flat.row("C3", plus(dict(way), room, -1.0), "<=", 0.0)
    for b in KINDS[1:]:
        behind = sum_of(ways[h, b] for h in KINDS)
        bays = {
            f"n:{c.key}": -float(c.part.bays_on_backplane)
            for c in flat.of(Chassis)
            if c.part.backplane == b
        }
        flat.row("C2", plus(behind, bays), "<=", 0.0)
    _connectors(flat, ways)
    plain = sum_of(ways[h, "sata"] for h in KINDS)
    bays = {f"n:{c.key}": -float(_plain_bays(c.part)) for c in flat.of(Chassis)}
    loose = boot_of(flat, lambda p: p.interface == "sata" and not p.needs_bay)
    flat.row("F2", plus(plus(plain, bays), loose, -1.0), "<=", 0.0)


def _plain_bays(chassis: Chassis) -> int:
    behind = chassis.bays_on_backplane if chassis.backplane not in (None, "sata") else 0
    return chassis.bays_35 + chassis.bays_25 - behind


def _connectors(flat: Flat, ways: dict[tuple[str, str], Row]) -> None:
    """C2: a multi-lane connector of a card meets one cable, of four drives."""
    for h in KINDS[1:]:
        out = sum_of(ways[h, kind] for kind in KINDS)
        lanes = {
            n: -float(p.connectors.count * CONNECTOR_LANES[h])
            for n, p in hosts(flat)
            if p.connectors.connector == h
        }
        flat.row("C2", plus(out, lanes), "<=", 0.0)


def bays(flat: Flat) -> None:  # noqa: C901 - widths, heights, holes
    """F2, F3: bays by width and height, adapters."""
    wide = array_drives(flat, lambda p: p.form == "3.5")
    narrow = _narrow(flat, lambda _: True)
    adapted = flat.var("adapted", flat.most + 3)
    frames = {f"a:{i.key}": 1.0 for i in flat.of(DriveAdapter)}
    chassis = flat.of(Chassis)
    large = {f"n:{c.key}": -float(c.part.bays_35) for c in chassis}
    small = {f"n:{c.key}": -float(c.part.bays_25) for c in chassis}
    flat.row("F2", plus(plus(dict(wide), adapted), large), "<=", 0.0)
    flat.row("F2", plus(plus(dict(narrow), adapted, -1.0), small), "<=", 0.0)
    flat.row("F2", plus(dict(adapted), narrow, -1.0), "<=", 0.0)
    # as many frames as drives in them: one more is never better
    flat.row("F2", plus(dict(adapted), frames, -1.0), "=", 0.0)
    heights = {i.part.height_mm for i in flat.menu.drives if i.part.form == "2.5"}
    heights |= {i.part.height_mm for i in flat.of(SolidStateDrive)}
    for least in heights:
        tall = _narrow(flat, partial(le, least))
        for c in chassis:
            if c.part.bay_25_height_mm >= least:
                plus(tall, {f"n:{c.key}": -float(c.part.bays_25)})
        for i in flat.of(DriveAdapter):
            if i.part.max_height_mm >= least:
                plus(tall, {f"a:{i.key}": -1.0})
        flat.row("F2", tall, "<=", 0.0)
    picky = flat.loose(Chassis, lambda c: c.tray_holes == "middle side only")
    for drive in flat.menu.drives:
        if drive.part.form == "3.5" and drive.part.side_holes == "no middle side":
            for role in ("data", "parity"):
                flat.row("F3", plus(flat.some(drive, role), picky), "<=", 1.0)


def _narrow(flat: Flat, wanted: Callable[[float], bool]) -> Row:
    """Return the 2.5 inch devices whose height a condition holds for."""
    found = array_drives(flat, lambda p: p.form == "2.5" and wanted(p.height_mm))
    plus(found, bay_cache(flat, lambda p: wanted(p.height_mm)))
    return plus(
        found,
        boot_of(flat, lambda p: p.needs_bay and p.interface == "sata" and wanted(7.0)),
    )


def plugs(flat: Flat) -> None:
    """C8, C9, C10: power plugs by type, splitters, drives with power-disable."""
    chassis, leads = flat.of(Chassis), flat.of(PowerLead)
    fed_by = [c for c in chassis if c.part.backplane_power]
    fed = flat.var("fed", flat.most + 3)
    room = {f"n:{c.key}": -float(c.part.bays_on_backplane) for c in fed_by}
    flat.row("fed", plus(dict(fed), room), "<=", 0.0)
    wide = array_drives(flat, lambda p: p.form == "3.5")
    held = plus(plus(dict(fed), wide, -1.0), {"adapted": -1.0})
    flat.row("fed", held, "<=", 0.0)
    on_cables = plus(array_drives(flat), others_on_cables(flat))
    for plug in ("sata", "peripheral"):
        balance = plus(dict(on_cables), fed, -1.0) if plug == "sata" else {}
        for c in chassis:
            inlets = sum(x.count for x in c.part.backplane_power if x.plug == plug)
            plus(balance, {f"n:{c.key}": float(inlets)})
        for u in flat.of(PowerSupply):
            own = sum(x.count for x in u.part.leads if x.plug == plug)
            plus(balance, {f"n:{u.key}": -float(own)})
        for lead in leads:
            net = (lead.part.takes_plug == plug) - (
                lead.part.gives_plug == plug
            ) * lead.part.fan_out
            plus(balance, flat.counts[lead.key], float(net))
        if plug == "sata":
            plus(
                balance,
                {f"n:{b.key}": -float(b.part.dc_sata_plugs) for b in flat.of(Board)},
            )
        flat.row("C8", balance, "<=", 0.0)
    _hanging(flat)
    _lead_currents(flat)
    _power_disable(flat, fed_by)


def _hanging(flat: Flat) -> None:
    """C8: what a lead hangs on is given by a supply, a board or another lead."""
    for lead in flat.of(PowerLead):
        plug = lead.part.takes_plug
        left = {n: 1.0 for n in flat.columns if n == f"u:{lead.key}:1"}
        for u in flat.of(PowerSupply):
            if any(x.plug == plug and x.count for x in u.part.leads):
                plus(left, {f"n:{u.key}": -1.0})
        if plug == "sata":
            plus(left, flat.loose(Board, lambda b: b.dc_sata_plugs > 0), -1.0)
        for other in flat.of(PowerLead):
            if other.key != lead.key and other.part.gives_plug == plug:
                plus(left, flat.counts[other.key], -1.0)
        flat.row("C8", left, "<=", 0.0)


def _lead_currents(flat: Flat) -> None:
    """C9: drives that start with some current or more, where none start in turn."""
    factors = flat.scenario.overrides
    each = {
        "sata": factors.sata_plug_a.mid,
        "peripheral": factors.peripheral_plug_a.mid,
    }
    amps = {i.key: _peak_a(i.part) for i in flat.menu.drives}
    big = float(flat.most)
    for least in sorted({a for a in amps.values() if a > 0}):
        heavy = array_drives(flat, lambda p, a=least: _peak_a(p) >= a)  # type: ignore[misc]
        plus(heavy, {"fed": -1.0})
        plus(heavy, flat.loose(Board, lambda b: b.has_staggered_spin_up), -big)
        plus(heavy, flat.cards(Controller, lambda c: c.has_staggered_spin_up), -big)

        def fit(limit_a: float, a: float = least) -> float:
            return float(math.floor(limit_a / a + 1e-6))

        for u in flat.of(PowerSupply):
            wire = _wire_a(u.part.lead_awg, flat)
            if u.part.socket_a is not None:
                wire = min(wire, u.part.socket_a.mid)
            own = sum(min(x.count, fit(wire)) for x in u.part.leads if x.plug == "sata")
            plus(heavy, {f"n:{u.key}": -own})
        for b in flat.of(Board):
            few = min(b.part.dc_sata_plugs, fit(factors.power_lead_a.mid))
            plus(heavy, {f"n:{b.key}": -float(few)})
        for lead in flat.of(PowerLead):
            p = lead.part
            limit = min(each[p.takes_plug], _wire_a(p.awg, flat))
            limit = limit if p.most_a is None else min(limit, p.most_a.mid)
            more = min(p.fan_out, fit(limit)) - (p.takes_plug == "sata")
            if p.gives_plug == "sata" and more > 0:
                plus(heavy, flat.counts[lead.key], -float(more))
        flat.row("C9", heavy, "<=", 0.0)
    _inlet_currents(flat, each)


def _peak_a(part: HardDrive) -> float:
    return max(part.spin_up_12v_a.mid, part.run_12v_a.mid)


def _wire_a(awg: int, flat: Flat) -> float:
    return wire_most_a(awg, flat.scenario.overrides.power_lead_a.mid)


def _inlet_currents(flat: Flat, each: dict[str, float]) -> None:
    """C9: wide drives behind a backplane start through its inlets, fans included."""
    amps = sum_of(
        plus({}, flat.drives(i, r), _peak_a(i.part))
        for i in flat.menu.drives
        if i.part.form == "3.5"
        for r in ("data", "parity")
    )
    most = max((_peak_a(i.part) for i in flat.menu.drives), default=0.0)
    big = flat.largest(amps)
    for c in flat.of(Chassis):
        plugs = [x.plug for x in c.part.backplane_power for _ in range(x.count)]
        if plugs:
            elsewhere = most * (c.part.bays_35 - c.part.bays_on_backplane)
            room = len(plugs) * min(each[plug] for plug in plugs)
            left = plus(dict(amps), {f"n:{c.key}": big})
            plus(left, flat.loose(Board, lambda b: b.has_staggered_spin_up), -big)
            plus(left, flat.cards(Controller, lambda k: k.has_staggered_spin_up), -big)
            fans = c.part.fan_12v_a.mid
            flat.row("C9", left, "<=", big + elsewhere + room - fans + 1e-6)


def _power_disable(flat: Flat, fed_by: list[ItemOf[Chassis]]) -> None:
    yes = array_drives(flat, lambda p: p.has_power_disable == "yes")
    if not yes:
        return
    top = float(flat.most)
    on_back = flat.var("power-disable on backplane", top)
    by_inlet = flat.var("power-disable behind sata inlets")
    room = {f"n:{c.key}": -float(c.part.bays_on_backplane) for c in fed_by}
    flat.row("C10", plus(dict(on_back), room), "<=", 0.0)
    safe = {n: v for n, v in room.items() if not _inlets(flat, n)}
    flat.row("C10", plus(plus(dict(on_back), safe), by_inlet, -top), "<=", 0.0)
    flat.row("C10", plus(dict(on_back), yes, -1.0), "<=", 0.0)
    plus(yes, on_back, -1.0)
    _clean_source(flat, yes)
    for u in flat.of(PowerSupply):
        if not u.part.carries_3v3:
            own = sum(x.count for x in u.part.leads if x.plug == "sata")
            plus(yes, {f"n:{u.key}": -float(own)})
    plus(yes, {f"n:{b.key}": -float(b.part.dc_sata_plugs) for b in flat.of(Board)})
    for lead in flat.of(PowerLead):
        # behind a plug without 3.3 V any splitter multiplies such plugs
        gain = lead.part.fan_out - (not _cleans(lead.part))
        if lead.part.gives_plug == "sata" and gain:
            plus(yes, flat.counts[lead.key], -float(gain))
    flat.row("C10", dict(yes), "<=", 0.0)
    for c in fed_by:
        n = float(_inlets(flat, f"n:{c.key}"))
        if n:
            both = plus(plus(dict(yes), by_inlet, n), {f"n:{c.key}": n})
            flat.row("C10", both, "<=", n)


def _cleans(lead: PowerLead) -> bool:
    """Return whether SATA plugs of an adapter lack 3.3 V wherever it hangs."""
    return lead.takes_plug == "peripheral" or not lead.carries_3v3


def _clean_source(flat: Flat, wanting: Row) -> None:
    """C10: plugs without 3.3 V come from a supply, a board or an adapter."""
    left = dict(wanting)
    top = float(flat.most)
    for u in flat.of(PowerSupply):
        if not u.part.carries_3v3 and any(x.plug == "sata" for x in u.part.leads):
            plus(left, {f"n:{u.key}": -top})
    plus(left, flat.loose(Board, lambda b: b.dc_sata_plugs > 0), -top)
    for lead in flat.of(PowerLead):
        if lead.part.gives_plug == "sata" and _cleans(lead.part):
            plus(left, flat.counts[lead.key], -top)
    flat.row("C10", left, "<=", 0.0)


def _inlets(flat: Flat, name: str) -> int:
    """SATA power inlets of the backplane of a chassis, by its variable."""
    (part,) = [c.part for c in flat.of(Chassis) if f"n:{c.key}" == name]
    return sum(x.count for x in part.backplane_power if x.plug == "sata")


def rails(flat: Flat) -> None:
    """P1, P3, P8: currents of the supply's rails, watts of 3.3 and 5 V."""
    base: Row = {}
    for item in flat.domain.items:
        plus(base, flat.counts[item.key], base_12v_a(item.part))
    drives = [(i, r) for i in flat.menu.drives for r in ("data", "parity")]
    for item, role in drives:
        plus(base, flat.drives(item, role), item.part.run_12v_a.mid)
    share = flat.scenario.overrides.rail_share.mid
    planned = {
        f"n:{u.key}": -share * u.part.rail_12v_a.mid for u in flat.of(PowerSupply)
    }
    for item, role in drives:
        extra = max(0.0, item.part.spin_up_12v_a.mid - item.part.run_12v_a.mid)
        row = plus(plus(dict(base), flat.some(item, role), extra), planned)
        flat.row("P1", row, "<=", 1e-6)
    five: Row = {}
    for other in flat.domain.items:
        if isinstance(other.part, SolidStateDrive | BootMedium):
            count = (
                boot_of(flat, partial(is_, other.part))
                if isinstance(other.part, BootMedium)
                else flat.counts[other.key]
            )
            plus(five, count, drive_5v_a(other.part))
    for item, role in drives:
        plus(five, flat.drives(item, role), drive_5v_a(item.part))
    rail = {f"n:{u.key}": -u.part.rail_5v_a.mid for u in flat.of(PowerSupply)}
    flat.row("P3", plus(five, rail), "<=", 1e-6)
    _low_volts(flat, drives)
    _all_at_once(flat, base, drives)


def _low_volts(flat: Flat, drives: list[tuple[ItemOf[HardDrive], str]]) -> None:
    """P8: 3.3 and 5 V together, where the supply makes both."""
    watts: Row = {}
    for other in flat.domain.items:
        if isinstance(other.part, SolidStateDrive):
            plus(watts, flat.counts[other.key], low_volts_w(other.part))
        elif isinstance(other.part, BootMedium):
            there = boot_of(flat, partial(is_, other.part))
            plus(watts, there, low_volts_w(other.part))
    for item, role in drives:
        plus(watts, flat.drives(item, role), low_volts_w(item.part))
    top = flat.largest(watts)
    most = {
        f"n:{u.key}": -min(top, low_volts_most_w(u.part)) for u in flat.of(PowerSupply)
    }
    flat.row("P8", plus(watts, most), "<=", 1e-6)


def _all_at_once(
    flat: Flat, base: Row, drives: list[tuple[ItemOf[HardDrive], str]]
) -> None:
    """P1 where nothing on the machine can start drives in turn."""
    row = dict(base)
    for item, role in drives:
        extra = max(0.0, item.part.spin_up_12v_a.mid - item.part.run_12v_a.mid)
        plus(row, flat.drives(item, role), extra)
    big = flat.largest(row)
    plus(row, {f"n:{u.key}": -u.part.rail_12v_a.mid for u in flat.of(PowerSupply)})
    plus(row, flat.loose(Board, lambda b: b.has_staggered_spin_up), -big)
    plus(row, flat.cards(Controller, lambda c: c.has_staggered_spin_up), -big)
    flat.row("P1", row, "<=", 1e-6)


FAMILIES = (ports, bays, plugs, rails)
