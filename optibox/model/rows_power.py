"""Rows: currents, plugs, watts."""

from optibox.build import Item
from optibox.catalog.attachment import Controller
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply
from optibox.catalog.storage import BootMedium, Drive, HardDrive
from optibox.figures.power import (
    ALL_ACTIVE,
    ASLEEP,
    AT_REST,
    SPINNING,
    WORKING,
    Activity,
    base_12v_a,
    drive_5v_a,
    drive_dc_w,
    is_blocker,
    loss_curve,
    part_dc_w,
    spin_up_dc_w,
)
from optibox.model.draft import Draft
from optibox.model.rows_wiring import MULTI
from optibox.model.solver import Expression, total
from optibox.physics.operation import Mix
from optibox.physics.power import dc_from_wall
from optibox.rules.power import SATA_PLUG_A, splitter_a

PLUGS = ("sata", "peripheral")


def deep_idle(draft: Draft) -> None:
    """Charge the board's deep-idle loss once if anything blocks deep idle."""
    flag = draft.program.variable("blocked", 1.0, is_whole=False)
    draft.blocked = flag
    keys = {item.key for item in draft.everything() if is_blocker(item.part)}
    for (key, _), one in draft.placed.items():
        if key in keys:
            row = one.copy().plus(flag, -1.0)
            draft.program.require("deep_idle", row, "<=", 0.0)


def state_watts(draft: Draft, data: Mix, parity: Mix, activity: Activity) -> Expression:
    """Return the direct-current watts of a state as an expression."""
    loss = draft.board_part.deep_idle_loss_w.mid
    result = total([(draft.blocked, loss)])
    for item in draft.everything():
        if not isinstance(item.part, HardDrive):
            result.plus(draft.count(item), part_dc_w(item.part, activity))
    for (key, role), count in draft.drives.items():
        part = hard_drive(draft, key)
        result.plus(count, drive_dc_w(part, parity if role == "parity" else data))
    return result


def hard_drive(draft: Draft, key: str) -> HardDrive:
    """Return the hard drive of an item in the draft."""
    return draft.by_key[key].part_as(HardDrive)


def _supplies(draft: Draft) -> list[tuple[Expression, PowerSupply]]:
    return [
        (draft.loose[item.key], item.part)
        for item in draft.of(PowerSupply)
        if isinstance(item.part, PowerSupply)
    ]


def wall_limits(draft: Draft) -> None:
    """Keep asleep, spinning and peak watts within their limits at the wall.

    For each supply the direct-current watts behind a wall limit are known exactly.
    """
    limits = draft.entry.scenario.limits
    rows = (
        (limits.asleep_w, ASLEEP, AT_REST),
        (limits.spinning_w, SPINNING, AT_REST),
    )
    for most_w, mix, activity in rows:
        if most_w is not None:
            dc = state_watts(draft, mix, mix, activity)
            _wall_at_most(draft, "wall_limits", dc, most_w)
    busy = state_watts(draft, WORKING, WORKING, ALL_ACTIVE)
    _at_worst(draft, busy)


def _wall_at_most(draft: Draft, name: str, dc: Expression, most_w: float) -> None:
    allowed = Expression()
    for chosen, part in _supplies(draft):
        curve = loss_curve(part)
        least = curve.loss_fixed_w
        allowed.plus(chosen, dc_from_wall(most_w, curve) if most_w > least else -1e4)
    draft.program.require(name, dc.copy().plus(allowed, -1.0), "<=", 1e-6)


def _at_worst(draft: Draft, busy: Expression) -> None:
    """Keep the worst instant within the supply's rating and the peak limit."""
    scenario, storage = draft.entry.scenario, draft.entry.storage
    extras = [
        (
            count,
            max(
                0.0,
                spin_up_dc_w(hard_drive(draft, key))
                - hard_drive(draft, key).active_dc_w,
            ),
        )
        for (key, _), count in draft.drives.items()
    ]
    all_up = busy.copy().plus(total(extras))
    least = min((extra for _, extra in extras), default=0.0)
    few_up = busy.copy().plus(least * min(storage.n_array, 1 + storage.n_parity))
    rated = total((one, -part.rated_w.mid) for one, part in _supplies(draft))
    together = storage.wakes_together and not scenario.choices.sequential_wake_verified
    slack = 0.0 if together else _largest_extra(draft)
    in_turn = draft.starts_in_turn
    draft.program.require("peak_rating", few_up.copy().plus(rated), "<=", 1e-6)
    row = all_up.copy().plus(rated).plus(in_turn, -slack)
    draft.program.require("peak_rating", row, "<=", 1e-6)
    if scenario.limits.peak_w is not None:
        _wall_at_most(draft, "peak_limit", few_up, scenario.limits.peak_w)
        _wall_at_most(
            draft, "peak_limit", all_up.plus(in_turn, -slack), scenario.limits.peak_w
        )


