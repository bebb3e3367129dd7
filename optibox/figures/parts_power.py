"""What each part draws in each state, with bounds and where the figure is from."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optibox.build import Item, ItemCount
from optibox.catalog.columns import Figure, Level, Part
from optibox.catalog.storage import HardDrive
from optibox.figures.power import (
    ASLEEP,
    AT_REST,
    LEAST_RATING_W,
    SPINNING,
    WORKING,
    Activity,
    deep_idle_loss_w,
    part_dc_w,
)
from optibox.machine import Machine
from optibox.physics.operation import Mix
from optibox.physics.power import Supply, wall_w

STATES = ("asleep", "spinning", "reading", "writing", "checking")


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A power with its bounds. [W]."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPower:
    """All pieces of one part: their watts in each state."""

    key: str
    name: str
    kind: str
    count: int
    watts: Mapping[str, Band]
    """DC watts of all pieces together, by state."""
    source: str
    """Where the figures are from; several where they differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerTable:
    """A machine's power by part and state, from the parts to the wall."""

    parts: tuple[PartPower, ...]
    deep_idle: Band
    """What the board loses because something blocks deep idle. [W DC]"""
    dc: Mapping[str, Band]
    """Sum of the parts. [W DC]"""
    wall: Mapping[str, Band]
    """At the wall: all parts and the supply at their low, middle, high figures. [W]"""

    def loss_w(self, state: str) -> float:
        """Return what the supply itself loses in a state. [W]."""
        return self.wall[state].mid - self.dc[state].mid


Mixes = tuple[Mix, Mix, Mix, Mix]
"""Data and parity while reading, data and parity while writing."""

_State = tuple[Mix, Mix, Activity]


def states_of(machine: Machine, mixes: Mixes) -> dict[str, _State]:
    """Return the drives' mixes and the activity of each state."""
    data_r, parity_r, data_w, parity_w = mixes
    has_cache = bool(machine.in_role("cache"))
    works = Activity(processor=True, network=True)
    writes = Activity(processor=True, network=not has_cache, cache=has_cache)
    return {
        "asleep": (ASLEEP, ASLEEP, AT_REST),
        "spinning": (SPINNING, SPINNING, AT_REST),
        "reading": (data_r, parity_r, works),
        "writing": (data_w, parity_w, writes),
        "checking": (WORKING, WORKING, Activity(processor=True)),
    }


def power_table(machine: Machine, mixes: Mixes) -> PowerTable:
    """Return the power of every part in every state, summed up to the wall.

    Bounds add up at their worst: all parts low at once, or all high.

    Parameters
    ----------
    machine : Machine
        The machine.
    mixes : tuple of Mix
        Data and parity while reading, data and parity while writing.
    """
    states = states_of(machine, mixes)
    rows = tuple(_rows(machine, states))
    blocked = deep_idle_loss_w(machine) > 0 and machine.board is not None
    deep = Band(low=0.0, mid=0.0, high=0.0)
    if blocked and machine.board is not None:
        deep = _band(machine.board.deep_idle_loss_w)
    dc = {name: _summed([row.watts[name] for row in rows] + [deep]) for name in STATES}
    wall = {name: _at_wall(machine, band) for name, band in dc.items()}
    return PowerTable(parts=rows, deep_idle=deep, dc=dc, wall=wall)


def _rows(machine: Machine, states: Mapping[str, _State]) -> Iterator[PartPower]:
    for entry in machine.build.items:
        watts = {name: _entry(machine, entry, state) for name, state in states.items()}
        if any(band.high for band in watts.values()):
            yield PartPower(
                key=entry.item.key,
                name=entry.item.part.name,
                kind=entry.item.part.kind,
                count=entry.count,
                watts=watts,
                source=source_of(entry.item.part),
            )


def _entry(machine: Machine, entry: ItemCount, state: _State) -> Band:
    data, parity, activity = state
    if not isinstance(entry.item.part, HardDrive):
        watts = [
            entry.count * _part_at(entry.item.part, activity, level)
            for level in _LEVELS
        ]
        return Band(low=watts[0], mid=watts[1], high=watts[2])
    roles = [d.role for d in machine.drives if d.item.key == entry.item.key]
    bands = [_drive(entry.item, parity if role == "parity" else data) for role in roles]
    return _summed(bands)


_LEVELS: tuple[Level, Level, Level] = ("low", "mid", "high")


def _part_at(part: Part, activity: Activity, level: Level) -> float:
    """Return the power of one piece with its figures at a level. [W DC]."""
    idle, active = getattr(part, "idle_w", None), getattr(part, "active_w", None)
    changes = {
        name: _flat(figure.at(level))
        for name, figure in (("idle_w", idle), ("active_w", active))
        if isinstance(figure, Figure)
    }
    return part_dc_w(part.model_copy(update=changes), activity)


def _flat(value: float) -> Figure:
    return Figure(value, value, value)


def _drive(item: Item, mix: Mix) -> Band:
    part = item.part
    if not isinstance(part, HardDrive):
        return Band(low=0.0, mid=0.0, high=0.0)
    low, mid, high = (_drive_at(part, mix, level) for level in _LEVELS)
    return Band(low=low, mid=mid, high=high)


def _drive_at(part: HardDrive, mix: Mix, level: Level) -> float:
    """Return the power of a drive in a state without starts, at a level. [W DC]."""
    active = max(part.active_w.at(level), part.idle_w.at(level))
    return (
        mix.active * active
        + mix.idle * part.idle_w.at(level)
        + mix.standby * part.standby_w.at(level)
    )


def _band(figure: Figure) -> Band:
    return Band(low=figure.low, mid=figure.mid, high=figure.high)


def _summed(bands: list[Band]) -> Band:
    return Band(
        low=sum(band.low for band in bands),
        mid=sum(band.mid for band in bands),
        high=sum(band.high for band in bands),
    )


def _at_wall(machine: Machine, dc: Band) -> Band:
    low, mid, high = (
        wall_w(getattr(dc, level), curve) if (curve := _curve(machine, level)) else None
        for level in _LEVELS
    )
    if low is None or mid is None or high is None:
        return dc
    return Band(low=low, mid=mid, high=high)


def _curve(machine: Machine, level: Level) -> Supply | None:
    part = machine.supply
    if part is None:
        return None
    return Supply(
        part.loss_fixed_w.at(level),
        part.loss_share.at(level),
        part.loss_square.at(level),
        max(part.rated_w.mid, LEAST_RATING_W),
    )


def source_of(part: Part) -> str:
    """Return where a part's watts are from, in words."""
    names = ("idle_w", "active_w", "standby_w")
    found = {
        name: figure
        for name in names
        if isinstance(figure := getattr(part, name, None), Figure)
    }
    words = {
        "class default" if name in part.defaulted else figure.source
        for name, figure in found.items()
    }
    return " and ".join(sorted(words))
