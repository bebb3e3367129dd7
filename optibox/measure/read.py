"""Readings written by hand into records; every fault of the file at once."""

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from optibox.build import Build
from optibox.catalog.csvcells import Table, read_table
from optibox.catalog.decimals import shows_decimal_commas
from optibox.catalog.nearest import nearest
from optibox.errors import Fault, InputError
from optibox.files import read_text
from optibox.measure.cells import (
    COLUMNS,
    COUNTER,
    EXTRA_PREFIX,
    POWER,
    TRANSFER,
    Cells,
)
from optibox.measure.names import Counts, Names, PiecesError
from optibox.measure.records import (
    RATE_ERROR,
    TRANSFERS,
    CounterReading,
    Meter,
    PowerReading,
    Readings,
    Situation,
    State,
    Transfer,
    TransferReading,
    Way,
)

_LOCAL = ("flush",)
"""Operations that stay within the machine unless the row says otherwise."""


@dataclass(slots=True, kw_only=True)
class _Bench:
    """What rows are read against, and what is fitted as they go by."""

    names: Names
    meter: Meter
    found: Readings
    fitted: Counts = field(default_factory=dict)
    is_known: bool = True
    """Whether the rows so far say without fault what is fitted."""


def read_readings(path: Path | str, build: Build, meter: Meter) -> Readings:
    """Return the readings of a CSV file.

    Rows whose boxes are blank are counted and left out; what they take out of the
    machine stays out.

    Parameters
    ----------
    path : Path or str
        The file.
    build : Build
        The machine that was measured.
    meter : Meter
        What its readings are worth where a row does not say.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    path = Path(path)
    found = readings_of(str(path), read_text(path), build, meter)
    if found.faults:
        raise InputError(found.faults)
    return found


def readings_of(path: str, text: str, build: Build, meter: Meter) -> Readings:
    """Return the readings of a CSV text with the faults that they have."""
    table = read_table(path, text, takes_short_rows=True)
    names = Names(build)
    found = Readings(path=path, faults=table.faults)
    bench = _Bench(names=names, meter=meter, found=found, fitted=names.everything)
    _check_columns(table)
    has_commas = shows_decimal_commas(
        cell for row in table.rows for cell in row.cells.values()
    )
    for row in table.rows:
        cells = Cells(path=path, row=row, has_decimal_commas=has_commas)
        _add_row(bench, cells)
        found.faults += _own_faults(table, cells)
    _check_any(table, found)
    return found


def _check_columns(table: Table) -> None:
    for name in table.columns:
        if name and name not in COLUMNS and not name.startswith(EXTRA_PREFIX):
            table.add_fault(
                table.header_line,
                "is no column of a readings file",
                nearest(name, COLUMNS),
                where=name,
            )


def _own_faults(table: Table, cells: Cells) -> list[Fault]:
    """Return a row's faults but those that come from a misspelt column."""
    is_misspelt = any(fault.line == table.header_line for fault in table.faults)
    return [
        fault
        for fault in cells.faults
        if not (is_misspelt and fault.field not in table.columns)
    ]


def _check_any(table: Table, found: Readings) -> None:
    n_read = len(found.power) + len(found.transfers) + len(found.counters)
    if not n_read and not found.faults:
        problem = "holds no reading"
        if found.n_blank:
            problem += f"; the boxes of its {found.n_blank} rows are blank"
        remedy = "Fill watts (or kwh and hours), mb_s, or a drive's counters."
        found.faults.append(
            Fault(
                path=table.path, line=table.header_line, problem=problem, remedy=remedy
            )
        )


def _add_row(bench: _Bench, cells: Cells) -> None:
    """Read one row as what its filled cells make it."""
    kinds = {
        name: [c for c in columns if cells.has(c)]
        for name, columns in (
            ("power", POWER),
            ("transfer", TRANSFER),
            ("counter", COUNTER),
        )
    }
    filled = [name for name, columns in kinds.items() if columns]
    if len(filled) > 1:
        first, second = (kinds[name][0] for name in filled[:2])
        problem = f"stands beside {first}; a row is one reading"
        cells.fault(second, problem, "Put the two on rows of their own.")
    elif filled:
        {"power": _power, "transfer": _transfer, "counter": _counter}[filled[0]](
            bench, cells
        )


def _power(bench: _Bench, cells: Cells) -> None:
    _refit(bench, cells)
    if not cells.has("watts", "kwh"):
        bench.found.n_blank += cells.has("state")
        cells.number("hours")
        cells.word("state")
        return
    state = cells.word("state")
    if not cells.has("state"):
        problem = "is missing beside a reading"
        cells.fault("state", problem, "Say what the machine did: asleep, spinning ...")
    read = _watts(bench.meter, cells)
    minute = cells.number("minute")
    numbers = {name: cells.whole(name) for name in ("at_work", "standing")}
    if read is None or cells.faults or not bench.is_known:
        return
    situation = Situation(
        fitted=tuple(sorted(bench.fitted.items())),
        state=cast("State", state),
        at_work=numbers["at_work"],
        standing=numbers["standing"] or 0,
    )
    n = len(bench.found.power)
    bench.found.power.append(
        PowerReading(
            line=cells.row.line,
            situation=situation,
            watts=read[0],
            error_w=read[1],
            minute=float(n) if minute is None else minute,
            note=cells.text("note"),
        )
    )


