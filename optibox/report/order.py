"""The order list as records: what to buy, what is there, what lies in a box."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from optibox.assess import Assessment
from optibox.build import Build, Item
from optibox.catalog.notation import box_from_text
from optibox.report.looks import Reliance
from optibox.report.words import clean

SMALL_KINDS = (
    "mounting plate",
    "drive adapter",
    "cable",
    "power lead",
    "network lead",
)
"""Kinds that may share a line where there are many rows."""

STEPS: Mapping[str, tuple[str, ...]] = {
    "case and power": ("chassis", "mounting plate", "power supply"),
    "board": ("board", "processor", "cooler", "memory", "boot medium"),
    "cards": ("riser", "controller", "network card", "display card"),
    "drives": ("solid-state drive", "hard drive", "drive adapter"),
    "data cables": ("cable",),
    "power to the drives": ("power lead",),
    "network": ("network lead",),
    "shelf": (),
}
"""Steps of assembly with the kinds that each brings in, in order."""

SHELF = "shelf"
_PLACE: dict[str, tuple[int, int]] = {
    kind: (number, place)
    for number, kinds in enumerate(STEPS.values())
    for place, kind in enumerate(kinds)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One line of the order list.

    ``needed`` pieces are in the machine and ``spare`` ones on the shelf; of these
    ``owned`` are there already, ``boxed`` lie in boxes of other rows, and
    ``to_buy`` are ordered, as so many ``packs``.
    """

    step: str
    id: str
    kind: str
    label: str
    needed: int
    spare: int = 0
    owned: int = 0
    boxed: int = 0
    boxed_with: tuple[str, ...] = ()
    """Ids of the parts in whose boxes they lie."""
    to_buy: int = 0
    packs: int = 0
    pack_size: int = 1
    pack_price: float = 0.0
    """[currency]"""
    price: float = 0.0
    """Of all packs. [currency]"""
    look_for: tuple[str, ...] = ()
    seller: str = ""
    order_code: str = ""
    link: str = ""
    note: str = ""
    extras: Mapping[str, str] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Return all pieces, used and spare."""
        return self.needed + self.spare

    @property
    def state(self) -> str:
        """Return whether the pieces are new, owned or in a box."""
        if self.owned:
            return "owned"
        return "new" if self.to_buy else "in a box"


@dataclass(frozen=True, slots=True, kw_only=True)
class Postage:
    """What one seller asks for sending the order. [currency]."""

    seller: str
    price: float


def order_list(found: Assessment) -> tuple[OrderRow, ...]:
    """Return the order list of a machine in the order of assembly.

    Every piece of the build stands on it once, owned ones too; spares come last
    where nothing else of them is in the machine.
    """
    build, relied = found.build, Reliance(found.machine)
    bought, boxes = build.bought(), dict(_boxes(build))
    used = {e.item.key: e.count for e in build.items}
    spare = {e.item.key: e.count for e in build.spares}
    items = {e.item.key: e.item for e in build.items + build.spares}
    rows = (
        _row(
            item,
            _Pieces(
                needed=used.get(key, 0),
                spare=spare.get(key, 0),
                to_buy=bought.get(key, 0),
                boxed_with=tuple(boxes.get(key, ())),
            ),
            relied.of(item),
        )
        for key, item in items.items()
    )
    return tuple(sorted(rows, key=_order))


def _order(row: OrderRow) -> tuple[int, int, bool, str]:
    step, place = _PLACE.get(row.kind, (len(STEPS), 0))
    return (len(STEPS) if row.step == SHELF else step, place, row.owned == 0, row.id)


def _boxes(build: Build) -> Iterator[tuple[str, list[str]]]:
    """Yield the ids of bought parts that bring a part along, by the part's id."""
    found: dict[str, list[str]] = {}
    for entry in build.items:
        if not entry.item.is_owned:
            for key in box_from_text(entry.item.part.comes_with):
                found.setdefault(key, []).append(entry.item.part.id)
    yield from found.items()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    """Where the pieces of one item go and come from."""

    needed: int
    spare: int
    to_buy: int
    boxed_with: tuple[str, ...]


def _row(item: Item, pieces: _Pieces, looks: tuple[str, ...]) -> OrderRow:
    part, count = item.part, pieces.needed + pieces.spare
    boxed = 0 if item.is_owned else count - pieces.to_buy
    return OrderRow(
        step=_step(part.kind) if pieces.needed else SHELF,
        id=clean(part.id),
        kind=part.kind,
        label=clean(part.name) or clean(part.id),
        needed=pieces.needed,
        spare=pieces.spare,
        owned=count if item.is_owned else 0,
        boxed=boxed,
        boxed_with=pieces.boxed_with if boxed else (),
        to_buy=pieces.to_buy,
        packs=item.packs(pieces.to_buy),
        pack_size=part.pack,
        pack_price=item.pack_price,
        price=item.cost(pieces.to_buy),
        look_for=tuple(clean(look) for look in looks),
        seller=part.seller,
        order_code=part.order_code,
        link=part.link,
        note=part.note,
        extras=dict(part.extras),
    )


def _step(kind: str) -> str:
    return next((step for step, kinds in STEPS.items() if kind in kinds), SHELF)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unused:
    """Owned pieces that the machine does without."""

    id: str
    label: str
    count: int


def unused_owned(found: Assessment) -> tuple[Unused, ...]:
    """Return what is owned and has no place in the machine, in the scenario's order."""
    left: dict[str, int] = {}
    labels: dict[str, str] = {}
    for owned in found.scenario.owned:
        left[owned.id] = left.get(owned.id, 0) + owned.count
        labels[owned.id] = clean(owned.part.name) if owned.part else clean(owned.id)
    for entry in found.build.items + found.build.spares:
        if entry.item.owned is not None and entry.item.owned.id in left:
            left[entry.item.owned.id] -= entry.count
    return tuple(
        Unused(id=clean(name), label=labels[name], count=count)
        for name, count in left.items()
        if count > 0
    )


def postage_of(build: Build) -> tuple[Postage, ...]:
    """Return the postage of every seller that something is ordered from."""
    items = {e.item.key: e.item for e in build.items + build.spares}
    sellers = {items[key].part.seller for key in build.bought()}
    return tuple(
        Postage(seller=clean(seller), price=price)
        for seller, price in build.postage
        if seller in sellers and price
    )
