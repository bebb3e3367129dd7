"""One catalog folder as rows of cells, before anything is filled or read."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from optibox.catalog.classes import CLASSES_FILE, ClassCells, class_cells
from optibox.catalog.columns import Part
from optibox.catalog.convert import Cell
from optibox.catalog.csvcells import Row, Table, read_table
from optibox.catalog.decimals import shows_decimal_commas
from optibox.catalog.describe import column_by_name
from optibox.catalog.head import HEAD_FILE, Head, read_head
from optibox.catalog.kinds import KIND_BY_NAME, KINDS, file_name
from optibox.catalog.nearest import nearest
from optibox.catalog.resolve import (
    EXTRA_PREFIX,
    SOURCES_COLUMN,
    RawPart,
    unknown_column,
    with_sources,
)
from optibox.errors import Fault, InputError
from optibox.files import read_text

PRICES_FILE = "prices.csv"
"""Rows of any kind by id: ``id,price`` is enough."""

KIND_OF_FILE = {file_name(record.kind): record.kind for record in KINDS}

_NOT_A_PRICE = frozenset({"class", "comes_with"})


@dataclass(slots=True, kw_only=True)
class Layer:
    """What one catalog says, and everything wrong with how it says it."""

    path: Path
    head: Head
    rows: list[RawPart] = field(default_factory=list)
    """Rows of kinds in file order, then rows of prices, whose kind is empty."""
    classes: ClassCells = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def read_layer(path: Path, texts: Mapping[Path, str] | None = None) -> Layer:
    """Return the rows of one catalog folder, or of one CSV file.

    Parameters
    ----------
    path : Path
        A folder with ``catalog.toml`` and CSV files, or a single CSV file.
    texts : mapping of Path to str, optional
        Texts that stand for files: they are read instead of what is on disk.
    """
    layer = Layer(path=path, head=Head(name=path.stem))
    texts = texts or {}
    try:
        files = _files(layer, texts)
    except OSError as error:
        problem = f"cannot be read ({error.strerror or error})"
        layer.faults.append(_at(path, problem, "Check its name and permissions."))
        return layer
    if not path.is_file():
        _read_head(layer)
    for file in files:
        try:
            text = texts[file] if file in texts else read_text(file)
        except InputError as error:
            layer.faults += error.faults
        else:
            _read_file(layer, file, text)
    _refuse_repeated_ids(layer)
    return layer


def _files(layer: Layer, texts: Mapping[Path, str]) -> list[Path]:
    """Return the CSV files of a catalog, in the order of kinds, prices last."""
    path = layer.path
    if path.is_file():
        return [path]
    if not path.exists():
        remedy = "Check the name and the folder."
        layer.faults.append(_at(path, "does not exist", remedy))
        return []
    found = {file for file in path.iterdir() if _is_csv(file)}
    found |= {file for file in texts if file.parent == path}
    if not found and not (path / HEAD_FILE).exists():
        problem = f"is no catalog: it holds neither {HEAD_FILE} nor a CSV file"
        layer.faults.append(_at(path, problem, "Name a catalog folder."))
    order = [*KIND_OF_FILE, CLASSES_FILE, PRICES_FILE]
    place = {name: number for number, name in enumerate(order)}
    return sorted(found, key=lambda f: (place.get(_file_key(f), len(order)), f.name))


def _is_csv(file: Path) -> bool:
    return file.suffix.lower() == ".csv" and not file.name.startswith((".", "~"))


def _file_key(file: Path) -> str:
    return file.name.lower().replace("_", "-").replace(" ", "-")


def _at(path: Path | str, problem: str, remedy: str) -> Fault:
    return Fault(path=str(path), problem=problem, remedy=remedy)


def _read_head(layer: Layer) -> None:
    try:
        layer.head, faults = read_head(layer.path)
    except InputError as error:
        faults = list(error.faults)
    layer.faults += faults


def _read_file(layer: Layer, file: Path, text: str) -> None:
    key = _file_key(file)
    table = read_table(str(file), text)
    if key == CLASSES_FILE:
        layer.classes, faults = class_cells(table)
        layer.faults += faults
    elif key in KIND_OF_FILE:
        _add_rows(layer, table, KIND_OF_FILE[key])
    elif key == PRICES_FILE or layer.path.is_file():
        _add_rows(layer, table, "")
    else:
        known = (*KIND_OF_FILE, CLASSES_FILE, PRICES_FILE)
        problem = "is not the file of a kind"
        layer.faults.append(_at(file, problem, nearest(key, known)))


def _add_rows(layer: Layer, table: Table, kind: str) -> None:
    layer.faults += table.faults
    if not table.columns:
        return
    faults = _header_faults(table, kind)
    layer.faults += faults
    ignored = {fault.field for fault in faults}
    commas = _numeric_columns_with_commas(table, kind)
    for row in table.rows:
        raw = _raw(table, row, kind, ignored, commas)
        if "id" in raw.cells:
            layer.faults += with_sources(raw, _default_source(layer))
            _date_price(layer, raw)
            layer.rows.append(raw)
        elif "id" in table.columns:
            remedy = "Give the row an id of its own."
            layer.faults.append(raw.fault("id", "is blank", remedy))


def _header_faults(table: Table, kind: str) -> list[Fault]:
    record = KIND_BY_NAME.get(kind, Part)
    known = {*column_by_name(record), SOURCES_COLUMN, ""}
    if not kind:
        known -= _NOT_A_PRICE
    faults = []
    for name in dict.fromkeys(table.columns):
        if name in known or name.startswith(EXTRA_PREFIX):
            continue
        problem, remedy = unknown_column(record, name)
        if not kind:
            problem = "is not a column of a prices file"
        faults.append(_header_fault(table, name, problem, remedy))
    if "id" not in table.columns:
        remedy = "Every file of parts has a column id."
        faults.append(_header_fault(table, "id", "is missing from the header", remedy))
    return faults


def _header_fault(table: Table, name: str, problem: str, remedy: str) -> Fault:
    return Fault(
        path=table.path,
        line=table.header_line,
        field=name,
        problem=problem,
        remedy=remedy,
    )


def _numeric_columns_with_commas(table: Table, kind: str) -> frozenset[str]:
    """Return the numeric columns if the file shows that it writes decimal commas."""
    columns = column_by_name(KIND_BY_NAME.get(kind, Part)).values()
    numeric = frozenset(column.name for column in columns if column.is_numeric)
    cells = (row.cells[n] for row in table.rows for n in numeric & row.cells.keys())
    return numeric if shows_decimal_commas(cells) else frozenset()


def _raw(
    table: Table, row: Row, kind: str, ignored: set[str], commas: frozenset[str]
) -> RawPart:
    cells = {
        name: Cell(
            text=text,
            path=table.path,
            line=row.line,
            has_decimal_commas=name in commas,
        )
        for name, text in row.cells.items()
        if name not in ignored
    }
    return RawPart(
        kind=kind,
        id=row.cells.get("id", ""),
        path=table.path,
        line=row.line,
        cells=cells,
    )


def _default_source(layer: Layer) -> Literal["invented", "stated"]:
    return "invented" if layer.head.is_invented else "stated"


def _date_price(layer: Layer, raw: RawPart) -> None:
    """Give a price without a day the day of its catalog; a later price loses the old."""
    if "price" in raw.cells and "price_date" not in raw.cells:
        day = layer.head.day.isoformat() if layer.head.day else ""
        raw.cells["price_date"] = replace(raw.cells["price"], text=day)


def _refuse_repeated_ids(layer: Layer) -> None:
    seen: dict[tuple[bool, str], RawPart] = {}
    for raw in layer.rows:
        first = seen.setdefault((raw.kind == "", raw.id), raw)
        if first is not raw:
            problem = f"stands in {first.path}, line {first.line} already"
            remedy = "Ids are unique within one catalog, over all kinds."
            layer.faults.append(raw.fault("id", problem, remedy))
