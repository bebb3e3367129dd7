"""When drives should sleep: policies on one build, and what holds for the best."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from optibox.report.as_json import FORMAT
from optibox.report.document import (
    Column,
    Document,
    Items,
    Note,
    Section,
    Table,
    notes,
    section,
)
from optibox.report.policies import (
    MARK,
    drives_words,
    figure_columns,
    figures,
    kind_words,
    policy_words,
    range_words,
    row_of,
    stop_words,
    timeout_words,
)
from optibox.report.quantity import (
    SAME_MONEY,
    clock,
    hours,
    money,
    number,
    rate,
)
from optibox.report.spindown_usage import counters_section, log_section, off_section
from optibox.report.words import and_list, capital
from optibox.running.policy import WORTH_PER_YEAR, PolicyRow, PolicyTable
from optibox.running.policy_breakeven import BreakEven
from optibox.running.policy_drives import OwnTimeouts
from optibox.running.policy_hours import HourChoice
from optibox.running.spindown import Spindown


@dataclass(frozen=True, kw_only=True)
class SpindownReport:
    """Policies on one build."""

    found: Spindown
    currency: str
    is_whole: bool = False
    """Every policy on a row of its own, those that are not allowed too."""

    def document(self) -> Document:
        """Return the answer: whether to change anything, then the tables."""
        found, currency = self.found, self.currency
        years = found.table.found.scenario.money.years
        lead = [Note(flatness(found.table, currency))]
        if found.sessions_by_share is not None:
            visits = number(found.sessions_by_share, 1)
            text = "usage.spinning_fraction holds for the present timeout; it was taken for"
            lead.append(Note(f"{text} {visits} visits a day."))
        for fault in found.table.incurable:
            text = f"No policy cures this fault of the build: {fault}."
            lead.append(Note(text, "caution"))
        shown, folded = self._folded()
        return Document(
            verdict=(verdict(found, currency),),
            lead=tuple(lead),
            sections=(
                *(counters_section(found.counters) if found.counters else ()),
                *(log_section(found.log, currency) if found.log else ()),
                *section(
                    f"Energy and wear by policy over {years} years, parts as they are",
                    self._table(shown),
                    notes([*folded, *_faults(found.table)]),
                ),
                *details(found, currency),
            ),
            data=self._table(found.table.rows),
        )

    def _folded(self) -> tuple[list[PolicyRow], list[str]]:
        """Return the rows to show, and a line for each kind that is not allowed at all."""
        table, kinds = self.found.table, dict[str, list[PolicyRow]]()
        for row in table.rows:
            kinds.setdefault(kind_words(row.policy), []).append(row)
        shown, folded = list[PolicyRow](), list[str]()
        for kind, rows in kinds.items():
            if self.is_whole or any(r.is_allowed or r == table.present for r in rows):
                shown += rows
                continue
            would = number(min(row.total for row in rows), 2)
            rules = " ".join(dict.fromkeys(row.rule for row in rows))
            folded.append(f"{kind}: no {rules} (would be {would} at best)")
        return shown, folded

    def _table(self, rows: Iterable[PolicyRow]) -> Table:
        columns = (
            *figure_columns(self.currency),
            MARK,
            *(
                Column(key=key, is_shown=False)
                for key in ("is_present", "is_best", "rule", "fault", "currency")
            ),
        )
        told = (
            row_of(columns, self._told(row), kind_words(row.policy), self._mark(row))
            for row in rows
        )
        return Table(columns=columns, rows=tuple(told))

    def _told(self, row: PolicyRow) -> dict[str, Any]:
        table = self.found.table
        return figures(row) | {
            "is_present": row == table.present,
            "is_best": row == table.best and row.is_allowed,
            "rule": row.rule,
            "fault": row.fault,
            "currency": self.currency,
        }

    def _mark(self, row: PolicyRow) -> str:
        table = self.found.table
        marks = ["best"] if row == table.best and row.is_allowed else []
        marks += ["now"] if row == table.present else []
        return " ".join([*marks, *([f"no {row.rule}"] if row.fault else [])])

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for programs; units stand in the keys."""
        found, table = self.found, self.found.table
        told = [self._told(row) for row in table.rows]
        return {
            "format": FORMAT,
            "currency": self.currency,
            "years": table.found.scenario.money.years,
            "is_worth_changing": found.is_worth_changing,
            "saving_price_per_year": table.saving_per_year,
            "policies": [
                {key: row[key] for key in row if key != "currency"} for row in told
            ],
            **details_dict(found),
            "counters": _counters_dict(found),
            "log": _log_dict(found),
        }


