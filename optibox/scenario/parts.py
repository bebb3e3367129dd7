"""Parts that a scenario brings along: written in place, owned, with own figures."""

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from optibox.catalog.catalog import Catalog
from optibox.catalog.classes import Classes
from optibox.catalog.columns import Part, Source
from optibox.catalog.convert import Cell, remedy_of, value_of
from optibox.catalog.describe import column_by_name
from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.nearest import nearest
from optibox.catalog.resolve import EXTRA_PREFIX, SOURCES_COLUMN
from optibox.catalog.rows import part_in_place
from optibox.errors import CatalogError, Fault
from optibox.scenario.messages import Origin, type_words
from optibox.scenario.places import Loc
from optibox.scenario.records import OwnedPart
from optibox.scenario.remedies import meant
from optibox.scenario.replacement import lacks_price, nearest_price
from optibox.scenario.values import cell_text

_HERE = "(written in place)"
HISTORY = frozenset(OwnedPart.model_fields) - {"id", "part"}
"""Keys of an owned part that are not columns of its row."""

_FIXED = frozenset({"id", "class", "kind"})


_ROLE_LIKE = re.compile(
    r"(data|parity|cache|boot|spare|drive|ssd|borrowed)[-_ ]?[0-9]*", re.IGNORECASE
)
"""Names that this tool gives to drives."""


@dataclass(slots=True, kw_only=True)
class Bench:
    """What parts are read against, and the faults found on the way."""

    catalog: Catalog
    classes: Classes
    origin: Origin
    faults: list[Fault] = field(default_factory=list)

    def fault(self, loc: Loc, problem: str, remedy: str, value: object = None) -> None:
        """Note a fault."""
        self.faults.append(self.origin.fault(loc, problem, remedy, value))


def catalog_with_parts(bench: Bench, entries: object) -> Catalog:
    """Return the catalog with the parts of ``[[parts]]``: new ones or new cells."""
    for at, entry in _tables(bench, ("parts",), entries):
        known = bench.catalog.by_id
        if _names_catalog_part(entry, known):
            part = _with_own_cells(bench, at, known[entry["id"]], entry, "stated")
        else:
            part = _in_place(bench, at, entry, known, needs_price=True)
        if part is not None:
            bench.catalog = bench.catalog.with_parts([part])
    return bench.catalog


def owned_tables(bench: Bench, entries: object) -> list[dict[str, Any]]:
    """Return the tables of ``[[owned]]`` with each part resolved under ``part``."""
    tables: list[dict[str, Any]] = []
    taken: set[str] = set()
    places: list[Loc] = []
    for at, entry in _tables(bench, ("owned",), entries):
        places.append(at)
        _see_name(bench, at, entry)
        part = _owned_part(bench, at, entry, taken)
        history = {key: entry[key] for key in entry if key in HISTORY}
        name = part.id if part else _HERE
        if part is not None:
            history["part"] = part
            _see_held(bench, at, entry, part)
            if lacks_price(part, entry):
                _price_replacement(bench, at, history, part)
        history["id"] = _free_name(name, taken | (bench.catalog.by_id.keys() - {name}))
        taken.add(history["id"])
        tables.append(history)
    see_moves(bench, list(zip(places, tables, strict=True)))
    return tables


def _tables(
    bench: Bench, at: Loc, entries: object
) -> Iterator[tuple[Loc, dict[str, Any]]]:
    """Yield the tables of a list, noting whatever is none."""
    name = str(at[0])
    if not isinstance(entries, list):
        problem = f"is {type_words(entries)}; expected a list of tables"
        bench.fault(at, problem, f"Write [[{name}]], then its keys.", entries)
        return
    for number, entry in enumerate(entries):
        if isinstance(entry, dict):
            yield (*at, number), entry
        else:
            problem = f"is {type_words(entry)}; expected a table"
            bench.fault((*at, number), problem, 'Write { id = "..." }.', entry)


def _names_catalog_part(entry: Mapping[str, Any], known: Collection[str]) -> bool:
    name = entry.get("id")
    return "kind" not in entry and isinstance(name, str) and name in known


def _owned_part(
    bench: Bench, at: Loc, entry: Mapping[str, Any], taken: Collection[str]
) -> Part | None:
    known = bench.catalog.by_id
    row = {key: value for key, value in entry.items() if key not in HISTORY}
    if _names_catalog_part(entry, known):
        return _with_own_cells(bench, at, known[entry["id"]], row, "measured")
    return _in_place(bench, at, row, known.keys() | set(taken), needs_price=False)


