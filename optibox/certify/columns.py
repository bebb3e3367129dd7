"""The flat program's variables and the rows of what fits with what.

One program for all of a catalog: a binary for each menu entry, each chassis, board
and supply, each card in each slot of each board, and unary counts of drives. It is
written from the rules of the evaluator, rule by rule, without a look at the planner's
rows, bounds or pruning; of the rules it calls the small predicates that say whether
two parts go together. Rows may be left out (the evaluator refuses what they would
have), never be too strict: what they cut off, no rule may allow.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from optibox.build import Item
from optibox.catalog.attachment import (
    Cable,
    Card,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.notation import Slot
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter, HardDrive, SolidStateDrive
from optibox.certify.domain import Domain, ItemOf, PartT
from optibox.certify.menu import Choice, Menu
from optibox.rules.lanes import (
    card_fits_slot,
    module_fits,
    module_fits_riser,
    module_mode,
)
from optibox.rules.leads import is_never_safe
from optibox.scenario import Scenario

Row = dict[str, float]
"""A linear expression: factors by the names of columns."""
ONE = "one"
"""A variable fixed at 1, so that no constant is lost on the way to a solver."""


def anything(_: object) -> bool:
    """Return true."""
    return True


def plus(row: Row, other: Row, factor: float = 1.0) -> Row:
    """Add in place."""
    for name, value in other.items():
        row[name] = row.get(name, 0.0) + factor * value
    return row


def sum_of(rows: Iterable[Row], factor: float = 1.0) -> Row:
    """Return the sum of rows."""
    total: Row = {}
    for row in rows:
        plus(total, row, factor)
    return total


@dataclass
class Flat:
    """Columns and rows of the flat program."""

    domain: Domain
    menu: Menu
    columns: dict[str, tuple[float, bool]] = field(default_factory=dict)
    groups: dict[str, tuple[str, float]] = field(default_factory=dict)
    """Of variables that share a sum: the group and its most."""
    rows: list[tuple[str, Row, str, float]] = field(default_factory=list)
    by_letter: dict[str, list[str]] = field(default_factory=dict)
    """Columns by the first two characters of their names."""
    pay: Row = field(default_factory=dict)
    """Purchase."""
    aim: Row = field(default_factory=dict)
    """What is made least."""
    weight: float = 0.0
    """Worth of a wall watt throughout the year."""
    ceiling: float | None = None
    """Only what is below is looked for."""
    watt_groups: dict[str, Row] = field(default_factory=dict)
    """Idle watts of all but array drives, and what work adds, by who works."""

    @property
    def scenario(self) -> Scenario:
        """What is asked."""
        return self.domain.scenario

    @property
    def n_columns(self) -> int:
        """Number of variables."""
        return len(self.columns)

    @property
    def n_rows(self) -> int:
        """Number of inequalities and equations."""
        return len(self.rows)

    def of(self, record: type[PartT]) -> list[ItemOf[PartT]]:
        """Return the items of one kind."""
        return self.domain.of(record)

    def var(
        self,
        name: str,
        upper: float = 1.0,
        *,
        whole: bool = True,
        group: tuple[str, float] | None = None,
    ) -> Row:
        """Add a column and return it as a row."""
        self.columns[name] = (upper, whole)
        self.by_letter.setdefault(name[:2], []).append(name)
        if group:
            self.groups[name] = group
        return {name: 1.0}

    def row(self, name: str, left: Row, sense: str, right: float) -> None:
        """Add ``left sense right``."""
        self.rows.append((name, left, sense, right))

    def largest(self, row: Row) -> float:
        """Return a number that an expression never exceeds."""
        best: dict[str, float] = {}
        total = 0.0
        for name, factor in row.items():
            if factor <= 0:
                continue
            if name in self.groups:
                group, most = self.groups[name]
                best[group] = max(best.get(group, 0.0), factor * most)
            else:
                total += factor * self.columns[name][0]
        return total + sum(best.values())

    # counts -------------------------------------------------------------------

    @cached_property
    def most(self) -> int:
        """Most array drives."""
        return max((c.n_array for c in self.menu.choices), default=0)

    @cached_property
    def counts(self) -> dict[str, Row]:
        """Each item's count, from all of its variables."""
        return {item.key: self._count(item) for item in self.domain.items}

    def _count(self, item: Item) -> Row:
        if isinstance(item.part, HardDrive):
            return plus(self.drives(item, "data"), self.drives(item, "parity"))
        if isinstance(item.part, BootMedium) and item.part.interface == "m2":
            return placed(self, item)
        names = [
            n
            for n in (f"n:{item.key}", f"w:{item.key}", f"a:{item.key}")
            if n in self.columns
        ]
        for letter in "ucq":
            head = f"{letter}:{item.key}:"
            names += [n for n in self.names(letter) if n.startswith(head)]
        return dict.fromkeys(names, 1.0)

    def drives(self, item: Item, role: str) -> Row:
        """Count of an array drive in a role."""
        name = f"k:{item.key}:{role}"
        return {name: 1.0} if name in self.columns else {}

    def some(self, item: Item, role: str) -> Row:
        """1 where at least one such drive is there."""
        name = f"x:{item.key}:{role}:1"
        return {name: 1.0} if name in self.columns else {}

    def names(self, letter: str) -> list[str]:
        """Columns of a letter, such as cards or places."""
        return self.by_letter.get(letter + ":", [])

    def chosen(self, choice: Choice) -> Row:
        """Return 1 where an entry is chosen."""
        return {f"e:{choice.name}": 1.0}

    def entries(self, wanted: Callable[[Choice], bool]) -> Row:
        """Return the sum of the entries that a condition holds for."""
        return sum_of(self.chosen(c) for c in self.menu.choices if wanted(c))

    def card(self, item: Item, board: Item, slot: Slot) -> str:
        """Return the name of the column of a card in a slot of a board."""
        return f"c:{item.key}:{board.key}:{slot.name}"

    def cards(
        self, record: type[PartT], wanted: Callable[[PartT], bool] = anything
    ) -> Row:
        """Return the sum of the cards of a kind, wherever they sit."""
        keys = {i.key for i in self.of(record) if wanted(i.part)}
        return {n: 1.0 for n in self.names("c") if n.split(":")[1] in keys}

    def loose(
        self, record: type[PartT], wanted: Callable[[PartT], bool] = anything
    ) -> Row:
        """Return the sum of one-of parts that a condition holds for."""
        return {
            f"n:{i.key}": 1.0
            for i in self.of(record)
            if wanted(i.part) and f"n:{i.key}" in self.columns
        }


