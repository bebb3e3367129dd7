"""Catalogs and columns as text for people, as CSV and as JSON."""

import json
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from optibox.catalog.catalog import Catalog
from optibox.catalog.check import (
    OLD_AFTER_DAYS,
    counts,
    missing_kinds,
    old_prices,
    stamp,
)
from optibox.catalog.classes import built_in_classes
from optibox.catalog.columns import Part
from optibox.catalog.csvcells import csv_text
from optibox.catalog.describe import Column, columns_of
from optibox.catalog.kinds import file_name
from optibox.catalog.nearest import listed
from optibox.catalog.resolve import EXTRA_PREFIX, SOURCES_COLUMN
from optibox.catalog.rows import row_cells
from optibox.catalog.template import blank
from optibox.files import FORMAT

_WIDEST = 40
_COLUMN_FIELDS = (
    "kind",
    "column",
    "type",
    "range",
    "unit",
    "blank",
    "meaning",
)
_ALSO = f"""\
in every file
  {SOURCES_COLUMN}: where single figures come from, if not from the row's source:
      'measured: idle_w standby_w | datasheet: spin_up_s'
  {EXTRA_PREFIX}...: columns of your own, carried to the order list
* distinguishes the part from others of its class"""

Kinds = Sequence[type[Part]]


def summary(catalog: Catalog) -> str:
    """Return what a catalog holds: its stamp, its counts, how much is filled in."""
    found = counts(catalog)
    width = max((len(kind) for kind in found), default=0)
    filled = sum(len(part.defaulted) for part in catalog.parts)
    return "\n".join(
        [
            stamp(catalog),
            *(f"  {kind:<{width}} {number:>4}" for kind, number in found.items()),
            f"{len(catalog.parts)} parts of {len(found)} kinds without faults; "
            f"{filled} blanks filled from classes",
        ]
    )


def remarks(catalog: Catalog, today: date) -> list[str]:
    """Return what a person should know before they plan with a catalog."""
    lines = [
        f"note: the catalog holds no {kind}; a plan needs one that is owned"
        for kind in missing_kinds(catalog)
    ]
    if old := old_prices(catalog, today):
        lines.append(
            f"note: {len(old)} prices are older than {OLD_AFTER_DAYS} days "
            f"(the oldest from {min(old.values())}): {listed(old)}"
        )
    return lines


def parts_table(catalog: Catalog, kinds: Kinds) -> str:
    """Return the parts as tables for people, one per kind."""
    blocks = [
        f"{record.kind}\n{_table(record, parts)}"
        for record in kinds
        if (parts := catalog.of(record))
    ]
    return "\n\n".join([stamp(catalog), *blocks]) + "\n"


def _table(record: type[Part], parts: Iterable[Part]) -> str:
    columns = [
        column.name
        for column in columns_of(record)
        if column.is_headline or column.name in ("id", "class", "price", "label")
    ]
    rows = [[row_cells(part).get(name, "") for name in columns] for part in parts]
    return aligned([columns, *rows])


def aligned(rows: list[list[str]]) -> str:
    """Return rows as columns of equal width, two spaces apart, long cells cut."""
    cut = [
        [c if len(c) <= _WIDEST else f"{c[: _WIDEST - 3]}..." for c in r] for r in rows
    ]
    widths = [max(len(cell) for cell in column) for column in zip(*cut, strict=True)]
    return "\n".join(
        "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
        for row in cut
    )


def parts_csv(catalog: Catalog, kinds: Kinds) -> str:
    """Return the parts as CSV, blanks filled; one kind reads back as its file."""
    rows = [
        ({} if len(kinds) == 1 else {"kind": record.kind}) | row_cells(part)
        for record in kinds
        for part in catalog.of(record)
    ]
    known = [column.name for record in kinds for column in columns_of(record)]
    used = {name for row in rows for name in row}
    order = dict.fromkeys(["kind", *known, *sorted(used)])
    text = csv_text([name for name in order if name in used], rows)
    first, _, rest = text.partition("\n")
    return f"{first}\n# {stamp(catalog)}\n{rest}"


def parts_json(catalog: Catalog, kinds: Kinds) -> str:
    """Return the parts as JSON: figures with bounds and source, extras kept."""
    return _json(
        {
            "format": FORMAT,
            "catalog": catalog.name,
            "currency": catalog.currency,
            "date": catalog.date.isoformat() if catalog.date else None,
            "invented": catalog.is_invented,
            "stamp": stamp(catalog),
            "parts": [_part_json(p) for record in kinds for p in catalog.of(record)],
        }
    )


def _part_json(part: Part) -> dict[str, Any]:
    values = part.model_dump(mode="json")
    values["defaulted"] = sorted(part.defaulted)
    for slot in values.get("slots", ()):
        slot["modes"] = sorted(slot["modes"])
    return {"kind": part.kind, **values}


def _json(value: object) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def columns_text(kinds: Kinds) -> str:
    """Return the documentation of columns for people."""
    blocks = [
        f"{record.kind} ({file_name(record.kind)})\n"
        f"  classes: {', '.join(built_in_classes().names(record.kind)) or 'none'}\n"
        + "\n".join(_column_text(column) for column in columns_of(record))
        for record in kinds
    ]
    return "\n\n".join([*blocks, _ALSO]) + "\n"


def _column_text(column: Column) -> str:
    allowed = f", {column.allowed}" if column.allowed else ""
    mark = "*" if column.is_headline else " "
    return (
        f"{mark} {column.name}: {column.type_words}{allowed}; blank = {blank(column)}\n"
        f"      {column.meaning}"
    )


def _column_rows(kinds: Kinds) -> list[dict[str, str]]:
    return [
        {
            "kind": record.kind,
            "column": column.name,
            "type": column.type_words,
            "range": column.allowed,
            "unit": column.unit.symbol if column.unit else "",
            "blank": blank(column),
            "meaning": column.meaning,
        }
        for record in kinds
        for column in columns_of(record)
    ]


def columns_csv(kinds: Kinds) -> str:
    """Return the documentation of columns as CSV."""
    return csv_text(_COLUMN_FIELDS, _column_rows(kinds))


def columns_json(kinds: Kinds) -> str:
    """Return the documentation of columns as JSON."""
    return _json({"format": FORMAT, "columns": _column_rows(kinds)})