def _in_place(
    bench: Bench,
    at: Loc,
    row: Mapping[str, Any],
    taken: Collection[str],
    *,
    needs_price: bool,
) -> Part | None:
    """Return the part that a table describes, or note what is wrong with it."""
    if not _is_describable(bench, at, row, taken):
        return None
    row = {**row, "kind": row["kind"].strip().lower()}
    count = len(bench.faults)
    row = _known_columns(bench, at, row, KIND_BY_NAME[row["kind"]])
    if needs_price and "price" not in row:
        remedy = "Give the price of one pack."
        bench.fault((*at, "price"), "is missing", remedy)
    try:
        part = part_in_place(row, _HERE, bench.classes, taken=taken)
    except CatalogError as error:
        bench.faults += (_placed(bench, at, row, fault) for fault in error.faults)
        return None
    return part if len(bench.faults) == count else None


def _is_describable(
    bench: Bench, at: Loc, row: Mapping[str, Any], taken: Collection[str]
) -> bool:
    """Return whether a table says what kind it is and does not repeat an id."""
    kind, name = row.get("kind"), row.get("id")
    if kind is None and name is None:
        problem = "names no part"
        remedy = 'Give the id of a catalog part, or kind = "hard drive" and its cells.'
        bench.fault(at, problem, remedy)
    elif kind is None:
        problem = "is the id of no part in the catalogs"
        bench.fault((*at, "id"), problem, nearest(str(name), taken), name)
    elif not isinstance(kind, str) or kind.strip().lower() not in KIND_BY_NAME:
        remedy = nearest(str(kind), KIND_BY_NAME)
        bench.fault((*at, "kind"), "is no kind of part", remedy, kind)
    elif name in taken:
        problem = "is the id of another part already"
        remedy = "Choose another id, or leave kind out to speak of that part."
        bench.fault((*at, "id"), problem, remedy, name)
    else:
        return True
    return False


def _known_columns(
    bench: Bench, at: Loc, row: Mapping[str, Any], record: type[Part]
) -> dict[str, Any]:
    """Return the cells of a row, noting keys that are no columns of its kind."""
    known = {*column_by_name(record), SOURCES_COLUMN, "kind"}
    of_owned = HISTORY if at[0] == "owned" else frozenset[str]()
    cells = {}
    for key, value in row.items():
        if key in known or key.startswith(EXTRA_PREFIX):
            cells[key] = value
        else:
            problem = f"is not a key of a {record.kind} here"
            remedy = nearest(key, sorted(known | of_owned))
            bench.fault((*at, key), problem, remedy, value)
    return cells


def _placed(bench: Bench, at: Loc, row: Mapping[str, Any], fault: Fault) -> Fault:
    """Return a fault of a row at the line of the file that wrote it."""
    if fault.path != _HERE:
        return fault
    column = column_by_name(KIND_BY_NAME[row["kind"]]).get(fault.field)
    guess = meant(fault.field, row.get(fault.field), column.unit if column else None)
    place = bench.origin.place((*at, fault.field) if fault.field in row else at)
    name = bench.origin.place(at).field + (f".{fault.field}" if fault.field else "")
    remedy = guess or fault.remedy
    return replace(fault, path=place.path, line=place.line, field=name, remedy=remedy)


def _with_own_cells(
    bench: Bench, at: Loc, part: Part, row: Mapping[str, Any], source: Source
) -> Part | None:
    """Return a catalog part with some of its cells replaced by better known ones."""
    cells = _known_columns(bench, at, row, type(part))
    if "kind" in row or "class" in row:
        key = "kind" if "kind" in row else "class"
        problem = f"cannot be changed on the catalog part {part.id}"
        bench.fault((*at, key), problem, "Delete the line, or write a new part.")
    values: dict[str, Any] = {}
    extras = dict(part.extras)
    for key, value in cells.items():
        if key.startswith(EXTRA_PREFIX):
            extras[key] = cell_text(value)
        elif key not in _FIXED | {SOURCES_COLUMN}:
            values |= _own_value(bench, (*at, key), type(part), value, source)
    kept = part.defaulted - values.keys()
    fields = {name: getattr(part, name) for name in type(part).model_fields}
    return type(part)(**fields | values | {"defaulted": kept, "extras": extras})


def _own_value(
    bench: Bench, loc: Loc, record: type[Part], value: object, source: Source
) -> dict[str, Any]:
    column = column_by_name(record)[str(loc[-1])]
    if isinstance(value, Mapping):
        problem = "is a table; expected text, a number, true or false"
        bench.fault(loc, problem, "Write it as a cell of a catalog.")
        return {}
    try:
        found = value_of(column, Cell(text=cell_text(value), source=source))
    except ValueError as error:
        guess = meant(column.name, value, column.unit)
        bench.fault(loc, str(error), guess or remedy_of(column), value)
        return {}
    return {column.field: found}


def with_measured(
    bench: Bench, part: Part, at: Loc, row: Mapping[str, Any]
) -> Part | None:
    """Return a part with measured figures in place of those it had."""
    return _with_own_cells(bench, at, part, row, "measured")


