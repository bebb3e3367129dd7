"""When drives should sleep, as text: whether to change anything, then the tables."""

import math
from collections.abc import Iterable, Iterator, Sequence

from optibox.present.run_line import clock
from optibox.present.spindown_table import table_lines
from optibox.present.spindown_usage_text import counters_lines, log_lines, off_lines
from optibox.present.spindown_words import (
    drives_words,
    kind_words,
    policy_words,
    range_words,
    stop_words,
    timeout_words,
)
from optibox.present.text import PIPED_WIDTH, Line
from optibox.present.words import (
    and_list,
    capital,
    clean,
    hours,
    money,
    number,
    rate,
    share,
    wrapped,
)
from optibox.running.policy import WORTH_PER_YEAR, PolicyRow, PolicyTable
from optibox.running.policy_breakeven import BreakEven
from optibox.running.policy_drives import OwnTimeouts
from optibox.running.policy_hours import HourChoice
from optibox.running.spindown import Spindown

MARGIN = "  "
Cells = Sequence[str]


def spindown_lines(
    report: Spindown, currency: str, width: int = PIPED_WIDTH, *, is_whole: bool = False
) -> list[Line]:
    """Return the whole answer as lines, the verdict first.

    Parameters
    ----------
    report : Spindown
        What to tell.
    currency : str
        Of all money.
    width : int
        Columns of a line; tables may need some more.
    is_whole : bool
        Every policy on a row of its own, those that are not allowed too.
    """
    lines = [Line(t, "strong") for t in wrapped(verdict(report, currency), width)]
    lines += [Line(t) for t in wrapped(flatness(report.table, currency), width)]
    if report.sessions_by_share is not None:
        text = (
            "usage.spinning_fraction holds for the present timeout; it was taken for "
            f"{number(report.sessions_by_share, 1)} visits a day."
        )
        lines += [Line(t) for t in wrapped(text, width)]
    for fault in report.table.incurable:
        text = f"No policy cures this fault of the build: {clean(fault)}."
        lines += [Line(t, "caution") for t in wrapped(text, width)]
    if report.counters is not None:
        lines += _titled("By the counters", counters_lines(report.counters, width))
    if report.log is not None:
        lines += _titled("By the log", log_lines(report.log, currency, width))
    rows = policy_rows(report.table, width, is_whole=is_whole)
    lines += _titled(_table_title(report.table, currency), rows)
    return lines + detail_lines(report, currency, width)


def detail_lines(report: Spindown, currency: str, width: int) -> list[Line]:
    """Return what holds for the best policy: drives, break-evens, hours, off hours."""
    years = report.table.found.scenario.money.years
    own = own_lines(report.own, years, currency, width)
    breaks = [
        *break_even_lines(report.break_evens, currency, width),
        *wrapped(pays_words(report.table, currency), width, MARGIN),
    ]
    return [
        *_titled("Each drive by itself", own),
        *_titled("What a sleep must last to pay", breaks),
        *_titled(
            "Hours of flush and check", hours_lines(report.hours, currency, width)
        ),
        *_titled(
            "Machine off when nobody needs answers", off_lines(report, currency, width)
        ),
    ]


def _titled(title: str, body: Iterable[str]) -> list[Line]:
    found = [Line(text) for text in body]
    return [Line(""), Line(title, "strong"), *found] if found else []


def verdict(report: Spindown, currency: str) -> str:
    """Return whether anything is worth changing, and what."""
    table = report.table
    changes = list(_changes(report, currency))
    now = policy_words(table.present.policy)
    if not table.present.is_allowed and table.best.is_allowed:
        best = policy_words(table.best.policy, table.present.policy)
        return (
            f"Has to change: {now} will not do ({clean(table.present.fault)}); the "
            f"best that does: {best}."
        )
    if changes:
        return f"Worth changing: {'; '.join(changes)}. Now: {now}."
    return f"Nothing worth changing: {now}. {_next_words(report, currency)}"


def _changes(report: Spindown, currency: str) -> Iterator[str]:
    """Yield what saves enough to be worth doing, with what it saves."""
    table, years = report.table, report.table.found.scenario.money.years
    if table.is_worth_changing:
        best = policy_words(table.best.policy, table.present.policy)
        kwh = table.present.kwh_per_year - table.best.kwh_per_year
        energy = f"{number(abs(kwh))} kWh {'less' if kwh >= 0 else 'more'}"
        saved = table.saving_per_year
        yield (
            f"{best} saves {money(saved, currency)} a year "
            f"({energy}; {money(saved * years, currency)} over {years} years"
            f"{_slower(table)})"
        )
    extras = (
        ("switching off in the off hours saves", report.off_saving_per_year),
        ("a timeout for each drive saves", report.own_saving_per_year),
        ("other hours of flush and check save", report.hours.saving_per_year),
    )
    for words, saved in extras:
        if saved >= WORTH_PER_YEAR:
            yield f"{words} {money(saved, currency)} a year"


