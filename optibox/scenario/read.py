"""Scenario files into scenarios and catalogs; every fault of all files at once."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from optibox.catalog.catalog import Catalog
from optibox.catalog.classes import Classes, built_in_classes, read_classes
from optibox.catalog.locate import find_catalogs
from optibox.catalog.read import read_catalog
from optibox.errors import Fault, InputError, ScenarioError
from optibox.files import parse_toml, read_text
from optibox.scenario.checks import clashes
from optibox.scenario.measured import (
    Measured,
    apply_to_parts,
    merge_factors,
    read_measured,
)
from optibox.scenario.messages import Origin, faults_of
from optibox.scenario.parts import Bench, catalog_with_parts, owned_tables
from optibox.scenario.places import lines_of_keys
from optibox.scenario.records import Scenario
from optibox.scenario.references import unknown_names
from optibox.scenario.schema import record_in
from optibox.scenario.settings import with_settings
from optibox.scenario.values import frozen


def read_scenario(
    path: Path | str, settings: Sequence[str] = ()
) -> tuple[Scenario, Catalog]:
    """Return the scenario of a file and the catalog that it chooses from.

    Catalogs are folders relative to the file, or shipped ones by name. Parts of
    ``[[parts]]`` are added to the catalog, or change cells of it; every owned part
    is resolved. A file named under ``measured`` is laid over both, after all else
    but ``settings``.

    Parameters
    ----------
    path : Path or str
        A TOML file.
    settings : sequence of str
        Keys changed for this run, such as ``needs.usable_tb=16``.

    Raises
    ------
    ScenarioError
        With every fault of the scenario, its settings, its catalogs and its file
        of measured figures.
    """
    path = Path(path)
    try:
        text = read_text(path)
        table = parse_toml(path, text)
    except InputError as error:
        raise ScenarioError(error.faults) from None
    origin = Origin(path=str(path), lines=lines_of_keys(text))
    table, faults = with_settings(table, settings, origin)
    measured, found = read_measured(table.pop("measured", None), path.parent, origin)
    faults += found
    merge_factors(table, measured, origin)
    catalog, found = _resolved(table, path.parent, origin, measured)
    faults += found
    scenario, found = _validated(table, origin)
    faults += found
    if faults or scenario is None or catalog is None:
        raise ScenarioError(faults)
    return scenario, catalog


def _resolved(
    table: dict[str, Any], base: Path, origin: Origin, measured: Measured
) -> tuple[Catalog | None, list[Fault]]:
    """Return the catalog with the scenario's parts; ``owned`` is resolved in place."""
    parts, owned = table.pop("parts", []), table.pop("owned", [])
    names = table.get("catalogs", list(Scenario.model_fields["catalogs"].default))
    try:
        catalog, classes = _catalog(names, base, origin)
    except InputError as error:
        return None, list(error.faults)
    if catalog is None:  # the names themselves are at fault, which is told elsewhere
        return None, []
    bench = Bench(catalog=catalog, classes=classes, origin=origin)
    catalog_with_parts(bench, parts)
    table["owned"] = owned_tables(bench, owned)
    apply_to_parts(bench, measured, table["owned"])
    ids = [piece["id"] for piece in table["owned"]]
    known = {name for kind in classes.cells.values() for name in kind}
    bench.faults += [
        origin.fault(clash.loc, clash.problem, clash.remedy, clash.value)
        for clash in unknown_names(table, bench.catalog, ids, known)
    ]
    return bench.catalog, bench.faults


def _catalog(
    names: object, base: Path, origin: Origin
) -> tuple[Catalog | None, Classes]:
    """Return the catalog of the names; no catalog where they are no list of names."""
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        return None, built_in_classes()
    if not names:
        remedy = 'Write catalogs = ["invented"], or delete the line.'
        fault = origin.fault(("catalogs",), "is empty", remedy)
        raise ScenarioError([fault])
    folders = find_catalogs(names, base)
    catalog = read_catalog(folders)
    return catalog, read_classes([folder for folder in folders if folder.is_dir()])


def _validated(
    table: dict[str, Any], origin: Origin
) -> tuple[Scenario | None, list[Fault]]:
    """Return the scenario of a table, or what is wrong with it."""
    table = {key: frozen(value) for key, value in table.items()}
    scenario, faults = None, list[Fault]()
    try:
        scenario = Scenario.model_validate(table, strict=True)
        sections: dict[str, Any] = dict(scenario)
    except ValidationError as error:
        faults = faults_of(error, Scenario, origin)
        sections = _sound_sections(table, error)
    faults += [
        origin.fault(clash.loc, clash.problem, clash.remedy, clash.value)
        for clash in clashes(sections)
    ]
    return scenario, faults


def _sound_sections(table: dict[str, Any], error: ValidationError) -> dict[str, Any]:
    """Return the sections in which nothing is wrong, as records."""
    faulty = {detail["loc"][0] for detail in error.errors() if detail["loc"]}
    sections: dict[str, Any] = {}
    for name, info in Scenario.model_fields.items():
        record = record_in(info.annotation)
        if record is info.annotation and name not in faulty:
            sections[name] = _section(record, table.get(name, {}))
    return sections


def _section(record: type[BaseModel] | None, table: object) -> BaseModel | None:
    return record.model_validate(table, strict=True) if record else None
