"""The reader of builds written by hand: parts, and whatever else is known."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError

from optibox.build.by_hand import HandBuild, HandOperation, HandUse, HandWire
from optibox.build.items import OWNED_SUFFIX, Item
from optibox.build.records import BOARD, ItemCount, OperatingPlan, Role, Surroundings
from optibox.build.sketch import (
    OPERATION_KEYS,
    DriveSketch,
    Sketch,
    SlotSketch,
    WireSketch,
)
from optibox.catalog.attachment import Card, Controller
from optibox.catalog.catalog import Catalog
from optibox.catalog.classes import read_classes
from optibox.catalog.columns import Part
from optibox.catalog.locate import find_catalogs
from optibox.catalog.nearest import nearest
from optibox.catalog.notation import CONNECTOR_LANES
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import BootMedium, Drive, HardDrive, SolidStateDrive
from optibox.errors import BuildError, Fault, InputError
from optibox.scenario.messages import Origin, Place, faults_of, key_text
from optibox.scenario.parts import Bench, owned_tables
from optibox.scenario.places import Loc
from optibox.scenario.records import Layout, OwnedPart, WriteMode
from optibox.scenario.values import frozen

DEFAULT_CATALOGS = ("invented",)
USE_KEYS = frozenset(HandUse.model_fields)
HISTORY_KEYS = frozenset(OwnedPart.model_fields) - {"id", "part", "count"}
_SAVED_KEYS = frozenset({"items", "drives", "slots", "stamp", "spares", "postage"})
_CARD_NAMES = {"network card": "network", "display card": "display"}


def is_by_hand(table: Mapping[str, Any]) -> bool:
    """Return whether a table is written by hand rather than saved."""
    return "parts" in table or not _SAVED_KEYS & table.keys()


def catalog_for(
    table: Mapping[str, Any],
    base: Path,
    given: Catalog | None = None,
    *,
    is_told: bool = False,
) -> Catalog:
    """Return the catalog that a build's ids are looked up in.

    Parameters
    ----------
    table : mapping
        The file; its own ``catalogs`` win unless another is told.
    base : Path
        Folder of the file.
    given : Catalog, optional
        What is taken where the file names none; otherwise the shipped one.
    is_told : bool
        The given one wins over the file's own.

    Raises
    ------
    InputError
        If a catalog cannot be read.
    """
    if is_told and given is not None:
        return given
    names = table.get("catalogs")
    is_named = isinstance(names, list) and all(isinstance(name, str) for name in names)
    if not is_named or not names:
        if given is not None:
            return given
        names = list(DEFAULT_CATALOGS)
    return read_catalog(find_catalogs(names, base))


def sketch_from_table(
    table: Mapping[str, Any],
    origin: Origin,
    catalog: Catalog,
    owned: Sequence[OwnedPart] = (),
) -> Sketch:
    """Return the sketch that a hand-written table describes.

    Parameters
    ----------
    table : mapping
        The table of the file.
    origin : Origin
        The file, for faults.
    catalog : Catalog
        Where ids are looked up.
    owned : sequence of OwnedPart
        What a scenario owns: a drive that has its id is that one, with its history.

    Raises
    ------
    BuildError
        With every fault of the table.
    """
    faults = list[Fault]()
    try:
        hand: HandBuild | None = HandBuild.model_validate(frozen(table), strict=True)
    except ValidationError as error:
        hand, faults = None, faults_of(error, HandBuild, origin)
    raw = table.get("parts", [])
    mine = {piece.id: piece for piece in owned if isinstance(piece.part, Drive)}
    named = [p.part for p in mine.values() if p.id not in catalog.by_id]
    # a drive written in place can be named by its id, as if a catalog had it
    reader = _Reader(
        origin=origin,
        catalog=catalog.with_parts(p for p in named if p is not None),
        mine=mine,
    )
    reader.parts(raw if isinstance(raw, list) else [], is_owned=_is_all_owned(table))
    if hand is None:
        raise BuildError({*faults, *reader.faults})
    wires = tuple(reader.wires(hand.wiring))
    operation = reader.operation(hand.operation)
    if reader.faults:
        raise BuildError(set(reader.faults))
    return Sketch(
        items=tuple(reader.counted.values()),
        drives=tuple(reader.drives.values()),
        wires=wires,
        slots=tuple(reader.slots.values()),
        operation=operation,
        spares=tuple(reader.spares.values()),
        postage=tuple(sorted(catalog.postage.items())),
        around=Surroundings(**dict(hand.around)),
        is_all_owned=hand.owned,
        name=hand.name,
    )


def _is_all_owned(table: Mapping[str, Any]) -> bool:
    return table.get("owned") is True


@dataclass(kw_only=True)
class _Reader:
    """Collects what the parts and the wiring say, and the faults on the way."""

    origin: Origin
    catalog: Catalog
    faults: list[Fault] = field(default_factory=list)
    counted: dict[str, ItemCount] = field(default_factory=dict)
    spares: dict[str, ItemCount] = field(default_factory=dict)
    drives: dict[str, DriveSketch] = field(default_factory=dict)
    slots: dict[str, SlotSketch] = field(default_factory=dict)
    mine: Mapping[str, OwnedPart] = field(default_factory=dict)
    """Drives that a scenario owns, by id."""
    taken: Counter[str] = field(default_factory=Counter)

    def fault(self, loc: Loc, problem: str, remedy: str, value: object = None) -> None:
        self.faults.append(self.origin.fault(loc, problem, remedy, value))

    def parts(self, entries: Sequence[Any], *, is_owned: bool) -> None:
        """Read ``[[parts]]``: the rows by the reader of owned parts, then their use."""
        tables = [entry for entry in entries if isinstance(entry, dict)]
        folders = [Path(f) for f in self.catalog.folders]
        bench = Bench(
            catalog=self.catalog,
            classes=read_classes([f for f in folders if f.is_dir()]),
            origin=_as_owned(self.origin),
        )
        rows = [_row_of(entry) for entry in tables]
        resolved = owned_tables(bench, rows)
        self.faults += bench.faults
        uses = [self._use(number, entry) for number, entry in enumerate(tables)]
        if not entries:
            remedy = 'List the parts: [[parts]], then id = "..." and count = 1.'
            self.fault(("parts",), "are missing", remedy)
        if self.faults or len(resolved) != len(uses):
            return
        for number, (row, use) in enumerate(zip(resolved, uses, strict=True)):
            if use is not None:
                own = is_owned if use.owned is None else use.owned
                is_mine = (
                    use.owned is None and not own and not _has_history(rows[number])
                )
                name = rows[number].get("id") if is_mine else None
                for mine, piece in self._shared(number, self.mine.get(name or ""), use):
                    is_there = own or _has_history(rows[number]) or bool(mine)
                    found = row if mine is None else _as_mine(row, mine)
                    self._part(number, found, piece, is_owned=is_there)

    def _shared(
        self, number: int, owned: OwnedPart | None, use: HandUse
    ) -> Iterator[tuple[OwnedPart | None, HandUse]]:
        """Yield the pieces of an entry that the scenario owns, then those to buy."""
        left = owned.count - self.taken[owned.id] if owned else 0
        n_mine = min(left, use.count) if not use.spare else 0
        if n_mine and n_mine < use.count and use.name:
            problem = f"is {use.count}, and {n_mine} of them are owned"
            remedy = (
                "Write two entries, each with its name, the bought one owned = false."
            )
            self.fault(("parts", number, "count"), problem, remedy)
        if owned and n_mine:
            self.taken[owned.id] += n_mine
            yield owned, use.model_copy(update={"count": n_mine})
        if use.count > n_mine:
            yield None, use.model_copy(update={"count": use.count - n_mine})

    def _use(self, number: int, entry: Mapping[str, Any]) -> HandUse | None:
        keys = {key: frozen(entry[key]) for key in entry if key in USE_KEYS}
        try:
            return HandUse.model_validate(keys, strict=True)
        except ValidationError as error:
            self.faults += faults_of(error, HandUse, self.origin, ("parts", number))
            return None

    def _part(
        self, number: int, row: dict[str, Any], use: HandUse, *, is_owned: bool
    ) -> None:
        part: Part = row["part"]
        key = self._enter(number, row, use, is_owned=is_owned)
        if use.spare:
            return
        if isinstance(part, Drive | BootMedium):
            self._drives(number, part, key, use)
        elif isinstance(part, Card):
            self._cards(number, part, key, use)
        elif use.role or use.slot:
            word = "role" if use.role else "slot"
            problem = f"does not go with a {part.kind}"
            self.fault(("parts", number, word), problem, "Delete the line.")

    def _enter(
        self, number: int, row: dict[str, Any], use: HandUse, *, is_owned: bool
    ) -> str:
        """Enter so many pieces of an item and return its key."""
        part: Part = row["part"]
        owned = self._history(number, row, use) if is_owned else None
        if owned is None and row.get("replacement_price") is not None:
            part = part.model_copy(update={"price": row["replacement_price"]})
        key = row["id"] + OWNED_SUFFIX if owned else part.id
        item = Item(
            key=key, part=part, owned=owned, limit=owned.count if owned else None
        )
        pool = self.spares if use.spare else self.counted
        known = pool.get(key)
        if known is not None and known.item.part != part:
            key = row["id"]
            item, known = replace(item, key=key), pool.get(key)
        before = known.count if known else 0
        pool[key] = ItemCount(item=item, count=before + use.count)
        return key

    def _history(
        self, number: int, row: dict[str, Any], use: HandUse
    ) -> OwnedPart | None:
        if "mine" in row:
            found: OwnedPart = row["mine"]
            return found
        values = {**row, "count": use.count}
        try:
            return OwnedPart.model_validate(values, strict=True)
        except ValidationError as error:
            self.faults += faults_of(error, OwnedPart, self.origin, ("parts", number))
            return None

    def _drives(
        self, number: int, part: Drive | BootMedium, key: str, use: HandUse
    ) -> None:
        role: Role | None = "boot" if isinstance(part, BootMedium) else use.role
        if use.role not in (None, "boot") and isinstance(part, BootMedium):
            remedy = "Delete the line, or write a solid-state drive."
            self.fault(("parts", number, "role"), "is a boot medium's", remedy)
        word = role or ("drive" if isinstance(part, HardDrive) else "ssd")
        names = self._names(number, use, word, self.drives)
        for name in names:
            self.drives[name] = DriveSketch(name=name, key=key, role=role)
        if _is_module(part):
            self._slots(number, key, use, names)
        elif use.slot:
            problem = "does not go with a drive that is no M.2 module"
            self.fault(("parts", number, "slot"), problem, "Delete the line.")

    def _cards(self, number: int, part: Card, key: str, use: HandUse) -> None:
        if use.role:
            problem = f"does not go with a {part.kind}"
            self.fault(("parts", number, "role"), problem, "Delete the line.")
        word = _CARD_NAMES.get(part.kind, part.kind)
        self._slots(number, key, use, self._names(number, use, word, self.slots))

    def _names(
        self, number: int, use: HandUse, word: str, taken: Mapping[str, object]
    ) -> list[str]:
        """Return the names of the pieces of an entry: given, or made from a word."""
        if use.name and use.count == 1:
            wanted = [use.name]
        elif use.name:
            wanted = [f"{use.name}-{piece}" for piece in range(1, use.count + 1)]
        else:
            free = (f"{word}-{n}" for n in range(1, 10_000))
            wanted = [name for name in free if name not in taken][: use.count]
        for name in wanted:
            if name in taken or name == BOARD:
                problem = "is the name of another piece"
                remedy = "Give each its own name."
                self.fault(("parts", number, "name"), problem, remedy, name)
        return wanted

    def _slots(self, number: int, key: str, use: HandUse, names: Sequence[str]) -> None:
        if len(use.slot) > len(names):
            problem = f"names {len(use.slot)} slots for {len(names)}"
            self.fault(("parts", number, "slot"), problem, "Name one for each.")
        slots: list[str | None] = [*use.slot, *[None] * len(names)]
        for name, slot in zip(names, slots, strict=False):
            self.slots[name] = SlotSketch(name=name, key=key, slot=slot or None)

    def wires(self, wiring: Sequence[HandWire]) -> Iterator[WireSketch]:
        """Yield what is known of each drive's way."""
        seen: set[str] = set()
        for number, wire in enumerate(wiring):
            at: Loc = ("wiring", number)
            known = self._references(at, wire)
            for place, name in enumerate(wire.drives):
                if name not in self.drives:
                    remedy = nearest(name, self.drives)
                    self.fault((*at, "drives"), "is the name of no drive", remedy, name)
                elif name in seen:
                    problem = "is wired twice"
                    self.fault((*at, "drives"), problem, "Once is enough.", name)
                seen.add(name)
                yield self._wire(wire, number, place, name, known)
            for key in ("bay", "port"):
                if len(getattr(wire, key)) > len(wire.drives):
                    problem = "holds more than there are drives in this entry"
                    self.fault((*at, key), problem, "One for each drive.")

    def _references(self, at: Loc, wire: HandWire) -> dict[str, str | None]:
        """Return host, cable and adapter by the names that the build gives them."""
        hosts = {BOARD: BOARD} | {name: name for name in self.slots}
        for slot in self.slots.values():
            part_id = self._item(slot.key).part.id if self._has(slot.key) else ""
            same = [s for s in self.slots.values() if s.key == slot.key]
            if part_id and len(same) == 1:
                hosts.setdefault(part_id, slot.name)
        ids = {e.item.part.id: key for key, e in self.counted.items()}
        found: dict[str, str | None] = {}
        for key, pool in (("host", hosts), ("cable", ids), ("adapter", ids)):
            value = getattr(wire, key)
            if value is not None and value not in pool:
                what = "card" if key == "host" else "part"
                problem = f"is no {what} of this file"
                self.fault((*at, key), problem, nearest(value, pool), value)
            found[key] = pool.get(value) if value is not None else None
        return found

    def _has(self, key: str) -> bool:
        return key in self.counted

    def _item(self, key: str) -> Item:
        return self.counted[key].item

    def _wire(
        self,
        wire: HandWire,
        number: int,
        place: int,
        name: str,
        known: Mapping[str, str | None],
    ) -> WireSketch:
        bay = wire.bay[place] if place < len(wire.bay) else None
        port = wire.port[place] if place < len(wire.port) else None
        host, connector = known["host"], wire.connector
        if host is not None and not self._is_multi_lane(host):
            # a plain port is a connector of its own: people count either
            connector, port = (connector if port is None else port), 1
        elif host is None and connector is None:
            connector, port = port, None
        cable = known["cable"]
        return WireSketch(
            drive=name,
            bay=bay,
            cable=self._piece(cable, number, place) if cable else None,
            cable_key=cable,
            host=host,
            connector=connector,
            port=port,
            adapter_key=known["adapter"],
        )

    def _is_multi_lane(self, host: str) -> bool:
        slot = self.slots.get(host)
        part = self._item(slot.key).part if slot and self._has(slot.key) else None
        if not isinstance(part, Controller):
            return False
        return CONNECTOR_LANES[part.connectors.connector] > 1

    def _piece(self, cable: str, number: int, place: int) -> str:
        """Return the name of a piece: one for the entry, or one for each drive."""
        part = self._item(cable).part
        shared = getattr(part, "n_drives", 1) > 1
        return f"piece-{number + 1}" if shared else f"piece-{number + 1}.{place + 1}"

    def operation(self, hand: HandOperation) -> dict[str, Any]:
        """Return the settings that are known, refused where none can complete them."""
        known = {
            key: getattr(hand, key)
            for key in OPERATION_KEYS
            if key in hand.model_fields_set
        }
        known = {k: v for k, v in known.items() if v is not None or k == "timeout_min"}
        if not any(True for _ in shapes_of(known)):
            problem = "holds settings that do not go together"
            remedy = (
                "Parity drives belong to independent and striped layouts; write modes "
                "other than plain to independent ones with parity."
            )
            self.fault(("operation",), problem, remedy)
        return known


