"""A move of data as a table for JSON."""

import csv
import io
from dataclasses import asdict
from typing import Any

from optibox.migration import Route, Step
from optibox.migration.records import Move
from optibox.present.migration_text import left_over, step_text
from optibox.rules.reach import reach_findings


def migration_table(route: Route) -> dict[str, Any]:
    """Return a move of data as a table: bytes as whole numbers, ``_b`` in each key.

    Keys: ``needed`` (whether reused drives hold data), ``safe``, ``copied_b``,
    ``copied_again_b`` (for want of room), ``shortage`` (null where safe), ``drives``,
    ``findings`` and ``steps``.
    """
    return {
        "needed": route.is_needed,
        "safe": route.is_safe,
        "held_b": route.held_b,
        "copied_b": route.copied_b,
        "copied_again_b": route.twice_b,
        "hours": round(route.hours, 2),
        "left_over": list(left_over(route)),
        "shortage": asdict(route.shortage) if route.shortage else None,
        "drives": [asdict(disk) for disk in route.task.disks],
        "findings": [asdict(finding) for finding in reach_findings(route)],
        "steps": [_step(route, step) for step in route.steps],
    }


def _step(route: Route, step: Step) -> dict[str, Any]:
    return {
        "number": step.number,
        "kind": step.action.kind,
        "drives": list(step.action.disks),
        "copies": [_move(move) for move in step.action.moves],
        "text": step_text(route.task, step),
        "destroys": [
            {"drive": name, "files_of": of, "amount_b": n}
            for name, of, n in step.destroys
        ],
        "files": [{"files_of": name, "on": list(where)} for name, where in step.copies],
        "hours": round(step.hours, 2),
        "array_free_b": step.free_b,
        "lent_free_b": step.lent_b,
        "bays_35_free": step.left.bays_35,
        "bays_25_free": step.left.bays_25,
        "ports_free": step.left.ports,
        "failures_survived": step.survives,
        "in_one_place_only": list(step.exposed),
    }


def _move(move: Move) -> dict[str, Any]:
    of, start, where, n = move
    return {"files_of": of, "from": start, "to": where, "amount_b": n}


def migration_csv(route: Route) -> str:
    """Return the steps as CSV, one a row."""
    rows = migration_table(route)["steps"]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*_COLUMNS, "done", "text"])
    for row in rows:
        cells = [
            "; ".join(row["drives"]) if c == "drives" else row[c] for c in _COLUMNS
        ]
        writer.writerow([*cells, "", row["text"]])
    return text.getvalue()


_COLUMNS = (
    "number",
    "kind",
    "drives",
    "hours",
    "array_free_b",
    "lent_free_b",
    "bays_35_free",
    "bays_25_free",
    "ports_free",
    "failures_survived",
)