def _slower(table: PolicyTable) -> str:
    """Return what the best takes away from the rate of writing, if anything."""
    best, now = table.best.write_mb_s, table.present.write_mb_s
    if best >= now - 0.5:
        return ""
    return f"; writes {rate(best)} instead of {number(now)}"


def _next_words(report: Spindown, currency: str) -> str:
    table = report.table
    if table.best == table.present:
        return "No other policy on these parts is cheaper."
    saved = money(table.saving_per_year, currency)
    best = policy_words(table.best.policy, table.present.policy)
    return (
        f"The best ({best}) saves {saved} a year, less than the "
        f"{money(WORTH_PER_YEAR, currency)} from which a change is called worth it."
    )


def flatness(table: PolicyTable, currency: str) -> str:
    """Return how much it matters to hit the best timeout."""
    years, best = table.found.scenario.money.years, table.best
    near = [row.policy.timeout_min for row in table.flat()]
    flat = "Flat" if len(near) > 2 else "Sharp"
    words = (
        f"{flat} optimum: {range_words(near)} within {money(WORTH_PER_YEAR, currency)} "
        "a year of the best"
    )
    same = [
        row
        for row in table.rows
        if (row.policy.write_mode, row.policy.cache)
        == (best.policy.write_mode, best.policy.cache)
        and row.is_allowed
    ]
    worst = max(same, key=lambda row: row.total, default=best)
    extra = (worst.total - best.total) / years
    if worst == best or extra < WORTH_PER_YEAR:
        return f"{words}; no timeout of the menu is worse."
    worst_words = stop_words(worst.policy.timeout_min)
    return f"{words}; dearest: {worst_words}, {money(extra, currency)} a year more."


def _table_title(table: PolicyTable, currency: str) -> str:
    years = table.found.scenario.money.years
    return f"Energy and wear by policy, parts as they are [{currency}, {years} years]"


HEAD: tuple[Cells, Cells] = (
    ("stop", "spins h/day", "", "wakes a year", "", "ratings used", "", "kWh",
     "energy", "wear", "waited", "wait", "total", ""),
    ("after", "data", "parity", "data", "parity", "start", "load", "a year",
     "a year", "a year", "h/year", "s", "", ""),
)  # fmt: skip


SPARED = (6, 8, 11, 9)
"""Columns that a narrow terminal goes without: load/unload, price of energy, longest
wait, price of wear; they stay in JSON and CSV."""
OVERHANG = 8
"""Columns by which marks at the end of rows may stand out."""


def policy_rows(
    table: PolicyTable, width: int = PIPED_WIDTH, *, is_whole: bool = False
) -> Iterator[str]:
    """Yield the table: a block for each write mode and cache arrangement.

    A block in which nothing is allowed takes one line, unless the whole is asked for.
    """
    blocks: dict[str, list[PolicyRow]] = {}
    for row in table.rows:
        blocks.setdefault(kind_words(row.policy), []).append(row)
    refused = {
        kind: rows
        for kind, rows in blocks.items()
        if not is_whole and not any(r.is_allowed or r == table.present for r in rows)
    }
    shown = [
        (kind, [(*figure_cells(row), _mark(table, row)) for row in rows])
        for kind, rows in blocks.items()
        if kind not in refused
    ]
    yield from table_lines(HEAD, shown, width + OVERHANG, SPARED)
    for kind, rows in refused.items():
        would = min(row.total for row in rows)
        rules = " ".join(dict.fromkeys(row.rule for row in rows))
        yield f"{MARGIN}{kind}: no {rules} (would be {number(would, 2)} at best)"
    yield from (f"{MARGIN}{note}" for note in _notes(table))


def figure_cells(row: PolicyRow) -> tuple[str, ...]:
    """Return a policy's figures as cells under the head, what marks it left out."""
    data, parity = row.data, row.parity
    used = [max(r.start_stop_used_fraction for r in (data, parity) if r)]
    used += [max(r.load_unload_used_fraction for r in (data, parity) if r)]
    return (
        timeout_words(row.policy.timeout_min),
        number(data.spinning_h_per_day, 1),
        number(parity.spinning_h_per_day, 1) if parity else "-",
        number(data.wakes_per_year),
        number(parity.wakes_per_year) if parity else "-",
        *(share(u) for u in used),
        number(row.kwh_per_year),
        number(row.energy_per_year, 2),
        number(row.wear_per_year, 2),
        number(row.waited_h_per_year, 1),
        number(row.longest_wait_s),
        number(row.total, 2),
    )


