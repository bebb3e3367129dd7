"""A measuring sheet as CSV: filled in, it is a readings file."""

from optibox.catalog.csvcells import csv_text
from optibox.measure.cells import COLUMNS
from optibox.measure.sheet import Sheet
from optibox.present.sheet_words import BEFORE, HOW_POWER, HOW_RATES, step_words
from optibox.report.quantity import number

EXTRAS = ("x_expected", "x_tolerance", "x_minutes", "x_tells")
_KEPT = frozenset({"fitted", "kwh", "hours", "repeats", "minute", "note"})


def sheet_csv(sheet: Sheet) -> str:
    """Return the rows to fill in; cautions and the way of it stand in comments."""
    rows = [*_power(sheet), *_transfers(sheet), *_counters(sheet)]
    used = {name for row in rows for name in row} | _KEPT | {"watts", "mb_s"}
    columns = [name for name in COLUMNS if name in used] + list(EXTRAS)
    text = csv_text(columns, rows)
    format_line, _, table = text.partition("\n")
    words = [
        *BEFORE,
        HOW_POWER,
        HOW_RATES,
        "Fill watts (or kwh and hours) and mb_s; "
        "rows left blank are not read. Columns beginning x_ are predictions.",
    ]
    return "\n".join([format_line, *(f"# {line}" for line in words), table])


def _cell(pieces: tuple[tuple[str, int], ...]) -> str:
    return " | ".join(f"{key} x{n}" if n > 1 else key for key, n in pieces)


def _power(sheet: Sheet) -> list[dict[str, str]]:
    error = number(sheet.design.error_w, 3)
    return [
        {
            "fitted": "all" if index == 0 else "",
            "removed": _cell(step.removed),
            "refitted": _cell(step.refitted),
            "state": step.situation.state,
            "meter_error_w": error,
            "x_expected": number(step.expected_w, 1),
            "x_tolerance": number(step.tolerance_w, 1),
            "x_minutes": number(step.minutes),
            "x_tells": words.tells,
        }
        for index, (step, words) in enumerate(
            zip(sheet.design.steps, step_words(sheet), strict=True)
        )
    ]


def _transfers(sheet: Sheet) -> list[dict[str, str]]:
    return [
        {
            "operation": test.operation,
            "size_gb": number(test.size_gb),
            "drives": str(test.n_drives) if test.n_drives > 1 else "",
            "fill": "0" if test.target else "",
            "synced": "" if test.operation == "network" else "yes",
            "client_mb_s": "",
            "way": test.way,
            "target": test.target,
            "mode": test.mode,
            "x_expected": number(test.expected_mb_s),
            "x_tolerance": number((test.high_mb_s - test.low_mb_s) / 2),
            "x_minutes": number(test.minutes, 1),
            "x_tells": test.purpose,
        }
        for test in sheet.tests
    ]


def _counters(sheet: Sheet) -> list[dict[str, str]]:
    blank = dict.fromkeys(
        (
            "starts",
            "power_on_hours",
            "pending_sectors",
            "reallocated_sectors",
            "interface_errors",
        ),
        "",
    )
    return [{"drive": drive.name, **blank} for drive in sheet.machine.array]
