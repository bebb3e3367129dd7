"""Access logs: CSV of times, with drive, bytes and operation where they are known.

A log may have millions of rows. It is read in blocks; in each the separators are
found, and columns converted, by numpy. Blocks with quotes or blank lines take a slower
way, as do those with faults, which are then named by their lines.
"""

import csv
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from optibox.errors import Fault, InputError
from optibox.files import fault_of

Floats = npt.NDArray[np.float64]
Raw = npt.NDArray[np.bytes_]

COLUMNS = ("time", "drive", "bytes", "operation")
OPERATIONS = ("read", "write")
_BLOCK_BYTES = 1 << 20
_WIDEST = 64
"""Bytes of a cell on the fast way."""
_MOST_FAULTS = 20
_MOST_DRIVES = 64
_NEWLINE = ord("\n")
_MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Some rows of a log, in its own order.

    Attributes
    ----------
    first_line : int
        Line of the first row.
    time_s : array
        Seconds since 1970, of the zone that the log is written in. [s]
    drive : array of int, or None
        Index into the reader's names.
    size_bytes : array, or None
        Bytes moved. [B]
    is_write : array of bool, or None
        Whether the access writes.
    """

    first_line: int
    time_s: Floats
    drive: npt.NDArray[np.int64] | None = None
    size_bytes: Floats | None = None
    is_write: npt.NDArray[np.bool_] | None = None


class LogReader:
    """Reads one log, block by block; knows the drives' names met so far."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.names: list[str] = []
        self.columns: tuple[str, ...] = ()
        self._delimiter = b","

    def pieces(self) -> Iterator[Piece]:
        """Yield the rows of the log, some ten thousand at a time.

        Raises
        ------
        InputError
            If the file cannot be read or rows cannot be understood.
        """
        try:
            with self.path.open("rb") as file:
                yield from self._blocks(file)
        except FileNotFoundError:
            remedy = "Check the name and the folder."
            raise fault_of(self.path, "does not exist", remedy) from None
        except IsADirectoryError:
            problem = "is a folder; expected a file"
            raise fault_of(self.path, problem, "Name a file.") from None
        except OSError as error:
            problem = f"cannot be read ({error.strerror or error})"
            raise fault_of(self.path, problem, "Check its permissions.") from None

    def _blocks(self, file: IO[bytes]) -> Iterator[Piece]:
        line = self._head(file)
        rest = b""
        while True:
            block = file.read(_BLOCK_BYTES)
            text = rest + block
            if not text:
                return
            cut = text.rfind(b"\n") + 1 if block else len(text)
            rest, text = text[cut:], text[:cut]
            if text:
                if b"\r" in text:
                    text = text.replace(b"\r\n", b"\n")
                yield self._piece(text, line)
                line += text.count(b"\n")

    def _head(self, file: IO[bytes]) -> int:
        """Read the head; return the line on which the rows begin."""
        number, text = 0, b"\n"
        while text.strip() == b"" or text.startswith(b"#"):
            text = file.readline(1 << 16)
            number += 1
            if not text:
                problem = "holds no rows"
                raise fault_of(self.path, problem, _HEAD_REMEDY, line=1)
        try:
            head = text.decode("utf-8-sig").strip().lower()
        except UnicodeDecodeError:
            problem = "is not UTF-8 text"
            raise fault_of(self.path, problem, _HEAD_REMEDY, line=number) from None
        self._delimiter = next((d for d in (b",", b";", b"\t") if d in text), b",")
        names = [n.strip().strip('"') for n in head.split(self._delimiter.decode())]
        self.columns = tuple(names)
        if "time" not in names or len(set(names)) < len(names):
            fault = Fault(
                path=str(self.path),
                line=number,
                value=head[:80],
                problem="has no column 'time', or one twice",
                remedy=_HEAD_REMEDY,
            )
            raise InputError([fault])
        return number + 1

    def _piece(self, text: bytes, line: int) -> Piece:
        try:
            fast = self._fast(text, line)
        except ValueError:
            fast = None
        return fast or self._slow(text, line)

    def _fast(self, text: bytes, line: int) -> Piece | None:
        """Return the piece of a plain block, or nothing where it is not plain."""
        if b'"' in text or not text.endswith(b"\n"):
            return None
        buffer = np.frombuffer(text + bytes(_WIDEST), np.uint8)
        is_end = buffer == _NEWLINE
        marks = np.flatnonzero(is_end | (buffer == self._delimiter[0]))
        width = len(self.columns)
        if marks.size % width:
            return None
        ends = marks.reshape(-1, width)
        if not (is_end[ends[:, -1]].all() and is_end.sum() == len(ends)):
            return None
        starts = np.concatenate(([-1], ends[:-1, -1])) + 1
        cells = {}
        for k, name in enumerate(self.columns):
            if name in COLUMNS:
                begin = ends[:, k - 1] + 1 if k else starts
                cells[name] = _cells(buffer, begin, ends[:, k])
        return self._converted(cells, line)

    def _converted(self, cells: Mapping[str, Raw], line: int) -> Piece:
        operation, size = cells.get("operation"), cells.get("bytes")
        drives = cells.get("drive")
        return Piece(
            first_line=line,
            time_s=_times(cells["time"]),
            drive=None if drives is None else self._codes(drives),
            size_bytes=None if size is None else _sizes(size),
            is_write=None if operation is None else _writes(operation),
        )

    def _codes(self, drives: Raw) -> npt.NDArray[np.int64]:
        codes = np.full(drives.size, -1, np.int64)
        for number, name in enumerate(self.names):
            codes[drives == name.encode()] = number
        unknown = np.unique(drives[codes < 0])
        for raw in unknown:
            name = bytes(raw).decode("utf-8", errors="replace")
            if len(self.names) >= _MOST_DRIVES:
                raise _too_many_drives(self.path)
            codes[drives == raw] = len(self.names)
            self.names.append(name)
        return codes

    def _slow(self, text: bytes, line: int) -> Piece:
        """Return the piece row by row; all faults together."""
        faults: list[Fault] = []
        rows: list[dict[str, str]] = []
        lines = text.decode("utf-8", errors="replace").split("\n")
        parser = csv.reader(lines, delimiter=self._delimiter.decode())
        for cells in parser:
            where = line + parser.line_num - 1
            if not any(cell.strip() for cell in cells):
                continue
            row = dict(zip(self.columns, (c.strip() for c in cells), strict=False))
            found = list(_row_faults(row, cells, self.columns, str(self.path), where))
            faults += found
            if len(faults) >= _MOST_FAULTS:
                break
            if not found:
                rows.append(row)
        if faults:
            raise InputError(faults)
        return self._from_rows(rows, line)

    def _from_rows(self, rows: Sequence[Mapping[str, str]], line: int) -> Piece:
        cells = {
            name: np.array([row[name].encode() for row in rows], np.bytes_)
            for name in self.columns
            if name in COLUMNS and name != "time"
        }
        times = np.array([_seconds(row["time"]) for row in rows], np.float64)
        # the times were read one by one, each with its own offset
        piece = self._converted({**cells, "time": np.array([b"0"] * len(rows))}, line)
        return Piece(
            first_line=line,
            time_s=times,
            drive=piece.drive,
            size_bytes=piece.size_bytes,
            is_write=piece.is_write,
        )