def _largest_extra(draft: Draft) -> float:
    """Return what starting all drives together adds at most: the big-M of staggering."""
    most = max(
        (spin_up_dc_w(hard_drive(draft, key)) for key, _ in draft.drives), default=0.0
    )
    return most * draft.entry.storage.n_array


def rails_carry(draft: Draft) -> None:
    """Keep 12 V and 5 V currents within the supply's rails at the worst instant."""
    require, storage = draft.program.require, draft.entry.storage
    scenario = draft.entry.scenario
    _stagger(draft)
    base = total(
        (draft.count(item), base_12v_a(item.part)) for item in draft.everything()
    )
    drives = [
        (count, hard_drive(draft, key)) for (key, _), count in draft.drives.items()
    ]
    running = base.copy().plus(total((c, d.run_12v_a.mid) for c, d in drives))
    first = min(
        (max(0.0, d.spin_up_12v_a.mid - d.run_12v_a.mid) for _, d in drives),
        default=0.0,
    )
    share = scenario.overrides.rail_share.mid
    rail = [(one, part.rail_12v_a.mid) for one, part in _supplies(draft)]
    planned = total((one, -share * amps) for one, amps in rail)
    require("rail_12v", running.copy().plus(first).plus(planned), "<=", 1e-9)
    rising = base.plus(
        total((c, max(d.spin_up_12v_a.mid, d.run_12v_a.mid)) for c, d in drives)
    )
    must = (
        storage.wakes_together
        and storage.timeout_min is not None
        and not scenario.choices.sequential_wake_verified
    )
    most = max((d.spin_up_12v_a.mid for _, d in drives), default=0.0) * storage.n_array
    row = rising.plus(total((one, -amps) for one, amps in rail))
    require(
        "rail_12v_at_once",
        row.plus(draft.starts_in_turn, 0.0 if must else -most),
        "<=",
        1e-9,
    )
    five = total(
        (draft.count(item), drive_5v_a(item.part))
        for item in draft.everything()
        if isinstance(item.part, Drive | BootMedium)
    )
    have = total((one, -part.rail_5v_a.mid) for one, part in _supplies(draft))
    require("rail_5v", five.plus(have), "<=", 1e-9)


def _stagger(draft: Draft) -> None:
    """Let drives start in turn only where every host of array drives can do it."""
    flag = draft.program.variable("starts in turn", 1.0)
    draft.starts_in_turn = flag
    n = float(draft.entry.storage.n_array)
    for (role, _, group), count in draft.on_port.items():
        host: Board | Controller = draft.board_part
        if group.item is not None and isinstance(group.item.part, Controller):
            host = group.item.part
        if role in ("data", "parity") and not host.has_staggered_spin_up:
            row = count.copy().plus(flag, n)
            draft.program.require("starts_in_turn", row, "<=", n)


def plugs_enough(draft: Draft) -> None:
    """Give every backplane inlet and bare drive a power plug, within its current."""
    program = draft.program
    most = float(draft.entry.storage.n_array + len(draft.entry.cache) + 1)
    fed = program.variable("fed by backplane", most)
    draft.on_backplane = fed
    _backplane_room(draft, fed)
    bare = total((count, 1.0) for count in draft.on_port.values()).plus(fed, -1.0)
    leads = [
        (draft.loose[i.key], i.part)
        for i in draft.of(PowerLead)
        if isinstance(i.part, PowerLead)
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
    _splitters(draft, leads)
    _peripheral_currents(draft)
    _power_disable(draft, leads)


def _plugs_of_supply(draft: Draft, plug: str) -> Expression:
    """Return the plugs of a type that supply and board offer."""
    have = Expression()
    for one, supply in _supplies(draft):
        have.plus(one, float(sum(x.count for x in supply.leads if x.plug == plug)))
    return have.plus(float(draft.board_part.dc_sata_plugs) if plug == "sata" else 0.0)


def _plugs_grounded(draft: Draft, leads: list[tuple[Expression, PowerLead]]) -> None:
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
        (
            draft.loose[item.key],
            float(sum(x.count for x in item.part.backplane_power if x.plug == plug)),
        )
        for item in draft.of(Chassis)
        if isinstance(item.part, Chassis)
    )


