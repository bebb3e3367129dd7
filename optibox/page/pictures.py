"""The figures behind the page's pictures: power by part, chains, day, capacity."""

import math
from typing import Any

from optibox.assess import Assessment
from optibox.build import ItemCount
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import Chain
from optibox.figures.power import (
    ASLEEP,
    AT_REST,
    SPINNING,
    WORKING,
    Activity,
    at_wall_w,
    deep_idle_loss_w,
    drive_dc_w,
    part_dc_w,
)
from optibox.machine import Machine
from optibox.page.exact import state_hours
from optibox.page.loads import through_cache
from optibox.physics.chain import Stage
from optibox.physics.operation import Mix
from optibox.report.words import clean
from optibox.units import DAYS_PER_YEAR

_State = tuple[str, Mix, Mix, Activity]


def power_states(found: Assessment) -> list[_State]:
    """Return the states at the wall with what works in each."""
    has_cache = bool(found.machine.in_role("cache"))
    by_name = {state.name: state for state in found.year.operating.states}
    rows: list[_State] = [
        ("asleep", ASLEEP, ASLEEP, AT_REST),
        ("spinning", SPINNING, SPINNING, AT_REST),
    ]
    read = by_name.get("reading")
    write = by_name.get("flushing" if has_cache else "ingesting")
    works = Activity(processor=True, network=True)
    writes = Activity(processor=True, network=not has_cache, cache=has_cache)
    if read:
        rows.append(("reading", read.data, read.parity, works))
    if write:
        rows.append(("writing", write.data, write.parity, writes))
    rows.append(("checking", WORKING, WORKING, Activity(processor=True)))
    return rows


def power_table(found: Assessment) -> dict[str, Any]:
    """Return the watts of each part in each state, and the same at the wall."""
    machine, states = found.machine, power_states(found)
    rows = [_row(label, watts) for label, watts in _part_watts(machine, states)]
    totals = [sum(row["watts"][n] for row in rows) for n in range(len(states))]
    at_wall = [at_wall_w(machine, dc) for dc in totals]
    losses = [wall - dc for wall, dc in zip(at_wall, totals, strict=True)]
    rows.sort(key=lambda row: -max(row["watts"]))
    rows.append(_row("lost in the power supply", losses))
    return {
        "states": [state[0] for state in states],
        "rows": [row for row in rows if max(row["watts"]) >= 0.05],
        "wall_w": at_wall,
        "peak_w": found.wall.peak_w,
    }


def _row(label: str, watts: list[float]) -> dict[str, Any]:
    return {"label": label, "watts": watts}


def _part_watts(
    machine: Machine, states: list[_State]
) -> list[tuple[str, list[float]]]:
    found = [
        (
            _label(entry),
            [entry.count * part_dc_w(entry.item.part, s[3]) for s in states],
        )
        for entry in machine.build.items
        if not isinstance(entry.item.part, HardDrive)
    ]
    for entry in machine.build.items:
        drives = [d for d in machine.array if d.item.key == entry.item.key]
        if drives and isinstance(entry.item.part, HardDrive):
            part = entry.item.part
            watts = [
                sum(
                    drive_dc_w(part, s[2] if d.role == "parity" else s[1])
                    for d in drives
                )
                for s in states
            ]
            found.append((_label(entry), watts))
    loss = deep_idle_loss_w(machine)
    found.append(("processor kept out of deep sleep", [loss] * len(states)))
    return found


def _label(entry: ItemCount) -> str:
    name = clean(entry.item.part.name) or clean(entry.item.part.id)
    return f"{entry.count} x {name}" if entry.count > 1 else name


def chain_rows(found: Assessment) -> list[dict[str, Any]]:
    """Return every operation's stages in the order in which data go through them."""
    fill = found.scenario.needs.fill_fraction
    chains = list(found.chains(fill))
    if found.machine.in_role("cache"):
        chains.insert(1, through_cache(found))
    return [_chain(found.machine, row) for row in chains]


_OPERATIONS = {
    "read": "Read one file",
    "write": "Write to the array",
    "cache ingest": "Take in through the cache",
    "flush": "Flush the cache",
    "degraded read": "Read with one drive failed",
}


def _chain(machine: Machine, row: Chain) -> dict[str, Any]:
    stages = [s for s in row.stages if math.isfinite(s.rate_mb_s)]
    is_read = row.operation in ("read", "degraded read")
    stages.sort(key=lambda stage: _place(machine, stage), reverse=is_read)
    return {
        "operation": row.operation,
        "title": _OPERATIONS[row.operation],
        "rate_mb_s": row.rate_mb_s,
        "stages": [{"name": clean(s.name), "rate_mb_s": s.rate_mb_s} for s in stages],
    }


_WAY_IN = ("other end of the network", "network lead", "network port", "cache read")


def _place(machine: Machine, stage: Stage) -> int:
    """Return where on the way in a stage lies: the network first, the drives last."""
    for place, start in enumerate(_WAY_IN):
        if stage.name.startswith(start):
            return place
    port = machine.network
    link = next((n for n, x in machine.links.items() if x.words == stage.name), "")
    if link:
        drives = any(link in drive.path for drive in machine.drives)
        is_networks = port is not None and link in port.path and not drives
        return len(_WAY_IN) + (0 if is_networks else 2)
    return len(_WAY_IN) + (1 if stage.name == "processor" else 3)


_FROM_BELOW = ("asleep", "spinning", "reading", "flushing", "ingesting", "checking")
"""States in the order in which a day's picture stacks them."""


def day_rows(found: Assessment) -> list[dict[str, Any]]:
    """Return the mean watts of each state in each hour of day. [W]."""
    rows: dict[str, list[float]] = {}
    for state in state_hours(found):
        watts = rows.setdefault(state.name, [0.0] * len(state.hours))
        for hour, hours in enumerate(state.hours):
            watts[hour] += hours * state.wall_w / DAYS_PER_YEAR
    return [
        {"state": name, "watts": [round(w, 3) for w in rows[name]]}
        for name in _FROM_BELOW
        if name in rows
    ]


def ladder_rows(found: Assessment) -> list[dict[str, Any]]:
    """Return the steps from printed to usable capacity. [TB]."""
    ladder = found.capacity
    steps = (
        ("printed on the drives", ladder.printed_tb),
        ("held by their sectors", ladder.held_tb),
        ("after redundancy", ladder.array_tb),
        ("after the file system's reserve", ladder.file_system_tb),
        ("to be filled with files", ladder.usable_tb),
    )
    return [{"label": label, "tb": value} for label, value in steps]
