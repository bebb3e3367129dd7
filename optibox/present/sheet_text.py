"""A measuring sheet as text: boxes to fill in with a pencil."""

from collections.abc import Iterator, Sequence

from optibox.measure.sheet import Sheet
from optibox.present.sheet_words import (
    AT_END,
    BEFORE,
    HOW_POWER,
    HOW_RATES,
    decision_lines,
    head,
    left_out,
    step_words,
    test_words,
    title,
)
from optibox.present.text import Line
from optibox.present.words import cut, pad, pad_left, width_of, wrapped

MARGIN = "  "
BOX = "[_______]"


def sheet_lines(sheet: Sheet, width: int, *, is_assumed: bool = False) -> list[Line]:
    """Return a sheet as lines of a width."""
    return list(_lines(sheet, width, is_assumed=is_assumed))


def _lines(sheet: Sheet, width: int, *, is_assumed: bool) -> Iterator[Line]:
    yield Line(cut(title(sheet), width), "strong")
    for text in head(sheet, is_assumed=is_assumed):
        yield from _wrapped(text, width)
    if sheet.decisions:
        yield from _title("What hangs on it, over the years")
        for text in decision_lines(sheet):
            yield from _wrapped(text, width, MARGIN)
    yield from _title("Before you start")
    for text in BEFORE:
        yield from (Line(x, "caution") for x in wrapped(text, width, f"{MARGIN}! "))
    yield from _title("Wall readings, in this order")
    yield from _wrapped(HOW_POWER, width, MARGIN)
    yield from map(Line, _steps(sheet, width))
    if out := left_out(sheet):
        yield from _title("Not asked for")
        for text in out:
            yield from _wrapped(text, width, MARGIN)
    if sheet.tests:
        yield from _title("Transfer tests")
        yield from _wrapped(HOW_RATES, width, MARGIN)
        yield from map(Line, _tests(sheet, width))
    yield Line("")
    yield from (Line(x, "caution") for x in wrapped(AT_END, width, "! "))


def _title(text: str) -> Iterator[Line]:
    yield Line("")
    yield Line(text, "strong")


def _wrapped(text: str, width: int, first: str = "") -> Iterator[Line]:
    yield from map(Line, wrapped(text, width, first))


def _steps(sheet: Sheet, width: int) -> Iterator[str]:
    rows = [
        (f"{s.number}", s.action, s.state, s.expected, f"{BOX} W", s.minutes, s.tells)
        for s in step_words(sheet)
    ]
    yield from _table(rows, width)


def _tests(sheet: Sheet, width: int) -> Iterator[str]:
    rows = [
        (
            f"{t.number}",
            t.what,
            t.size,
            t.expected,
            f"{BOX} MB/s",
            "",
            f"{t.purpose}; expected to bind: {t.binds}",
        )
        for t in test_words(sheet)
    ]
    yield from _table(rows, width)


def _table(rows: Sequence[tuple[str, ...]], width: int) -> Iterator[str]:
    """Yield rows in columns; the last cell of each stands on lines of its own."""
    if not rows:
        return
    sizes = [max(width_of(row[i]) for row in rows) for i in range(6)]
    others = sizes[0] + sum(sizes[2:]) + 2 * sum(size > 0 for size in sizes[1:])
    room = max(12, width - len(MARGIN) - others)
    sizes[1] = min(sizes[1], room)
    indent = MARGIN + " " * (sizes[0] + 2)
    for row in rows:
        first, *rest = wrapped(row[1], sizes[1])
        cells = [pad_left(row[0], sizes[0]), pad(first, sizes[1])]
        cells += [pad(row[i], sizes[i]) for i in range(2, 6) if sizes[i]]
        yield (MARGIN + "  ".join(cells)).rstrip()
        yield from (f"{indent}{text}" for text in rest)
        if row[6]:
            yield from wrapped(row[6], width, f"{indent}  ")
