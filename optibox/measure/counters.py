"""What drives count about themselves, beside what the plan expects."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optibox.catalog.storage import HardDrive
from optibox.figures.year import rating_of, wakes_of, year_of
from optibox.machine import DriveView, Machine
from optibox.measure.records import CounterReading
from optibox.units import HOURS_PER_YEAR

OLD_H = 40_000.0
"""Hours from which a drive is too old for parity; common practice, no source. [h]"""
LEAST_HOURS = 24.0
"""Hours from which a rate of starts says anything; judgement. [h]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterNote:
    """One remark on a drive's counters."""

    line: int
    drive: str
    severity: str
    text: str


def notes_on(
    machine: Machine, counters: Sequence[CounterReading]
) -> tuple[CounterNote, ...]:
    """Return what drives' counters say, the worst first within each drive."""
    views = {drive.name: drive for drive in machine.drives}
    return tuple(
        CounterNote(
            line=reading.line, drive=reading.drive, severity=severity, text=text
        )
        for reading in counters
        for severity, text in _notes(machine, reading, views.get(reading.drive))
    )


def _notes(
    machine: Machine, reading: CounterReading, drive: DriveView | None
) -> Iterator[tuple[str, str]]:
    if drive is None:
        return
    if reading.pending_sectors:
        n = reading.pending_sectors
        yield (
            "error",
            f"{n} sectors wait for reallocation: copy its data, then replace it",
        )
    if reading.reallocated_sectors:
        n = reading.reallocated_sectors
        yield "warning", f"{n} sectors reallocated: not for parity"
    if reading.interface_errors:
        n = reading.interface_errors
        yield (
            "warning",
            f"{n} errors on its data link: the cable or its plugs, seldom the drive; "
            "the count never falls, so compare it again in a week",
        )
    if reading.hours and reading.hours > OLD_H:
        yield "warning", f"{reading.hours:g} h of running: not for parity"
    if reading.starts is not None and isinstance(drive.part, HardDrive):
        yield from _starts(machine, reading, drive, drive.part)


def _starts(
    machine: Machine, reading: CounterReading, drive: DriveView, part: HardDrive
) -> Iterator[tuple[str, str]]:
    starts = float(reading.starts or 0)
    rating = rating_of(part)
    share = starts / rating
    yield (
        "warning" if share > machine.factors.wear_budget.mid else "information",
        f"{starts:.0f} starts of {rating:.0f} rated, {share * 100:.0f} %",
    )
    if reading.hours and reading.hours >= LEAST_HOURS:
        a_year = starts / reading.hours * HOURS_PER_YEAR
        planned = wakes_of(year_of(machine), drive.role)
        yield (
            "information",
            f"{a_year:.0f} starts a year of running; planned {planned:.0f} a year",
        )
