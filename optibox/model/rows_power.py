"""Rows: currents of the rails, watts."""

from collections.abc import Iterator

from optibox.build import Item
from optibox.catalog.attachment import Controller
from optibox.catalog.platform import Board, PowerSupply
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
    low_volts_most_w,
    low_volts_w,
    part_dc_w,
    spin_up_dc_w,
)
from optibox.model.draft import Draft
from optibox.model.solver import Expression, total
from optibox.physics.operation import Mix
from optibox.physics.power import dc_from_wall


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
    _low_volts(draft)


def _low_volts(draft: Draft) -> None:
    """Keep 3.3 and 5 V together within the supply's watts, where it makes both."""
    taken = total(
        (draft.count(item), low_volts_w(item.part))
        for item in draft.everything()
        if isinstance(item.part, Drive | BootMedium)
    )
    most = float(sum(_most_low_volts_w(draft)))
    room = total(
        (one, min(most, low_volts_most_w(part))) for one, part in _supplies(draft)
    )
    draft.program.require("low_volts", taken.plus(room, -1.0), "<=", 1e-6)


def _most_low_volts_w(draft: Draft) -> Iterator[float]:
    """Yield the most that each drive of a build can take: the big-M of a supply."""
    worst = max(
        (
            low_volts_w(item.part)
            for item in draft.everything()
            if isinstance(item.part, Drive | BootMedium)
        ),
        default=0.0,
    )
    for _ in range(draft.entry.storage.n_array + len(draft.entry.cache) + 1):
        yield worst


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


def supplies(draft: Draft) -> list[tuple[Item, Expression, PowerSupply]]:
    """Return the supplies on offer with their variables."""
    return [
        (item, draft.loose[item.key], item.part)
        for item in draft.of(PowerSupply)
        if isinstance(item.part, PowerSupply)
    ]