def _free_name(name: str, taken: Collection[str]) -> str:
    """Return a name that no other owned entry has: two entries are two histories."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}-{number}"
    return free


def _see_name(bench: Bench, at: Loc, entry: Mapping[str, Any]) -> None:
    """Note a drive whose name could be taken for the role of another one."""
    name = entry.get("id")
    if isinstance(name, str) and "kind" in entry and _ROLE_LIKE.fullmatch(name.strip()):
        problem = "reads like a role that drives get in a build"
        remedy = "Choose a name that is on the label, or say where it comes from."
        bench.fault((*at, "id"), problem, remedy, name)


def see_moves(bench: Bench, owned: list[tuple[Loc, dict[str, Any]]]) -> None:
    """Note old arrays that are not whole, and second copies that are none.

    Parameters
    ----------
    bench : Bench
        Receives the faults.
    owned : list
        Where each owned part stands in the file, and its table.
    """
    arrays: dict[str, list[tuple[Loc, dict[str, Any]]]] = {}
    for at, table in owned:
        name = table.get("old_array")
        if isinstance(name, str) and name:
            arrays.setdefault(name, []).append((at, table))
        elif table.keys() & {"array_role", "array_members", "array_may_miss"}:
            key = min(table.keys() & {"array_role", "array_members", "array_may_miss"})
            remedy = "Say old_array = with its name, or delete the line."
            bench.fault((*at, key), "belongs to no old array", remedy, table[key])
    for name, members in arrays.items():
        _see_array(bench, name, members)
    empty = {
        table["id"]
        for _, table in owned
        if table.get("holds_data") is False or table.get("held_tb") == 0
    }
    for at, table in owned:
        if table.get("second_copy_on"):
            _see_copy(bench, at, table, empty)


def _see_copy(
    bench: Bench, at: Loc, table: Mapping[str, Any], empty: Collection[str]
) -> None:
    """Note a second copy that cannot be where it is said to be."""
    loc, place = (*at, "second_copy_on"), table["second_copy_on"]
    if table.get("second_copy") is not True:
        problem = "says where a second copy is, and second_copy does not say so"
        bench.fault(loc, problem, "Say second_copy = true once it reads back.")
    elif place == table["id"]:
        problem = "is the drive itself"
        bench.fault(loc, problem, "A second copy is on another drive.", place)
    elif place in empty:
        problem = "is a drive of which you say that it holds nothing"
        bench.fault(loc, problem, "Correct one of the two.", place)


def _see_array(
    bench: Bench, name: str, members: list[tuple[Loc, dict[str, Any]]]
) -> None:
    """Note an old array with fewer members than can be read."""

    def number(table: Mapping[str, Any], key: str, default: int) -> int:
        value = table.get(key, default)
        return value if isinstance(value, int) else default

    listed = sum(number(table, "count", 1) for _, table in members)
    at, first = members[0]
    told = [
        (loc, table) for loc, table in members if table.get("array_members") is not None
    ]
    if not told:
        if listed == 1:
            problem = f"is needed: one drive of the old array {name} is listed alone"
            remedy = (
                "List its other drives with the same old_array, or say array_members = "
                "1 if it is whole by itself."
            )
            bench.fault((*at, "array_members"), problem, remedy)
        return
    said = {number(table, "array_members", 0) for _, table in told}
    at, first = told[0]
    loc, wanted = (*at, "array_members"), first["array_members"]
    may_miss = max(number(table, "array_may_miss", 0) for _, table in members)
    if len(said) > 1:
        problem = f"differs between drives of the old array {name}"
        bench.fault(loc, problem, "Say it once, or the same everywhere.", wanted)
    elif listed > min(said):
        problem = f"is less than the {listed} drives that are listed of {name}"
        bench.fault(loc, problem, "Count all members, parity too.", wanted)
    elif min(said) - listed > may_miss:
        problem = (
            f"is {wanted}, and {listed} of them are listed: with {min(said) - listed} "
            f"missing the old array {name} cannot be read"
        )
        remedy = "List them, or say array_may_miss if it is readable without."
        bench.fault(loc, problem, remedy)


def _see_held(bench: Bench, at: Loc, entry: Mapping[str, Any], part: Part) -> None:
    """Note data that are more than the drive is large."""
    held, size = entry.get("held_tb"), getattr(part, "tb", None)
    if isinstance(held, bool) or not isinstance(held, int | float):
        return
    if size is None:
        problem = f"is said of a {part.kind}, which holds no data"
        bench.fault((*at, "held_tb"), problem, "Delete the line.", held)
    elif held > size:
        problem = f"is more than one piece holds ({size:g} TB)"
        bench.fault((*at, "held_tb"), problem, "Give the data on one piece.", held)


def _price_replacement(
    bench: Bench, at: Loc, table: dict[str, Any], part: Part
) -> None:
    """Give an unpriced drive the price of the catalog's nearest one."""
    price = nearest_price(bench.catalog, part)
    if price is None:
        problem = "is missing, and the catalogs hold no such drive to price it by"
        remedy = "Give the price of a new one."
        bench.fault((*at, "replacement_price"), problem, remedy)
    else:
        table["replacement_price"] = price
