"""Builds as a careless hand would leave them: one thing changed at random."""

import random
from collections.abc import Callable
from dataclasses import replace

from optibox.build import BOARD, Build, DriveUse, SlotUse

Mutation = Callable[[Build, random.Random], Build]
ODD_WIRES = (
    {"bay": "3.5-99"},
    {"bay": "left"},
    {"bay": ""},
    {"connector": 99},
    {"port": 9},
)


def mutated(build: Build, source: random.Random) -> Build:
    """Return a build with one thing changed; names still lead somewhere."""
    return source.choice(MUTATIONS)(build, source)


def _count(build: Build, source: random.Random) -> Build:
    at = source.randrange(len(build.items))
    items = list(build.items)
    items[at] = replace(items[at], count=source.choice((1, 2, 3, 7)))
    return replace(build, items=tuple(items))


def _role(build: Build, source: random.Random) -> Build:
    if not build.drives:
        return build
    at, drives = source.randrange(len(build.drives)), list(build.drives)
    role = source.choice(("data", "parity", "cache", "boot"))
    drives[at] = replace(drives[at], role=role)
    return replace(build, drives=tuple(drives))


def _no_drive(build: Build, source: random.Random) -> Build:
    if not build.drives:
        return build
    gone = source.choice(build.drives)
    return replace(
        build,
        drives=tuple(d for d in build.drives if d is not gone),
        connections=tuple(c for c in build.connections if c.drive != gone.name),
        slots=tuple(s for s in build.slots if s.name != gone.name),
    )


def _wire(build: Build, source: random.Random) -> Build:
    if not build.connections:
        return build
    keys = [entry.item.key for entry in build.items]
    change = source.choice(
        (
            *ODD_WIRES,
            {"cable_key": source.choice(keys)},
            {"adapter_key": source.choice(keys)},
            {"host": source.choice([BOARD, *(s.name for s in build.slots)])},
        )
    )
    at, wires = source.randrange(len(build.connections)), list(build.connections)
    wires[at] = replace(wires[at], **change)
    return replace(build, connections=tuple(wires))


def _no_wire(build: Build, source: random.Random) -> Build:
    if not build.connections:
        return build
    gone = source.choice(build.connections)
    left = tuple(c for c in build.connections if c is not gone)
    return replace(build, connections=left)


def _slot(build: Build, source: random.Random) -> Build:
    if not build.slots:
        return build
    at, slots = source.randrange(len(build.slots)), list(build.slots)
    place = source.choice(("P1", "P9", "riser-1.1", "M1", "x.y"))
    slots[at] = replace(slots[at], slot=place)
    return replace(build, slots=tuple(slots))


def _plan(build: Build, source: random.Random) -> Build:
    try:
        plan = replace(
            build.operation,
            layout=source.choice(("independent", "striped", "pairs", "striped pairs")),
            n_parity=source.choice((0, 1, 2)),
            write_mode=source.choice(("plain", "reconstruct", "read-modify-write")),
            cache=source.choice(("none", "single", "mirror")),
        )
    except ValueError:  # a plan that contradicts itself cannot be written down
        return build
    return replace(build, operation=plan)


def _no_item(build: Build, source: random.Random) -> Build:
    used = {d.key for d in build.drives} | {s.key for s in build.slots}
    free = [entry for entry in build.items if entry.item.key not in used]
    gone = source.choice(free) if free else None
    return replace(build, items=tuple(e for e in build.items if e is not gone))


def _anything_as_drive(build: Build, source: random.Random) -> Build:
    keys = [entry.item.key for entry in build.items]
    role = source.choice(("data", "parity", "cache", "boot"))
    drive = DriveUse(
        name=f"odd-{len(build.drives)}", key=source.choice(keys), role=role
    )
    return replace(build, drives=(*build.drives, drive))


def _anything_in_slot(build: Build, source: random.Random) -> Build:
    keys = [entry.item.key for entry in build.items]
    place = source.choice(("P1", "P2", "M1"))
    use = SlotUse(name=f"odd-{len(build.slots)}", key=source.choice(keys), slot=place)
    return replace(build, slots=(*build.slots, use))


MUTATIONS: tuple[Mutation, ...] = (
    _count,
    _role,
    _no_drive,
    _wire,
    _no_wire,
    _slot,
    _plan,
    _no_item,
    _anything_as_drive,
    _anything_in_slot,
)
