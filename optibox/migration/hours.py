"""How long the steps of a move take, at the mean rates of drives, array and network."""

from optibox.migration.records import ELSEWHERE, Action, Move, Task
from optibox.units import BYTES_PER_MB, BYTES_PER_TB, SECONDS_PER_HOUR

BY_HAND_H = 0.25
"""A step with the machine open, or a few commands; judgement."""


def hours_of(task: Task, action: Action) -> float:
    """Return how long one step takes; drives without a known rate take no time. [h]."""
    if action.kind in ("copy", "restore", "verify"):
        is_read = action.kind == "verify"
        return sum(_carried_h(task, move, is_read=is_read) for move in action.moves)
    if action.kind == "read back":
        disks = [task.disk(name) for name in action.disks]
        return sum(_at(d.held_b, task.network_mb_s, d.mb_s) for d in disks)
    if action.kind == "check":
        return task.check_h
    if action.kind == "build":
        by_stripe = "pairs" not in task.layout
        return max(task.check_h if by_stripe else 0.0, _pass_h(task, action))
    if action.kind == "test" or (action.kind == "erase" and task.n_parity):
        return _pass_h(task, action)
    return BY_HAND_H


def _pass_h(task: Task, action: Action) -> float:
    """Return one pass over whole drives, all of them at once. [h]."""
    disks = [task.disk(name) for name in action.disks]
    return max((_at(d.tb * BYTES_PER_TB, d.mb_s) for d in disks), default=0.0)


def _carried_h(task: Task, move: Move, *, is_read: bool) -> float:
    _, start, where, amount_b = move
    names = {disk.name for disk in task.disks}
    rates = []
    if start == ELSEWHERE:
        rates.append(task.network_mb_s)
    for name in (start, where):
        members = next((u.members for u in task.units if u.name == name), ())
        if members and name == where and not is_read:
            rates.append(task.write_mb_s)
        elif members or name in names:
            disks = [task.disk(n) for n in members or (name,)]
            rates += [d.mb_s for d in disks]
            if any(d.where == "remote" for d in disks) and not members:
                rates.append(task.network_mb_s)
    return _at(amount_b, *rates)


def _at(amount_b: float, *rates_mb_s: float) -> float:
    known = [rate for rate in rates_mb_s if rate > 0]
    return amount_b / BYTES_PER_MB / min(known) / SECONDS_PER_HOUR if known else 0.0
