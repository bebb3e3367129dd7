"""Parts to cells and back, for saved builds and for parts written in place."""

import re
from collections.abc import Collection, Mapping
from typing import Any

from optibox.catalog.classes import Classes
from optibox.catalog.columns import Figure, Part, Source, number_text
from optibox.catalog.convert import CLASS_DEFAULT, Cell
from optibox.catalog.describe import Column, columns_of, text_of
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.nearest import nearest
from optibox.catalog.resolve import SOURCES_COLUMN, RawPart, resolve, with_sources
from optibox.errors import CatalogError, Fault

_MAX_DERIVED = 54
"""Longest id made up for a part: room for a number below the longest id."""


def row_cells(part: Part) -> dict[str, str]:
    """Return the cells of a part, blanks filled, that read back as an equal part.

    Every value is written, also where it equals the default of today: a saved
    row keeps its meaning when defaults change.

    Parameters
    ----------
    part : Part
        A part of any kind.

    Returns
    -------
    dict[str, str]
        Text by column name; ``part_from_cells`` reverses it.
    """
    cells: dict[str, str] = {}
    sources: dict[str, list[str]] = {}
    for column in columns_of(type(part)):
        value = getattr(part, column.field)
        source = _source_of(part, column, value)
        if not _is_blank(column, value) or source == CLASS_DEFAULT:
            cells[column.name] = text_of(column, value)
        if source not in ("", part.source):
            sources.setdefault(source, []).append(column.name)
    cells.update(part.extras)
    if sources:
        items = (f"{source}: {' '.join(names)}" for source, names in sources.items())
        cells[SOURCES_COLUMN] = " | ".join(items)
    return {name: text for name, text in cells.items() if text}


def _source_of(part: Part, column: Column, value: object) -> str:
    if column.field in part.defaulted:
        return CLASS_DEFAULT
    return value.source if isinstance(value, Figure) else ""


def _is_blank(column: Column, value: object) -> bool:
    """Return whether a blank cell reads back as this value."""
    return (
        value in (None, "", ()) and not column.is_required and value == column.default
    )


def part_from_cells(
    kind: str, cells: Mapping[str, str], where: str = "saved row"
) -> Part:
    """Return the part whose cells ``row_cells`` wrote; no class fills blanks.

    Raises
    ------
    CatalogError
        With every fault of the row; ``where`` names its place.
    """
    raw = _raw(kind, cells, where, default="stated")
    return _resolved(raw, None)


def part_in_place(
    table: Mapping[str, Any],
    where: str,
    classes: Classes,
    *,
    taken: Collection[str] = (),
    not_columns: Collection[str] = ("count",),
) -> Part:
    """Return a part written in a scenario or build, blanks filled from its class.

    Parameters
    ----------
    table : mapping
        Such as ``{kind = "hard drive", class = "...", tb = 4, count = 4}``. A
        missing ``id`` is derived from the other cells, a missing ``price`` is 0.
    where : str
        File and place for faults, such as ``scenario.toml, owned[0]``.
    classes : Classes
        The classes in force.
    taken : collection of str
        Ids that a derived one must avoid.
    not_columns : collection of str
        Keys that describe the use of the part rather than the part.

    Raises
    ------
    CatalogError
        With every fault of the table.
    """
    kind = _kind_of(table, where)
    cells = {
        str(key): _as_text(value, where, str(key))
        for key, value in table.items()
        if key != "kind" and key not in not_columns
    }
    cells.setdefault("price", "0")
    if not cells.get("id"):
        cells["id"] = _derived_id(kind, cells, taken)
    return _resolved(_raw(kind, cells, where, default="stated"), classes)


def _kind_of(table: Mapping[str, Any], where: str) -> str:
    kind = table.get("kind", "")
    if isinstance(kind, str) and kind in KIND_BY_NAME:
        return kind
    problem = (
        "is no kind of part" if kind else "is missing from a part written in place"
    )
    remedy = nearest(str(kind), KIND_BY_NAME)
    raise CatalogError([_fault(where, "kind", str(kind), problem, remedy)])


def _fault(path: str, name: str, value: str, problem: str, remedy: str) -> Fault:
    return Fault(path=path, field=name, value=value, problem=problem, remedy=remedy)


def _as_text(value: object, where: str, key: str) -> str:
    """Return a TOML value as the cell that means the same."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number_text(value) if isinstance(value, float) else str(value)
    if isinstance(value, list):
        return " | ".join(_as_text(item, where, key) for item in value)
    if isinstance(value, Mapping):
        problem = "is a table; expected text, a number, true or false"
        remedy = "Write it as a cell of a catalog."
        raise CatalogError([_fault(where, key, "", problem, remedy)])
    return str(value)


def _derived_id(kind: str, cells: Mapping[str, str], taken: Collection[str]) -> str:
    headline = [cells.get(name, "") for name in KIND_BY_NAME[kind].headline]
    words = " ".join([kind, cells.get("class", ""), *headline])
    slug = re.sub(r"[^a-z0-9.]+", "-", words.lower()).strip("-.")[:_MAX_DERIVED]
    number, name = 1, slug
    while name in taken:
        number += 1
        name = f"{slug}-{number}"
    return name


def _raw(kind: str, cells: Mapping[str, str], where: str, default: Source) -> RawPart:
    if kind not in KIND_BY_NAME:
        remedy = nearest(kind, KIND_BY_NAME)
        fault = _fault(where, "kind", kind, "is no kind of part", remedy)
        raise CatalogError([fault])
    raw = RawPart(
        kind=kind,
        id=cells.get("id", ""),
        path=where,
        cells={
            name: Cell(text=text.strip(), path=where)
            for name, text in cells.items()
            if text.strip()
        },
    )
    faults = with_sources(raw, default)
    if faults:
        raise CatalogError(faults)
    return raw


def _resolved(raw: RawPart, classes: Classes | None) -> Part:
    part, faults = resolve(raw, classes)
    if part is None:
        raise CatalogError(faults)
    return part
