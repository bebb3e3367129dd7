"""Ways to mend a machine: parts exchanged or added, the rest wired again."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from optibox.assess import Assessment
from optibox.build import Build, Item, ItemCount
from optibox.build.change import without
from optibox.build.sketch import Sketch, SlotSketch, sketch_of
from optibox.catalog.attachment import (
    Cable,
    Card,
    Controller,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
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
from optibox.catalog.storage import (
    BootMedium,
    DriveAdapter,
    HardDrive,
    SolidStateDrive,
)
from optibox.completion.complete import complete
from optibox.completion.ways import QUICK, THOROUGH, Effort
from optibox.figures.power import is_blocker

MOST_OFFERS = 30
"""Parts of one kind that are tried, the cheapest first."""
MOST_ADDED = 8

Move = Callable[[Assessment, Catalog], Iterator[Build]]
"""Yields machines with something exchanged or added, the cheapest first."""

_WIRED = (Chassis, Board, Controller, Riser, HardDrive, SolidStateDrive, BootMedium)
"""Kinds after whose exchange drives are wired again."""


@dataclass(frozen=True, slots=True)
class _Swap:
    """Exchange all pieces of one item for another part of its kind."""

    kind: type[Part]

    def __call__(self, found: Assessment, catalog: Catalog) -> Iterator[Build]:
        offers = _offers(catalog, self.kind)
        for part in offers[:MOST_OFFERS]:
            for entry in found.build.items:
                old = entry.item
                if type(old.part) is self.kind and old.part.id != part.id:
                    yield self._with(found, catalog, old, part)

    def _with(self, found: Assessment, catalog: Catalog, old: Item, new: Part) -> Build:
        build = exchanged(found.build, old, Item(key=new.id, part=new))
        if isinstance(new, _WIRED) and _shape(new) != _shape(old.part):
            return wired_again(build, found, catalog, {old.key, new.id})
        return build


def _shape(part: Part) -> tuple[object, ...]:
    """Return what the wiring depends on: equal parts take each other's place."""
    if isinstance(part, Controller):
        return part.connectors, part.lanes, part.bus, part.is_multiplied
    if isinstance(part, HardDrive | SolidStateDrive | BootMedium):
        names = ("form", "interface", "height_mm", "module_length_mm", "needs_bay")
        return tuple(getattr(part, name, None) for name in names)
    return (part.id,)


@dataclass(frozen=True, slots=True)
class _Add:
    """Add pieces of a kind, one more each time."""

    kind: type[Part]
    most: int = 1

    def __call__(self, found: Assessment, catalog: Catalog) -> Iterator[Build]:
        if self.kind is SolidStateDrive and len(found.machine.in_role("cache")) > 1:
            return  # a mirror has its two drives
        for part in _offers(catalog, self.kind)[:MOST_OFFERS]:
            for count in range(1, self.most + 1):
                yield added(found, catalog, part, count)


def _offers(catalog: Catalog, kind: type[Part]) -> list[Part]:
    """Return the parts of a kind, the cheapest first."""
    offers = [part for part in catalog.of(kind) if part.stock != 0]
    offers = [part for part in offers if getattr(part, "is_moulded", "no") != "yes"]
    return sorted(offers, key=lambda p: (p.price.mid / p.pack, p.pack, p.id))


def exchanged(build: Build, old: Item, new: Item) -> Build:
    """Return a build with all pieces of an item exchanged, names and places kept."""
    counts: Counter[str] = Counter()
    items: dict[str, Item] = {}
    for entry in build.items:
        item = new if entry.item.key == old.key else entry.item
        items.setdefault(item.key, item)
        counts[item.key] += entry.count

    def key(name: str) -> str:
        return new.key if name == old.key else name

    return replace(
        build,
        items=tuple(
            ItemCount(item=item, count=counts[name]) for name, item in items.items()
        ),
        drives=tuple(replace(d, key=key(d.key)) for d in build.drives),
        slots=tuple(replace(s, key=key(s.key)) for s in build.slots),
        connections=tuple(
            replace(c, cable_key=key(c.cable_key), adapter_key=key(c.adapter_key))
            for c in build.connections
        ),
        power=(),
    )


def added(found: Assessment, catalog: Catalog, part: Part, count: int) -> Build:
    """Return a machine with pieces of a part added, in a slot and wired where due."""
    build = found.build
    items = _with_more(build.items, Item(key=part.id, part=part), count)
    build = replace(build, items=items, power=())
    if isinstance(part, Card):
        return _with_card(build, found, catalog, part)
    if isinstance(part, DriveAdapter):
        return wired_again(build, found, catalog, set())
    if isinstance(part, BootMedium | SolidStateDrive):
        return _with_drive(build, found, catalog, part)
    return build


def _with_more(
    items: tuple[ItemCount, ...], item: Item, count: int
) -> tuple[ItemCount, ...]:
    if any(entry.item.key == item.key for entry in items):
        return tuple(
            replace(e, count=e.count + count) if e.item.key == item.key else e
            for e in items
        )
    return (*items, ItemCount(item=item, count=count))


