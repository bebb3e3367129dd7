"""What a log, counters and off hours say of when drives should sleep."""

from collections.abc import Iterator

from optibox.report.document import Column, Row, Section, Table, notes, section
from optibox.report.policies import policy_words, stop_words, timeout_words
from optibox.report.quantity import Unit, clock, money, number, share, watts
from optibox.running.counters import Counted, DriveCounters, Interval
from optibox.running.log_fit import is_short, span_days
from optibox.running.spindown import CountersAnswer, LogAnswer, Spindown

_MEANINGS = {
    "powered": "its power-on hours run on while it sleeps",
    "spinning": "its power-on hours count spinning alone",
    "unknown": "what its power-on hours count cannot be told",
}
_BASES = ("replayed", "fitted", "scenario")


def log_section(answer: LogAnswer, currency: str) -> tuple[Section, ...]:
    """Return what the log says, and how far the session formula is off."""
    fit, log = answer.fit, answer.fit.log
    writes = f", {number(log.n_writes)} writes left out" if log.n_writes else ""
    head = (
        f"{number(log.n_rows)} accesses over {number(span_days(log), 1)} days{writes}; "
        f"{log.how}. Scheduled blocks come on top."
    )
    if is_short(log):
        head += " Less than a month speaks poorly for a year."
    formula = (
        f"Formula: {number(fit.machine_sessions_per_day, 1)} visits a day of "
        f"{number(fit.sessions.accesses, 1)} accesses "
        f"{number(fit.sessions.gap_h * 60, 1)} min apart, the sessions that fit best. It "
        f"misses spinning by {number(fit.worst_h_per_day, 2)} h a day and wakes by "
        f"{share(fit.worst_wakes_fraction)} at most."
    )
    return section(
        "By the log",
        notes([head]),
        _compared(answer),
        notes([formula, _trust(answer, currency)]),
    )


def _compared(answer: LogAnswer) -> Table:
    words = ("replayed", "formula", "scenario")
    spins, wakes = Unit("h/day", 1), Unit("/year")
    return Table(
        columns=(
            Column(head="stop\nafter", flow="keep"),
            *(Column(head=f"spins\n{word}", unit=spins) for word in words),
            *(Column(head=f"wakes\n{word}", unit=wakes) for word in words),
        ),
        rows=tuple(
            Row(
                cells=(
                    timeout_words(row.timeout_min),
                    *(getattr(row, f"{name}_h_per_day") for name in _BASES),
                    *(getattr(row, f"{name}_wakes_per_year") for name in _BASES),
                )
            )
            for row in answer.fit.rows
        ),
    )


def _trust(answer: LogAnswer, currency: str) -> str:
    total, replayed = (
        money(row.total, currency)
        for row in (answer.formula_best, answer.formula_best_replayed)
    )
    policy = policy_words(answer.formula_best.policy)
    if total == replayed:
        return f"The formula's best ({policy}) costs what it says."
    return (
        f"The formula's best: {policy}, for {total} over the years; by the replay that "
        f"costs {replayed}."
    )


def counters_section(answer: CountersAnswer) -> tuple[Section, ...]:
    """Return what the counters say about usage, and what they leave open."""
    found, low, high = answer.counted, answer.best_at_low, answer.best_at_high
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
    if low.policy == high.policy:
        ends = f"Best at either end: {policy_words(low.policy)}."
    else:
        ends = (
            f"Best with fewest visits: {policy_words(low.policy)}; with most: "
            f"{policy_words(high.policy, low.policy)}."
        )
    drives = map(_drive, found.drives)
    return section("By the counters", notes([*drives, text, _meter(found), ends]))


def _drive(drive: DriveCounters) -> str:
    spins = _span(drive.spinning_h_per_day, 1)
    return (
        f"{drive.drive} ({drive.role}): {_span(drive.wakes_per_year)} wakes a year, "
        f"spins {spins} h a day; {_MEANINGS[drive.power_on_means]}"
    )


def _span(interval: Interval, digits: int = 0) -> str:
    digits = digits or (1 if interval.high < 20 else 0)
    low, mid, high = (
        number(value, digits) for value in (interval.low, interval.mid, interval.high)
    )
    return f"{mid} ({low} to {high})"


def _meter(found: Counted) -> str:
    misfit = found.kwh_misfit_fraction
    if misfit is None or found.kwh_per_year is None:
        return "No meter was read at two dates: watts stay those of the catalog."
    side = "above" if misfit >= 0 else "below"
    text = (
        f"The meter makes {number(found.kwh_per_year)} kWh a year, {share(abs(misfit))} "
        f"{side} the {number(found.planned_kwh_per_year)} kWh of build and scenario."
    )
    if abs(misfit) > 0.1:
        text += " More than a tenth: some watts of the catalog are not yours."
    return text


def off_section(found: Spindown, currency: str) -> tuple[Section, ...]:
    """Return what switching the machine off saves, and what it takes away."""
    title = "Machine off when nobody needs answers"
    return section(title, notes(_off(found, currency)))


def _off(found: Spindown, currency: str) -> Iterator[str]:
    off, best = found.off, found.off.best
    if off.fault:
        yield f"Not considered: {off.fault}. {off.remedy}"
        return
    if best is None:
        yield f"No policy will do: {off.rows[0].fault}."
        return
    saved = found.off_saving_per_year
    yield (
        f"{'Suspended' if off.is_suspended else 'Off'} {number(off.off_h_per_week)} h of "
        f"the week's 168 at {watts(off.off_w)}; {stop_words(best.policy.timeout_min)} in "
        f"the open hours: {number(best.kwh_per_year)} kWh a year, "
        f"{money(best.total, currency)} over the years, {money(abs(saved), currency)} a "
        f"year {'less' if saved >= 0 else 'more'} than the best policy always on."
    )
    yield _price(found)
    yield _moved(found)
    near = [
        f"{timeout_words(row.policy.timeout_min)} {number(row.total)}"
        for row in off.rows
        if row.is_allowed
    ]
    yield f"By timeout, {currency} over the years: {', '.join(near)}."


def _price(found: Spindown) -> str:
    off = found.off
    wakes = off.best.data.wakes_per_year if off.best else 0.0
    lost = (
        f"{number(off.unanswered_per_year)} visits a year would find it off if they came "
        "evenly round the clock"
    )
    if off.unanswered_in_log_per_year is not None:
        n = number(off.unanswered_in_log_per_year)
        lost = f"{n} accesses a year fell into the off hours by the log"
    return (
        f"In return: {lost} (here they come later); {number(off.boots_per_year)} starts a "
        f"year of {number(off.boot_minutes, 1)} min before the first answer, each starting "
        f"all drives ({number(wakes)} starts of a data drive a year in all)."
    )


def _moved(found: Spindown) -> str:
    """Return the blocks that have to move to open hours; nothing where none has to."""
    off, machine = found.off, found.table.found
    flush, check = (
        machine.machine.operation.flush_hour,
        machine.scenario.usage.check_hour,
    )
    words = []
    if off.has_flush and abs(off.flush_hour - flush) > 1e-9:
        words.append(f"flush at {clock(off.flush_hour)} instead of {clock(flush)}")
    if abs(off.check_hour - check) > 1e-9:
        words.append(f"check at {clock(off.check_hour)} instead of {clock(check)}")
    return f"Moved into the open hours: {', '.join(words)}." if words else ""
