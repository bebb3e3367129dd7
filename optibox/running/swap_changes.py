"""What can be changed in a machine: one catalog row in the place of another.

A change replaces one piece, or all pieces, of one row in one role; or takes pieces
out; or puts some in. Two changes of one machine never touch the same piece.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from optibox.build import Item, ItemCount
from optibox.build.records import Role
from optibox.catalog.attachment import Card, Controller, DisplayCard, NetworkCard, Riser
from optibox.catalog.platform import Memory
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.running.swap_kit import Kit, Placed
from optibox.running.swap_stock import Stock
from optibox.scenario import Scenario

CACHE_OF: dict[int, Literal["none", "single", "mirror"]] = {
    0: "none",
    1: "single",
    2: "mirror",
}
_WORDS = {
    "controller": "controller",
    "network card": "network",
    "riser": "riser",
    "display card": "display",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """Pieces of one item out, pieces of another in; either side may be empty.

    Changes are told apart by their keys alone.
    """

    kind: str
    """Kind of part, in words."""

    role: Role | None = None
    out: Item | None = None
    n_out: int = 0
    into: Item | None = None
    n_in: int = 0

    @property
    def key(self) -> tuple[str, str, str, int, str, int]:
        """Return what tells changes apart, and puts them in order."""
        return (
            self.kind,
            self.role or "",
            self.out.key if self.out else "",
            self.n_out,
            self.into.key if self.into else "",
            self.n_in,
        )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Change) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)

    @property
    def price(self) -> float:
        """Return what the new pieces cost by themselves. [currency]."""
        return self.into.cost(self.n_in) if self.into else 0.0

    @property
    def is_placed(self) -> bool:
        """Return whether the pieces are drives, boot media or cards."""
        item = self.out or self.into
        return item is not None and isinstance(
            item.part, Card | HardDrive | SolidStateDrive | BootMedium
        )


def changed(kit: Kit, changes: Iterable[Change]) -> Kit | None:
    """Return a kit with changes made, or nothing where they touch the same pieces."""
    touched: set[str] = set()
    loose_left = {e.item.key: e.count for e in kit.loose}
    now = kit
    for change in sorted(changes, key=lambda c: c.key):
        if change.is_placed:
            made = _change_placed(kit, now, change, touched)
        else:
            made = _change_loose(now, change, loose_left)
        if made is None:
            return None
        now = made
    return _with_operation(kit, now)


def _change_loose(now: Kit, change: Change, left: dict[str, int]) -> Kit | None:
    entries = list(now.loose)
    if change.out is not None:
        if left.get(change.out.key, 0) < change.n_out:
            return None
        left[change.out.key] -= change.n_out
        entries.append(ItemCount(item=change.out, count=-change.n_out))
    if change.into is not None:
        entries.append(ItemCount(item=change.into, count=change.n_in))
    return now.with_loose(entries)


def _change_placed(
    base: Kit, now: Kit, change: Change, touched: set[str]
) -> Kit | None:
    names = [
        p.name
        for p in base.placed
        if change.out is not None
        and p.item.key == change.out.key
        and p.role == change.role
        and p.name not in touched
    ][: change.n_out]
    if len(names) < change.n_out:
        return None
    touched.update(names)
    into = change.into
    kept = now.placed
    if into is not None:
        new = set(names[: change.n_in])
        kept = tuple(replace(p, item=into) if p.name in new else p for p in kept)
    gone = set(names[change.n_in if into is not None else 0 :])
    kept = tuple(p for p in kept if p.name not in gone)
    extra = change.n_in - len(names)
    if into is not None and extra > 0:
        kept = (*kept, *_added(kept, into, change.role, extra))
    return replace(now, placed=kept)


def _added(
    placed: Sequence[Placed], item: Item, role: Role | None, n: int
) -> Iterator[Placed]:
    word = role or _WORDS.get(item.part.kind, "card")
    taken = {p.name for p in placed}
    names = (f"{word}-{i}" for i in range(1, len(placed) + n + 1))
    free = (name for name in names if name not in taken)
    for _ in range(n):
        yield Placed(name=next(free), item=item, role=role)


def _with_operation(before: Kit, now: Kit) -> Kit:
    """Return a kit whose operation says how many cache and parity drives there are."""
    plan = before.operation
    n_cache = sum(p.role == "cache" for p in now.placed)
    n_parity = sum(p.role == "parity" for p in now.placed)
    changes: dict[str, object] = {"cache": CACHE_OF.get(n_cache, plan.cache)}
    if plan.layout == "independent" and n_parity != plan.n_parity <= 2:
        changes["n_parity"] = n_parity
        if n_parity == 0:
            changes["write_mode"] = "plain"
        elif plan.n_parity == 0:
            changes["write_mode"] = "read-modify-write"
    return replace(now, operation=replace(plan, **changes))  # type: ignore[arg-type]


def changes_of(
    kit: Kit, stock: Stock, scenario: Scenario, *, is_fit: bool = True
) -> tuple[Change, ...]:
    """Return every change of one part of a machine.

    Parameters
    ----------
    kit : Kit
        The machine's chosen parts.
    stock : Stock
        What there is to put in.
    scenario : Scenario
        Says which cache arrangements may be chosen.
    is_fit : bool
        Whether the machine meets all needs; one that does not may also get more
        array drives.
    """
    found = [*_of_loose(kit, stock), *_of_placed(kit, stock)]
    found += _additions(kit, stock, scenario)
    if not is_fit:
        found += _more_drives(kit, stock)
    return tuple(dict.fromkeys(found))


def _of_loose(kit: Kit, stock: Stock) -> Iterator[Change]:
    for entry in kit.loose:
        item, kind = entry.item, entry.item.part.kind
        medium = getattr(item.part, "medium", None)
        numbers = sorted({1, entry.count})
        for other in _others(stock, item):
            if getattr(other.part, "medium", None) != medium:
                continue  # a lead of another medium comes with its card
            for n in numbers:
                yield Change(kind=kind, out=item, n_out=n, into=other, n_in=n)
            if entry.count > 1:
                # fewer, larger modules do as well
                yield Change(kind=kind, out=item, n_out=entry.count, into=other, n_in=1)
        if isinstance(item.part, Memory) and entry.count > 1:
            yield Change(kind=kind, out=item, n_out=1)


def _others(stock: Stock, item: Item) -> Iterator[Item]:
    """Yield the other rows of an item's kind; a new piece of the same is no change."""
    for other in stock.of(type(item.part)):
        if other.part.id != item.part.id:
            yield other


