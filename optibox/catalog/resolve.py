"""Cells into parts: own cells first, then the class, then the record's default."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, get_args

from pydantic import ValidationError

from optibox.catalog.classes import Classes
from optibox.catalog.columns import Figure, Part, Source
from optibox.catalog.convert import CLASS_DEFAULT, Cell, remedy_of, value_of
from optibox.catalog.describe import Column, column_by_name
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.nearest import listed, nearest
from optibox.errors import Fault

SOURCES_COLUMN = "sources"
"""Sources figure by figure: ``measured: idle_w standby_w | class default: tbw``."""

EXTRA_PREFIX = "x_"
_ROW_SOURCES = tuple(s for s in get_args(Source) if s != CLASS_DEFAULT)


@dataclass(slots=True, kw_only=True)
class RawPart:
    """A row before its cells are read: what is known of one part so far."""

    kind: str
    id: str
    path: str
    line: int = 0
    cells: dict[str, Cell] = field(default_factory=dict)

    @property
    def record(self) -> type[Part]:
        """Return the record of its kind; the common one for a row of prices."""
        return KIND_BY_NAME.get(self.kind, Part)

    def fault(self, column: str, problem: str, remedy: str) -> Fault:
        """Return a fault at one of its columns, where that column was written."""
        cell = self.cells.get(column)
        return Fault(
            path=cell.path if cell else self.path,
            line=cell.line if cell else self.line,
            field=column,
            value=cell.text if cell else "",
            problem=problem,
            remedy=remedy,
        )


def is_known_column(record: type[Part], name: str) -> bool:
    """Return whether a file of this kind may have a column of this name."""
    return (
        name in column_by_name(record)
        or name == SOURCES_COLUMN
        or name.startswith(EXTRA_PREFIX)
    )


def unknown_column(record: type[Part], name: str) -> tuple[str, str]:
    """Return problem and remedy for a column that the kind does not have."""
    known = (*column_by_name(record), SOURCES_COLUMN)
    remedy = nearest(name, known)
    problem = f"is not a column of the kind '{record.kind}'"
    return problem, f"{remedy} A column of your own begins with {EXTRA_PREFIX}."


def with_sources(raw: RawPart, default: Source) -> list[Fault]:
    """Set the source of each cell of a row from the row's own statements."""
    faults: list[Fault] = []
    stated = raw.cells.get("source")
    if stated and stated.text.lower() not in _ROW_SOURCES:
        problem = f"is no source of a row; expected {listed(_ROW_SOURCES)}"
        faults.append(raw.fault("source", problem, nearest(stated.text, _ROW_SOURCES)))
        del raw.cells["source"]
    elif stated:
        default = stated.text.lower()  # type: ignore[assignment]  # checked above
    single = _single_sources(raw, faults)
    for name, cell in raw.cells.items():
        raw.cells[name] = replace(cell, source=single.get(name, default))
    raw.cells.pop(SOURCES_COLUMN, None)
    return faults


def _single_sources(raw: RawPart, faults: list[Fault]) -> dict[str, Source]:
    cell = raw.cells.get(SOURCES_COLUMN)
    found: dict[str, Source] = {}
    for item in cell.text.split("|") if cell else ():
        source, _, names = item.partition(":")
        if source.strip() not in get_args(Source) or not names.strip():
            problem = "names no source; expected 'measured: idle_w tbw | datasheet: tb'"
            remedy = f"Sources: {listed(get_args(Source))}."
            faults.append(raw.fault(SOURCES_COLUMN, problem, remedy))
            continue
        for name in names.split():
            found[name] = source.strip()  # type: ignore[assignment]  # checked above
            if name not in column_by_name(raw.record):
                problem, remedy = unknown_column(raw.record, name)
                problem = f"names '{name}', which {problem}"
                faults.append(raw.fault(SOURCES_COLUMN, problem, remedy))
    return found


def resolve(raw: RawPart, classes: Classes | None) -> tuple[Part | None, list[Fault]]:
    """Return the part that a row describes, or everything wrong with it.

    Without classes the row must be complete, whatever class it names.
    """
    columns = column_by_name(raw.record)
    own = {name: cell for name, cell in raw.cells.items() if cell.text}
    filling, faults = _class_cells(raw, classes) if classes else ({}, [])
    cells = {**filling, **own}
    values, found = _values(raw, columns, cells)
    faults += found
    if not any(fault.field == "class" for fault in faults):
        faults += _missing(raw, classes or Classes({}), cells)
    if faults:
        return None, faults
    return _record(raw, values, cells)


