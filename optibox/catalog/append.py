"""Append a row to a catalog: read as it would be read, then written whole."""

import io
from collections.abc import Mapping
from pathlib import Path

from optibox.catalog.columns import Part
from optibox.catalog.csvcells import Table, csv_line, csv_text, read_table
from optibox.catalog.describe import columns_of
from optibox.catalog.kinds import KIND_BY_NAME, file_name
from optibox.catalog.nearest import nearest
from optibox.catalog.read import read_catalog
from optibox.errors import CatalogError, Fault
from optibox.files import read_text, write_text

_BOM = "\ufeff"


def append_row(folder: Path, kind: str, cells: Mapping[str, str]) -> Part:
    """Append one row to the file of a kind and return the part as it now reads.

    The text of the file stays as it is; columns are added where the row needs
    them. Nothing is written unless the whole catalog reads well with the row.

    Raises
    ------
    CatalogError
        If the kind is unknown or the catalog with the row has faults.
    InputError
        If the file cannot be written.
    """
    if kind not in KIND_BY_NAME:
        remedy = nearest(kind, KIND_BY_NAME)
        raise CatalogError([_fault(folder, "kind", kind, "is no kind of part", remedy)])
    if not cells.get("id"):
        problem, remedy = "is missing", "Give the row an id: id=my-part-1."
        raise CatalogError([_fault(folder, "id", "", problem, remedy)])
    path = folder / file_name(kind)
    text = _with_row(path, KIND_BY_NAME[kind], dict(cells))
    catalog = read_catalog([folder], texts={path: text})
    write_text(path, _with_mark(path, text))
    return catalog.by_id[cells["id"]]


def _fault(path: Path, where: str, value: str, problem: str, remedy: str) -> Fault:
    return Fault(
        path=str(path), field=where, value=value, problem=problem, remedy=remedy
    )


def _with_mark(path: Path, text: str) -> str:
    """Return the text with the byte-order mark that the file had."""
    has_mark = path.exists() and path.read_bytes().startswith(_BOM.encode())
    return _BOM + text if has_mark else text


def _with_row(path: Path, record: type[Part], cells: dict[str, str]) -> str:
    text = read_text(path) if path.exists() else ""
    table = read_table(str(path), text)
    if not table.columns and not text.strip():
        return csv_text(_in_order(record, cells), [cells])
    if table.faults:
        raise CatalogError(table.faults)
    missing = [name for name in cells if name not in table.columns]
    end = "\r\n" if "\r\n" in text else "\n"
    columns = [*_named(table), *missing]
    if missing:
        text = _widened(table, text, columns, end)
    elif not text.endswith(("\n", "\r")):
        text += end
    row = [cells.get(name, "") for name in columns]
    return text + csv_line(row, table.delimiter) + end


def _in_order(record: type[Part], cells: Mapping[str, str]) -> list[str]:
    known = [column.name for column in columns_of(record)]
    return sorted(cells, key=lambda n: known.index(n) if n in known else len(known))


def _named(table: Table) -> tuple[str, ...]:
    """Return the columns without the blank ones behind the last name."""
    columns = table.columns
    while columns and not columns[-1]:
        columns = columns[:-1]
    return columns


def _widened(table: Table, text: str, columns: list[str], end: str) -> str:
    """Return the text with header and rows written anew, comments as they were."""
    lines = list(io.StringIO(text, newline=""))
    header = csv_line(columns, table.delimiter) + end
    spans = {table.header_line: (table.header_line, header)}
    for row in table.rows:
        cells = [row.cells.get(name, "") for name in columns]
        spans[row.line] = (row.last_line, csv_line(cells, table.delimiter) + end)
    out, number = [], 1
    while number <= len(lines):
        last, written = spans.get(number, (number, lines[number - 1]))
        out.append(written)
        number = last + 1
    return "".join(out)
