"""Which inputs change the decision, as JSON and CSV."""

import json
import math
from typing import Any

from optibox.catalog.csvcells import csv_text
from optibox.present.as_json import finite
from optibox.present.sensitivity_text import SensitivityReport, sensitivity_verdict
from optibox.running.sensitivity import Effect, Stretch

FORMAT = 1
"""Version of the layout of this JSON."""

CSV_COLUMNS = ("input", "from", "to", "from_value", "to_value", "letter", "machine")


def sensitivity_json(report: SensitivityReport) -> str:
    """Return the answer as JSON text."""
    table = {
        "format": FORMAT,
        "currency": report.currency,
        "verdict": sensitivity_verdict(report),
        "best": report.describe(report.found.option),
        "cost": round(report.found.cost, 2),
        "machines": {
            report.letter(option): report.describe(option) for option in report.options
        },
        "inputs": [_effect(report, effect) for effect in report.found.effects],
        "robust": report.robust and _robust(report),
    }
    text = json.dumps(finite(table), indent=2, ensure_ascii=False, allow_nan=False)
    return text + "\n"


def _effect(report: SensitivityReport, effect: Effect) -> dict[str, Any]:
    return {
        "input": effect.name,
        "flips": [
            {"position": flip, "value": report.value(effect.name, flip)}
            for flip in effect.flips
        ],
        "stretches": [_stretch(report, effect, s) for s in effect.stretches],
        "best_costs": [_money(x) for x in effect.best_costs],
        "kept_costs": [_money(x) for x in effect.kept_costs],
    }


def _stretch(
    report: SensitivityReport, effect: Effect, stretch: Stretch
) -> dict[str, Any]:
    return {
        "from": stretch.start,
        "to": stretch.end,
        "from_value": report.value(effect.name, stretch.start),
        "to_value": report.value(effect.name, stretch.end),
        "machine": report.letter(stretch.option),
    }


def _robust(report: SensitivityReport) -> dict[str, Any]:
    robust = report.robust
    if robust is None:
        return {}
    return {
        "corners": {name: dict(corner) for name, corner in robust.corners},
        "best_costs": [_money(x) for x in robust.best_costs],
        "over_all_choices": robust.is_over_all,
        "no_machine_below": robust.least_worst,
        "rows": [
            {
                "machine": report.describe(row.option),
                "worst": _money(row.worst),
                "regrets": [_money(x) for x in row.regrets],
            }
            for row in robust.rows
        ],
    }


def _money(value: float) -> float | None:
    return round(value, 2) if math.isfinite(value) else None


def sensitivity_csv(report: SensitivityReport) -> str:
    """Return the stretches of all inputs as CSV."""
    rows = [
        {
            "input": effect.name,
            "from": f"{stretch.start:.4f}",
            "to": f"{stretch.end:.4f}",
            "from_value": report.value(effect.name, stretch.start),
            "to_value": report.value(effect.name, stretch.end),
            "letter": report.letter(stretch.option),
            "machine": report.describe(stretch.option) if stretch.option else "",
        }
        for effect in report.found.effects
        for stretch in effect.stretches
    ]
    return csv_text(CSV_COLUMNS, rows)
