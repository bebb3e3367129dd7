"""The strict reader of saved builds: complete rows, names that all lead somewhere."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from pydantic import ValidationError

from optibox.build.items import Item
from optibox.build.records import (
    BOARD,
    Belongings,
    Build,
    Connection,
    DriveUse,
    ItemCount,
    OperatingPlan,
    PowerFeed,
    SlotUse,
    Surroundings,
)
from optibox.build.saved import SavedBuild, SavedItem, SavedOperation, SavedSpare
from optibox.catalog.columns import Part, Source, figure_from_text
from optibox.catalog.nearest import nearest
from optibox.catalog.rows import part_from_cells
from optibox.errors import BuildError, CatalogError, Fault
from optibox.scenario.messages import Origin, faults_of, type_words
from optibox.scenario.places import Loc
from optibox.scenario.records import OwnedPart
from optibox.scenario.values import cell_text, frozen

_HERE = "(saved row)"
SAME = "same"
_INLET, _LEAD = "backplane-", "lead-"


def build_from_table(table: Mapping[str, Any], origin: Origin) -> Build:
    """Return the build of a table as ``save_build`` writes it.

    Parameters
    ----------
    table : mapping
        The table of the file.
    origin : Origin
        The file, for faults.

    Raises
    ------
    BuildError
        With every fault of the table.
    """
    try:
        saved = SavedBuild.model_validate(frozen(table), strict=True)
    except ValidationError as error:
        raise BuildError(faults_of(error, SavedBuild, origin)) from None
    reader = _Reader(origin)
    items = reader.entries("items", saved.items, {})
    known = {entry.item.key: entry.item for entry in items}
    spares = reader.entries("spares", saved.spares, known)
    operation = reader.operation(saved.operation)
    belongings = None
    if saved.belongings is not None:
        beside = reader.entries("belongings", saved.belongings.beside, {})
        belongings = Belongings(
            beside=beside, filesystem_reserve=saved.belongings.filesystem_reserve
        )
    reader.names(saved)
    if reader.faults or operation is None:
        raise BuildError(reader.faults)
    return Build(
        items=items,
        drives=tuple(DriveUse(**dict(drive)) for drive in saved.drives),
        connections=tuple(Connection(**dict(wire)) for wire in saved.wiring),
        slots=tuple(SlotUse(**dict(slot)) for slot in saved.slots),
        operation=operation,
        power=tuple(PowerFeed(**dict(feed)) for feed in saved.power),
        spares=spares,
        postage=tuple(saved.postage.items()),
        around=Surroundings(**dict(saved.around)),
        is_standing=saved.owned,
        belongings=belongings,
    )


class _Reader:
    """Turns what is valid piece by piece into records, and notes faults."""

    def __init__(self, origin: Origin) -> None:
        self.origin = origin
        self.faults: list[Fault] = []

    def fault(self, loc: Loc, problem: str, remedy: str, value: object = None) -> None:
        self.faults.append(self.origin.fault(loc, problem, remedy, value))

    def operation(self, saved: SavedOperation) -> OperatingPlan | None:
        try:
            return OperatingPlan(**dict(saved))
        except ValueError as error:
            remedy = (
                "Parity drives belong to independent and striped layouts; write modes "
                "other than plain to independent ones with parity."
            )
            self.fault(("operation",), str(error), remedy)
            return None

    def entries(
        self,
        name: str,
        saved: Sequence[SavedItem | SavedSpare],
        known: Mapping[str, Item],
    ) -> tuple[ItemCount, ...]:
        seen: dict[str, int] = {}
        found = []
        for number, entry in enumerate(saved):
            first = seen.setdefault(entry.key, number)
            if first != number:
                problem = f"is the key of {name}[{first}] already"
                remedy = "Put the pieces together under one count."
                self.fault((name, number, "key"), problem, remedy, entry.key)
            item = self._item((name, number), entry, known)
            if item is not None:
                found.append(ItemCount(item=item, count=entry.count))
        return tuple(found)

    def _item(
        self, at: Loc, entry: SavedItem | SavedSpare, known: Mapping[str, Item]
    ) -> Item | None:
        if entry.part is None:
            if entry.key not in known:
                problem = "has no row and is the key of no item"
                self.fault((*at, "key"), problem, nearest(entry.key, known), entry.key)
            return known.get(entry.key)
        part = self._part((*at, "part"), entry.part)
        if part is None:
            return None
        owned = None
        if entry.owned is not None:
            owned = self._owned((*at, "owned"), entry.owned, part)
            if owned is None:
                return None
        return Item(key=entry.key, part=part, owned=owned, limit=entry.limit)

    def _part(self, at: Loc, row: Mapping[str, Any]) -> Part | None:
        """Return the part of a row; a number without quotes is as good as its text."""
        cells: dict[str, str] = {}
        count = len(self.faults)
        for key, value in row.items():
            if isinstance(value, Mapping):
                problem = "is a table; expected text, as in a catalog"
                self.fault((*at, key), problem, f'Write {key} = "...".')
            else:
                cells[key] = cell_text(value)
        rest = {key: text for key, text in cells.items() if key != "kind"}
        try:
            part = part_from_cells(cells.get("kind", ""), rest, _HERE)
        except CatalogError as error:
            told = row.keys() - cells.keys()
            found = [fault for fault in error.faults if fault.field not in told]
            self.faults += (self._placed(at, fault) for fault in found)
            return None
        return part if len(self.faults) == count else None

    def _placed(self, at: Loc, fault: Fault) -> Fault:
        loc = (*at, fault.field) if fault.field else at
        return self.origin.fault(loc, fault.problem, fault.remedy, fault.value or None)

    def _owned(self, at: Loc, table: dict[str, Any], part: Part) -> OwnedPart | None:
        values, row = dict(table), table.get("part")
        if row == SAME:
            values["part"] = part
        elif isinstance(row, dict):
            values["part"] = self._part((*at, "part"), row)
        elif row is not None:
            problem = f"is {type_words(row)}; expected a row, or the word {SAME}"
            self.fault((*at, "part"), problem, f'Write part = "{SAME}".', row)
            return None
        values["replacement_price"] = self._price(at, table)
        try:
            return OwnedPart.model_validate(values, strict=True)
        except ValidationError as error:
            self.faults += faults_of(error, OwnedPart, self.origin, at)
            return None

    def _price(self, at: Loc, table: Mapping[str, Any]) -> object:
        """Return a price with its source, or what stands there instead of one."""
        value, loc = table.get("replacement_price"), (*at, "replacement_price")
        if not isinstance(value, Mapping):
            return value
        figure, source = value.get("figure"), value.get("source")
        if not isinstance(figure, str) or value.keys() != {"figure", "source"}:
            problem = "is a table; expected figure and source, both text"
            self.fault(loc, problem, 'Write replacement_price = "85".')
        elif source not in get_args(Source):
            problem = "is no source of a figure"
            remedy = nearest(str(source), get_args(Source))
            self.fault((*loc, "source"), problem, remedy, source)
        else:
            try:
                return figure_from_text(figure, source)  # type: ignore[arg-type]  # checked above
            except ValueError as error:
                self.fault((*loc, "figure"), str(error), "Correct it.", figure)
        return None

    def names(self, saved: SavedBuild) -> None:
        """Note every name that leads nowhere and every name that occurs twice."""
        keys = [item.key for item in saved.items]
        drives = [drive.name for drive in saved.drives]
        hosts = [BOARD, *(slot.name for slot in saved.slots)]
        for loc, value, known, what in _references(saved, keys, drives, hosts):
            if value not in known:
                problem = f"is the name of no {what} in this file"
                self.fault(loc, problem, nearest(value, known), value)
        self._once("drives", "name", drives)
        self._once("slots", "name", hosts[1:])
        self._once("wiring", "drive", [wire.drive for wire in saved.wiring])
        self._once("power", "load", [feed.load for feed in saved.power])

    def _once(self, section: str, key: str, names: list[str]) -> None:
        for number, name in enumerate(names):
            if name in names[:number]:
                first = names.index(name)
                problem = f"stands in {section}[{first}] already"
                remedy = "Each one occurs once."
                self.fault((section, number, key), problem, remedy, name)


_Reference = tuple[Loc, str, list[str], str]


def _references(
    saved: SavedBuild, keys: list[str], drives: list[str], hosts: list[str]
) -> Iterator[_Reference]:
    """Yield every name in the file with the names that it may be."""
    for number, drive in enumerate(saved.drives):
        yield ("drives", number, "key"), drive.key, keys, "item"
    for number, slot in enumerate(saved.slots):
        yield ("slots", number, "key"), slot.key, keys, "item"
    for number, wire in enumerate(saved.wiring):
        yield ("wiring", number, "drive"), wire.drive, drives, "drive"
        yield ("wiring", number, "host"), wire.host, hosts, "card"
        for key in ("cable_key", "adapter_key"):
            value = getattr(wire, key)
            if value:
                yield ("wiring", number, key), value, keys, "item"
    yield from _power_references(saved, keys, drives)


def _power_references(
    saved: SavedBuild, keys: list[str], drives: list[str]
) -> Iterator[_Reference]:
    adapters = [feed.load for feed in saved.power if feed.key]
    for number, feed in enumerate(saved.power):
        if feed.key:
            yield ("power", number, "key"), feed.key, keys, "item"
        elif not feed.load.startswith(_INLET):
            yield ("power", number, "load"), feed.load, drives, "drive"
        if feed.source != BOARD and not feed.source.startswith(_LEAD):
            yield ("power", number, "source"), feed.source, adapters, "adapter"