def _mark(table: PolicyTable, row: PolicyRow) -> str:
    marks = []
    if row == table.best and row.is_allowed:
        marks.append("best")
    if row == table.present:
        marks.append("now")
    if row.fault:
        marks.append(f"no {row.rule}")
    return " ".join(marks)


def _notes(table: PolicyTable) -> Iterator[str]:
    faults = {row.rule: clean(row.fault) for row in table.rows if row.fault}
    for rule, fault in sorted(faults.items()):
        yield f"no {rule}: {fault}"


def own_lines(own: OwnTimeouts, years: int, currency: str, width: int) -> Iterator[str]:
    """Yield the best timeout of each group of drives."""
    if own.reason:
        yield from wrapped(f"One timeout for all: {own.reason}.", width, MARGIN)
        return
    for group in own.groups:
        text = (
            f"{drives_words(group.drives)} ({clean(group.label)}): {timeout_words(group.timeout_min)}, "
            f"{number(group.spinning_h_per_day, 1)} h a day, "
            f"{number(group.wakes_per_year)} wakes a year; "
            f"{_saved(group.saving_per_year, currency)}"
        )
        yield from wrapped(text, width, MARGIN, MARGIN * 2)
    shared = timeout_words(own.shared_timeout_min)
    saved = (own.shared_total - own.total) / years
    text = f"Against {shared} for all drives; together {_saved(saved, currency)}."
    yield from wrapped(text, width, MARGIN)


def _saved(saving: float, currency: str) -> str:
    if saving < 0.005:
        return "saves nothing"
    return f"saves {money(saving, currency)} a year"


def break_even_lines(
    rows: Sequence[BreakEven], currency: str, width: int
) -> Iterator[str]:
    """Yield for each type of drive from when on sleeping pays."""
    for row in rows:
        label = f"{len(row.drives)} x {clean(row.label)}"
        if not row.ever_pays or math.isinf(row.energy_s):
            yield from wrapped(
                f"{label}: never; standby saves nothing.", width, MARGIN, MARGIN * 2
            )
            continue
        price = row.wake_wear_price + row.wake_energy_price
        text = (
            f"{label}: {number(row.energy_s)} s for energy alone, "
            f"{hours(row.wear_h)} with the wear of a wake "
            f"({price:.2g} {currency}); sleeping saves "
            f"{number(row.saved_wall_w, 1)} W at the wall. Spinning down does not pay "
            f"where a drive is woken more than {number(row.most_sleeps_per_day)} times "
            "a day, evenly spread."
        )
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


def pays_words(table: PolicyTable, currency: str) -> str:
    """Return whether spinning down pays on this machine, and how much."""
    best, years = table.best, table.found.scenario.money.years
    alike = [
        row
        for row in table.rows
        if kind_words(row.policy) == kind_words(best.policy) and row.is_allowed
    ]
    never = [row for row in alike if row.policy.timeout_min is None]
    stops = [row for row in alike if row.policy.timeout_min is not None]
    if not never or not stops:
        return ""
    least = min(stops, key=lambda row: row.total)
    gain = (never[0].total - least.total) / years
    if gain > 0:
        return (
            f"Here it pays: {money(gain, currency)} a year against drives that never "
            "stop."
        )
    return (
        "Here spinning down does not pay: the best timeout "
        f"({timeout_words(least.policy.timeout_min)}) costs {money(-gain, currency)} a "
        "year more than never."
    )


def hours_lines(choice: HourChoice, currency: str, width: int) -> Iterator[str]:
    """Yield what other hours would save, and how little that can be."""
    if not choice.has_flush and not choice.has_checks:
        return
    moved = []
    if choice.has_flush:
        moved.append(f"flush at {clock(choice.best.flush_hour)}")
    if choice.has_checks:
        moved.append(f"check at {clock(choice.best.check_hour)}")
    prices = (
        "the price of a kWh is the same at all hours"
        if choice.is_flat_tariff
        else f"a kWh costs {number(choice.lowest_price, 3)} to "
        f"{number(choice.highest_price, 3)} {currency} by the hour"
    )
    saved = money(choice.saving_per_year, currency)
    if choice.saving_per_year < 0.005:
        head = "The present hours are as good as any"
    elif choice.saving_per_year < WORTH_PER_YEAR:
        head = f"Not worth moving: {and_list(moved)} would save {saved} a year"
    else:
        head = f"Best: {and_list(moved)}, saves {saved} a year"
    text = (
        f"{head}. {capital(prices)}, and flushes and checks, which alone can move, take "
        f"{number(choice.movable_kwh)} kWh a year; best and worst hours are "
        f"{money(choice.spread_per_year, currency)} a year apart."
    )
    yield from wrapped(text, width, MARGIN, MARGIN * 2)