def _chassis(draft: Draft) -> list[tuple[Expression, Chassis]]:
    return [
        (draft.loose[item.key], item.part)
        for item in draft.of(Chassis)
        if isinstance(item.part, Chassis)
    ]


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


def _splitters(draft: Draft, leads: list[tuple[Expression, PowerLead]]) -> None:
    """Keep drives of high spin-up current from splitters that cannot carry them."""
    n = float(draft.entry.storage.n_array)
    for count, lead in leads:
        heavy = total(
            (drives, 1.0)
            for (key, _), drives in draft.drives.items()
            if splitter_a(lead, hard_drive(draft, key).spin_up_12v_a.mid) > SATA_PLUG_A
        )
        if heavy.terms:
            most = next(
                iter(draft.program.columns[name][1] or 1.0 for name in count.terms)
            )
            flag = draft.program.variable(f"uses {lead.id}", 1.0)
            draft.program.require(
                "splitters", total([(count, 1.0), (flag, -most)]), "<=", 0.0
            )
            draft.program.require("splitters", heavy.plus(flag, n), "<=", n)


def _peripheral_currents(draft: Draft) -> None:
    """Keep the spin-up current of a backplane within the 4-pin leads that feed it."""
    amps = {key: hard_drive(draft, key).spin_up_12v_a.mid for key, _ in draft.drives}
    most = max(amps.values(), default=0.0)
    n = float(draft.entry.storage.n_array)
    rising = total((count, amps[key]) for (key, _), count in draft.drives.items())
    array = total((count, 1.0) for count in draft.drives.values())
    elsewhere = array.plus(draft.on_backplane, -1.0)
    on_backplane = rising.plus(elsewhere, -most)
    per_lead = draft.entry.scenario.overrides.peripheral_lead_a.mid
    have = total(
        (one, per_lead * sum(x.plug == "peripheral" for x in part.leads))
        for one, part in _supplies(draft)
    )
    fed = total(
        (one, most * n)
        for one, c in _chassis(draft)
        if any(x.plug == "peripheral" for x in c.backplane_power)
    )
    least = min(
        (a for key, a in amps.items() if hard_drive(draft, key).form == "3.5"),
        default=0.0,
    )
    wide = total([(draft.on_backplane, least), (draft.adapted, -least)])
    for current in (on_backplane, wide):
        row = current.plus(have, -1.0).plus(fed)
        draft.program.require("peripheral_currents", row, "<=", most * n + 1e-9)


def _power_disable(  # noqa: C901 - one promise, all its plugs
    draft: Draft, leads: list[tuple[Expression, PowerLead]]
) -> None:
    """Give drives with power-disable plugs without 3.3 V."""
    held = total(
        (count, 1.0)
        for (key, _), count in draft.drives.items()
        if hard_drive(draft, key).has_power_disable == "yes"
    )
    if not held.terms:
        return
    program, n = draft.program, float(draft.entry.storage.n_array)
    free = Expression(constant=float(draft.board_part.dc_sata_plugs))
    for one, supply in _supplies(draft):
        if not supply.carries_3v3:
            free.plus(
                one, float(sum(x.count for x in supply.leads if x.plug == "sata"))
            )
    for count, lead in leads:
        if lead.gives_plug == "sata" and not lead.carries_3v3:
            free.plus(count, float(lead.fan_out))
    safe = program.variable("power-disable on backplane", n)
    program.require(
        "power_disable", safe.copy().plus(draft.on_backplane, -1.0), "<=", 0.0
    )
    room, inlets = Expression(), Expression()
    for one, chassis in _chassis(draft):
        plugs = sum(x.count for x in chassis.backplane_power if x.plug == "sata")
        if not chassis.backplane_power:
            continue
        if not plugs:
            room.plus(one, n)
            continue
        flag = program.variable(f"clean inlets {chassis.id}", 1.0)
        program.require("power_disable", flag.copy().plus(one, -1.0), "<=", 0.0)
        room.plus(flag, n)
        inlets.plus(flag, float(plugs))
    program.require("power_disable", safe.copy().plus(room, -1.0), "<=", 0.0)
    row = held.plus(safe, -1.0).plus(inlets).plus(free, -1.0)
    program.require("power_disable", row, "<=", 0.0)


def supplies(draft: Draft) -> list[tuple[Item, Expression, PowerSupply]]:
    """Return the supplies on offer with their variables."""
    return [
        (item, draft.loose[item.key], item.part)
        for item in draft.of(PowerSupply)
        if isinstance(item.part, PowerSupply)
    ]