def _refit(bench: _Bench, cells: Cells) -> None:
    """Follow what a row takes out and puts in."""
    if cells.has("fitted") and cells.has("removed", "refitted"):
        problem = "stands beside removed or refitted; expected one way of saying it"
        cells.fault("fitted", problem, "Clear one of the cells.")
        bench.is_known = False
        return
    for column in ("fitted", "removed", "refitted"):
        if not cells.has(column):
            continue
        try:
            bench.fitted = _next_fitted(bench, column, cells.text(column))
            bench.is_known = bench.is_known or column == "fitted"
        except PiecesError as error:
            cells.fault(column, error.problem, error.remedy, error.value)
            bench.is_known = False


def _next_fitted(bench: _Bench, column: str, text: str) -> Counts:
    if column == "fitted":
        return bench.names.fitted(text)
    if column == "removed":
        return bench.names.without(bench.fitted, text)
    return bench.names.with_added(bench.fitted, text)


def _watts(meter: Meter, cells: Cells) -> tuple[float, float] | None:
    """Return the mean power of a row and its standard error. [W]."""
    watts, kwh, hours = (cells.number(name) for name in ("watts", "kwh", "hours"))
    repeats = cells.whole("repeats") or 1
    own = cells.number("meter_error_w")
    if cells.has("watts") and cells.has("kwh"):
        problem = "stands beside watts; expected one of the two"
        cells.fault("kwh", problem, "Clear one of the cells.")
        return None
    if cells.has("kwh") and not cells.has("hours"):
        remedy = "Give the hours over which the kWh were counted."
        cells.fault("hours", "is missing beside kwh", remedy)
        return None
    if kwh is not None and hours is not None:
        error = own / math.sqrt(repeats) if own else meter.repeatability_w
        step_w = _step(cells.text("kwh")) * 1000.0 / hours / math.sqrt(6.0)
        return kwh * 1000.0 / hours, math.hypot(error, step_w)
    if watts is None:
        return None
    error = own / math.sqrt(repeats) if own else meter.error_w(repeats)
    return watts, error


def _step(text: str) -> float:
    """Return the step of a counter, judged by the decimals that were written."""
    _, _, decimals = text.strip().replace(",", ".").partition(".")
    return 10.0 ** -len(decimals)


def _transfer(bench: _Bench, cells: Cells) -> None:
    operation = cells.word("operation")
    rate = cells.number("mb_s")
    size = cells.number("size_gb")
    numbers = {name: cells.number(name) for name in ("fill", "client_mb_s")}
    n_drives, repeats = cells.whole("drives"), cells.whole("repeats")
    synced, way, mode = cells.yes_no("synced"), cells.word("way"), cells.word("mode")
    target = _drive(bench, cells, "target")
    if not cells.has("operation"):
        remedy = f"Say what was moved: {', '.join(TRANSFERS)}."
        cells.fault("operation", "is missing beside a transfer", remedy)
    if not cells.has("mb_s"):
        bench.found.n_blank += 1
        return
    if not cells.has("size_gb"):
        remedy = "Give the size of the test; without it memory cannot be ruled out."
        cells.fault("size_gb", "is missing beside a rate", remedy)
    if cells.faults or rate is None or size is None:
        return
    bench.found.transfers.append(
        TransferReading(
            line=cells.row.line,
            operation=cast("Transfer", operation),
            size_gb=size,
            mb_s=rate,
            fill=numbers["fill"] or 0.0,
            n_drives=n_drives or 1,
            is_synced=synced,
            client_mb_s=numbers["client_mb_s"],
            way=cast("Way", way or ("local" if operation in _LOCAL else "network")),
            target=target,
            mode=mode,
            error=RATE_ERROR / math.sqrt(repeats or 1),
        )
    )


def _drive(bench: _Bench, cells: Cells, column: str) -> str:
    """Return the name of a drive as the build writes it."""
    text = cells.text(column)
    known = {use.name.lower(): use.name for use in bench.names.build.drives}
    if not text or text.lower() in known:
        return known.get(text.lower(), "")
    cells.fault(column, "is no drive of the build", nearest(text, known.values()))
    return ""


def _counter(bench: _Bench, cells: Cells) -> None:
    if not cells.has("drive"):
        remedy = "Name the drive whose counters these are."
        cells.fault("drive", "is missing beside counters", remedy)
    drive = _drive(bench, cells, "drive")
    if not cells.has(*(name for name in COUNTER if name != "drive")):
        bench.found.n_blank += 1
        return
    reading = CounterReading(
        line=cells.row.line,
        drive=drive,
        starts=cells.whole("starts"),
        hours=cells.number("power_on_hours"),
        pending_sectors=cells.whole("pending_sectors"),
        reallocated_sectors=cells.whole("reallocated_sectors"),
        interface_errors=cells.whole("interface_errors"),
    )
    if not cells.faults:
        bench.found.counters.append(reading)
