"""What a log, counters and off hours say, as lines of text."""

from collections.abc import Iterator

from optibox.present.run_line import clock
from optibox.present.spindown_table import Cells, table_lines
from optibox.present.spindown_words import policy_words, stop_words, timeout_words
from optibox.present.words import clean, money, number, share, watts, wrapped
from optibox.running.counters import Counted, DriveCounters, Interval
from optibox.running.log_fit import is_short, span_days
from optibox.running.spindown import CountersAnswer, LogAnswer, Spindown

MARGIN = "  "
_MEANINGS = {
    "powered": "its power-on hours run on while it sleeps",
    "spinning": "its power-on hours count spinning alone",
    "unknown": "what its power-on hours count cannot be told",
}
LOG_HEAD: tuple[Cells, Cells] = (
    ("stop", "spins h/day", "", "", "wakes a year", "", "", " "),
    ("after", "replayed", "formula", "scenario", "replayed", "formula", "scenario", ""),
)


def log_lines(answer: LogAnswer, currency: str, width: int) -> Iterator[str]:
    """Yield what the log says, and how far the session formula is off."""
    fit, log = answer.fit, answer.fit.log
    writes = f", {number(log.n_writes)} writes left out" if log.n_writes else ""
    head = (
        f"{number(log.n_rows)} accesses over {number(span_days(log), 1)} days{writes}; "
        f"{clean(log.how)}. Scheduled blocks come on top."
    )
    if is_short(log):
        head += " Less than a month speaks poorly for a year."
    yield from wrapped(head, width, MARGIN)
    yield from table_lines(LOG_HEAD, [("", [_log_row(row) for row in fit.rows])])
    sessions = fit.sessions
    text = (
        f"Formula: {number(fit.machine_sessions_per_day, 1)} visits a day of "
        f"{number(sessions.accesses, 1)} accesses {number(sessions.gap_h * 60, 1)} min "
        f"apart, the sessions that fit best. It misses spinning by "
        f"{number(fit.worst_h_per_day, 2)} h a day and wakes by "
        f"{share(fit.worst_wakes_fraction)} at most."
    )
    yield from wrapped(text, width, MARGIN)
    yield from wrapped(_trust_words(answer, currency), width, MARGIN)


def _log_row(row: object) -> Cells:
    names = ("replayed", "fitted", "scenario")
    spins = [number(getattr(row, f"{name}_h_per_day"), 1) for name in names]
    wakes = [number(getattr(row, f"{name}_wakes_per_year")) for name in names]
    return (timeout_words(getattr(row, "timeout_min", None)), *spins, *wakes, "")


def _trust_words(answer: LogAnswer, currency: str) -> str:
    best = answer.formula_best
    replayed = answer.formula_best_replayed
    policy = policy_words(best.policy)
    if money(best.total, currency) == money(replayed.total, currency):
        return f"The formula's best ({policy}) costs what it says."
    return (
        f"The formula's best: {policy}, for {money(best.total, currency)} over the "
        f"years; by the replay that costs {money(replayed.total, currency)}."
    )


def counters_lines(answer: CountersAnswer, width: int) -> Iterator[str]:
    """Yield what the counters say about usage, and what they leave open."""
    found = answer.counted
    for drive in found.drives:
        yield from wrapped(_drive_words(drive), width, MARGIN, MARGIN * 2)
    text = (
        f"Over {number(found.days)} days the data drives' wakes speak for "
        f"{_span(found.sessions_per_day)} visits a day of the scenario's form; the "
        "tables take the middle."
    )
    if found.is_beyond:
        text += (
            " They woke more often than such visits can explain: accesses come further "
            "apart than usage.minutes_between says."
        )
    yield from wrapped(text, width, MARGIN, MARGIN * 2)
    yield from wrapped(_meter_words(found), width, MARGIN, MARGIN * 2)
    low, high = answer.best_at_low, answer.best_at_high
    if low.policy == high.policy:
        text = f"Best at either end: {policy_words(low.policy)}."
    else:
        text = (
            f"Best with fewest visits: {policy_words(low.policy)}; with most: "
            f"{policy_words(high.policy, low.policy)}."
        )
    yield from wrapped(text, width, MARGIN, MARGIN * 2)


