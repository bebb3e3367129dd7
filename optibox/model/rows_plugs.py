"""Rows: power plugs and the currents through them.

The rows say what every power tree keeps, counted: plugs by type, plugs without 3.3 V,
how many drives of some current leads, plugs and splitters can carry. Whether a
solution's adapters can be hung so that all edges carry their load is looked at when it
is decoded; what cannot be is cut off (``power_cuts``).
"""

import math
from collections.abc import Callable, Iterator

from optibox.catalog.attachment import Controller
from optibox.catalog.platform import Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium, Drive, HardDrive, SolidStateDrive
from optibox.model.draft import Draft
from optibox.model.rows_wiring import MULTI
from optibox.model.solver import Expression, total
from optibox.wiring.loads import Giver, board_lead, piece_of, plug_most_a, supply_leads
from optibox.wiring.seat import SLACK

PLUGS = ("sata", "peripheral")

Leads = list[tuple[Expression, PowerLead]]


def plugs_enough(draft: Draft) -> None:
    """Give every backplane inlet and bare drive a power plug that carries it."""
    program = draft.program
    most = float(draft.entry.storage.n_array + len(draft.entry.cache) + 1)
    fed = program.variable("fed by backplane", most)
    draft.on_backplane = fed
    _backplane_room(draft, fed)
    bare = total((count, 1.0) for count in draft.on_port.values()).plus(fed, -1.0)
    leads = [
        (draft.loose[item.key], item.part_as(PowerLead)) for item in draft.of(PowerLead)
    ]
    for plug in PLUGS:
        wanted = bare.copy() if plug == "sata" else Expression()
        wanted.plus(_inlets(draft, plug))
        have = _plugs_of_supply(draft, plug)
        for count, lead in leads:
            if lead.takes_plug == plug:
                wanted.plus(count)
            if lead.gives_plug == plug:
                have.plus(count, float(lead.fan_out))
        program.require("plugs_enough", wanted.plus(have, -1.0), "<=", 0.0)
    _plugs_grounded(draft, leads)
    _edges_carry(draft, leads)
    _inlets_carry(draft)
    _power_disable(draft, leads)


def _supplies(draft: Draft) -> Iterator[tuple[Expression, PowerSupply]]:
    for item in draft.of(PowerSupply):
        yield draft.loose[item.key], item.part_as(PowerSupply)


def _chassis(draft: Draft) -> Iterator[tuple[Expression, Chassis]]:
    for item in draft.of(Chassis):
        yield draft.loose[item.key], item.part_as(Chassis)


def _plugs_of_supply(draft: Draft, plug: str) -> Expression:
    """Return the plugs of a type that supply and board offer."""
    have = Expression()
    for one, supply in _supplies(draft):
        have.plus(one, float(sum(x.count for x in supply.leads if x.plug == plug)))
    return have.plus(float(draft.board_part.dc_sata_plugs) if plug == "sata" else 0.0)


def _plugs_grounded(draft: Draft, leads: Leads) -> None:
    """Keep splitters and adapters from hanging on each other alone.

    Of two types of plug, what takes one needs that type from the supply, or an adapter
    from the other type; and all of them need any plug of the supply.
    """
    most = sum(
        draft.program.columns[name][1] or 1.0 for one, _ in leads for name in one.terms
    )
    every = total((count, 1.0) for count, _ in leads)
    any_plug = Expression()
    for plug in PLUGS:
        source = _plugs_of_supply(draft, plug)
        any_plug.plus(source)
        taking = total((count, 1.0) for count, x in leads if x.takes_plug == plug)
        others = total(
            (count, 1.0)
            for count, x in leads
            if x.gives_plug == plug and x.takes_plug != plug
        )
        row = taking.plus(source, -most).plus(others, -most)
        draft.program.require("plugs_grounded", row, "<=", 0.0)
    draft.program.require("plugs_grounded", every.plus(any_plug, -most), "<=", 0.0)


def _inlets(draft: Draft, plug: str) -> Expression:
    return total(
        (one, float(sum(x.count for x in part.backplane_power if x.plug == plug)))
        for one, part in _chassis(draft)
    )


