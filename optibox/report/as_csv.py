"""A table as CSV: every column with a key, numbers without units and groups."""

import math
from collections.abc import Sequence

from optibox.catalog.csvcells import csv_text
from optibox.report.document import Blank, Phrases, Table, Value, Worded
from optibox.report.quantity import Quantity, Unit
from optibox.report.words import clean


def as_csv(table: Table, remarks: Sequence[str] = ()) -> str:
    """Return the columns of a table that have a key as CSV; blank = there is none."""
    told = [(n, column) for n, column in enumerate(table.columns) if column.key]
    rows = [
        {c.key: cell_of(row.cells[n], c.unit) for n, c in told} for row in table.rows
    ]
    text = csv_text([column.key for _, column in told], rows)
    head, _, body = text.partition("\n")
    return "\n".join([head, *(f"# {clean(remark)}" for remark in remarks), body])


def cell_of(value: Value, unit: Unit | None = None) -> str:
    """Return a value as a cell: money to the cent, other numbers to six digits.

    Words keep their lines; nothing in them can steer a terminal.
    """
    if isinstance(value, Quantity):
        unit = value.unit
        value = value.value
    elif isinstance(value, Worded):
        value = value.value
    elif isinstance(value, Phrases):
        value = "; ".join(value.phrases)
    if value is None or isinstance(value, Blank):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _digits(value, unit) if math.isfinite(value) else ""
    return "\n".join(map(clean, str(value).splitlines()))


def _digits(value: float, unit: Unit | None) -> str:
    if unit is not None and unit.is_money:
        return f"{value:.2f}"
    text = f"{value:.6g}"
    return f"{value:.0f}" if "e+" in text else text
