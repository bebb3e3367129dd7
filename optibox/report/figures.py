"""Every figure of a machine as rows: a key with its unit, a label, value and text."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from optibox.assess import FILLS, Assessment
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import chain, usable_cache
from optibox.figures.power import wake_group
from optibox.figures.terms import TERMS
from optibox.figures.year import wakes_of
from optibox.physics.cache import endurance_years
from optibox.report.quantity import (
    both_capacities,
    exact_money,
    hours,
    money,
    number,
    rate,
    share,
    watts,
)
from optibox.units import MB_PER_GB, MB_PER_TB, tb_to_tib


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure; ``key`` ends in the unit of ``value``.

    A figure without label stands in another row already and is left out of texts.
    """

    key: str
    label: str
    value: float
    text: str
    is_money: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Figures that stand together under a title."""

    title: str
    figures: tuple[Figure, ...]


def figure_groups(found: Assessment, currency: str) -> tuple[Group, ...]:
    """Return all figures of a machine in groups."""
    return (
        Group(title="Capacity", figures=tuple(_capacity(found))),
        Group(title="Rates", figures=tuple(_rates(found))),
        Group(title="Times", figures=tuple(_times(found))),
        Group(title="At the wall", figures=tuple(_watts(found))),
        Group(title="A year", figures=tuple(_year(found, currency))),
        Group(title=_cost_title(found, currency), figures=tuple(_cost(found))),
        Group(title="Wear", figures=tuple(_wear(found))),
    )


def _capacity(found: Assessment) -> Iterator[Figure]:
    ladder = found.capacity
    steps = (
        ("printed", "printed on the drives", ladder.printed_tb),
        ("held", "held by their sectors", ladder.held_tb),
        ("array", "after redundancy", ladder.array_tb),
        ("file_system", "after the file system's reserve", ladder.file_system_tb),
        ("usable", "to be filled with files", ladder.usable_tb),
        ("wasted", "surplus of larger drives, unused", ladder.wasted_tb),
    )
    for key, label, value in steps:
        if key == "wasted" and value <= 0:
            continue
        text = both_capacities(value)
        yield Figure(key=f"{key}_tb", label=label, value=value, text=text)
    usable_tib = tb_to_tib(ladder.usable_tb)
    yield Figure(key="usable_tib", label="", value=usable_tib, text="")


def fill_words(fill: float) -> str:
    """Return how full the drives are.

    Examples
    --------
    >>> fill_words(0.0), fill_words(0.5)
    ('empty', '50 % full')
    """
    return "empty" if fill == 0 else f"{share(fill)} full"


def _rates(found: Assessment) -> Iterator[Figure]:
    machine, rates = found.machine, found.rates
    fill = found.scenario.needs.fill_fraction
    gb = found.scenario.burst_gb
    yield _rate("ingest_mb_s", f"take in {number(gb)} GB", rates.ingest_mb_s)
    if machine.in_role("cache"):
        for phase in found.burst.phases:
            if phase.volume_mb > 0 and phase.volume_mb < found.burst.volume_mb:
                label = f"  {phase.name}, {number(phase.volume_mb / MB_PER_GB)} GB"
                yield _rate(f"ingest_{phase.name}_mb_s", label, phase.rate_mb_s)
        cache_tb = usable_cache(machine) / MB_PER_TB
        yield Figure(
            key="cache_usable_tb",
            label="cache takes before it overflows",
            value=cache_tb,
            text=f"{number(cache_tb * 1000)} GB",
        )
    yield from _at_fills(found, "read", "read one file", rates.read_mb_s)
    yield from _at_fills(found, "write", "write to the array", rates.write_mb_s)
    for row in found.chains(fill):
        if row.operation in ("flush", "degraded read"):
            label = (
                "flush the cache" if row.operation == "flush" else "read, drive failed"
            )
            key = f"{row.operation.replace(' ', '_')}_mb_s"
            yield _rate(key, label, row.rate_mb_s)


def _at_fills(
    found: Assessment, operation: Literal["read", "write"], verb: str, at_need: float
) -> Iterator[Figure]:
    """Yield a rate at the fill that the needs name, and empty, half and nearly full."""
    fill = found.scenario.needs.fill_fraction
    own = _rate(f"{operation}_mb_s", f"{verb}, {fill_words(fill)}", at_need)
    yield replace(own, label="") if fill in FILLS else own
    for at in FILLS:
        value = chain(found.machine, operation, at).rate_mb_s
        key = f"{operation}_at_{at * 100:.0f}_percent_mb_s"
        yield _rate(key, f"{verb}, {fill_words(at)}", value)


def _rate(key: str, label: str, value: float) -> Figure:
    return Figure(key=key, label=label, value=value, text=rate(value))


def spin_up_wait_s(found: Assessment) -> float:
    """Return the longest wait of a first access for sleeping drives. [s].

    Stripes wait for all their members, which start in groups.
    """
    parts = [d.part for d in found.machine.array if isinstance(d.part, HardDrive)]
    if not parts or found.machine.operation.timeout_min is None:
        return 0.0
    slowest = max(part.spin_up_s.mid for part in parts)
    if "striped" not in found.machine.operation.layout:
        return slowest
    group = max(1, wake_group(found.machine))
    return slowest * math.ceil(len(parts) / group)


def _times(found: Assessment) -> Iterator[Figure]:
    times = found.year.transfers
    gb = found.scenario.usage.ingest_gb_per_day
    rows = [("ingest_h", f"ingest of a day ({number(gb)} GB)", times.ingest_h)]
    if found.machine.in_role("cache"):
        rows.append(("flush_h", "flush of a day", times.flush_h))
        if times.overflow_h:
            rows.append(("overflow_h", "overflow of a day", times.overflow_h))
    rows.append(("check_h", "one full check", times.check_h))
    if found.machine.operation.failures_survived:
        rows.append(("rebuild_h", "rebuild of one drive", found.rebuild_h))
    for key, label, value in rows:
        yield Figure(key=key, label=label, value=value, text=hours(value))
    wait = spin_up_wait_s(found)
    yield Figure(
        key="spin_up_wait_s",
        label="first access to a sleeping drive waits",
        value=wait,
        text=f"{number(wait)} s",
    )


def _watts(found: Assessment) -> Iterator[Figure]:
    wall = found.wall
    rows = (
        ("asleep_w", "all drives asleep", wall.asleep_w),
        ("spinning_w", "drives spinning", wall.spinning_w),
        ("reading_w", "reading", wall.reading_w),
        ("writing_w", "writing to the array", wall.writing_w),
        ("checking_w", "checking", wall.checking_w),
        ("peak_w", "peak, drives starting", wall.peak_w),
    )
    for key, label, value in rows:
        yield Figure(key=key, label=label, value=value, text=watts(value))


def _year(found: Assessment, currency: str) -> Iterator[Figure]:
    year, amounts = found.year, found.cost.amounts
    wear = amounts.wear + amounts.cache_wear
    yield Figure(
        key="energy_kwh_per_year",
        label="energy",
        value=year.kwh,
        text=f"{number(year.kwh)} kWh",
    )
    rows = (
        ("energy_price_per_year", "price of that energy", year.energy_money),
        ("wear_price_per_year", "wear of drives and cache", wear),
        ("running_price_per_year", "both", found.running_cost_per_year),
    )
    for key, label, value in rows:
        text = money(value, currency)
        yield Figure(key=key, label=label, value=value, text=text, is_money=True)
    grams = found.scenario.money.carbon_g_per_kwh
    if grams is not None:
        kg = year.kwh * grams / 1000.0
        yield Figure(
            key="carbon_kg_per_year",
            label=f"carbon dioxide at {grams:g} g/kWh",
            value=kg,
            text=f"{number(kg)} kg",
        )


def _cost_title(found: Assessment, currency: str) -> str:
    return f"Cost over {found.scenario.money.years} years [{currency}]"


def _cost(found: Assessment) -> Iterator[Figure]:
    terms = found.scenario.money.terms
    for term in TERMS:
        value = getattr(found.cost, term.key)
        counts = "" if term.name in terms else " (not counted)"
        yield _sum(f"{term.key}_price", f"{term.name}{counts}", value)
    yield _sum("total_price", "total of what counts", found.total_cost)


def _sum(key: str, label: str, value: float) -> Figure:
    text = exact_money(value)
    return Figure(key=key, label=label, value=value, text=text, is_money=True)


def _wear(found: Assessment) -> Iterator[Figure]:
    years = found.scenario.money.years
    for role in ("data", "parity"):
        drives = [
            (d, d.part)
            for d in found.machine.in_role(role)
            if isinstance(d.part, HardDrive)
        ]
        if not drives:
            continue
        wakes = wakes_of(found.year, role)
        yield Figure(
            key=f"{role}_wakes_per_year",
            label=f"wakes of a {role} drive a year",
            value=wakes,
            text=number(wakes),
        )
        ends = [(d.item.starts + wakes * years, part) for d, part in drives]
        ratings = (
            (
                "start_stop",
                max(n / part.start_stop_rating.mid for n, part in ends),
            ),
            (
                "load_unload",
                max(n / part.load_unload_rating.mid for n, part in ends),
            ),
        )
        for name, used in ratings:
            yield Figure(
                key=f"{role}_{name}_used_fraction",
                label=f"  of its {name.replace('_', '/')} rating after {years} years",
                value=used,
                text=share(used),
            )
    yield from _cache_endurance(found)


def _cache_endurance(found: Assessment) -> Iterator[Figure]:
    machine = found.machine
    ratings = [
        d.part.tbw.mid for d in machine.in_role("cache") if hasattr(d.part, "tbw")
    ]
    if not ratings:
        return
    daily = found.scenario.usage.ingest_gb_per_day * MB_PER_GB
    tb_per_day = min(daily, usable_cache(machine)) / MB_PER_TB
    amplification = machine.factors.write_amplification.mid
    lasts = endurance_years(min(ratings), tb_per_day, amplification)
    text = "over 100 years" if lasts > 100 else f"{number(lasts)} years"
    yield Figure(
        key="cache_endurance_years", label="rated writes of the cache last", value=lasts,
        text=text,
    )  # fmt: skip