def _backplane_room(draft: Draft, fed: Expression) -> None:
    """Bound the drives that a backplane feeds by its bays and what sits in them."""
    require = draft.program.require
    room = total(
        (one, float(c.bays_on_backplane))
        for one, c in _chassis(draft)
        if c.backplane_power
    )
    require("fed_bays", fed.copy().plus(room, -1.0), "<=", 0.0)
    large = total(
        (count, 1.0)
        for (_, shape, _), count in draft.on_port.items()
        if shape.form == "3.5"
    ).plus(draft.adapted)
    require("fed_bays", fed.copy().plus(large, -1.0), "<=", 0.0)
    most = float(draft.entry.storage.n_array + len(draft.entry.cache) + 1)
    for one, c in _chassis(draft):
        if c.backplane_power:
            # what has no bay off the backplane sits on it
            row = large.copy().plus(fed, -1.0).plus(one, most)
            require("fed_bays", row, "<=", most + c.bays_35 - c.bays_on_backplane)
    behind = total((count, 1.0) for count in draft.to_multi.values())
    multi = total((one, most) for one, c in _chassis(draft) if c.backplane in MULTI)
    row = fed.copy().plus(behind, -1.0).plus(multi)
    require("fed_bays", row, "<=", most)


def may_stagger(draft: Draft) -> Expression | None:
    """Return what is at least 1 where a host can start drives in turn.

    Nothing where the board can, so that it always may; zero where one access can wake
    all drives, whatever their hosts do at power-on.
    """
    storage, scenario = draft.entry.storage, draft.entry.scenario
    wakes = storage.wakes_together and storage.timeout_min is not None
    if wakes and not scenario.choices.sequential_wake_verified:
        return Expression()
    if draft.board_part.has_staggered_spin_up:
        return None
    keys = {
        item.key
        for item in draft.of(Controller)
        if item.part_as(Controller).has_staggered_spin_up
    }
    return total((one, 1.0) for (key, _), one in draft.placed.items() if key in keys)


def _edges_carry(draft: Draft, leads: Leads) -> None:
    """Keep drives of some current to what leads, plugs and splitters carry of them.

    For every current that some drive draws: drives that draw no less are no more than
    leads and plugs can carry of that current.
    """
    stagger = may_stagger(draft)
    if stagger is not None:
        peaks = _counted(draft, _peak_12v_a)
        _carry(draft, leads, peaks, stagger)
    five = _counted(draft, lambda part: part.run_5v_a.mid)
    _carry(draft, leads, five, Expression())


def _peak_12v_a(part: Drive | BootMedium) -> float:
    if not isinstance(part, HardDrive):
        return 0.0
    return max(part.spin_up_12v_a.mid, part.run_12v_a.mid)


def _counted(
    draft: Draft, amps: Callable[[Drive | BootMedium], float]
) -> list[tuple[Expression, float]]:
    """Return what may hang on SATA power plugs, with its current."""
    found = [
        (count, amps(draft.by_key[key].part_as(HardDrive)))
        for (key, _), count in draft.drives.items()
    ]
    for item in draft.entry.cache:
        part = item.part
        if isinstance(part, SolidStateDrive) and part.form == "2.5":
            found.append((Expression(constant=1.0), amps(part)))
    for item in draft.of(BootMedium):
        part = item.part_as(BootMedium)
        if part.interface == "sata":
            found.append((draft.count(item), amps(part)))
    return found


def _carry(
    draft: Draft,
    leads: Leads,
    loads: list[tuple[Expression, float]],
    relaxed: Expression,
) -> None:
    most = float(draft.entry.storage.n_array + len(draft.entry.cache) + 1)
    for least_a in sorted({amps for _, amps in loads if amps > 0}):
        heavy = total((count, 1.0) for count, amps in loads if amps >= least_a)
        heavy.plus(draft.on_backplane, -1.0)
        for have, bites in _capacities(draft, leads, least_a):
            if bites:
                row = heavy.copy().plus(have, -1.0).plus(relaxed, -most)
                draft.program.require("edges_carry", row, "<=", 0.0)