def _with_card(build: Build, found: Assessment, catalog: Catalog, part: Card) -> Build:
    sketch = _open(build, set())
    slots = (*sketch.slots, SlotSketch(name=f"new {part.kind}", key=part.id))
    return _completed(replace(sketch, slots=slots), found, catalog)


def _with_drive(
    build: Build,
    found: Assessment,
    catalog: Catalog,
    part: BootMedium | SolidStateDrive,
) -> Build:
    """Return a machine with one more boot medium, or cache drive and so a mirror."""
    sketch = _open(build, set())
    is_boot = isinstance(part, BootMedium)
    drive = replace(
        sketch.drives[0], name=f"new {part.kind}", key=part.id,
        role="boot" if is_boot else "cache",
    ) if sketch.drives else None  # fmt: skip
    if drive is None:
        return build
    slots = sketch.slots
    in_slot = part.interface == "m2" if is_boot else getattr(part, "form", "") == "m2"
    if in_slot:
        slots = (*slots, SlotSketch(name=drive.name, key=part.id))
    n_cache = sum(d.role == "cache" for d in (*sketch.drives, drive))
    operation = {
        **sketch.operation,
        "cache": ("none", "single", "mirror")[min(2, n_cache)],
    }
    whole = replace(
        sketch, drives=(*sketch.drives, drive), slots=slots, operation=operation
    )
    return _completed(whole, found, catalog)


def wired_again(
    build: Build, found: Assessment, catalog: Catalog, keys: set[str]
) -> Build:
    """Return a build with all drives wired again, cards of some keys placed again.

    Parameters
    ----------
    build : Build
        Parts and roles.
    found : Assessment
        The machine before; its scenario counts.
    catalog : Catalog
        Where more cables and adapters may come from.
    keys : set of str
        Items whose slots are open; a board's exchange opens all.
    """
    return _completed(_open(build, keys), found, catalog)


def _open(build: Build, keys: set[str]) -> Sketch:
    """Return a build as a sketch without wiring."""
    sketch = sketch_of(build)
    boards = {e.item.key for e in build.items if isinstance(e.item.part, Board)}
    is_new_board = bool(boards & keys)
    slots = tuple(
        replace(slot, slot=None) if is_new_board or slot.key in keys else slot
        for slot in sketch.slots
    )
    return replace(sketch, wires=(), slots=slots, power=())


def _completed(
    sketch: Sketch, found: Assessment, catalog: Catalog, effort: Effort = QUICK
) -> Build:
    done = complete(sketch, found.scenario, catalog, may_add=True, effort=effort)
    return done.build


def rewire(found: Assessment, catalog: Catalog) -> Iterator[Build]:
    """Yield the same machine wired again, with cables and adapters bought as needed.

    First what is wired stays and only the rest is connected; then all is open.
    """
    build = found.build
    yield _completed(sketch_of(build), found, catalog, THOROUGH)
    kept = tuple(e for e in build.items if not isinstance(e.item.part, Cable))
    for items in (build.items, kept):
        sketch = _open(replace(build, items=items), set())
        yield _completed(sketch, found, catalog, THOROUGH)
    sketch = _open(build, {s.key for s in build.slots})
    yield _completed(sketch, found, catalog, THOROUGH)


def take_out(found: Assessment, catalog: Catalog) -> Iterator[Build]:
    """Yield the machine without a card that nothing hangs on."""
    del catalog
    build = found.build
    hosts = {wire.host for wire in build.connections}
    hosts |= {slot.slot.rpartition(".")[0] for slot in build.slots}
    if found.machine.network is not None:
        hosts.add(found.machine.network.name)
    for name in found.machine.cards:
        if name not in hosts:
            yield without(build, {name})


def sleepy_cards(found: Assessment, catalog: Catalog) -> Iterator[Build]:
    """Yield the machine with every card that blocks deep idle exchanged, or taken out.

    Each for the cheapest of its kind that does as much and is known to let the
    processor sleep; one that stays spoils it for all, so that it is all or none.
    """
    build, keys = found.build, set[str]()
    for unused in take_out(found, catalog):
        build = _without_blockers(build, unused)
    for entry in build.items:
        if not is_blocker(entry.item.part):
            continue
        offers = [
            part
            for part in _offers(catalog, type(entry.item.part))
            if not is_blocker(part) and _does_as_much(part, entry.item.part)
        ]
        if not offers:
            return
        build = exchanged(build, entry.item, Item(key=offers[0].id, part=offers[0]))
        keys.add(offers[0].id)
    if build != found.build:
        yield build
        yield wired_again(build, found, catalog, keys)


def _without_blockers(build: Build, less: Build) -> Build:
    """Return a build without those blockers that another one does without."""
    kept = {use.name for use in less.slots}
    gone = {
        use.name
        for use in build.slots
        if use.name not in kept and is_blocker(build.item(use.key).part)
    }
    return without(build, gone)


