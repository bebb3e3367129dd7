"""The next plan with measured figures, as text."""

from collections.abc import Iterator

from optibox.measure.replan import Replanned
from optibox.present.text import Line
from optibox.present.words import wrapped
from optibox.report.quantity import money, number
from optibox.report.words import clean
from optibox.search.result import Plan

MARGIN = "  "


def replan_lines(found: Replanned, width: int) -> list[Line]:
    """Return both plans side by side, and what differs."""
    lines = [Line(""), Line("The next plan", "strong")]
    for text in _sentences(found):
        lines += map(Line, wrapped(text, width, MARGIN))
    return lines


def _sentences(found: Replanned) -> Iterator[str]:
    yield f"As planned: {_plan_words(found.before, found.currency)}."
    yield f"With measured figures: {_plan_words(found.after, found.currency)}."
    if found.dropped or found.added:
        yield f"Out: {_pieces(found.dropped) or 'nothing'}."
        yield f"In: {_pieces(found.added) or 'nothing'}."
    else:
        yield "The same parts."
    if found.unused:
        yield (
            "Measured, but unknown to the scenario (list them under [[owned]]): "
            f"{', '.join(map(clean, found.unused))}."
        )


def _plan_words(plan: Plan, currency: str) -> str:
    best = plan.assessment
    if best is None:
        return f"{plan.status}, no build"
    return (
        f"{money(best.total_cost, currency)} over the years, "
        f"{number(best.wall.asleep_w, 1)} W asleep, {number(best.year.kwh)} kWh a year "
        f"({plan.status})"
    )


def _pieces(pieces: tuple[tuple[str, int], ...]) -> str:
    return ", ".join(f"{n} x {clean(key)}" for key, n in pieces)
