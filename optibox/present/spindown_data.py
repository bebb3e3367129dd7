"""When drives should sleep, for programs: JSON with everything, CSV with the table.

Units stand in the keys; what has no finite value is null.
"""

import json
import math
from dataclasses import asdict, is_dataclass
from typing import Any

from optibox.catalog.csvcells import csv_text
from optibox.running.offhours import OffHoursYear
from optibox.running.policy import PolicyRow, PolicyTable
from optibox.running.policy_plan import PlannedRow, PlannedTable
from optibox.running.spindown import CountersAnswer, LogAnswer, Spindown

FORMAT = 1
_DIGITS = 6
COLUMNS = (
    "timeout_min",
    "write_mode",
    "cache",
    "data_spinning_h_per_day",
    "parity_spinning_h_per_day",
    "data_wakes_per_year",
    "parity_wakes_per_year",
    "start_stop_used_fraction",
    "load_unload_used_fraction",
    "kwh_per_year",
    "energy_price_per_year",
    "wear_price_per_year",
    "waited_h_per_year",
    "longest_wait_s",
    "write_mb_s",
    "total_price",
    "is_present",
    "is_best",
    "rule",
    "fault",
)
PLANNED_COLUMNS = (*COLUMNS[:-4], "purchase_price", "drives", "status", "gap")


def as_json(report: Spindown, currency: str) -> str:
    """Return everything about policies on one build as JSON text."""
    table = report.table
    found = {
        "format": FORMAT,
        "currency": currency,
        "years": table.found.scenario.money.years,
        "is_worth_changing": report.is_worth_changing,
        "saving_price_per_year": table.saving_per_year,
        "policies": [_policy_cells(table, row) for row in table.rows],
        **_details(report),
        "counters": _counters_cells(report.counters) if report.counters else None,
        "log": _log_cells(report.log) if report.log else None,
    }
    return _text(found)


def _off_cells(off: OffHoursYear) -> dict[str, Any]:
    cells = {name: getattr(off, name) for name in off.__slots__ if name != "rows"}
    return cells | {"policies": [_cells(row) for row in off.rows]}


def _counters_cells(answer: CountersAnswer) -> dict[str, Any]:
    return {
        "counted": answer.counted,
        "best_timeout_min_at_low": answer.best_at_low.policy.timeout_min,
        "best_timeout_min_at_high": answer.best_at_high.policy.timeout_min,
    }


def _log_cells(answer: LogAnswer) -> dict[str, Any]:
    fit = answer.fit
    return {
        "rows": fit.log.n_rows,
        "writes_left_out": fit.log.n_writes,
        "span_h": fit.log.span_h,
        "how": fit.log.how,
        "sessions_per_day": fit.machine_sessions_per_day,
        "break_min": fit.break_min,
        "sessions": fit.sessions,
        "compared": fit.rows,
        "formula_best": _cells(answer.formula_best),
        "formula_best_replayed": _cells(answer.formula_best_replayed),
    }


def as_csv(report: Spindown, currency: str) -> str:
    """Return the table of policies as CSV."""
    rows = (_policy_cells(report.table, row) for row in report.table.rows)
    return _csv(COLUMNS, [row | {"currency": currency} for row in rows])


def planned_json(
    table: PlannedTable, currency: str, on_best: Spindown | None = None
) -> str:
    """Return the policies with a machine for each, and more on the best, as JSON."""
    found = {
        "format": FORMAT,
        "currency": currency,
        "years": table.scenario.money.years,
        "seconds": table.seconds,
        "best": _planned_cells(table.best) if table.best else None,
        "policies": [_planned_cells(row) for row in table.rows],
        "on_best": _details(on_best) if on_best else None,
    }
    return _text(found)


def _details(report: Spindown) -> dict[str, Any]:
    """Return what holds for the best policy."""
    return {
        "own_timeouts": report.own,
        "break_evens": report.break_evens,
        "hours": report.hours,
        "off_hours": _off_cells(report.off),
    }


def planned_csv(table: PlannedTable, currency: str) -> str:
    """Return the policies with a machine for each as CSV."""
    rows = [_planned_cells(row) | {"currency": currency} for row in table.rows]
    return _csv(PLANNED_COLUMNS, rows)


def _policy_cells(table: PolicyTable, row: PolicyRow) -> dict[str, Any]:
    return _cells(row) | {
        "is_present": row == table.present,
        "is_best": row == table.best and row.is_allowed,
        "rule": row.rule,
        "fault": row.fault,
    }


def _planned_cells(row: PlannedRow) -> dict[str, Any]:
    policy = row.policy
    blank = dict.fromkeys(COLUMNS[3:-4])
    figures = _cells(row.row) if row.row else blank
    return {
        **figures,
        "timeout_min": policy.timeout_min,
        "write_mode": policy.write_mode,
        "cache": policy.cache,
        "purchase_price": row.purchase if row.row else None,
        "drives": row.drives,
        "status": row.status or "not tried",
        "gap": row.gap if row.row else None,
    }


def _cells(row: PolicyRow) -> dict[str, Any]:
    roles = [role for role in (row.data, row.parity) if role]
    parity = row.parity
    return {
        "timeout_min": row.policy.timeout_min,
        "write_mode": row.policy.write_mode,
        "cache": row.policy.cache,
        "data_spinning_h_per_day": row.data.spinning_h_per_day,
        "parity_spinning_h_per_day": parity.spinning_h_per_day if parity else None,
        "data_wakes_per_year": row.data.wakes_per_year,
        "parity_wakes_per_year": parity.wakes_per_year if parity else None,
        "start_stop_used_fraction": max(r.start_stop_used_fraction for r in roles),
        "load_unload_used_fraction": max(r.load_unload_used_fraction for r in roles),
        "kwh_per_year": row.kwh_per_year,
        "energy_price_per_year": row.energy_per_year,
        "wear_price_per_year": row.wear_per_year,
        "waited_h_per_year": row.waited_h_per_year,
        "longest_wait_s": row.longest_wait_s,
        "write_mb_s": row.write_mb_s,
        "total_price": row.total,
    }


def _text(found: dict[str, Any]) -> str:
    return json.dumps(_plain(found), indent=2, ensure_ascii=False) + "\n"


def _plain(value: Any) -> Any:  # noqa: ANN401 - records of any kind
    """Return records as tables, numbers rounded, infinite ones as null."""
    if is_dataclass(value) and not isinstance(value, type):
        value = asdict(value)
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, float):
        return round(value, _DIGITS) if math.isfinite(value) else None
    return value


def _csv(columns: tuple[str, ...], rows: list[dict[str, Any]]) -> str:
    names = (*columns, "currency")
    return csv_text(names, [{name: _cell(row[name]) for name in names} for row in rows])


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    return "" if value is None else str(value)
