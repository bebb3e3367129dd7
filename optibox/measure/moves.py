"""What can be taken out of a machine, and how long a reading takes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optibox.catalog.attachment import Controller, NetworkCard, NetworkLead, Riser
from optibox.catalog.columns import Part
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.machine import Machine
from optibox.measure.records import Situation, State

REMOVABLE: tuple[type[Part], ...] = (
    HardDrive,
    SolidStateDrive,
    NetworkCard,
    NetworkLead,
    Controller,
    Riser,
)
"""Kinds without which a board still starts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How long a reading takes.

    Attributes
    ----------
    settle_min : float
        From boot until the machine draws what it draws at rest. [min]
    average_min : float
        Over which the meter is averaged. [min]
    refit_min : float
        To switch off, unplug, take a part out or in, and start again. [min]
    error_factor : float
        By how much a reading's error grows against that of the full pace.
    """

    settle_min: float
    average_min: float
    refit_min: float
    error_factor: float = 1.0

    def minutes(self, *, is_refitted: bool) -> float:
        """Return the time of one reading. [min]."""
        if is_refitted:
            return self.refit_min + self.settle_min + self.average_min
        return self.average_min + WAIT_MIN


WAIT_MIN = 3.0
"""From one state to the next without a boot; judgement. [min]"""
FULL_PACE = Pace(settle_min=15.0, average_min=10.0, refit_min=5.0)
"""15 min after boot, 10 min of average; common practice, no source."""
QUICK_PACE = Pace(settle_min=5.0, average_min=3.0, refit_min=4.0, error_factor=1.5)
"""For an hour in all; that errors grow by half is judgement."""
QUICK_BELOW_MIN = 120.0
"""Minutes below which the quick pace is taken: the full one has room for few readings."""


def pace_for(minutes: float) -> Pace:
    """Return the pace that minutes allow."""
    return QUICK_PACE if minutes < QUICK_BELOW_MIN else FULL_PACE


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One part to take out, with the readings that go with it."""

    label: str
    readings: tuple[tuple[Situation, str, str], ...]
    """Situation, item key, aspect told."""


def situation(fitted: Mapping[str, int], state: State) -> Situation:
    """Return what is fitted and what it does."""
    pieces = tuple(sorted((key, n) for key, n in fitted.items() if n))
    return Situation(fitted=pieces, state=state)


def moves_from(machine: Machine, fitted: Mapping[str, int]) -> Iterator[Move]:
    """Yield every part that could come out next, with the readings that tell of it."""
    for entry in machine.build.items:
        part, key = entry.item.part, entry.item.key
        n = fitted.get(key, 0)
        if not n or not isinstance(part, REMOVABLE):
            continue
        if part.idle_dc_w <= 0.0:
            continue
        before = list(_first_out(machine, part, fitted))
        left = {**fitted, **dict.fromkeys(before, 0)}
        readings = []
        if before:
            readings.append((situation(left, "spinning"), before[0], "idle"))
        if isinstance(part, HardDrive) and n > 1:
            half = {**left, key: n - n // 2}
            yield Move(
                label=f"{part.name}, standby",
                readings=((situation(half, "asleep"), key, "standby"),),
            )
        gone = {**left, key: 0}
        readings.append((situation(gone, "spinning"), key, "idle"))
        yield Move(label=part.name, readings=tuple(readings))


def _first_out(
    machine: Machine, part: Part, fitted: Mapping[str, int]
) -> Iterator[str]:
    """Yield the keys of what hangs on a card and must come out before it."""
    names = {
        use.name
        for use in machine.build.slots
        if machine.build.item(use.key).part is part
    }
    seen = set()
    for drive in machine.drives:
        wire = drive.connection
        on_card = wire is not None and wire.host in names
        in_card = drive.slot is not None and any(
            use.name == drive.name and use.slot.rpartition(".")[0] in names
            for use in machine.build.slots
        )
        if (
            (on_card or in_card)
            and fitted.get(drive.item.key)
            and (drive.item.key not in seen)
        ):
            seen.add(drive.item.key)
            yield drive.item.key