def _class_cells(
    raw: RawPart, classes: Classes
) -> tuple[Mapping[str, Cell], list[Fault]]:
    named = raw.cells.get("class")
    if named is None or not named.text:
        return {}, []
    cells = classes.of(raw.kind, named.text)
    if cells is not None:
        return cells, []
    others = classes.kinds_with(named.text)
    problem = f"is no class of the kind '{raw.kind}'"
    if others:
        problem += f" (it is one of {listed(others)})"
    remedy = nearest(named.text, classes.names(raw.kind))
    return {}, [raw.fault("class", problem, remedy)]


def _values(
    raw: RawPart, columns: Mapping[str, Column], cells: Mapping[str, Cell]
) -> tuple[dict[str, Any], list[Fault]]:
    values: dict[str, Any] = {}
    faults: list[Fault] = []
    for name, cell in cells.items():
        column = columns.get(name)
        if name.startswith(EXTRA_PREFIX):
            values.setdefault("extras", {})[name] = cell.text
        elif column is None:
            faults.append(raw.fault(name, *unknown_column(raw.record, name)))
        else:
            try:
                values[column.field] = value_of(column, cell)
            except ValueError as error:
                faults.append(_cell_fault(cell, name, str(error), remedy_of(column)))
    return values, faults


def _cell_fault(cell: Cell, name: str, problem: str, remedy: str) -> Fault:
    return Fault(
        path=cell.path,
        line=cell.line,
        field=name,
        value=cell.text,
        problem=problem,
        remedy=remedy,
    )


def _missing(raw: RawPart, classes: Classes, cells: Mapping[str, Cell]) -> list[Fault]:
    """Return one fault per blank that must be filled; one for all a class would."""
    columns = column_by_name(raw.record).values()
    blank = [c for c in columns if c.is_required and c.name not in cells]
    by_class = [c for c in blank if c.from_class and classes.filling(raw.kind, c.name)]
    faults = [
        raw.fault(c.name, "is blank", f"Give it: {c.meaning}; {c.type_words}.")
        for c in blank
        if c not in by_class
    ]
    if not by_class:
        return faults
    if "class" in raw.cells:
        return faults + [_not_in_class(raw, classes, c) for c in by_class]
    names = listed(classes.filling(raw.kind, by_class[0].name))
    problem = f"is blank, so that nothing fills {listed(c.name for c in by_class)}"
    remedy = f"Name a class ({names}) or fill these columns."
    return [*faults, raw.fault("class", problem, remedy)]


def _not_in_class(raw: RawPart, classes: Classes, column: Column) -> Fault:
    problem = f"is blank, and the class '{raw.cells['class'].text}' does not fill it"
    others = listed(classes.filling(raw.kind, column.name))
    remedy = f"Fill it in, or choose a class that does: {others}."
    return raw.fault(column.name, problem, remedy)


def _record(
    raw: RawPart, values: dict[str, Any], cells: Mapping[str, Cell]
) -> tuple[Part | None, list[Fault]]:
    defaulted = {
        column.field
        for name, column in column_by_name(raw.record).items()
        if name in cells and cells[name].source == CLASS_DEFAULT
    }
    for column in column_by_name(raw.record).values():
        if column.field not in values and isinstance(column.default, Figure):
            values[column.field] = replace(column.default, source=CLASS_DEFAULT)
            defaulted.add(column.field)
    try:
        part = raw.record(**values, defaulted=frozenset(defaulted))
    except ValidationError as error:
        return None, list(_record_faults(raw, error))
    return part, []


def _record_faults(raw: RawPart, error: ValidationError) -> Iterable[Fault]:
    """Yield the faults that only the record as a whole can find."""
    for item in error.errors():
        name = str(item["loc"][0]) if item["loc"] else ""
        message = item["msg"].removeprefix("Value error, ")
        yield raw.fault(name, message[:1].lower() + message[1:], "Correct the row.")
