"""Classes of parts: the figures that fill the blanks of a row.

A class is a named set of low/mid/high figures of one kind, written in long
format: ``kind,class,column,value``. The classes of the package come first, then
the ``classes.csv`` of each catalog, whose cells add to them or replace them.

A blank must never make a part look better than its class. A class therefore
describes the ordinary member, and gives no value to a column whose blank is
already read cautiously because the good value has to be shown part by part: how
a controller's connectors hang on its chip, how a drive records, whether a card
lets the processor sleep. Identity, price and shop columns cannot be given by a
class at all.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TypeAlias

from optibox.catalog.convert import CLASS_DEFAULT, Cell, remedy_of, value_of
from optibox.catalog.csvcells import Row, Table, read_table
from optibox.catalog.decimals import shows_decimal_commas
from optibox.catalog.describe import Column, column_by_name
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.nearest import nearest
from optibox.errors import CatalogError, Fault, InputError
from optibox.files import read_text

CLASSES_FILE = "classes.csv"
COLUMNS = ("kind", "class", "column", "value")

ClassCells: TypeAlias = dict[str, dict[str, dict[str, Cell]]]
"""Cells by kind, class and column."""

_BUILT_IN = Path(__file__).parent / CLASSES_FILE


@dataclass(frozen=True, slots=True)
class Classes:
    """The classes in force, by kind and name."""

    cells: ClassCells

    def names(self, kind: str) -> tuple[str, ...]:
        """Return the classes of a kind."""
        return tuple(self.cells.get(kind, {}))

    def of(self, kind: str, name: str) -> Mapping[str, Cell] | None:
        """Return the cells that a class fills, or nothing if it is unknown."""
        return self.cells.get(kind, {}).get(name)

    def kinds_with(self, name: str) -> tuple[str, ...]:
        """Return the kinds that have a class of this name."""
        return tuple(kind for kind, classes in self.cells.items() if name in classes)

    def filling(self, kind: str, column: str) -> tuple[str, ...]:
        """Return the classes of a kind that give a column its value."""
        classes = self.cells.get(kind, {})
        return tuple(name for name, cells in classes.items() if column in cells)

    def extended(self, more: ClassCells) -> "Classes":
        """Return these classes with cells added or replaced."""
        merged = {kind: dict(classes) for kind, classes in self.cells.items()}
        for kind, classes in more.items():
            for name, cells in classes.items():
                known = merged.setdefault(kind, {})
                known[name] = {**known.get(name, {}), **cells}
        return Classes(merged)


@cache
def built_in_classes() -> Classes:
    """Return the classes that come with the package.

    Raises
    ------
    CatalogError
        If the package's own table is damaged.
    """
    if not _BUILT_IN.exists():
        return Classes({})
    cells, faults = class_cells(read_table(str(_BUILT_IN), read_text(_BUILT_IN)))
    if faults:
        raise CatalogError(faults)
    return Classes(cells)


def read_classes(folders: Sequence[Path] = ()) -> Classes:
    """Return the built-in classes with those of catalog folders laid over them.

    Raises
    ------
    CatalogError
        With every fault of every classes file.
    """
    classes, faults = built_in_classes(), list[Fault]()
    for path in (folder / CLASSES_FILE for folder in folders):
        if path.exists():
            try:
                table = read_table(str(path), read_text(path))
            except InputError as error:
                faults += error.faults
                continue
            cells, found = class_cells(table)
            faults += found
            classes = classes.extended(cells)
    if faults:
        raise CatalogError(faults)
    return classes


def class_cells(table: Table) -> tuple[ClassCells, list[Fault]]:
    """Return the cells of a classes file and everything wrong with it."""
    faults = [*table.faults, *_header_faults(table)]
    cells: ClassCells = {}
    if faults:
        return cells, faults
    commas = shows_decimal_commas(row.cells.get("value", "") for row in table.rows)
    for row in table.rows:
        found = _checked(table.path, row, has_decimal_commas=commas)
        if isinstance(found, Fault):
            faults.append(found)
            continue
        of_kind = cells.setdefault(row.cells["kind"], {})
        known = of_kind.setdefault(row.cells["class"], {})
        name = row.cells["column"]
        if name in known:
            problem = f"was given to this class on line {known[name].line} already"
            faults.append(_fault(table.path, row, "column", problem, "Keep one."))
        known[name] = found
    return cells, faults


def _header_faults(table: Table) -> list[Fault]:
    named = [name for name in table.columns if name]
    unknown = [name for name in named if name not in (*COLUMNS, "note")]
    missing = [name for name in COLUMNS if name not in named and table.columns]
    where = {"path": table.path, "line": table.header_line}
    return [
        Fault(
            **where,  # type: ignore[arg-type]
            field=name,
            problem="is not a column of a classes file",
            remedy=nearest(name, (*COLUMNS, "note")),
        )
        for name in unknown
    ] + [
        Fault(
            **where,  # type: ignore[arg-type]
            field=name,
            problem="is missing from the header",
            remedy="A classes file has the columns kind, class, column and value.",
        )
        for name in missing
    ]


def _fault(path: str, row: Row, where: str, problem: str, remedy: str) -> Fault:
    return Fault(
        path=path,
        line=row.line,
        field=where,
        value=row.cells.get(where, ""),
        problem=problem,
        remedy=remedy,
    )


def _checked(path: str, row: Row, *, has_decimal_commas: bool) -> Cell | Fault:
    """Return the cell of one row of a classes file, or what is wrong with it."""
    for name in COLUMNS:
        if name not in row.cells:
            remedy = "Fill it in or delete the row."
            return _fault(path, row, name, "is blank", remedy)
    kind = row.cells["kind"]
    if kind not in KIND_BY_NAME:
        return _fault(path, row, "kind", "is no kind", nearest(kind, KIND_BY_NAME))
    columns = column_by_name(KIND_BY_NAME[kind])
    column = columns.get(row.cells["column"])
    if column is None or not column.from_class:
        known = [name for name, item in columns.items() if item.from_class]
        problem = f"is no column that a class of {kind} can fill"
        return _fault(path, row, "column", problem, nearest(row.cells["column"], known))
    cell = Cell(
        text=row.cells["value"],
        path=path,
        line=row.line,
        source=CLASS_DEFAULT,
        has_decimal_commas=has_decimal_commas and column.is_numeric,
    )
    return _unless_unreadable(path, row, column, cell)


def _unless_unreadable(path: str, row: Row, column: Column, cell: Cell) -> Cell | Fault:
    try:
        value_of(column, cell)
    except ValueError as error:
        return _fault(path, row, "value", str(error), remedy_of(column))
    return cell
