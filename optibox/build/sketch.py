"""A build as far as somebody knows it: parts, and whatever is known of the rest.

What is not known is left open here and never guessed; ``optibox.completion`` fills it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from optibox.build.records import (
    UNKNOWN_SURROUNDINGS,
    Build,
    DriveUse,
    ItemCount,
    PowerFeed,
    Role,
    Surroundings,
)

OPERATION_KEYS = (
    "layout",
    "n_parity",
    "write_mode",
    "cache",
    "timeout_min",
    "flush_hour",
    "checks_per_year",
)
"""Settings that a sketch may leave open, in the order in which they are settled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveSketch:
    """One drive or boot medium; its role where it is known."""

    name: str
    key: str
    role: Role | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSketch:
    """What is known of the way of one drive; nothing = not known.

    An empty bay means that the drive needs none, an empty cable key that it has none.
    """

    drive: str
    bay: str | None = None
    cable: str | None = None
    cable_key: str | None = None
    host: str | None = None
    connector: int | None = None
    port: int | None = None
    adapter_key: str | None = None

    @property
    def is_whole(self) -> bool:
        """Return whether nothing is left open."""
        known = (self.bay, self.cable_key, self.host, self.connector, self.port)
        return all(value is not None for value in known)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotSketch:
    """One card, riser or module; its slot where it is known."""

    name: str
    key: str
    slot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """A build with open places."""

    items: tuple[ItemCount, ...]
    drives: tuple[DriveSketch, ...] = ()
    wires: tuple[WireSketch, ...] = ()
    slots: tuple[SlotSketch, ...] = ()
    operation: Mapping[str, Any] = field(default_factory=dict)
    """The settings that are known; a timeout of nothing means never."""

    power: tuple[PowerFeed, ...] = ()
    """Every power plug in use; empty = open."""

    spares: tuple[ItemCount, ...] = ()
    postage: tuple[tuple[str, float], ...] = ()
    around: Surroundings = UNKNOWN_SURROUNDINGS
    is_all_owned: bool = False
    """Everything is there already, small parts that are not named too."""

    name: str = ""


def sketch_of(build: Build) -> Sketch:
    """Return a build as a sketch in which nothing is open."""
    plan = build.operation
    return Sketch(
        items=build.items,
        drives=tuple(_drive(use) for use in build.drives),
        wires=tuple(
            WireSketch(
                drive=wire.drive,
                bay=wire.bay,
                cable=wire.cable,
                cable_key=wire.cable_key,
                host=wire.host,
                connector=wire.connector,
                port=wire.port,
                adapter_key=wire.adapter_key,
            )
            for wire in build.connections
        ),
        slots=tuple(
            SlotSketch(name=use.name, key=use.key, slot=use.slot) for use in build.slots
        ),
        operation={key: getattr(plan, key) for key in OPERATION_KEYS},
        power=build.power,
        spares=build.spares,
        postage=build.postage,
        around=build.around,
        is_all_owned=build.is_standing,
    )


def _drive(use: DriveUse) -> DriveSketch:
    return DriveSketch(name=use.name, key=use.key, role=use.role)
