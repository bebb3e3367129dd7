"""CSV text as rows of cells with the line on which each row begins.

Written by hand or saved by a spreadsheet: comma, semicolon or tab; blank lines,
lines beginning with ``#``, trailing separators and any column order are read.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from optibox.errors import Fault
from optibox.files import FORMAT

FORMAT_LINE = f"# optibox format {FORMAT}"

_FORMAT = re.compile(r"#\s*optibox format\s+(\S+)")
_SEPARATOR = re.compile(r"sep=([;,\t])\s*", re.IGNORECASE)
_QUOTE_REMEDY = "Put quotes around the whole cell and double the quotes inside it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: its non-blank cells by column, and the lines it stands on."""

    line: int
    last_line: int
    cells: dict[str, str]


@dataclass(slots=True, kw_only=True)
class Table:
    """The rows of one file with everything that is wrong with its form."""

    path: str
    takes_short_rows: bool = False
    """Whether a row may end before its last cells, which are then blank."""

    delimiter: str = ","
    header_line: int = 0
    columns: tuple[str, ...] = ()
    rows: list[Row] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def add_fault(
        self, line: int, problem: str, remedy: str, *, where: str = ""
    ) -> None:
        """Note one fault of the file's form."""
        self.faults.append(
            Fault(
                path=self.path, line=line, field=where, problem=problem, remedy=remedy
            )
        )


class _Lines:
    """The lines of a text, counted; comment lines between records are left out."""

    def __init__(self, text: str) -> None:
        self._lines = iter(io.StringIO(text, newline=""))
        self.number = 0
        self.first = 0
        self.is_at_start = True

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._next()
        while self.is_at_start and line.lstrip().startswith("#"):
            line = self._next()
        if self.is_at_start:
            self.first = self.number
        self.is_at_start = False
        return line

    def _next(self) -> str:
        line = next(self._lines)
        self.number += 1
        return line


def read_table(path: str, text: str, *, takes_short_rows: bool = False) -> Table:
    """Return the rows of a CSV text; faults of its form are collected in it."""
    table = Table(path=path, takes_short_rows=takes_short_rows)
    _check_format(table, text)
    table.delimiter = _delimiter(text)
    for first, last, cells in _records(table, text):
        if _SEPARATOR.fullmatch(table.delimiter.join(cells)):
            continue
        if not table.columns:
            table.header_line, table.columns = first, _header(table, cells, first)
        elif any(cells):
            _add_row(table, cells, first, last)
    if not table.columns and not table.faults:
        table.add_fault(
            1, "has no header row", "Write the column names, such as id,class,price."
        )
    return table


def _records(table: Table, text: str) -> Iterator[tuple[int, int, list[str]]]:
    """Yield first line, last line and cells of each record that is not blank."""
    lines = _Lines(text)
    reader = csv.reader(
        lines, delimiter=table.delimiter, skipinitialspace=True, strict=True
    )
    while True:
        lines.is_at_start = True
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return
        except csv.Error as error:
            _add_quote_fault(table, lines.first, str(error))
            return
        if any(cells):
            yield lines.first, lines.number, cells


def _add_quote_fault(table: Table, line: int, error: str) -> None:
    if "unexpected end" in error:
        problem = "begins a quoted cell that is never closed"
    elif "field larger" in error:
        problem = "holds a cell of more than 131072 characters"
    else:
        problem = "has quotes in the wrong place"
    table.add_fault(line, problem, _QUOTE_REMEDY)


def _check_format(table: Table, text: str) -> None:
    for number, line in enumerate(io.StringIO(text), start=1):
        if line.strip() and not line.startswith("#"):
            return
        found = _FORMAT.match(line)
        if found and found[1] != str(FORMAT):
            problem = f"is of an unknown format version {found[1]}; expected {FORMAT}"
            remedy = "Use the optibox that wrote the file."
            table.add_fault(number, problem, remedy, where="format")


def _delimiter(text: str) -> str:
    """Return the separator of the header row: the one that occurs most."""
    for line in io.StringIO(text):
        if found := _SEPARATOR.fullmatch(line.strip("\r\n")):
            return found[1]
        if line.strip() and not line.lstrip().startswith("#"):
            return max(",;\t", key=line.count)
    return ","


def _header(table: Table, cells: list[str], line: int) -> tuple[str, ...]:
    names = [cell.lower() for cell in cells]
    for name in dict.fromkeys(names):
        if name and names.count(name) > 1:
            table.add_fault(
                line,
                f"stands {names.count(name)} times in the header",
                "Keep one of the columns.",
                where=name,
            )
    return tuple(names)


def _add_row(table: Table, cells: list[str], first: int, last: int) -> None:
    expected = len(table.columns)
    while len(cells) > expected and not cells[-1]:
        cells.pop()
    trailing = len(table.columns) - len(_stripped(table.columns))
    least = 0 if table.takes_short_rows else expected - trailing
    if not least <= len(cells) <= expected:
        _add_length_fault(table, len(cells), first)
        return
    named = {
        name: cell
        for name, cell in zip(table.columns, cells, strict=False)
        if name and cell
    }
    orphans = [c for n, c in zip(table.columns, cells, strict=False) if c and not n]
    for cell in orphans:
        table.add_fault(
            first,
            f"has the cell {cell!r} under no column name",
            "Name the column in the header or clear the cell.",
        )
    table.rows.append(Row(line=first, last_line=last, cells=named))


def _stripped(columns: tuple[str, ...]) -> tuple[str, ...]:
    while columns and not columns[-1]:
        columns = columns[:-1]
    return columns


def _add_length_fault(table: Table, count: int, line: int) -> None:
    expected = len(_stripped(table.columns))
    remedy = "Write a separator for every blank cell."
    if count > expected:
        remedy = "Put quotes around cells that hold the separator."
    problem = f"has {count} cells where the header has {expected} columns"
    table.add_fault(line, problem, remedy)


def csv_text(
    columns: Iterable[str], rows: Iterable[dict[str, str]], *, delimiter: str = ","
) -> str:
    """Return the text of a CSV file with the format version in its first line."""
    names = list(columns)
    lines = [FORMAT_LINE, csv_line(names, delimiter)]
    lines += [csv_line([row.get(n, "") for n in names], delimiter) for row in rows]
    return "\n".join(lines) + "\n"


def csv_line(cells: Iterable[str], delimiter: str) -> str:
    """Return one row of CSV without its line end."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerow(list(cells))
    return out.getvalue().removesuffix("\r\n")
