"""Builds with something taken out, names that lead somewhere kept so."""

from collections import Counter
from collections.abc import Collection
from dataclasses import replace

from optibox.build.records import Build, ItemCount


def without(build: Build, names: Collection[str]) -> Build:
    """Return a build without drives, cards and modules of some names.

    What hangs on which power plug is open again. A piece of each goes from the list as well; an item that something else still names
    stays on it, whatever its count says.
    """
    drives = tuple(use for use in build.drives if use.name not in names)
    slots = tuple(use for use in build.slots if use.name not in names)
    wires = tuple(wire for wire in build.connections if wire.drive not in names)
    gone = {use.name: use.key for use in build.drives if use.name in names}
    gone |= {use.name: use.key for use in build.slots if use.name in names}
    used = {use.key for use in drives} | {use.key for use in slots}
    used |= {key for w in wires for key in (w.cable_key, w.adapter_key)}
    counts = Counter(gone.values())
    return replace(
        build,
        items=tuple(
            kept
            for entry in build.items
            if (kept := _fewer(entry, counts, used)).count > 0
        ),
        drives=drives,
        slots=slots,
        connections=wires,
        power=(),
    )


def _fewer(entry: ItemCount, gone: Counter[str], used: Collection[str]) -> ItemCount:
    least = 1 if entry.item.key in used else 0
    left = entry.count - gone[entry.item.key]
    return replace(entry, count=max(least, left)) if left != entry.count else entry
