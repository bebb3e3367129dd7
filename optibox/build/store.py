"""Builds as TOML that a person can edit and that reads back years later.

Every item carries its row with all blanks filled, so that a saved build needs no
catalog.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import tomli_w

from optibox.build.items import OWNED_SUFFIX, Item
from optibox.build.records import Belongings, Build, ItemCount
from optibox.build.saved import NEVER
from optibox.build.strict import build_from_table
from optibox.catalog.columns import Figure, Part
from optibox.catalog.rows import row_cells
from optibox.catalog.storage import Drive
from optibox.errors import BuildError, InputError
from optibox.files import FORMAT, parse_toml, read_text, write_text
from optibox.scenario.factors import Factors
from optibox.scenario.messages import Origin
from optibox.scenario.places import lines_of_keys
from optibox.scenario.records import OwnedPart, Scenario

_HEAD = """\
# optibox build: items with the rows they were planned with, drives with their roles,
# wiring and slots. Edit it and check it; counts, drives, wiring and slots must agree.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What a file says about its build that no judgement depends on."""

    stamp: str = ""
    """What it was planned with, such as the catalog's stamp."""
    name: str = ""
    currency: str = ""
    """Of its prices; blank = that of the catalog it is held against."""


def save_build(
    build: Build,
    path: Path | str,
    label: Label | str,
    scenario: Scenario | None = None,
) -> None:
    """Write a build to a file, whole or not at all.

    Parameters
    ----------
    build : Build
        The build.
    path : Path or str
        File to write; one that exists is replaced.
    label : Label or str
        What else the file says; a text is the stamp alone.
    scenario : Scenario, optional
        What it was planned for: what else is owned bears on moving data into it.

    Raises
    ------
    BuildError
        If the file cannot be written.
    """
    if scenario is not None:
        build = replace(build, belongings=belongings_of(build, scenario))
    try:
        write_text(Path(path), build_text(build, label))
    except InputError as error:
        raise BuildError(error.faults) from None


def load_build(path: Path | str) -> Build:
    """Return the build of a file.

    Raises
    ------
    BuildError
        With every fault of the file.
    """
    path = Path(path)
    try:
        text = read_text(path)
        table = parse_toml(path, text)
    except InputError as error:
        raise BuildError(error.faults) from None
    origin = Origin(path=str(path), lines=lines_of_keys(text))
    return build_from_table(table, origin)


def belongings_of(build: Build, scenario: Scenario) -> Belongings:
    """Return what a scenario owns that a build does not use, as far as it holds files.

    A lot of which the build takes some pieces stands in it with all of them.
    """
    used = {entry.item.key for entry in build.items}
    beside = tuple(
        ItemCount(
            item=Item(
                key=owned.id + OWNED_SUFFIX,
                part=owned.part,
                owned=owned,
                limit=owned.count,
            ),
            count=owned.count,
        )
        for owned in scenario.owned
        if isinstance(owned.part, Drive) and owned.id + OWNED_SUFFIX not in used
    )
    reserve = scenario.overrides.filesystem_reserve.mid
    usual = Factors().filesystem_reserve.mid
    return Belongings(
        beside=beside, filesystem_reserve=None if reserve == usual else reserve
    )


def build_text(build: Build, label: Label | str) -> str:
    """Return the text of a saved build."""
    table = build_table(build, label)
    plain = {k: v for k, v in table.items() if not isinstance(v, dict | list)}
    parts = [_HEAD + tomli_w.dumps(plain)]
    for name, value in table.items():
        if isinstance(value, dict):
            parts.append(tomli_w.dumps({name: value}))
        elif isinstance(value, list):
            parts += (_list_entry(name, entry) for entry in value)
    return "\n".join(parts)


def _list_entry(name: str, entry: dict[str, Any]) -> str:
    """Return one entry of a list of tables, each key on a line of its own."""
    flat = {key: value for key, value in entry.items() if not isinstance(value, dict)}
    nested = {key: value for key, value in entry.items() if isinstance(value, dict)}
    text = f"[[{name}]]\n{tomli_w.dumps(flat)}"
    return text + (f"\n{tomli_w.dumps({name: nested})}" if nested else "")


def build_table(build: Build, label: Label | str) -> dict[str, Any]:
    """Return a build as the table that is saved."""
    operation = _plain(build.operation)
    if build.operation.timeout_min is None:
        operation["timeout_min"] = NEVER
    label = Label(stamp=label) if isinstance(label, str) else label
    known = {entry.item.key: entry.item for entry in build.items}
    table = {
        "format": FORMAT,
        "stamp": label.stamp,
        **{key: value for key, value in _plain(label).items() if key != "stamp"},
        **({"owned": True} if build.is_standing else {}),
        "operation": operation,
        "postage": dict(build.postage),
        "around": _plain(build.around),
        "drives": [_plain(drive) for drive in build.drives],
        "wiring": [_plain(wire) for wire in build.connections],
        "slots": [_plain(slot) for slot in build.slots],
        "power": [_plain(feed) for feed in build.power],
        "items": [_entry(entry, {}) for entry in build.items],
        "spares": [_entry(entry, known) for entry in build.spares],
    }
    if build.belongings is not None:
        table["belongings"] = _belongings(build.belongings)
    return {key: value for key, value in table.items() if value not in ([], {})}


def _belongings(found: Belongings) -> dict[str, Any]:
    table: dict[str, Any] = {"beside": [_entry(entry, {}) for entry in found.beside]}
    if found.filesystem_reserve is not None:
        table["filesystem_reserve"] = found.filesystem_reserve
    return table


def _plain(record: Any) -> dict[str, Any]:  # noqa: ANN401 - any dataclass
    """Return the fields of a record of plain values; blanks are left out."""
    values = {item.name: getattr(record, item.name) for item in fields(record)}
    return {key: value for key, value in values.items() if value not in (None, "")}


def _entry(entry: ItemCount, known: Mapping[str, Item]) -> dict[str, Any]:
    """Return an item with its count; its row only where it is not known already."""
    item = entry.item
    table: dict[str, Any] = {"key": item.key, "count": entry.count}
    if known.get(item.key) == item:
        return table
    if item.limit is not None:
        table["limit"] = item.limit
    table["part"] = _row(item.part)
    if item.owned is not None:
        table["owned"] = _history(item.owned, item.part)
    return table


def _row(part: Part) -> dict[str, Any]:
    return {"kind": part.kind, **row_cells(part)}


def _history(owned: OwnedPart, part: Part) -> dict[str, Any]:
    """Return what is known of an owned part; its row where it is another one."""
    table: dict[str, Any] = {}
    for key in type(owned).model_fields:
        value = getattr(owned, key)
        if isinstance(value, Figure):
            table[key] = {"figure": str(value), "source": value.source}
        elif isinstance(value, Part):
            table[key] = "same" if value == part else _row(value)
        elif value is not None:
            table[key] = value
    return table
