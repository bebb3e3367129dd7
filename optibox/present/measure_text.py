"""What readings say, as text."""

from collections.abc import Iterator, Sequence

from optibox.measure.reconcile import Reconciliation
from optibox.present.measure_words import (
    SCALE_OF_METER,
    decision_words,
    drive_sentences,
    figure_rows,
    fit_sentences,
    next_words,
    state_sentences,
    summary,
    suspects_words,
    transfer_words,
    unseen_words,
    verdict_words,
)
from optibox.present.sheet_words import AT_END
from optibox.present.text import Line
from optibox.present.words import pad, pad_left, width_of, wrapped
from optibox.report.quantity import number, rate
from optibox.report.words import clean, counted

MARGIN = "  "


def reconcile_lines(found: Reconciliation, currency: str, width: int) -> list[Line]:
    """Return everything that readings say as lines of a width."""
    lines = [
        Line(text, "strong")
        for sentence in summary(found, currency)
        for text in wrapped(sentence, width)
    ]
    lines += map(Line, wrapped(_head(found), width))
    for title, body in (
        ("Meter against plan, W at the wall", _states(found, width)),
        ("Parts, W at the parts (95 % interval)", _parts(found, width)),
        ("Transfers", _transfers(found, width)),
        ("Factors for the next plan", _factors(found, width)),
        ("Counters", _counters(found, width)),
        ("What changes", _changed(found, currency, width)),
        ("Decisions", _decisions(found, currency, width)),
        ("Next", _next(found, currency, width)),
    ):
        rows = list(body)
        if rows:
            lines += [Line(""), Line(title, "strong"), *map(Line, rows)]
    lines.append(Line(""))
    lines += [Line(text, "caution") for text in wrapped(AT_END, width, "! ")]
    return lines


def _head(found: Reconciliation) -> str:
    readings = found.readings
    counts = (
        (len(readings.power), "wall reading"),
        (len(readings.transfers), "transfer test"),
        (len(readings.counters), "drive's counters"),
    )
    words = ", ".join(
        counted(n, word, "drives' counters" if "counters" in word else "")
        for n, word in counts
        if n
    )
    blank = (
        f"; {counted(readings.n_blank, 'row')} left blank" if readings.n_blank else ""
    )
    return f"Read: {words}{blank}."


def _sentences(texts: Iterator[str], width: int) -> Iterator[str]:
    for text in texts:
        yield from wrapped(text, width, MARGIN)


def _columns(
    rows: Sequence[Sequence[str]], width: int, *, numbers: Sequence[int] = ()
) -> Iterator[str]:
    """Yield rows in columns, a last one that does not fit on lines of its own."""
    n = len(rows[0]) - 1
    sizes = [max(width_of(row[i]) for row in rows) for i in range(n)]
    sizes[0] = min(sizes[0], max(20, width - sum(sizes[1:]) - 2 * n - len(MARGIN)))
    for row in rows:
        first, *rest = wrapped(row[0], sizes[0])
        cells = [pad(first, sizes[0])]
        cells += [
            (pad_left if i in numbers else pad)(row[i], sizes[i]) for i in range(1, n)
        ]
        line = MARGIN + "  ".join(cells)
        if row[-1] and width_of(line) + 2 + width_of(row[-1]) <= width:
            line += f"  {row[-1]}"
            last = ""
        else:
            last = row[-1]
        yield line.rstrip()
        yield from (f"{MARGIN}{text}" for text in rest)
        if last:
            yield from wrapped(last, width, MARGIN * 3)


def _states(found: Reconciliation, width: int) -> Iterator[str]:
    if found.fit is None:
        return
    if found.gaps:
        rows = [("state", "measured", "plan", "unexplained", "")]
        rows += [
            (
                gap.state,
                number(gap.measured_w, 1),
                number(gap.planned_w, 1),
                f"{number(gap.left_w, 1)} +-{number(1.96 * gap.error_w, 1)}",
                "",
            )
            for gap in found.gaps
        ]
        yield from _columns(rows, width, numbers=(1, 2, 3))
    yield from _sentences(state_sentences(found), width)
    yield from _sentences(drive_sentences(found), width)