def _counters_dict(found: Spindown) -> dict[str, Any] | None:
    answer = found.counters
    if answer is None:
        return None
    return {
        "counted": answer.counted,
        "best_timeout_min_at_low": answer.best_at_low.policy.timeout_min,
        "best_timeout_min_at_high": answer.best_at_high.policy.timeout_min,
    }


def _log_dict(found: Spindown) -> dict[str, Any] | None:
    if found.log is None:
        return None
    fit = found.log.fit
    return {
        "rows": fit.log.n_rows,
        "writes_left_out": fit.log.n_writes,
        "span_h": fit.log.span_h,
        "how": fit.log.how,
        "sessions_per_day": fit.machine_sessions_per_day,
        "break_min": fit.break_min,
        "sessions": fit.sessions,
        "compared": fit.rows,
        "formula_best": figures(found.log.formula_best),
        "formula_best_replayed": figures(found.log.formula_best_replayed),
    }


def details_dict(found: Spindown) -> dict[str, Any]:
    """Return what holds for the best policy, for programs."""
    off = found.off
    cells = {name: getattr(off, name) for name in off.__slots__ if name != "rows"}
    return {
        "own_timeouts": found.own,
        "break_evens": found.break_evens,
        "hours": found.hours,
        "off_hours": {**cells, "policies": [figures(row) for row in off.rows]},
    }


def details(found: Spindown, currency: str) -> tuple[Section, ...]:
    """Return what holds for the best policy: drives, break-evens, hours, off hours."""
    years = found.table.found.scenario.money.years
    breaks = (break_even_words(row, currency) for row in found.break_evens)
    return (
        *section("Each drive by itself", _own(found.own, years, currency)),
        *section(
            "What a sleep must last to pay",
            notes(breaks),
            Note(pays_words(found.table, currency)),
        ),
        *section("Hours of flush and check", Note(_hours(found.hours, currency))),
        *off_section(found, currency),
    )


def verdict(found: Spindown, currency: str) -> str:
    """Return whether anything is worth changing, and what."""
    table = found.table
    changes = list(_changes(found, currency))
    now = policy_words(table.present.policy)
    if not table.present.is_allowed and table.best.is_allowed:
        best = policy_words(table.best.policy, table.present.policy)
        return (
            f"Has to change: {now} will not do ({table.present.fault}); the best that "
            f"does: {best}."
        )
    if changes:
        return f"Worth changing: {'; '.join(changes)}. Now: {now}."
    return f"Nothing worth changing: {now}. {_next(table, currency)}"


def _changes(found: Spindown, currency: str) -> Iterator[str]:
    """Yield what saves enough to be worth doing, with what it saves."""
    table, years = found.table, found.table.found.scenario.money.years
    if table.is_worth_changing:
        best = policy_words(table.best.policy, table.present.policy)
        kwh = table.present.kwh_per_year - table.best.kwh_per_year
        energy = f"{number(abs(kwh))} kWh {'less' if kwh >= 0 else 'more'}"
        saved = table.saving_per_year
        yield (
            f"{best} saves {money(saved, currency)} a year ({energy}; "
            f"{money(saved * years, currency)} over {years} years{_slower(table)})"
        )
    extras = (
        ("switching off in the off hours saves", found.off_saving_per_year),
        ("a timeout for each drive saves", found.own_saving_per_year),
        ("other hours of flush and check save", found.hours.saving_per_year),
    )
    for words, saved in extras:
        if saved >= WORTH_PER_YEAR:
            yield f"{words} {money(saved, currency)} a year"


def _slower(table: PolicyTable) -> str:
    """Return what the best takes away from the rate of writing, if anything."""
    best, now = table.best.write_mb_s, table.present.write_mb_s
    is_slower = best < now - 0.5
    return f"; writes {rate(best)} instead of {number(now)}" if is_slower else ""


def _next(table: PolicyTable, currency: str) -> str:
    if table.best == table.present:
        return "No other policy on these parts is cheaper."
    best = policy_words(table.best.policy, table.present.policy)
    return (
        f"The best ({best}) saves {money(table.saving_per_year, currency)} a year, less "
        f"than the {money(WORTH_PER_YEAR, currency)} from which a change is called worth "
        "it."
    )


def _alike(table: PolicyTable) -> list[PolicyRow]:
    """Return the allowed policies of the best's write mode and cache."""
    kind = kind_words(table.best.policy)
    return [r for r in table.rows if kind_words(r.policy) == kind and r.is_allowed]


