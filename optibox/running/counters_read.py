"""Counters of drives and of a plug-in meter at two dates, from a CSV file."""

import csv
import io
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from optibox.errors import Fault, InputError
from optibox.files import fault_of, read_text

NUMBERS = ("starts", "load_unload", "power_on_h", "power_cycles", "meter_kwh")
COLUMNS = ("time", "drive", *NUMBERS)
_HEAD_REMEDY = f"Expected a head with time, and any of {', '.join(COLUMNS[1:])}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How far one drive's counters, or the meter, went between two dates.

    Attributes
    ----------
    drive : str
        Name of the drive; blank for the meter.
    hours : float
        Between the two readings. [h]
    counts : dict of str to float
        By column, those that both readings have.
    """

    drive: str
    hours: float
    counts: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    line: int
    time: datetime
    drive: str
    counts: Mapping[str, float]


def read_changes(path: Path) -> tuple[Change, ...]:
    """Return the changes of every drive and of the meter, first to last reading.

    Parameters
    ----------
    path : Path
        CSV with a head: ``time``, ``drive`` (blank for the meter) and any of
        ``starts``, ``load_unload``, ``power_on_h``, ``power_cycles``, ``meter_kwh``.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    faults: list[Fault] = []
    readings = list(_readings(path, faults))
    if faults:
        raise InputError(faults)
    by_drive: dict[str, list[_Reading]] = {}
    for reading in readings:
        by_drive.setdefault(reading.drive, []).append(reading)
    changes = [c for d in by_drive.values() for c in _changes(path, d, faults)]
    if faults:
        raise InputError(faults)
    if not changes:
        remedy = "Write down the counters again on a later day, under the same names."
        raise fault_of(path, "holds no drive or meter that was read twice", remedy)
    return tuple(changes)


def _readings(path: Path, faults: list[Fault]) -> Iterator[_Reading]:
    text = "\n".join(
        "" if line.startswith("#") else line for line in read_text(path).splitlines()
    )
    head = next((line for line in text.splitlines() if line.strip()), "")
    if not head:
        raise fault_of(path, "holds no rows", _HEAD_REMEDY, line=1)
    delimiter = next((d for d in (",", ";", "\t") if d in head), ",")
    parser = csv.DictReader(
        io.StringIO(_keeping_lines(text, head)), delimiter=delimiter
    )
    names = [name.strip() for name in parser.fieldnames or ()]
    unknown = [name for name in names if name not in COLUMNS]
    if unknown or "time" not in names:
        problem = f"has the columns {', '.join(names) or 'none'}"
        raise fault_of(path, problem, _HEAD_REMEDY, line=1)
    parser.fieldnames = names
    for row in parser:
        if any((cell or "").strip() for cell in row.values() if isinstance(cell, str)):
            found = _reading(path, parser.line_num, row, faults)
            if found is not None:
                yield found


def _keeping_lines(text: str, head: str) -> str:
    """Return a text whose head stands on top; lines keep their numbers."""
    before, _, after = text.partition(head)
    return head + "\n" * before.count("\n") + after


def _reading(
    path: Path, line: int, row: Mapping[str, str | None], faults: list[Fault]
) -> _Reading | None:
    n_before = len(faults)
    cells = {key: (cell or "").strip() for key, cell in row.items() if key}
    if None in row:
        faults.append(_fault(path, line, "", "", "has more cells than the head"))
    counts = {}
    for name in NUMBERS:
        if cells.get(name):
            value = _number(cells[name])
            if value is None:
                expected = "is no number from 0 on"
                faults.append(_fault(path, line, name, cells[name], expected))
            else:
                counts[name] = value
    time = _time(cells["time"])
    if time is None:
        expected = "is no date such as 2026-03-01 or 2026-03-01T18:05"
        faults.append(_fault(path, line, "time", cells["time"], expected))
    if len(faults) > n_before or time is None:
        return None
    return _Reading(line=line, time=time, drive=cells.get("drive", ""), counts=counts)


def _fault(path: Path, line: int, field: str, value: str, problem: str) -> Fault:
    return Fault(
        path=str(path),
        line=line,
        field=field,
        value=value,
        problem=problem,
        remedy="Correct the cell.",
    )


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and value >= 0 else None


def _time(text: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _changes(
    path: Path, readings: list[_Reading], faults: list[Fault]
) -> Iterator[Change]:
    first = min(readings, key=lambda reading: reading.time)
    last = max(readings, key=lambda reading: reading.time)
    hours = (last.time - first.time).total_seconds() / 3600.0
    if hours <= 0:
        return
    counts = {}
    for name in first.counts.keys() & last.counts.keys():
        grown = last.counts[name] - first.counts[name]
        if grown < 0:
            text = f"{last.counts[name]:g}"
            problem = f"is less than {first.counts[name]:g} at the earlier date"
            faults.append(_fault(path, last.line, name, text, problem))
        counts[name] = grown
    yield Change(drive=first.drive, hours=hours, counts=counts)
