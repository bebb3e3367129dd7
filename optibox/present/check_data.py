"""A check as JSON and as CSV.

JSON, at the top: ``format``, ``name``, ``fit`` (no errors), ``errors``, ``warnings``,
``information`` (counts), ``asked`` (a scenario was given), ``currency``, ``assumed`` and
``cannot`` (sentences), ``findings`` (``rule``, ``severity``, ``evidence``,
``consequence``, ``fix``, ``mend``: null or ``buys`` of ``part``, ``label``, ``count``
with ``replaces``, ``price`` and ``asleep_w_change``), ``mended_together``, ``chains``,
``power``, ``currents``, ``places``, ``settings``, ``risk``, ``migration``, and what the answer of ``plan`` says of a machine: ``build``, ``figures``,
``year``, ``slack``, ``order`` and others.
"""

import json
import math
from dataclasses import asdict
from typing import Any

from optibox.catalog.csvcells import csv_text
from optibox.completion.mending import Mend
from optibox.figures.parts_power import Band, PowerTable
from optibox.figures.risk import NOT_COUNTED, Risk
from optibox.present.as_json import FORMAT, described, finite
from optibox.present.cautions import CAUTIONS
from optibox.present.check_report import (
    SEVERITIES,
    ChainRow,
    CheckReport,
    chain_rows,
    currents_block,
    place_rows,
    power_of,
    risk_block,
)
from optibox.present.check_settings import settings_of
from optibox.present.migration_json import migration_table
from optibox.rules import Finding, consequence_of, remedy_of

COLUMNS = (
    "rule",
    "severity",
    "evidence",
    "consequence",
    "fix",
    "mend_parts",
    "mend_replaces",
    "mend_price",
    "currency",
)
"""Columns of the CSV: a row for each finding."""


def check_json(report: CheckReport) -> str:
    """Return a check as JSON text."""
    table = check_table(report)
    return json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def check_table(report: CheckReport) -> dict[str, Any]:
    """Return a check as the table that is written as JSON."""
    found = report.found
    counts = {
        name: sum(f.severity == name for f in report.findings) for name in SEVERITIES
    }
    risk, currents = risk_block(found), currents_block(found)
    table: dict[str, Any] = {
        "format": FORMAT,
        "name": report.name,
        "fit": report.is_fit,
        "errors": counts["error"],
        "warnings": counts["warning"],
        "information": counts["information"],
        "asked": report.is_asked,
        "scenario": {"name": found.scenario.name, "about": found.scenario.about},
        "currency": report.currency,
        "stamp": report.stamp,
        "assumed": list(report.completion.assumed),
        "cannot": list(report.completion.cannot),
        **described(found, report.currency, moves_data=False),
        "migration": None if report.route is None else migration_table(report.route),
        "findings": [_finding(report, finding) for finding in report.findings],
        "mended_together": _mended(report),
        "chains": [_chain(row) for row in chain_rows(found)],
        "power": _power(power_of(found)),
        "currents": None if currents is None else asdict(currents),
        "places": [asdict(row) for row in place_rows(found)],
        "settings": [asdict(row) for row in settings_of(found)],
        "risk": None,
        "assumptions": [row._asdict() for row in report.defaults],
        "cautions": [asdict(caution) for caution in CAUTIONS],
    }
    whole: dict[str, Any] = finite(table)
    # chances are far below the six decimals of other figures
    whole["risk"] = None if risk is None else _risk(risk)
    return whole


def _finding(report: CheckReport, finding: Finding) -> dict[str, Any]:
    mend = report.mends.get(finding)
    told = None if mend is None else _mend_table(mend)
    return {
        **asdict(finding),
        "fix": remedy_of(finding),
        "consequence": consequence_of(finding),
        "mend": told,
    }


def _mended(report: CheckReport) -> dict[str, Any] | None:
    """Return what mends all errors at once; nothing where there is none."""
    if report.together is None:
        return None
    mend, after = report.together
    left = sorted({finding.rule for finding in after.errors})
    return {**_mend_table(mend), "rules_left": left}


def _mend_table(mend: Mend) -> dict[str, Any]:
    return {
        "buys": [
            {"part": b.part.id, "label": b.part.name, "count": b.count}
            for b in mend.buys
        ],
        "replaces": list(mend.replaces),
        "price": round(mend.price, 2),
        "asleep_w_change": mend.asleep_w,
    }


def _chain(row: ChainRow) -> dict[str, Any]:
    return {
        "operation": row.operation,
        "rate_mb_s": row.rate_mb_s,
        "binding": list(row.binding),
        "next": row.next.name if row.next else "",
        "gain_mb_s": row.gain_mb_s,
        "stages": [asdict(stage) for stage in row.stages],
    }


def _bands(bands: dict[str, Band]) -> dict[str, Any]:
    return {f"{state}_w": asdict(band) for state, band in bands.items()}


def _power(table: PowerTable) -> dict[str, Any]:
    return {
        "parts": [
            {
                "key": row.key,
                "label": row.name,
                "kind": row.kind,
                "count": row.count,
                "source": row.source,
                "dc": _bands(dict(row.watts)),
            }
            for row in table.parts
        ],
        "deep_idle_w": asdict(table.deep_idle),
        "dc": _bands(dict(table.dc)),
        "wall": _bands(dict(table.wall)),
    }


def _risk(risk: Risk) -> dict[str, Any]:
    return {
        "years": risk.years,
        "survives": risk.survives,
        "repair_h": risk.repair_h,
        "rebuild_h": risk.rebuild_h,
        "tb_by_failures": risk.tb_by_failures,
        "mttdl_years": round(risk.mttdl_years, 1)
        if math.isfinite(risk.mttdl_years)
        else None,
        "cases": [
            {
                "failure_rates": case.level,
                "bit_error_rate": case.bit_error_rate,
                "too_many_failures": _three(case.loss.too_many_failures),
                "unreadable_sector": _three(case.loss.unreadable_sector),
                "expected_tb_lost": _three(case.tb_lost),
            }
            for case in risk.cases
        ],
        "not_counted": NOT_COUNTED,
    }


def _three(value: float) -> float:
    """Return a number with three digits."""
    return float(f"{value:.3g}")


def check_csv(report: CheckReport) -> str:
    """Return the findings as CSV."""
    rows = []
    for finding in report.findings:
        told = _finding(report, finding)
        mend = told.pop("mend") or {}
        buys = " | ".join(f"{b['part']} x{b['count']}" for b in mend.get("buys", ()))
        cells = {
            "mend_parts": buys,
            "mend_replaces": " | ".join(mend.get("replaces", ())),
            "mend_price": f"{mend['price']:.2f}" if mend else "",
        }
        rows.append({**told, **cells, "currency": report.currency if mend else ""})
    return csv_text(COLUMNS, rows)
