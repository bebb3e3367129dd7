"""Measured against predicted as a picture (SVG): readings, parts, transfers.

Each row is one figure: a grey band for what was believed, a dot with its 95 % bar for
what was measured, an open ring for the plan. Nothing is told by colour alone.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from optibox.measure.found import FoundFigure
from optibox.measure.reconcile import Reconciliation
from optibox.report.measured import transfer_words
from optibox.report.quantity import number
from optibox.report.text import cut
from optibox.report.words import clean

WIDTH, ROW, LABEL, VALUE = 900, 22, 330, 120
_PLOT = WIDTH - LABEL - VALUE - 30
_Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One row of a panel; ``band`` is what was believed, ``plan`` its middle."""

    label: str
    value: float
    low: float
    high: float
    plan: float
    band: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One set of rows on one scale."""

    title: str
    unit: str
    marks: tuple[Mark, ...]


def picture_svg(found: Reconciliation) -> str:
    """Return the picture as the text of an SVG file."""
    panels = [panel for panel in _panels(found) if panel.marks]
    top, pieces = 62, list[str]()
    for panel in panels:
        pieces += _drawn(panel, top)
        top += ROW * (len(panel.marks) + 3)
    return "\n".join([*_head(top), *pieces, "</svg>", ""])


def _panels(found: Reconciliation) -> Iterator[Panel]:
    yield Panel(title="Readings", unit="W at the wall", marks=tuple(_readings(found)))
    yield Panel(title="Parts", unit="W at the parts", marks=tuple(_parts(found)))
    yield Panel(
        title="Transfers",
        unit="share of the planned rate",
        marks=tuple(_transfers(found)),
    )


def _readings(found: Reconciliation) -> Iterator[Mark]:
    everything = {e.item.key: e.count for e in found.machine.build.items}
    before = everything
    for one in found.fit.fitted if found.fit else ():
        reading = one.reading
        here = dict(reading.situation.fitted)
        half = _Z95 * reading.error_w
        yield Mark(
            label=f"line {reading.line}, {reading.situation.state}, "
            f"{_refitted(everything, before, here)}",
            value=reading.watts,
            low=reading.watts - half,
            high=reading.watts + half,
            plan=one.planned_w,
        )
        before = here


def _refitted(
    everything: Mapping[str, int], before: Mapping[str, int], here: Mapping[str, int]
) -> str:
    """Return what came out or in since the reading before."""
    if here == everything:
        return "complete"
    changes = [
        ("less" if gap < 0 else "plus", key, abs(gap))
        for key in everything
        if (gap := here.get(key, 0) - before.get(key, 0))
    ]
    words = [
        f"{way} {n} x {key}" if n > 1 else f"{way} {key}" for way, key, n in changes
    ]
    return ", ".join(words) or "the same"


def _parts(found: Reconciliation) -> Iterator[Mark]:
    for one in found.fit.found if found.fit else ():
        if one.measured is None:
            continue
        catalog = one.catalog
        yield Mark(
            label=_part_label(one),
            value=one.measured.value,
            low=one.measured.low,
            high=one.measured.high,
            plan=catalog.mid,
            band=(catalog.low, catalog.high),
        )


def _part_label(one: FoundFigure) -> str:
    """Return a label whose telling part stands in front, where it is not cut off."""
    first = one.members[0]
    if len(one.members) > 1:
        return one.words
    each = " each" if first.count > 1 else ""
    return (
        first.label
        if first.aspect == "idle"
        else f"{first.aspect}: {first.label}{each}"
    )


def _transfers(found: Reconciliation) -> Iterator[Mark]:
    for one in found.judged:
        planned = one.planned.rate_mb_s
        if not planned or one.refused:
            continue
        share, error = one.reading.mb_s / planned, _Z95 * one.reading.error
        yield Mark(
            label=f"line {one.reading.line}, {transfer_words(one)}",
            value=share,
            low=share * (1.0 - error),
            high=share * (1.0 + error),
            plan=1.0,
            band=(1.0 - one.spread, 1.0 + one.spread),
        )


def _head(height: float) -> list[str]:
    size = f'width="{WIDTH}" height="{height:.0f}"'
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} '
        f'viewBox="0 0 {WIDTH} {height:.0f}" font-family="sans-serif" font-size="12">',
        "<title>Measured against predicted</title>",
        f'<rect width="{WIDTH}" height="{height:.0f}" fill="white"/>',
        '<text x="10" y="22" font-size="16">Measured against predicted</text>',
        *_legend(44),
    ]


def _legend(y: float) -> list[str]:
    return [
        _dot(20, y - 4),
        _line(12, 28, y - 4),
        _text(36, y, "measured, 95 %"),
        _ring(160, y - 4),
        _text(172, y, "planned"),
        f'<rect x="240" y="{y - 11}" width="26" height="12" fill="#d0d0d0"/>',
        _text(272, y, "believed"),
    ]


def _drawn(panel: Panel, top: float) -> list[str]:
    """Return one panel: title, axis, a row for each mark."""
    place, ticks = _scale(panel.marks)
    bottom = top + ROW * (len(panel.marks) + 1)
    pieces = [
        f'<text x="10" y="{top + 14}" font-weight="bold">{escape(panel.title)}, '
        f"{escape(panel.unit)}</text>"
    ]
    for tick in ticks:
        x = place(tick)
        pieces.append(
            f'<line x1="{x:.1f}" y1="{top + ROW}" x2="{x:.1f}" y2="{bottom}" '
            'stroke="#e4e4e4"/>'
        )
        pieces.append(
            f'<text x="{x:.1f}" y="{bottom + 14}" text-anchor="middle" fill="#444">'
            f"{_number(tick)}</text>"
        )
    for row, mark in enumerate(panel.marks, 1):
        pieces += _row(mark, top + ROW * row + ROW / 2, place)
    return pieces


def _scale(marks: Sequence[Mark]) -> tuple[Callable[[float], float], list[float]]:
    """Return where a value stands, from zero to beyond the largest, and round ticks."""
    ends = [max(m.high, m.plan, m.band[1] if m.band else 0.0) for m in marks]
    starts = [min(0.0, m.low, m.band[0] if m.band else 0.0) for m in marks]
    low, high = min(starts), max([*ends, 1e-9]) * 1.04
    step = _step((high - low) / 6.0)
    ticks = [step * n for n in range(int(low / step), int(high / step) + 1)]
    return lambda value: LABEL + _PLOT * (value - low) / (high - low), ticks


def _step(rough: float) -> float:
    """Return the next of 1, 2, 5, 10 ... above a rough step."""
    power = 1.0
    while power * 10.0 <= rough:
        power *= 10.0
    while power > rough:
        power /= 10.0
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough)


def _number(value: float) -> str:
    return number(value, 0 if abs(value) >= 10 or value == round(value) else 2)


def _row(mark: Mark, y: float, place: Callable[[float], float]) -> list[str]:
    pieces = [_text(10, y + 4, cut(clean(mark.label), 54))]
    if mark.band is not None:
        left, right = place(mark.band[0]), place(mark.band[1])
        pieces.append(
            f'<rect x="{left:.1f}" y="{y - 6}" width="{max(1.0, right - left):.1f}" '
            'height="12" fill="#d0d0d0"/>'
        )
    pieces.append(_ring(place(mark.plan), y))
    pieces.append(_line(place(mark.low), place(mark.high), y))
    pieces.append(_dot(place(mark.value), y))
    digits = 2 if mark.value < 20 else 1
    half = (mark.high - mark.low) / 2.0
    words = f"{number(mark.value, digits)} \N{PLUS-MINUS SIGN}{number(half, digits)}"
    pieces.append(_text(WIDTH - VALUE, y + 4, words))
    return pieces


def _text(x: float, y: float, text: str) -> str:
    return f'<text x="{x}" y="{y}">{escape(text)}</text>'


def _line(left: float, right: float, y: float) -> str:
    return (
        f'<line x1="{left:.1f}" y1="{y}" x2="{right:.1f}" y2="{y}" stroke="#003f7f" '
        'stroke-width="2"/>'
    )


def _dot(x: float, y: float) -> str:
    return f'<circle cx="{x:.1f}" cy="{y}" r="4" fill="#003f7f"/>'


def _ring(x: float, y: float) -> str:
    return (
        f'<circle cx="{x:.1f}" cy="{y}" r="5" fill="none" stroke="black" '
        'stroke-width="1.3"/>'
    )