def _capacities(
    draft: Draft, leads: Leads, amps: float
) -> Iterator[tuple[Expression, bool]]:
    """Yield how many drives of a current all leads carry, and all plugs.

    With each, whether it can be less than the plugs that are there.
    """
    factors = draft.entry.scenario.overrides
    a_plug = _times(plug_most_a("sata", factors), amps)
    by_lead, by_plug = Expression(), Expression()
    bites_lead = bites_plug = False
    for one, supply in _supplies(draft):
        for lead in supply_leads(supply, factors):
            bites_lead |= _add(by_lead, one, lead, amps, a_plug)
            bites_plug |= _add(by_plug, one, lead, amps, 1)
    if draft.board_part.dc_sata_plugs:
        lead = board_lead(draft.board_part.dc_sata_plugs, factors)
        bites_lead |= _add(by_lead, Expression(constant=1.0), lead, amps, a_plug)
        bites_plug |= _add(by_plug, Expression(constant=1.0), lead, amps, 1)
    for count, part in leads:
        piece = piece_of(part, part.id, part.id, factors)
        if part.gives_plug != "sata":
            continue
        carried = _times(piece.most_a, amps)
        if part.takes_plug == "sata":
            gain = min(part.fan_out, carried) - 1
            by_plug.plus(count, float(max(0, gain)))
            bites_plug |= carried < part.fan_out
        else:
            by_lead.plus(count, float(carried))
            by_plug.plus(count, float(min(part.fan_out, carried)))
            bites_plug |= carried < part.fan_out
    yield by_lead, bites_lead
    yield by_plug, bites_plug or bites_lead


def _add(
    have: Expression, one: Expression, lead: Giver, amps: float, each: int
) -> bool:
    """Add what a lead carries of a current, at most so many on a plug."""
    if lead.gives != "sata":
        return False
    carried = _times(lead.most_a, amps)
    have.plus(one, float(min(lead.n_plugs * each, carried)))
    return carried < lead.n_plugs * max(1, each)


def _times(most_a: float, amps: float) -> int:
    """Return how many times a current goes into a limit."""
    return math.floor(most_a * (1 + SLACK) / amps + SLACK)


def _inlets_carry(draft: Draft) -> None:
    """Keep what a backplane draws while all start within its inlets, fans included."""
    stagger = may_stagger(draft)
    if stagger is None:
        return
    amps = {
        key: _peak_12v_a(draft.by_key[key].part_as(HardDrive))
        for key, _ in draft.drives
    }
    most = max(amps.values(), default=0.0)
    n = float(draft.entry.storage.n_array)
    rising = total((count, amps[key]) for (key, _), count in draft.drives.items())
    array = total((count, 1.0) for count in draft.drives.values())
    on_backplane = rising.plus(array.plus(draft.on_backplane, -1.0), -most)
    least = min(
        (a for key, a in amps.items() if _form(draft, key) == "3.5"), default=0.0
    )
    wide = total([(draft.on_backplane, least), (draft.adapted, -least)])
    factors = draft.entry.scenario.overrides
    room = Expression()
    for one, chassis in _chassis(draft):
        plugs = [x.plug for x in chassis.backplane_power for _ in range(x.count)]
        each = min((plug_most_a(plug, factors) for plug in plugs), default=0.0)
        carried = len(plugs) * each - chassis.fan_12v_a.mid if plugs else most * n
        room.plus(one, carried)
    for current in (on_backplane, wide):
        row = current.plus(room, -1.0).plus(stagger, -most * n)
        draft.program.require("inlets_carry", row, "<=", 1e-6)


def _form(draft: Draft, key: str) -> str:
    return draft.by_key[key].part_as(HardDrive).form