def _drive_words(drive: DriveCounters) -> str:
    name = f"{clean(drive.drive)} ({drive.role})"
    spins = _span(drive.spinning_h_per_day, 1)
    return (
        f"{name}: {_span(drive.wakes_per_year)} wakes a year, spins {spins} h a day; "
        f"{_MEANINGS[drive.power_on_means]}"
    )


def _span(interval: Interval, digits: int = 0) -> str:
    low, mid, high = interval.low, interval.mid, interval.high
    digits = digits or (1 if high < 20 else 0)
    return f"{number(mid, digits)} ({number(low, digits)} to {number(high, digits)})"


def _meter_words(found: Counted) -> str:
    misfit = found.kwh_misfit_fraction
    if misfit is None or found.kwh_per_year is None:
        return "No meter was read at two dates: watts stay those of the catalog."
    planned = number(found.planned_kwh_per_year)
    side = "above" if misfit >= 0 else "below"
    text = (
        f"The meter makes {number(found.kwh_per_year)} kWh a year, {share(abs(misfit))} "
        f"{side} the {planned} kWh of build and scenario."
    )
    if abs(misfit) > 0.1:
        text += " More than a tenth: some watts of the catalog are not yours."
    return text


def off_lines(report: Spindown, currency: str, width: int) -> Iterator[str]:
    """Yield what switching the machine off saves, and what it takes away."""
    off, best = report.off, report.off.best
    if off.fault:
        text = f"Not considered: {clean(off.fault)}. {clean(off.remedy)}"
        yield from wrapped(text, width, MARGIN)
        return
    if best is None:
        yield from wrapped(f"No policy will do: {off.rows[0].fault}.", width, MARGIN)
        return
    state = "Suspended" if off.is_suspended else "Off"
    saved = report.off_saving_per_year
    gain = (
        f"{money(saved, currency)} a year less"
        if saved >= 0
        else f"{money(-saved, currency)} a year more"
    )
    text = (
        f"{state} {number(off.off_h_per_week)} h of the week's 168 at "
        f"{watts(off.off_w)}; {stop_words(best.policy.timeout_min)} in the open hours: "
        f"{number(best.kwh_per_year)} kWh a year, {money(best.total, currency)} over the "
        f"years, {gain} than the best policy always on."
    )
    yield from wrapped(text, width, MARGIN)
    yield from wrapped(_price_words(report), width, MARGIN)
    yield from _moved(report, width)
    near = [
        f"{timeout_words(row.policy.timeout_min)} {number(row.total)}"
        for row in off.rows
        if row.is_allowed
    ]
    yield from wrapped(
        f"By timeout, {currency} over the years: {', '.join(near)}.", width, MARGIN
    )


def _price_words(report: Spindown) -> str:
    off = report.off
    wakes = off.best.data.wakes_per_year if off.best else 0.0
    lost = (
        f"{number(off.unanswered_per_year)} visits a year would find it off if they came "
        "evenly round the clock"
    )
    if off.unanswered_in_log_per_year is not None:
        n = number(off.unanswered_in_log_per_year)
        lost = f"{n} accesses a year fell into the off hours by the log"
    return (
        f"In return: {lost} (here they come later); "
        f"{number(off.boots_per_year)} starts a year of {number(off.boot_minutes, 1)} min "
        f"before the first answer, each starting all drives ({number(wakes)} starts of a "
        "data drive a year in all)."
    )


def _moved(report: Spindown, width: int) -> Iterator[str]:
    """Yield the blocks that have to move to open hours."""
    off, found = report.off, report.table.found
    words = []
    flush = found.machine.operation.flush_hour
    if off.has_flush and abs(off.flush_hour - flush) > 1e-9:
        words.append(f"flush at {clock(off.flush_hour)} instead of {clock(flush)}")
    check = found.scenario.usage.check_hour
    if abs(off.check_hour - check) > 1e-9:
        words.append(f"check at {clock(off.check_hour)} instead of {clock(check)}")
    if words:
        text = f"Moved into the open hours: {', '.join(words)}."
        yield from wrapped(text, width, MARGIN)