def _of_placed(kit: Kit, stock: Stock) -> Iterator[Change]:
    counts: dict[tuple[str, Role | None], int] = {}
    for placed in kit.placed:
        place = placed.item.key, placed.role
        counts[place] = counts.get(place, 0) + 1
    for (key, role), count in counts.items():
        item = stock.by_key[key]
        kind = item.part.kind
        for n in sorted({1, count}):
            for other in _others(stock, item):
                yield Change(
                    kind=kind, role=role, out=item, n_out=n, into=other, n_in=n
                )
            if role != "boot":
                yield Change(kind=kind, role=role, out=item, n_out=n)


def _additions(kit: Kit, stock: Stock, scenario: Scenario) -> Iterator[Change]:
    """Yield cards and a cache put in beside what is there."""
    for record in (Controller, NetworkCard, Riser, DisplayCard):
        if record is not Controller and any(
            isinstance(p.item.part, record) for p in kit.placed
        ):
            continue
        for item in stock.of(record):
            yield Change(kind=record.kind, into=item, n_in=1)
    if kit.operation.cache != "none":
        return
    pieces = [
        n for n, word in CACHE_OF.items() if n and word in scenario.choices.caches
    ]
    for n in pieces:
        for item in stock.of(SolidStateDrive):
            yield Change(kind=item.part.kind, role="cache", into=item, n_in=n)


def _more_drives(kit: Kit, stock: Stock) -> Iterator[Change]:
    n = 2 if "pairs" in kit.operation.layout else 1
    for item in stock.of(HardDrive):
        yield Change(kind=item.part.kind, role="data", into=item, n_in=n)
        if kit.operation.layout == "independent":
            yield Change(kind=item.part.kind, role="parity", into=item, n_in=1)


_MENDS: tuple[frozenset[str], ...] = tuple(
    frozenset(pair)
    for pair in (
        ("board", "memory"),
        ("board", "processor"),
        ("board", "chassis"),
        ("board", "power supply"),
        ("board", "controller"),
        ("board", "network card"),
        ("board", "cooler"),
        ("board", "boot medium"),
        ("board", "display card"),
        ("chassis", "power supply"),
        ("chassis", "cooler"),
        ("chassis", "hard drive"),
        ("chassis", "controller"),
        ("chassis", "network card"),
        ("chassis", "solid-state drive"),
        ("memory",),
        ("processor", "cooler"),
        ("hard drive",),
        ("hard drive", "controller"),
        ("hard drive", "power supply"),
        ("controller",),
        ("controller", "network card"),
        ("riser", "solid-state drive"),
        ("board", "riser"),
        ("board", "solid-state drive"),
        ("network card", "network lead"),
        ("board", "network lead"),
        ("solid-state drive",),
    )
)


def may_mend(one: Change, other: Change) -> bool:
    """Return whether one change can make room for the other: their kinds touch."""
    return frozenset({one.kind, other.kind}) in _MENDS


def undoes(one: Change, other: Change) -> bool:
    """Return whether one change puts in what the other takes out of the same role.

    Drives may still exchange their roles.
    """
    if one.role != other.role:
        return False
    return _meets(one.into, other.out) or _meets(other.into, one.out)


def _meets(into: Item | None, out: Item | None) -> bool:
    return into is not None and out is not None and into.part.id == out.part.id
