"""The same parts run in other ways: every timeout and the other write mode."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from optibox.assess import Assessment, assess
from optibox.build import OperatingPlan
from optibox.page.exact import hour_groups, money_table
from optibox.report.quantity import number
from optibox.report.words import clean

RECOUNTED = ("W1",)
"""Rules that the page itself judges, since they depend on the years."""


def ways_of(found: Assessment) -> list[dict[str, Any]]:
    """Return every way on offer of running the parts of a machine, its own included."""
    plan = found.machine.operation
    rows = [_way(found, "timeout", minutes, p) for minutes, p in _timeouts(found)]
    other = {"reconstruct": "read-modify-write", "read-modify-write": "reconstruct"}
    if plan.write_mode in other:
        mode: Any = other[plan.write_mode]
        rows.append(_way(found, "write mode", None, replace(plan, write_mode=mode)))
    return rows


def _timeouts(found: Assessment) -> Iterator[tuple[float | None, OperatingPlan]]:
    plan, choices = found.machine.operation, found.scenario.choices
    offered = set(choices.timeouts_min)
    if plan.timeout_min is not None:
        offered.add(plan.timeout_min)
    for minutes in sorted(offered):
        yield minutes, replace(plan, timeout_min=minutes)
    if choices.allow_never or plan.timeout_min is None:
        yield None, replace(plan, timeout_min=None)


def _way(
    found: Assessment, setting: str, minutes: float | None, plan: OperatingPlan
) -> dict[str, Any]:
    other = assess(replace(found.build, operation=plan), found.scenario)
    known = {finding.evidence for finding in found.errors}
    faults = [
        finding
        for finding in other.errors
        if finding.evidence not in known and finding.rule not in RECOUNTED
    ]
    table = money_table(other)
    groups, _ = hour_groups(found.scenario.money)
    words = "never" if minutes is None else f"{number(minutes)} min"
    return {
        "setting": setting,
        "minutes": minutes,
        "words": plan.write_mode if setting == "write mode" else words,
        "is_mine": plan == found.machine.operation,
        "kwh": _kwh(table, max(groups) + 1),
        "wear_per_year": table["wear_per_year"],
        "cache_wear_per_year": table["cache_wear_per_year"],
        "wakes": table["wakes"],
        "write_mb_s": other.rates.write_mb_s,
        "asleep_w": other.wall.asleep_w,
        "fault": clean(faults[0].evidence) if faults else "",
    }


def _kwh(table: dict[str, Any], n_groups: int) -> list[float]:
    """Return the energy of a year in each price group. [kWh]."""
    return [
        sum(state[1] * state[2 + group] for state in table["states"]) / 1000.0
        for group in range(n_groups)
    ]
