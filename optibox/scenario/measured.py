"""A file of measured figures: ``[factors]`` and ``[parts.ID]``, applied last."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optibox.catalog.columns import figure_from_text, number_text
from optibox.catalog.nearest import nearest
from optibox.errors import Fault, InputError
from optibox.files import parse_toml, read_text
from optibox.scenario.messages import Origin, Place, type_words
from optibox.scenario.parts import Bench, with_measured
from optibox.scenario.places import lines_of_keys
from optibox.scenario.values import frozen

KEYS = ("format", "name", "note", "factors", "parts")
OWNED = "@owned"
"""Ending by which a measured figure speaks of the owned piece alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The tables of a file of measured figures; empty where there is no file."""

    factors: dict[str, Any] = field(default_factory=dict)
    parts: dict[str, Any] = field(default_factory=dict)
    origin: Origin


def read_measured(
    name: object, base: Path, asked: Origin
) -> tuple[Measured, list[Fault]]:
    """Return the file of measured figures that a scenario names.

    Parameters
    ----------
    name : object
        What stands under ``measured``; nothing = there is no such file.
    base : Path
        Folder of the scenario.
    asked : Origin
        The scenario's file, for a name that is no text.
    """
    none = Measured(origin=Origin(path=""))
    if name is None:
        return none, []
    if not isinstance(name, str) or not name:
        problem = f"is {type_words(name)}; expected the name of a file"
        remedy = 'Write measured = "measured.toml".'
        return none, [asked.fault(("measured",), problem, remedy, name)]
    path = base / name
    try:
        text = read_text(path)
        table = parse_toml(path, text)
    except InputError as error:
        return none, list(error.faults)
    origin = Origin(path=str(path), lines=lines_of_keys(text))
    return _checked(table, origin)


def _checked(table: Mapping[str, Any], origin: Origin) -> tuple[Measured, list[Fault]]:
    faults = [
        origin.fault((key,), "is not a key of measured figures", nearest(key, KEYS))
        for key in table
        if key not in KEYS
    ]
    found = {}
    for key in ("factors", "parts"):
        found[key] = table.get(key, {})
        if not isinstance(found[key], dict):
            problem = f"is {type_words(found[key])}; expected a table"
            remedy = f"Write [{key}], then its keys."
            faults.append(origin.fault((key,), problem, remedy, found[key]))
            found[key] = {}
    return Measured(
        factors=found["factors"], parts=found["parts"], origin=origin
    ), faults


def merge_factors(table: dict[str, Any], measured: Measured, origin: Origin) -> None:
    """Lay measured factors over a scenario's overrides; settings of a run stay."""
    overrides = table.setdefault("overrides", {})
    if not isinstance(overrides, dict):
        return
    for key, value in measured.factors.items():
        loc = ("overrides", key)
        if loc in origin.moved:
            continue
        place = measured.origin.place(("factors", key))
        origin.moved[loc] = Place(path=place.path, line=place.line, field=place.field)
        overrides[key] = _as_measured(value)


def _as_measured(value: object) -> object:
    """Return a figure marked as measured; what is none is left to the check."""
    value = frozen(value)
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return value
    text = value if isinstance(value, str) else number_text(value)
    try:
        return figure_from_text(text, "measured")
    except ValueError:
        return value


def apply_to_parts(
    bench: Bench, measured: Measured, owned: Iterable[dict[str, Any]]
) -> None:
    """Lay measured figures over the parts of the catalog and over owned ones."""
    pieces = list(owned)
    here = Bench(catalog=bench.catalog, classes=bench.classes, origin=measured.origin)
    for name, row in measured.parts.items():
        loc = ("parts", name)
        if not isinstance(row, dict):
            problem = f"is {type_words(row)}; expected a table of figures"
            remedy = f'Write [parts."{name}"], then a line per figure.'
            here.fault(loc, problem, remedy, row)
            continue
        hits = [piece for piece in pieces if _speaks_of(name, piece)]
        in_catalog = here.catalog.by_id.get(name)
        if in_catalog is None and not hits:
            known = [*here.catalog.by_id, *(str(piece["id"]) for piece in pieces)]
            problem = "is neither a catalog part nor an owned one"
            here.fault(loc, problem, nearest(name, known))
            continue
        if in_catalog is not None:
            part = with_measured(here, in_catalog, loc, row)
            here.catalog = here.catalog.with_parts([part] if part else [])
        for piece in hits:
            piece["part"] = with_measured(here, piece["part"], loc, row)
    bench.catalog = here.catalog
    bench.faults += sorted(set(here.faults))


def _speaks_of(name: str, piece: Mapping[str, Any]) -> bool:
    if piece.get("part") is None:
        return False
    names = {piece["id"], piece["part"].id, f"{piece['id']}{OWNED}"}
    return name in names
