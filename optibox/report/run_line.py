"""How to run the machine, and why so: each setting against its alternatives.

The alternatives are computed by the evaluator on the same parts.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import OperatingPlan
from optibox.figures.year import wakes_of
from optibox.report.quantity import clock, money, number, rate, share
from optibox.report.words import clean, counted

_IN_SHORT: Mapping[str, str] = {
    "N1": "too slow",
    "T1": "too slow",
    "W1": "wears the drives too fast",
    "D2": "over a limit",
    "P1": "too much current",
    "P2": "too much current",
}
SAME = 0.005
"""Costs closer than half a minor unit are called the same. [currency]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """The same parts run in another way."""

    setting: str
    """``write mode`` or ``timeout``."""
    words: str
    cost_difference: float
    """Over the years, against the plan; positive is dearer. [currency]"""
    write_mb_s: float
    asleep_w: float
    kwh: float
    fault: str
    """Why it would not do, where the plan does; or nothing."""
    rule: str
    """The rule that says so."""


def variants(found: Assessment) -> tuple[Variant, ...]:
    """Return the plan's alternatives in write mode and timeout, on the same parts."""
    plans = [*_other_modes(found), *_other_timeouts(found)]
    return tuple(
        _variant(found, setting, words, plan) for setting, words, plan in plans
    )


def _other_modes(found: Assessment) -> Iterator[tuple[str, str, OperatingPlan]]:
    plan = found.machine.operation
    if plan.write_mode == "reconstruct":
        other = "read-modify-write"
        yield "write mode", other, replace(plan, write_mode="read-modify-write")
    elif plan.write_mode == "read-modify-write":
        yield "write mode", "reconstruct", replace(plan, write_mode="reconstruct")


def _other_timeouts(found: Assessment) -> Iterator[tuple[str, str, OperatingPlan]]:
    """Yield the next shorter and longer timeout on offer, and never."""
    plan, choices = found.machine.operation, found.scenario.choices
    offered = sorted(set(choices.timeouts_min))
    mine = plan.timeout_min
    if mine is None:
        near = offered[-1:]
    else:
        shorter = [t for t in offered if t < mine][-1:]
        near = shorter + [t for t in offered if t > mine][:1]
    for minutes in near:
        words = f"{number(minutes)} min"
        yield "timeout", words, replace(plan, timeout_min=minutes)
    if mine is not None and choices.allow_never:
        yield "timeout", "never", replace(plan, timeout_min=None)


def _variant(
    found: Assessment, setting: str, words: str, plan: OperatingPlan
) -> Variant:
    other = assess(replace(found.build, operation=plan), found.scenario)
    known = {finding.evidence for finding in found.errors}
    new = [finding for finding in other.errors if finding.evidence not in known]
    return Variant(
        setting=setting,
        words=words,
        cost_difference=other.total_cost - found.total_cost,
        write_mb_s=other.rates.write_mb_s,
        asleep_w=other.wall.asleep_w,
        kwh=other.year.kwh,
        fault=clean(new[0].evidence) if new else "",
        rule=new[0].rule if new else "",
    )


def difference(variant: Variant, currency: str) -> str:
    """Return what an alternative would cost, or why it would not do."""
    if variant.fault:
        return f"not allowed: {variant.fault}"
    if abs(variant.cost_difference) < SAME:
        return "the same cost"
    amount = money(abs(variant.cost_difference), currency)
    return f"{amount} {'dearer' if variant.cost_difference > 0 else 'cheaper'}"


def brief(variant: Variant, currency: str) -> str:
    """Return the same in few words."""
    if variant.fault:
        return _IN_SHORT.get(variant.rule, "not allowed")
    if abs(variant.cost_difference) < SAME:
        return "the same cost"
    more = "more" if variant.cost_difference > 0 else "less"
    return f"{money(abs(variant.cost_difference), currency)} {more}"