_HEAD_REMEDY = (
    "Expected a head line that names the columns: time, and drive, bytes, operation "
    "(read or write) where they are known."
)


def _cells(
    buffer: npt.NDArray[np.uint8],
    begin: npt.NDArray[np.int64],
    end: npt.NDArray[np.int64],
) -> Raw:
    """Return one column's cells, cut out of the block."""
    widths = end - begin
    widest = int(widths.max())
    if widest > _WIDEST or int(widths.min()) < 1:
        msg = "a cell is blank or longer than the fast way takes"
        raise ValueError(msg)
    cells = sliding_window_view(buffer, widest)[begin]
    if int(widths.min()) < widest:
        cells[np.arange(widest) >= widths[:, None]] = 0
    return cells.view(f"S{widest}").ravel()


def _times(raw: Raw) -> Floats:
    """Return seconds since 1970 of ISO times of one zone, or of plain seconds. [s]."""
    first = bytes(raw[0])
    if b"-" not in first[1:]:
        return _finite(raw.astype(np.float64))
    if first.endswith(b"Z"):
        if not np.char.endswith(raw, b"Z").all():
            msg = "times with and without a zone"
            raise ValueError(msg)
        raw = np.char.rstrip(raw, b"Z")
    with warnings.catch_warnings():
        # numpy only warns of offsets; such times are read one by one
        warnings.simplefilter("error")
        try:
            whole = raw.astype("datetime64[us]")
        except Warning as warning:
            raise ValueError(str(warning)) from None
    if np.isnat(whole).any():
        msg = "no time"
        raise ValueError(msg)
    return whole.astype(np.int64) / _MICRO