CARDS: tuple[type[Card], ...] = (Controller, NetworkCard, Riser, DisplayCard)


def make_columns(flat: Flat) -> None:
    """Create every variable."""
    flat.var(ONE)
    flat.row("one", {ONE: 1.0}, "=", 1.0)
    for choice in flat.menu.choices:
        flat.var(f"e:{choice.name}", group=("e", 1))
    for record in (Chassis, Board, PowerSupply, NetworkLead, Processor, Cooler):
        for item in flat.of(record):
            flat.var(f"n:{item.key}", group=(record.kind, 1))
    for boot in (i for i in flat.of(BootMedium) if i.part.interface != "m2"):
        flat.var(f"n:{boot.key}", group=("boot", 1))
    for plate in flat.of(MountingPlate):
        flat.var(f"n:{plate.key}", group=("plate", 1))
    _unary(flat)
    _places(flat)
    for letter, items in (("w", flat.of(Cable)), ("a", flat.of(DriveAdapter))):
        for piece in items:
            top = flat.most + 3
            most = top if piece.limit is None else min(top, piece.limit)
            flat.var(f"{letter}:{piece.key}", most)


def _unary(flat: Flat) -> None:
    slots = max((b.part.memory_slots for b in flat.of(Board)), default=0)
    tops: list[tuple[Item, str, str, int, str]] = [
        (i, "u", "", slots, "memory") for i in flat.of(Memory)
    ]
    tops += [
        (i, "u", "", flat.most + 4, "power lead")
        for i in flat.of(PowerLead)
        if not is_never_safe(i.part)
    ]
    n = max((c.n_parity_drives for c in flat.menu.choices), default=0)
    n_data = max((c.n_data for c in flat.menu.choices), default=0)
    for drive in flat.menu.drives:
        tops.append((drive, "x", "data:", n_data, "drives"))
        if drive.part.recording == "conventional":
            tops.append((drive, "x", "parity:", n, "parities"))
    tops += [(i, "q", "", 2, "cache") for i in flat.of(SolidStateDrive)]
    for item, letter, role, top, group in tops:
        most = top if item.limit is None else min(top, item.limit)
        last: Row = {}
        for k in range(1, most + 1):
            now = flat.var(f"{letter}:{item.key}:{role}{k}", group=(group, top))
            if last:
                flat.row("unary", plus(dict(now), last, -1.0), "<=", 0.0)
            last = now
        if letter == "x" and most > 0:
            name = f"k:{item.key}:{role}".rstrip(":")
            count = flat.var(name, most, whole=False, group=(group, top))
            ks = {f"x:{item.key}:{role}{k}": -1.0 for k in range(1, most + 1)}
            flat.row("count", plus(count, ks), "=", 0.0)


def _places(flat: Flat) -> None:  # noqa: C901 - boards, slots, kinds
    """Cards and modules in the slots of every board; modules on risers."""
    for board in flat.of(Board):
        for slot in board.part.slots:
            for record in CARDS:
                for item in flat.of(record):
                    if getattr(item.part, "pass_through", "") == "no":
                        continue
                    if card_fits_slot(item.part, slot):
                        flat.var(
                            flat.card(item, board, slot), group=(f"slot {slot.name}", 1)
                        )
            for module in modules(flat):
                if module_fits(module.part, slot):
                    flat.var(f"m:{module.key}:{board.key}:{slot.name}")
    for module in modules(flat):
        if any(module_fits_riser(module.part, r.part) for r in flat.of(Riser)):
            flat.var(f"r:{module.key}", 2)


def modules(flat: Flat) -> list[Item]:
    """Return the M.2 modules: caches and boot media."""
    found: list[Item] = [*flat.of(SolidStateDrive), *flat.of(BootMedium)]
    return [item for item in found if module_mode(item.part)]


def placed(flat: Flat, item: Item) -> Row:
    """Return the count of an M.2 module over all its places."""
    head = f"m:{item.key}:"
    found = {n: 1.0 for n in flat.names("m") if n.startswith(head)}
    if f"r:{item.key}" in flat.columns:
        found[f"r:{item.key}"] = 1.0
    return found


def boot_of(flat: Flat, wanted: Callable[[BootMedium], bool] = anything) -> Row:
    """Return the sum of the boot media that a condition holds for."""
    total: Row = {}
    for item in flat.of(BootMedium):
        if wanted(item.part):
            plus(
                total,
                placed(flat, item)
                if item.part.interface == "m2"
                else {f"n:{item.key}": 1.0},
            )
    return total