def layout_words(found: Assessment) -> str:
    """Return the array's layout in words.

    Stripes count their parity among their members.
    """
    plan, n_data = found.machine.operation, len(found.machine.in_role("data"))
    n_parity = len(found.machine.in_role("parity"))
    if plan.layout == "independent":
        drives = counted(n_data, "independent drive")
        return f"{drives} and {n_parity} parity" if n_parity else drives
    if plan.layout == "striped":
        of = f", parity worth {counted(plan.n_parity, 'drive')}"
        return f"a stripe of {counted(n_data, 'drive')}{of if plan.n_parity else ''}"
    pairs = counted(n_data // 2, "mirrored pair")
    return f"a stripe over {pairs}" if plan.layout == "striped pairs" else pairs


def run_line(found: Assessment, currency: str, *, is_short: bool = False) -> str:
    """Return in one sentence how to run the machine, each setting with its reason.

    The short form leaves out what the neighbouring timeouts would cost, and why there
    is a cache.
    """
    others = variants(found)
    near = () if is_short else others
    parts = [layout_words(found), _mode_words(found, others, currency)]
    cache = _cache_words(found)
    parts.append(cache.split(" (")[0] if is_short else cache)
    parts.append(_timeout_words(found, near, currency))
    return "; ".join(part for part in parts if part) + "."


def _mode_words(found: Assessment, others: tuple[Variant, ...], currency: str) -> str:
    plan = found.machine.operation
    if plan.write_mode == "plain":
        return ""
    other = next(v for v in others if v.setting == "write mode")
    mine = rate(found.rates.write_mb_s)
    against = f"{other.words}: {number(other.write_mb_s)}, {brief(other, currency)}"
    return f"{plan.write_mode} at {mine} ({against})"


def _cache_words(found: Assessment) -> str:
    plan, needs = found.machine.operation, found.scenario.needs
    direct = found.rates.write_mb_s
    if plan.cache == "none":
        return "no cache (the array takes in enough)"
    what = "mirrored cache" if plan.cache == "mirror" else "single cache drive"
    flush = f"{what}, flushed at {clock(plan.flush_hour)}"
    if direct < needs.ingest_mb_s:
        return f"{flush} (the array alone takes in {rate(direct)})"
    return f"{flush} (drives need not start for every ingest)"


def _timeout_words(
    found: Assessment, others: tuple[Variant, ...], currency: str
) -> str:
    timeout = found.machine.operation.timeout_min
    mine = (
        "drives never stop" if timeout is None else f"drives stop after {timeout:g} min"
    )
    rows = [v for v in others if v.setting == "timeout"][:2]
    against = ", ".join(f"{v.words}: {brief(v, currency)}" for v in rows)
    return f"{mine} ({against})" if against else mine


def operation_rows(found: Assessment, currency: str) -> tuple[tuple[str, str], ...]:
    """Return how to run the machine as settings with values, reasons included."""
    plan, others = found.machine.operation, variants(found)
    rows = [("array", layout_words(found))]
    if plan.write_mode != "plain":
        rows.append(("write mode", plan.write_mode))
    rows += [("", _mode_reason(v, currency)) for v in others if v.setting != "timeout"]
    rows.append(("cache", _cache_words(found)))
    timeout = "never" if plan.timeout_min is None else f"{plan.timeout_min:g} min"
    rows.append(("stop drives after", f"{timeout}: {_wake_words(found)}"))
    rows += [
        ("", f"{v.words}: {difference(v, currency)}")
        for v in others
        if v.setting == "timeout"
    ]
    checks = f"{plan.checks_per_year:g} a year"
    rows.append(("full checks", checks))
    return tuple(rows)


def _mode_reason(variant: Variant, currency: str) -> str:
    words = (
        f"{variant.words}: {rate(variant.write_mb_s)}, {number(variant.kwh)} kWh a year"
    )
    return f"{words}, {difference(variant, currency)}"


def _wake_words(found: Assessment) -> str:
    budget = share(found.machine.factors.wear_budget.mid)
    wakes = wakes_of(found.year, "data")
    return (
        f"{number(wakes)} wakes of a data drive a year; {budget} of its rating may be "
        "used over the years"
    )