def shapes_of(known: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield every layout, number of parity drives and write mode that known ones allow."""
    choices = (get_args(Layout), (0, 1, 2), get_args(WriteMode))
    keys = ("layout", "n_parity", "write_mode")
    offered = [
        (known[key],) if key in known else every
        for key, every in zip(keys, choices, strict=True)
    ]
    for values in product(*offered):
        shape = dict(zip(keys, values, strict=True))
        try:
            OperatingPlan(**shape)
        except ValueError:
            continue
        is_plain_stripe = shape["layout"] == "striped" and not shape["n_parity"]
        if not is_plain_stripe or "n_parity" in known:
            yield shape


def _as_owned(origin: Origin) -> Origin:
    """Return the origin as the reader of owned parts speaks of it."""
    moved = {
        ("owned", *loc[1:]): Place(path=origin.path, line=line, field=key_text(loc))
        for loc, line in origin.lines.items()
        if loc[:1] == ("parts",)
    }
    return Origin(path=origin.path, lines=origin.lines, moved=moved)


def _row_of(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in entry.items() if key not in USE_KEYS}


def _as_mine(row: dict[str, Any], mine: OwnedPart) -> dict[str, Any]:
    """Return a row as the scenario knows that drive, with its history and count."""
    return {**row, "id": mine.id, "part": mine.part, "mine": mine}


def _has_history(row: Mapping[str, Any]) -> bool:
    return bool((HISTORY_KEYS - {"replacement_price"}) & row.keys())


def _is_module(part: Part) -> bool:
    if isinstance(part, SolidStateDrive):
        return part.form == "m2"
    return isinstance(part, BootMedium) and part.interface == "m2"


def read_machine_table(
    path: Path,
    table: Mapping[str, Any],
    origin: Origin,
    given: Catalog | None,
    *,
    is_told: bool = False,
    owned: Sequence[OwnedPart] = (),
) -> tuple[Sketch, Catalog]:
    """Return a hand-written build and its catalog; refusals are those of builds."""
    try:
        catalog = catalog_for(table, path.parent, given, is_told=is_told)
    except InputError as error:
        raise BuildError(error.faults) from None
    return sketch_from_table(table, origin, catalog, owned), catalog
