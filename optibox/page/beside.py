"""What stands beside a machine: moving data, measuring, second thoughts, sources."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from optibox.assess import Assessment, route_to
from optibox.catalog.columns import Figure, Part
from optibox.frontier.second import SecondThoughts
from optibox.measure.records import Meter
from optibox.measure.sheet import ONE_HOUR_MIN, sheet_of
from optibox.migration import Route
from optibox.report.migration import left_over, state_text, step_text, summary
from optibox.report.second import nearest_words, second_dict
from optibox.report.settle import finding_text, merged
from optibox.report.sheet import (
    BEFORE,
    HOW_POWER,
    HOW_RATES,
    step_words,
    test_words,
)
from optibox.report.spindown import break_even_words
from optibox.report.words import capital, clean, counted
from optibox.rules.reach import told_with_steps
from optibox.running.policy_breakeven import break_evens

MOST_READINGS = 8
"""Wall readings of the page's sheet; ``optibox sheet`` gives as many as fit the time."""


def moving(found: Assessment) -> dict[str, Any] | None:
    """Return the order in which data move, or nothing where no drive holds any."""
    route = route_to(found)
    if not route.is_needed:
        return None
    findings = told_with_steps(route)
    return {
        "summary": summary(route),
        "is_safe": route.is_safe,
        "findings": [[f.severity, finding_text(f)] for f in merged(findings)],
        "steps": list(_moves(route)),
        "left_over": list(left_over(route)),
    }


def _moves(route: Route) -> Iterator[list[str]]:
    for step in route.steps:
        yield [step_text(route.task, step), state_text(step).strip("[]")]


def measuring(found: Assessment) -> dict[str, list[Any]]:
    """Return a measuring order of about an hour: readings, transfers, rules first."""
    sheet = sheet_of(found.build, Meter(), ONE_HOUR_MIN)
    readings = [
        [
            capital(clean(f"{row.action}, {row.state}")),
            row.expected.replace("+-", "\u00b1"),
        ]
        for row in step_words(sheet)[:MOST_READINGS]
    ]
    transfers = [
        [capital(clean(f"{row.what}, {row.size}")), row.expected]
        for row in test_words(sheet)
    ]
    return {
        "before": [*BEFORE, HOW_POWER],
        "readings": readings,
        "transfers": transfers,
        "rates": [HOW_RATES],
    }


def sleeping(found: Assessment, currency: str) -> list[str]:
    """Return from which gap on a sleep pays, for each type of array drive."""
    if found.machine.operation.timeout_min is None:
        return []
    return [clean(break_even_words(row, currency)) for row in break_evens(found)]


def thoughts_table(second: SecondThoughts | None, currency: str) -> dict[str, Any]:
    """Return the nearest other machine and walk-away prices, where asked for."""
    if second is None:
        return {"nearest": "", "walk_away": {}}
    table = second_dict(second)
    nearest = nearest_words(second.nearest, currency) if second.nearest else ""
    nearest = clean(nearest)
    return {
        "nearest": nearest,
        "walk_away": {
            row["id"]: [row["walk_away_price"], row["winner"] or ""]
            for row in table["walk_away"]
        },
    }


_FROM = {"measured": "measured", "datasheet": "from its datasheet"}


def sources(found: Assessment) -> list[list[Any]]:
    """Return for each part its name, what its figures rest on, and measured ones."""
    rows: list[list[Any]] = []
    for entry in found.build.items:
        part = entry.item.part
        measured = list(_measured(part))
        words = [*(f"{text} measured" for text in measured), *_counted(part)]
        if words:
            rows.append([clean(part.name), "; ".join(words), measured])
    return rows


def _figures(part: Part) -> Iterator[tuple[str, Figure]]:
    for name in type(part).model_fields:
        value = getattr(part, name)
        if isinstance(value, Figure):
            yield name, value


def _measured(part: Part) -> Iterator[str]:
    for name, figure in _figures(part):
        if figure.source == "measured":
            yield f"{name} {figure}"


def _counted(part: Part) -> Iterator[str]:
    """Yield how many figures come from where, blanks that the class filled by name."""
    kinds = Counter(figure.source for _, figure in _figures(part))
    for kind, count in kinds.items():
        if kind not in ("measured", "class default"):
            yield f"{counted(count, 'figure')} {_FROM.get(kind, kind)}"
    if part.defaulted:
        names = ", ".join(sorted(part.defaulted))
        yield f"as usual in its class: {names}"
