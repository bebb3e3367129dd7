"""A build with fewer cache drives: those left over are taken out of the machine."""

from collections import Counter
from dataclasses import replace

from optibox.build import Build, ItemCount
from optibox.scenario.records import CacheKind

N_DRIVES: dict[CacheKind, int] = {"none": 0, "single": 1, "mirror": 2}


def with_cache(build: Build, kind: CacheKind) -> Build:
    """Return a build with the cache drives of an arrangement, never with more.

    Drives that are taken out leave with their cables, adapters and places; risers and
    power leads stay. The plan's own word for its cache is not changed.
    """
    left = build.in_role("cache")[N_DRIVES[kind] :]
    names = {drive.name for drive in left}
    if not names:
        return build
    gone: Counter[str] = Counter(drive.key for drive in left)
    wires = tuple(wire for wire in build.connections if wire.drive not in names)
    in_use = {wire.cable for wire in wires}
    for cable, key in {
        (wire.cable, wire.cable_key)
        for wire in build.connections
        if wire.drive in names and wire.cable not in in_use
    }:
        gone[key] += bool(cable)
    gone.update(
        wire.adapter_key
        for wire in build.connections
        if wire.drive in names and wire.adapter_key
    )
    return replace(
        build,
        items=_less(build.items, gone),
        drives=tuple(drive for drive in build.drives if drive.name not in names),
        connections=wires,
        slots=tuple(slot for slot in build.slots if slot.name not in names),
    )


def _less(items: tuple[ItemCount, ...], gone: Counter[str]) -> tuple[ItemCount, ...]:
    """Return items without the pieces that are taken out."""
    kept = (replace(e, count=e.count - gone[e.item.key]) for e in items)
    return tuple(entry for entry in kept if entry.count > 0)
