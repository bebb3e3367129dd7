"""The watts that readings are to find, and what each situation holds of them.

A reading at the parts is a sum of unknowns, each times how often it occurs: so many
pieces idle, so many at work, the loss of deep idle, and what the rest of the machine
saves while all drives are asleep. The last one is why standby watts need a reading
with fewer drives: asleep, links and controllers may rest too.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from optibox.catalog.attachment import Controller, NetworkCard, NetworkLead
from optibox.catalog.columns import Figure, Part
from optibox.catalog.platform import Board, Memory, PowerSupply, Processor
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.power import is_blocker
from optibox.machine import Machine
from optibox.measure.records import Situation, State

Aspect = Literal["idle", "standby", "at work", "deep idle", "rest asleep"]

LEAST_SPREAD_W = 0.2
UNKNOWN_SHARE = 0.25
"""How far a figure without bounds may be off, as half of its 95 % range: a quarter
of it, at least 0.2 W; judgement."""
REST_ASLEEP_W = 1.5
"""What the rest of a machine may save while all drives are asleep, as half of its 95 %
range; judgement. [W]"""
_Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One figure to be found, per piece, at the parts.

    Attributes
    ----------
    key : str
        Item key; empty for figures of the machine as a whole.
    aspect : str
        Which of the item's figures; ``at work`` is what work adds to idling.
    label : str
        Name for people.
    count : int
        Pieces in the whole machine.
    figure : Figure
        What the catalog says. [W DC]
    kind : str
        Kind of the item; empty for figures of the machine as a whole.
    """

    key: str
    aspect: Aspect
    label: str
    count: int
    figure: Figure
    kind: str = ""

    @property
    def spread_w(self) -> float:
        """Return the standard deviation that the catalog's bounds stand for. [W]."""
        half = (self.figure.high - self.figure.low) / 2.0
        if half <= 0.0:
            half = max(LEAST_SPREAD_W, UNKNOWN_SHARE * self.figure.mid)
        return half / _Z95

    @property
    def bounds(self) -> tuple[float, float]:
        """Return the catalog's bounds; where it has none, what they may be. [W]."""
        if self.figure.high > self.figure.low:
            return self.figure.low, self.figure.high
        half = _Z95 * self.spread_w
        return max(0.0, self.figure.mid - half), self.figure.mid + half

    @property
    def kind_name(self) -> str:
        """Return what sort of part it is the power of."""
        if not self.kind:
            return self.label
        return self.kind if self.aspect == "idle" else f"{self.kind} {self.aspect}"

    @property
    def name(self) -> str:
        """Return a name that tells it from the item's other figures."""
        if self.aspect == "idle":
            return self.label
        return f"{self.label}, {self.aspect}" if self.key else self.label


def unknowns_of(machine: Machine) -> tuple[Unknown, ...]:
    """Return every figure of a machine that its wall readings are made of."""
    return tuple(_unknowns(machine))


def _unknowns(machine: Machine) -> Iterator[Unknown]:
    for entry in machine.build.items:
        part, key = entry.item.part, entry.item.key
        for aspect, figure in _figures(part):
            yield Unknown(
                key=key,
                aspect=aspect,
                label=part.name,
                count=entry.count,
                figure=figure,
                kind=part.kind,
            )
    board = machine.board
    blockers = any(is_blocker(entry.item.part) for entry in machine.build.items)
    if board is not None and blockers:
        yield Unknown(
            key="",
            aspect="deep idle",
            label="loss of deep idle",
            count=1,
            figure=board.deep_idle_loss_w,
        )
    if machine.array:
        yield Unknown(
            key="",
            aspect="rest asleep",
            label="what the rest saves while the drives are asleep",
            count=1,
            figure=Figure(0.0, 0.0, 2.0 * REST_ASLEEP_W),
        )


def _figures(part: Part) -> Iterator[tuple[Aspect, Figure]]:
    """Yield the figures of a part that readings can contain; zeros are none."""
    idle: Figure | None = getattr(part, "idle_w", None)
    if isinstance(part, PowerSupply) or idle is None:
        return
    if isinstance(part, HardDrive):
        yield "standby", part.standby_w
    if idle.high > 0.0:
        yield "idle", idle
    active: Figure | None = getattr(part, "active_w", None)
    if active is not None and active.high > idle.mid and _worker(part):
        yield "at work", _difference(active, idle)


def _difference(active: Figure, idle: Figure) -> Figure:
    """Return what work adds to idling; both figures of a part move together."""
    ends = sorted(
        max(0.0, a - i)
        for a, i in (
            (active.low, idle.low),
            (active.mid, idle.mid),
            (active.high, idle.high),
        )
    )
    low, mid, high = ends
    return Figure(low, mid, high)


