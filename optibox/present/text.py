"""The answer as text: a page that says what to do, and sections below it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optibox.assess import Assessment
from optibox.present.certificate import Style, certificate_lines
from optibox.present.order import order_list, unused_owned
from optibox.present.order_text import MARGIN, order_lines, order_title
from optibox.present.report import Report
from optibox.present.run_line import run_line
from optibox.present.sections import SECTIONS, proof_text
from optibox.present.settle import to_settle, without_names
from optibox.present.slack import RateStage, rate_stages, tight
from optibox.present.verdict import verdict
from optibox.present.words import cut, width_of, wrapped
from optibox.report.document import Document, Section
from optibox.report.explain import refusal_parts
from optibox.report.quantity import number, rate
from optibox.report.second import second_section
from optibox.report.text import as_text
from optibox.report.words import clean

PAGE_LINES = 24
"""Lines of the page: what a plain terminal shows at once."""

NARROWEST, WIDEST = 60, 120
PIPED_WIDTH = 100


@dataclass(frozen=True, slots=True)
class Line:
    """One line with what it is, for those who can show it."""

    text: str
    style: Style = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """How the page saves lines."""

    short_settle: bool = False
    small_together: bool = False
    short_run: bool = False


_ROOMS = (
    _Room(),
    _Room(short_settle=True),
    _Room(short_settle=True, short_run=True),
    _Room(short_settle=True, short_run=True, small_together=True),
)
DEFAULT_SECTIONS = ("moving", "warnings", "cautions", "proof")


def answer(
    report: Report, width: int = PIPED_WIDTH, sections: Sequence[str] = DEFAULT_SECTIONS
) -> list[Line]:
    """Return the whole answer as lines.

    Parameters
    ----------
    report : Report
        What to tell.
    width : int
        Columns of a line, held between 60 and 120.
    sections : sequence of str
        Names out of ``SECTIONS``; they stand below the page in their own order.
    """
    width = min(WIDEST, max(NARROWEST, width))
    lines = page(report, width)
    if report.certificate is not None:
        told = certificate_lines(report.certificate, report.currency, width)
        lines += [Line(""), *(Line(text, style) for text, style in told)]
    if report.assessment is None:
        return lines
    if report.second is not None:
        lines += _sections(second_section(report.second, report.currency), width)
    for name, section in SECTIONS.items():
        if name not in sections:
            continue
        body = section.lines(report, width)
        if body:
            lines += [Line(""), Line(section.title(report), "strong")]
            lines += [Line(text, _style(text)) for text in body]
    left = [name for name in SECTIONS if name not in sections]
    if left:
        more = f"More: --all, or --section {','.join(left)}"
        lines += [Line(""), *(Line(text) for text in wrapped(more, width))]
    return lines


def _style(text: str) -> Style:
    return "caution" if text.lstrip().startswith("! ") else "plain"


def plain_text(lines: Sequence[Line]) -> str:
    """Return lines as text without any styling."""
    return "\n".join(line.text.rstrip() for line in lines) + "\n"


def page(report: Report, width: int) -> list[Line]:
    """Return the page: verdict, stamp, what to settle, order, running, what binds.

    The most generous form that stays within 24 lines is taken; where none does, the
    tightest one: no row of the order list is ever left out.
    """
    if report.assessment is None:
        return _without_build(report, width)
    found: list[Line] = []
    for room in _ROOMS:
        found = list(_page(report, report.assessment, width, room))
        if len(found) <= PAGE_LINES:
            break
    return found


def _page(report: Report, found: Assessment, width: int, room: _Room) -> Iterator[Line]:
    currency = report.currency
    for text in wrapped(" ".join(verdict(report)), width):
        yield Line(text, "strong")
    for text in wrapped(report.stamp, width):
        yield Line(text)
    yield from (Line(x, "caution") for x in _settle_lines(found, width, room))
    yield Line(cut(order_title(found, currency), width), "strong")
    together = room.small_together
    rows = order_list(found)
    yield from map(Line, order_lines(rows, width, small_together=together))
    spared = unused_owned(found)
    if spared:
        words = ", ".join(f"{row.count} x {row.label}" for row in spared)
        yield Line(cut(f"Owned, not used: {words}", width))
    run = run_line(found, currency, is_short=room.short_run)
    yield from map(Line, wrapped(run, width, "Run:   "))
    binds = binds_text(found, is_short=room.short_run)
    yield from map(Line, wrapped(binds, width, "Binds: "))


def _settle_lines(found: Assessment, width: int, room: _Room) -> Iterator[str]:
    title = "Settle first: "
    for item_number, text in enumerate(to_settle(found), 1):
        lead = title if item_number == 1 else " " * len(title)
        first = f"{lead}{item_number}. "
        if room.short_settle:
            yield first + cut(without_names(text), width - width_of(first))
        else:
            yield from wrapped(text, width, first)


def binds_text(found: Assessment, *, is_short: bool = False) -> str:
    """Return which stage sets each rate, and what has next to nothing left.

    The short form leaves out how far each rate could rise.
    """
    rows = [replace(r, next_mb_s=None) if is_short else r for r in rate_stages(found)]
    stages = "; ".join(_stage_words(row) for row in rows)
    scarce, asked_of = tight(found), ("needs.", "limits.")
    asked = [row.text for row in scarce if row.key.startswith(asked_of)]
    full = [row.words for row in scarce if not row.key.startswith(asked_of)]
    text = f"{stages}."
    if asked:
        text += f" Tight: {'; '.join(asked)}."
    if full:
        text += f" Full: {', '.join(full)}."
    return text


def _stage_words(row: RateStage) -> str:
    then = f", next {number(row.next_mb_s)}" if row.next_mb_s else ""
    return f"{row.operation} {rate(row.rate_mb_s)} by {row.stage}{then}"


def _without_build(report: Report, width: int) -> list[Line]:
    """Return what is said where there is no build to show."""
    lines = [Line(text, "strong") for text in wrapped(verdict(report)[0], width)]
    lines += [Line(text) for text in wrapped(report.stamp, width)]
    lines.append(Line("Needs and limits in play", "strong"))
    for words in report.plan.in_play or ("none that the scenario sets",):
        lines += [Line(text) for text in wrapped(clean(words), width, MARGIN)]
    if report.refusal is not None:
        lead, sections = refusal_parts(report.refusal, report.currency)
        lines += [Line(x) for note in lead for x in wrapped(note.text, width) if x]
        lines += _sections(sections, width)
        lines.append(Line(""))
    lines += [Line(text) for text in wrapped(proof_text(report), width)]
    return lines


def _sections(sections: Sequence[Section], width: int) -> list[Line]:
    titles = {section.title for section in sections}
    texts = as_text(Document(verdict=(), sections=tuple(sections)), width).splitlines()
    return [Line(text, "strong" if text in titles else "plain") for text in texts]