def _power_disable(draft: Draft, leads: Leads) -> None:
    """Give drives with power-disable plugs without 3.3 V."""
    held = total(
        (count, 1.0)
        for (key, _), count in draft.drives.items()
        if draft.by_key[key].part_as(HardDrive).has_power_disable == "yes"
    )
    if not held.terms:
        return
    program, n = draft.program, float(draft.entry.storage.n_array)
    free, source = _clean_plugs(draft, leads)
    safe = program.variable("power-disable on backplane", n)
    program.require(
        "power_disable", safe.copy().plus(draft.on_backplane, -1.0), "<=", 0.0
    )
    room, inlets = Expression(), Expression()
    for item in draft.of(Chassis):
        one, chassis = draft.loose[item.key], item.part_as(Chassis)
        plugs = sum(x.count for x in chassis.backplane_power if x.plug == "sata")
        if not chassis.backplane_power:
            continue
        if not plugs:
            room.plus(one, n)
            continue
        flag = program.variable(f"clean inlets {item.key}", 1.0)
        program.require("power_disable", flag.copy().plus(one, -1.0), "<=", 0.0)
        room.plus(flag, n)
        inlets.plus(flag, float(plugs))
    program.require("power_disable", safe.copy().plus(room, -1.0), "<=", 0.0)
    bare = held.plus(safe, -1.0)
    program.require("power_disable", bare.copy().plus(source, -n), "<=", 0.0)
    program.require("power_disable", bare.plus(inlets).plus(free, -1.0), "<=", 0.0)
    _clean_edges_carry(draft, leads, safe)


def _clean_edges_carry(draft: Draft, leads: Leads, safe: Expression) -> None:
    """Keep drives with power-disable to what edges without 3.3 V carry of them."""
    stagger = may_stagger(draft)
    if stagger is None:
        return
    n = float(draft.entry.storage.n_array)
    parts = {key: draft.by_key[key].part_as(HardDrive) for key, _ in draft.drives}
    held = {k: _peak_12v_a(p) for k, p in parts.items() if p.has_power_disable == "yes"}
    for amps in sorted({a for a in held.values() if a > 0}):
        heavy = total(
            (count, 1.0)
            for (key, _), count in draft.drives.items()
            if held.get(key, 0.0) >= amps
        ).plus(safe, -1.0)
        for have in _clean_capacities(draft, leads, amps):
            row = heavy.copy().plus(have, -1.0).plus(stagger, -n)
            draft.program.require("clean_edges_carry", row, "<=", 0.0)


def _clean_capacities(
    draft: Draft, leads: Leads, amps: float
) -> tuple[Expression, Expression]:
    """Return how many drives of a current edges without 3.3 V carry, and their plugs."""
    factors = draft.entry.scenario.overrides
    by_edge, by_plug = Expression(), Expression()
    for one, supply in _supplies(draft):
        for lead in supply_leads(supply, factors):
            if lead.gives == "sata" and not lead.has_3v3:
                carried = _times(lead.most_a, amps)
                by_edge.plus(one, float(carried))
                by_plug.plus(one, float(min(carried, lead.n_plugs)))
    own = draft.board_part.dc_sata_plugs
    if own:
        by_edge.plus(float(_times(factors.power_lead_a.mid, amps)))
        by_plug.plus(float(own))
    for count, part in leads:
        if part.gives_plug == "sata":
            carried = _times(piece_of(part, part.id, "", factors).most_a, amps)
            room = min(part.fan_out, carried)
            by_edge.plus(count, float(carried) if _cleans(part) else 0.0)
            by_plug.plus(count, float(room if _cleans(part) else max(0, room - 1)))
    return by_edge, by_plug


def _cleans(lead: PowerLead) -> bool:
    """Return whether SATA plugs of an adapter lack 3.3 V wherever it hangs."""
    return lead.takes_plug == "peripheral" or not lead.carries_3v3


def _clean_plugs(draft: Draft, leads: Leads) -> tuple[Expression, Expression]:
    """Return the plugs without 3.3 V at most, and what such plugs come from.

    Behind a plug without it no splitter brings it back.
    """
    own = Expression(constant=float(draft.board_part.dc_sata_plugs))
    for one, supply in _supplies(draft):
        if not supply.carries_3v3:
            n_plugs = sum(x.count for x in supply.leads if x.plug == "sata")
            own.plus(one, float(n_plugs))
    free, source = own.copy(), own.copy()
    for count, lead in leads:
        if lead.gives_plug != "sata":
            continue
        if _cleans(lead):
            free.plus(count, float(lead.fan_out))
            source.plus(count)
        else:
            free.plus(count, float(lead.fan_out - 1))
    return free, source
