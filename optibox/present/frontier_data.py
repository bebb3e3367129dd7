"""A frontier as JSON and CSV.

Keys of the JSON, at the top:

- ``format``: version of this layout; ``status``: ``proven``, ``stopped`` (before the
  proof), ``infeasible`` or ``unknown`` (stopped without any build); ``mode``: ``cover``
  or ``exact``; ``currency``
- ``factor``: every build is within this factor of a row on every axis, 1 where the set
  is exact, null where nothing is proven; ``regions_open``: not searched to the end
- ``axes``: ``name``, ``key``, ``unit``, ``is_maximised``, ``resolution``
- ``plan_row``: number of the plan's own row, null where it is in none
- ``rows``: ``number``, every axis by its ``key``, ``why`` in words, ``against`` (the
  rows beside it: ``row``, ``gains``, ``gives_up`` by axis name), ``best_in``,
  ``is_plan``, ``matters``, ``cheapest_tariff`` (``from_per_kwh``, ``to_per_kwh``) and
  ``cheapest_years`` (``from``, ``to``; null = for ever), ``machine`` in words, ``parts``
  (``id``, ``kind``, ``count``, ``owned``), ``operation``
- ``tariffs``: which build of the whole catalog is cheapest at which mean price of a kWh,
  where that was asked for: ``from_per_kwh``, ``to_per_kwh``, ``row``, ``machine``
- ``second_thoughts``, where asked for: as in the JSON of ``plan``
- ``progress``: ``seconds`` after which which ``factor`` was proven of the builds known
- ``effort``: ``searches``, ``builds``, ``seconds``; ``in_play``: needs and limits in
  words, without a build
"""

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from optibox.assess import Assessment
from optibox.catalog.csvcells import csv_text
from optibox.criteria import AXES, Criterion
from optibox.frontier.records import Frontier, Row, Span, Trade
from optibox.frontier.second import SecondThoughts
from optibox.present.frontier_words import machine_words, unit_of, why_all
from optibox.present.second_text import second_table

FORMAT = 1
_DIGITS = 6
_CENTS = 2


def frontier_json(
    frontier: Frontier, currency: str, second: SecondThoughts | None = None
) -> str:
    """Return a frontier as JSON text, with second thoughts about the plan if any."""
    table = frontier_table(frontier, currency)
    if second is not None:
        table["second_thoughts"] = second_table(second)
    return json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def frontier_table(frontier: Frontier, currency: str) -> dict[str, Any]:
    """Return a frontier as the table that is written as JSON."""
    why = why_all(frontier, currency)
    return {
        "format": FORMAT,
        "status": frontier.status,
        "mode": frontier.mode,
        "currency": currency,
        "factor": _finite(frontier.factor),
        "regions_open": frontier.n_open,
        "axes": [
            {
                "name": axis.name,
                "key": axis.key,
                "unit": unit_of(axis, currency),
                "is_maximised": axis.is_maximised,
                "resolution": step,
            }
            for axis, step in zip(frontier.axes, frontier.resolution, strict=True)
        ],
        "plan_row": frontier.plan_number,
        "rows": [_row(row, why[row.number]) for row in frontier.rows],
        "tariffs": [
            _span(piece.span, "_per_kwh")
            | {"row": piece.row, "machine": machine_words(piece.assessment)}
            for piece in frontier.tariffs
        ],
        "progress": [
            {"seconds": round(seconds, 3), "factor": _finite(factor)}
            for seconds, factor in frontier.progress
        ],
        "effort": {
            "searches": frontier.effort.n_solves,
            "builds": frontier.effort.n_builds,
            "seconds": round(frontier.effort.seconds, 3),
        },
        "in_play": list(frontier.in_play),
    }


def _row(row: Row, why: str) -> dict[str, Any]:
    found = row.assessment
    return {
        "number": row.number,
        **{axis.key: _value(axis, found) for axis in AXES.values()},
        "why": why,
        "against": [_trade(told) for told in row.why],
        "best_in": list(row.best_in),
        "is_plan": row.is_plan,
        "matters": row.matters,
        "cheapest_tariff": _span(row.tariff, "_per_kwh") if row.tariff else None,
        "cheapest_years": _span(row.horizon, "") if row.horizon else None,
        "machine": machine_words(found),
        "parts": [
            {
                "id": entry.item.part.id,
                "kind": entry.item.part.kind,
                "count": entry.count,
                "owned": entry.item.is_owned,
            }
            for entry in found.build.items
        ],
        "operation": asdict(found.build.operation),
    }


def _value(axis: Criterion, found: Assessment) -> float:
    return round(axis.value_of(found), _CENTS if axis.is_money else _DIGITS)


def _trade(told: Trade) -> dict[str, Any]:
    def by_axis(rows: Sequence[tuple[str, float]]) -> dict[str, float]:
        return {name: round(value, _DIGITS) for name, value in rows}

    return {
        "row": told.against,
        "gains": by_axis(told.gains),
        "gives_up": by_axis(told.gives_up),
    }


def _span(span: Span, suffix: str) -> dict[str, Any]:
    return {
        f"from{suffix}": _finite(span.low),
        f"to{suffix}": _finite(span.high),
    }


def _finite(value: float) -> float | None:
    return round(value, _DIGITS) if math.isfinite(value) else None


CSV_COLUMNS: tuple[str, ...] = (
    "number",
    *(axis.key for axis in AXES.values()),
    "currency",
    "is_plan",
    "matters",
    "best_in",
    "cheapest_from_per_kwh",
    "cheapest_to_per_kwh",
    "cheapest_from_years",
    "cheapest_to_years",
    "machine",
    "why",
)
"""Columns of the CSV; an open end of a span is a blank."""


def frontier_csv(frontier: Frontier, currency: str) -> str:
    """Return all rows of a frontier as CSV."""
    why = why_all(frontier, currency)
    return csv_text(
        CSV_COLUMNS, [_cells(row, why[row.number], currency) for row in frontier.rows]
    )


def _cells(row: Row, why: str, currency: str) -> dict[str, str]:
    cells = {
        "number": str(row.number),
        "currency": currency,
        "is_plan": _yes(is_so=row.is_plan),
        "matters": _yes(is_so=row.matters),
        "best_in": "; ".join(row.best_in),
        "machine": machine_words(row.assessment),
        "why": why,
    }
    for axis in AXES.values():
        digits = _CENTS if axis.is_money else 3
        cells[axis.key] = f"{axis.value_of(row.assessment):.{digits}f}"
    for span, what in ((row.tariff, "per_kwh"), (row.horizon, "years")):
        if span is not None:
            cells[f"cheapest_from_{what}"] = f"{span.low:g}"
            if math.isfinite(span.high):
                cells[f"cheapest_to_{what}"] = f"{span.high:g}"
    return cells


def _yes(*, is_so: bool) -> str:
    return "yes" if is_so else "no"