def _parts(found: Reconciliation, width: int) -> Iterator[str]:
    fit = found.fit
    if fit is None:
        return
    rows = [("", "readings alone", "catalog", "with catalog", "")]
    rows += [
        (row.name, row.measured, row.catalog, row.together, row.remark)
        for row in figure_rows(fit)
    ]
    yield from _columns(rows, width)
    yield from _sentences(fit_sentences(fit), width)
    if text := unseen_words(fit.unseen):
        yield from wrapped(text, width, MARGIN)
    yield from wrapped(SCALE_OF_METER, width, MARGIN)


def _transfers(found: Reconciliation, width: int) -> Iterator[str]:
    if not found.judged:
        return
    rows = [("", "measured", "plan", "")]
    rows += [
        (
            f"line {one.reading.line}: {transfer_words(one)}",
            rate(one.reading.mb_s),
            rate(one.planned.rate_mb_s),
            verdict_words(one),
        )
        for one in found.judged
    ]
    yield from _columns(rows, width, numbers=(1, 2))
    for one in found.judged:
        if text := suspects_words(one):
            lead = f"line {one.reading.line} would be, MB/s: "
            yield from wrapped(f"{lead}{text}.", width, MARGIN, MARGIN * 3)


def _factors(found: Reconciliation, width: int) -> Iterator[str]:
    if not found.factors:
        return
    names = {e.item.key: e.item.part.name for e in found.machine.build.items}
    rows = [("", "measured", "believed", "")]
    for one in found.factors:
        name = one.name.replace("_mb_s", ", MB/s").replace("_", " ")
        whose = f"{clean(names[one.key])}: " if one.key else ""
        digits = 0 if one.value > 10 else 3
        rows.append(
            (
                f"{whose}{name}",
                f"{number(one.value, digits)} "
                f"[{number(one.low, digits)}..{number(one.high, digits)}]",
                _believed(one.figure.low, one.figure.high, digits),
                "" if one.agrees else "outside what was believed",
            )
        )
    yield from _columns(rows, width)


def _believed(low: float, high: float, digits: int) -> str:
    ends = dict.fromkeys(number(end, digits) for end in (low, high))
    return "..".join(ends)


def _counters(found: Reconciliation, width: int) -> Iterator[str]:
    for note in found.counters:
        lead = (
            f"{clean(note.drive)}: "
            if note.severity == "information"
            else (f"{note.severity}, {clean(note.drive)}: ")
        )
        yield from wrapped(f"{lead}{note.text}", width, MARGIN, MARGIN * 2)


def _changed(found: Reconciliation, currency: str, width: int) -> Iterator[str]:
    if not found.changed:
        return
    rows = [("", "planned", "measured", "")]
    for one in found.changed:
        unit = one.unit or currency
        digits = 1 if one.unit == "W" else 0
        rows.append(
            (
                one.label,
                f"{number(one.planned, digits)} {unit}",
                f"{number(one.measured, digits)} {unit}",
                "",
            )
        )
    yield from _columns(rows, width, numbers=(1, 2))


def _decisions(found: Reconciliation, currency: str, width: int) -> Iterator[str]:
    if not found.has_scenario:
        yield from wrapped(
            "No scenario was given; with --scenario this says what the readings change "
            "in what to keep, swap and let sleep.",
            width,
            MARGIN,
        )
        return
    for one in found.decisions:
        yield from wrapped(decision_words(one, currency), width, MARGIN, MARGIN * 2)


def _next(found: Reconciliation, currency: str, width: int) -> Iterator[str]:
    if not found.next:
        settled = all(not one.is_open for one in found.decisions)
        why = (
            "no decision turns on watts any more"
            if found.decisions and settled
            else "no further reading would tell more than is known"
        )
        yield from wrapped(f"Nothing: {why}.", width, MARGIN)
        return
    for place, one in enumerate(found.next, 1):
        words = next_words(one, currency, has_worth=bool(found.decisions))
        yield from wrapped(words, width, f"{MARGIN}{place}. ")