def _does_as_much(part: Part, other: Part) -> bool:
    """Return whether a card goes into the slot of another and has its plugs."""
    if not isinstance(part, Card) or not isinstance(other, Card):
        return False
    if part.bus != other.bus or part.lanes > other.lanes:
        return False
    if isinstance(part, Controller) and isinstance(other, Controller):
        same = part.connectors.connector == other.connectors.connector
        return same and part.n_ports >= other.n_ports and not part.is_multiplied
    if isinstance(part, NetworkCard) and isinstance(other, NetworkCard):
        same = part.medium == other.medium
        return same and part.network_gbit_s >= other.network_gbit_s
    if isinstance(part, Riser) and isinstance(other, Riser):
        return part.n_sockets >= other.n_sockets
    return isinstance(part, DisplayCard)


def spare_cables(found: Assessment, catalog: Catalog) -> Iterator[Build]:
    """Yield the machine with a spare of each type of cable that it has."""
    del catalog
    build = found.build
    kinds: dict[tuple[str, str, str], Item] = {}
    for entry in build.items:
        part = entry.item.part
        if isinstance(part, Cable):
            ends = (part.direction, part.controller_end, part.drive_end)
            kinds.setdefault(ends, Item(key=part.id, part=part))
    spares = tuple(ItemCount(item=item, count=1) for item in kinds.values())
    yield replace(build, spares=build.spares + spares)


_SUPPLY, _DRIVE = _Swap(PowerSupply), _Swap(HardDrive)
_CARD = (take_out, _Swap(Controller), _Swap(NetworkCard))
MOVES: Mapping[str, tuple[Move, ...]] = {
    "F1": (_Swap(Chassis),),
    "F2": (rewire, _Add(DriveAdapter, MOST_ADDED), _Swap(Chassis)),
    "F2a": (_Add(DriveAdapter, MOST_ADDED),),
    "F3": (_Swap(DriveAdapter), rewire, _Swap(Chassis), _DRIVE),
    "F4": (_Swap(Cooler),),
    "F5": (*_CARD, _Swap(Riser), _Swap(DisplayCard)),
    "F6": (_Add(MountingPlate), _SUPPLY),
    "F7": (_Swap(Chassis),),
    "F8": _CARD,
    "C1": (rewire, _Add(Controller), _Swap(Controller), _Swap(Board)),
    "C2": (rewire,),
    "C3": (rewire,),
    "C4": (rewire,),
    "C5": (_Swap(Controller), _Add(Controller), _DRIVE),
    "C6": (_Swap(Cable),),
    "C7": (_Swap(Cable),),
    "C8": (_Add(PowerLead, MOST_ADDED), _SUPPLY),
    "C8a": (_Swap(PowerLead),),
    "C9": (_Swap(PowerLead), _SUPPLY),
    "C10": (_Add(PowerLead, MOST_ADDED), _Swap(PowerLead), _SUPPLY),
    "C11": (_Swap(Controller),),
    "C12": (take_out, _Swap(Controller)),
    "C13": (_Swap(Controller), _Swap(Chassis)),
    "C14": (spare_cables,),
    "L1": (rewire, *_CARD, _Swap(DisplayCard), _Swap(Riser)),
    "L2": _CARD,
    "L3": (rewire, _Swap(SolidStateDrive), _Swap(BootMedium), _Swap(Controller)),
    "L4": (rewire,),
    "L5": (_Swap(Riser),),
    "L8": (sleepy_cards,),
    "L9": (_Add(DisplayCard), _Swap(Processor)),
    "M1": (_Swap(Memory),),
    "M2": (_Swap(Memory), _Swap(Processor)),
    "M3": (_Swap(Cooler), _Swap(Processor)),
    "M4": (_Swap(Processor),),
    "B1": (_Add(BootMedium),),
    "B2": (_Swap(BootMedium),),
    "B3": (take_out, _Swap(Controller)),
    "B4": (_Swap(Controller),),
    "B5": (take_out, _Swap(Controller)),
    "P1": (_SUPPLY,),
    "P2": (_SUPPLY,),
    "P3": (_SUPPLY,),
    "P4": (_SUPPLY,),
    "P5": (_SUPPLY,),
    "A1": (_DRIVE,),
    "A3": (_DRIVE,),
    "A4": (_DRIVE,),
    "A6": (_DRIVE, _Swap(Controller)),
    "A7": (_Add(SolidStateDrive), _Swap(SolidStateDrive)),
    "A8": (_DRIVE,),
    "A10": (_DRIVE,),
    "K1": (
        _Add(PowerSupply),
        _Add(Cooler),
        _Add(Memory),
        _Add(Processor),
        _Add(Chassis),
    ),
    "N1": (_Add(NetworkLead), _Swap(NetworkLead), _Swap(NetworkCard)),
    "N2": (_Swap(NetworkLead),),
}
"""What can mend the findings of each rule, the least effort first."""