def _sizes(raw: Raw) -> Floats:
    sizes = _finite(raw.astype(np.float64))
    if sizes.size and sizes.min() < 0:
        msg = "bytes below nothing"
        raise ValueError(msg)
    return sizes


def _finite(values: Floats) -> Floats:
    if not np.isfinite(values).all():
        msg = "no finite number"
        raise ValueError(msg)
    return values


def _writes(raw: Raw) -> npt.NDArray[np.bool_]:
    is_write: npt.NDArray[np.bool_] = raw == b"write"
    if not (is_write | (raw == b"read")).all():
        msg = "an operation that is neither read nor write"
        raise ValueError(msg)
    return is_write


def _seconds(text: str) -> float:
    """Return the seconds since 1970 of one time. [s].

    Examples
    --------
    >>> _seconds("1970-01-01T01:00:00+01:00"), _seconds("1970-01-02"), _seconds("5.5")
    (0.0, 86400.0, 5.5)
    """
    if "-" not in text[1:]:
        return float(_finite(np.array([float(text)]))[0])
    when = datetime.fromisoformat(text)
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()


def _row_faults(
    row: Mapping[str, str],
    cells: Sequence[str],
    columns: Sequence[str],
    path: str,
    line: int,
) -> Iterator[Fault]:
    if len(cells) != len(columns):
        yield Fault(
            path=path,
            line=line,
            problem=f"has {len(cells)} cells; expected {len(columns)}",
            remedy=f"The columns are {', '.join(columns)}.",
        )
        return
    for name, check, allowed in _CHECKS:
        if name not in row:
            continue
        try:
            check(row[name])
        except (ValueError, OverflowError):
            yield Fault(
                path=path,
                line=line,
                field=name,
                value=row[name],
                problem=f"is no {allowed}",
                remedy="Correct the cell or take the row out.",
            )


def _size(text: str) -> None:
    _sizes(np.array([text.encode()]))


def _operation(text: str) -> None:
    _writes(np.array([text.encode()]))


def _named(text: str) -> None:
    if not text:
        msg = "blank"
        raise ValueError(msg)


_CHECKS = (
    ("time", _seconds, "time such as 2026-03-01T18:05:00, or seconds since 1970"),
    ("drive", _named, "name of a drive"),
    ("bytes", _size, "number of bytes from 0 on"),
    ("operation", _operation, "operation; expected read or write"),
)


def _too_many_drives(path: Path) -> InputError:
    problem = f"names more than {_MOST_DRIVES} drives in its column 'drive'"
    remedy = "Name the drives there, or rename the column if it means something else."
    return fault_of(path, problem, remedy)