def flatness(table: PolicyTable, currency: str) -> str:
    """Return how much it matters to hit the best timeout."""
    near = [row.policy.timeout_min for row in table.flat()]
    words = (
        f"{'Flat' if len(near) > 2 else 'Sharp'} optimum: {range_words(near)} within "
        f"{money(WORTH_PER_YEAR, currency)} a year of the best"
    )
    worst = max(_alike(table), key=lambda row: row.total, default=table.best)
    extra = (worst.total - table.best.total) / table.found.scenario.money.years
    if extra < WORTH_PER_YEAR:
        return f"{words}; no timeout of the menu is worse."
    dearest = stop_words(worst.policy.timeout_min)
    return f"{words}; dearest: {dearest}, {money(extra, currency)} a year more."


def _faults(table: PolicyTable) -> list[str]:
    faults = {row.rule: row.fault for row in table.rows if row.fault}
    return [f"no {rule}: {fault}" for rule, fault in sorted(faults.items())]


def _own(own: OwnTimeouts, years: int, currency: str) -> Items:
    """Return the best timeout of each group of drives."""
    if own.reason:
        return notes([f"One timeout for all: {own.reason}."])
    groups = [
        f"{drives_words(group.drives)} ({group.label}): "
        f"{timeout_words(group.timeout_min)}, {number(group.spinning_h_per_day, 1)} h a "
        f"day, {number(group.wakes_per_year)} wakes a year; "
        f"{_saved(group.saving_per_year, currency)}"
        for group in own.groups
    ]
    shared = timeout_words(own.shared_timeout_min)
    saved = _saved((own.shared_total - own.total) / years, currency)
    return notes([*groups, f"Against {shared} for all drives; together {saved}."])


def _saved(saving: float, currency: str) -> str:
    if saving < SAME_MONEY:
        return "saves nothing"
    return f"saves {money(saving, currency)} a year"


def break_even_words(row: BreakEven, currency: str) -> str:
    """Return from when on sleeping pays for one type of drive."""
    label = f"{len(row.drives)} x {row.label}"
    if not row.ever_pays or math.isinf(row.energy_s):
        return f"{label}: never; standby saves nothing."
    price = row.wake_wear_price + row.wake_energy_price
    return (
        f"{label}: {number(row.energy_s)} s for energy alone, {hours(row.wear_h)} with "
        f"the wear of a wake ({price:.2g} {currency}); sleeping saves "
        f"{number(row.saved_wall_w, 1)} W at the wall. Spinning down does not pay where a "
        f"drive is woken more than {number(row.most_sleeps_per_day)} times a day, evenly "
        "spread."
    )


def pays_words(table: PolicyTable, currency: str) -> str:
    """Return whether spinning down pays on this machine, and how much."""
    alike = _alike(table)
    never = [row for row in alike if row.policy.timeout_min is None]
    stops = [row for row in alike if row.policy.timeout_min is not None]
    if not never or not stops:
        return ""
    least = min(stops, key=lambda row: row.total)
    gain = (never[0].total - least.total) / table.found.scenario.money.years
    if gain > 0:
        return f"Here it pays: {money(gain, currency)} a year against drives that never stop."
    return (
        "Here spinning down does not pay: the best timeout "
        f"({timeout_words(least.policy.timeout_min)}) costs {money(-gain, currency)} a "
        "year more than never."
    )


def _hours(choice: HourChoice, currency: str) -> str:
    """Return what other hours would save, and how little that can be."""
    moved = [f"flush at {clock(choice.best.flush_hour)}"] if choice.has_flush else []
    moved += [f"check at {clock(choice.best.check_hour)}"] if choice.has_checks else []
    if not moved:
        return ""
    prices = (
        "the price of a kWh is the same at all hours"
        if choice.is_flat_tariff
        else f"a kWh costs {number(choice.lowest_price, 3)} to "
        f"{number(choice.highest_price, 3)} {currency} by the hour"
    )
    saved = money(choice.saving_per_year, currency)
    if choice.saving_per_year < SAME_MONEY:
        head = "The present hours are as good as any"
    elif choice.saving_per_year < WORTH_PER_YEAR:
        head = f"Not worth moving: {and_list(moved)} would save {saved} a year"
    else:
        head = f"Best: {and_list(moved)}, saves {saved} a year"
    return (
        f"{head}. {capital(prices)}, and flushes and checks, which alone can move, take "
        f"{number(choice.movable_kwh)} kWh a year; best and worst hours are "
        f"{money(choice.spread_per_year, currency)} a year apart."
    )