def _worker(part: Part) -> str:
    """Return which activity makes a part work; empty where none does."""
    if isinstance(part, HardDrive):
        return "array"
    if isinstance(part, SolidStateDrive):
        return "cache"
    if isinstance(part, Board | Processor | Memory | Controller):
        return "processor"
    return "network" if isinstance(part, NetworkCard | NetworkLead) else ""


_WORKING: Mapping[State, frozenset[str]] = {
    "asleep": frozenset(),
    "spinning": frozenset(),
    "reading": frozenset({"processor", "network"}),
    "ingesting": frozenset({"processor", "network"}),
    "flushing": frozenset({"processor", "cache"}),
    "checking": frozenset({"processor"}),
}


def columns(
    machine: Machine, unknowns: tuple[Unknown, ...], situation: Situation
) -> list[float]:
    """Return how often each unknown occurs in a situation."""
    drives = _drives(machine, situation)
    working = _WORKING[situation.state]
    fitted = dict(situation.fitted)
    has_cache = any(fitted.get(drive.item.key, 0) for drive in machine.in_role("cache"))
    if situation.state == "ingesting" and has_cache:
        working |= {"cache"}
    return [_occurs(machine, u, situation, drives, working) for u in unknowns]


@dataclass(frozen=True, slots=True)
class _Drives:
    """Pieces of one item of array drives by what they do."""

    standby: float
    spinning: float
    at_work: float


def _occurs(
    machine: Machine,
    unknown: Unknown,
    situation: Situation,
    drives: Mapping[str, _Drives],
    working: frozenset[str],
) -> float:
    n = situation.count(unknown.key)
    if unknown.aspect == "deep idle":
        keys = [key for key, count in situation.fitted if count]
        return float(any(is_blocker(machine.build.item(key).part) for key in keys))
    if unknown.aspect == "rest asleep":
        is_asleep = situation.state == "asleep" and bool(drives)
        return -1.0 if is_asleep else 0.0
    if unknown.key in drives or isinstance(
        machine.build.item(unknown.key).part, HardDrive
    ):
        own = drives.get(unknown.key, _Drives(0.0, 0.0, 0.0))
        return {
            "standby": own.standby,
            "idle": own.spinning,
            "at work": own.at_work,
        }[unknown.aspect]
    if unknown.aspect == "idle":
        return float(n)
    part = machine.build.item(unknown.key).part
    return float(n) if _worker(part) in working else 0.0


def _drives(machine: Machine, situation: Situation) -> dict[str, _Drives]:
    """Return what the fitted drives of each item do."""
    array = [drive.item.key for drive in machine.array]
    fitted = {key: situation.count(key) for key in dict.fromkeys(array)}
    fitted = {key: n for key, n in fitted.items() if n}
    total = sum(fitted.values())
    if situation.state == "asleep":
        return {key: _Drives(float(n), 0.0, 0.0) for key, n in fitted.items()}
    still = min(1.0, situation.standing / total) if total else 0.0
    shares = _at_work(machine, situation, fitted)
    return {
        key: _Drives(n * still, n * (1.0 - still), min(shares[key], n * (1.0 - still)))
        for key, n in fitted.items()
    }


def _at_work(
    machine: Machine, situation: Situation, fitted: Mapping[str, int]
) -> dict[str, float]:
    """Return how many drives of each item move data, the mean over targets."""
    total = sum(fitted.values())
    if situation.state in ("asleep", "spinning"):
        return dict.fromkeys(fitted, 0.0)
    if situation.at_work is not None:
        share = min(1.0, situation.at_work / total) if total else 0.0
        return {key: n * share for key, n in fitted.items()}
    data, parity = _shares(machine, situation)
    n_role = {
        role: [drive.item.key for drive in machine.in_role(role)]
        for role in ("data", "parity")
    }
    return {
        key: data * n_role["data"].count(key) + parity * n_role["parity"].count(key)
        for key in fitted
    }


def _shares(machine: Machine, situation: Situation) -> tuple[float, float]:
    """Return the share of data and of parity drives that move data in a state."""
    plan, n = machine.operation, max(1, len(machine.in_role("data")))
    one_file = {"independent": 1.0 / n, "pairs": 1.0 / n}
    if situation.state == "checking":
        return 1.0, 1.0
    if situation.state == "reading":
        half = 0.5 if plan.layout == "striped pairs" else 1.0
        return one_file.get(plan.layout, half), 0.0
    cache = [drive.item.key for drive in machine.in_role("cache")]
    if situation.state == "ingesting" and any(map(situation.count, cache)):
        return 0.0, 0.0
    if plan.layout == "pairs":
        return min(1.0, 2.0 / n), 0.0
    if plan.layout == "independent" and plan.write_mode != "reconstruct":
        return 1.0 / n, 1.0
    return 1.0, 1.0
