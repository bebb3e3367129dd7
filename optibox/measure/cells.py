"""Cells of a readings file into values, each with what is allowed in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from optibox.catalog.csvcells import Row
from optibox.catalog.decimals import with_points
from optibox.catalog.nearest import listed, nearest
from optibox.errors import Fault
from optibox.measure.records import STATES, TRANSFERS

_YES = frozenset({"yes", "true", "1", "y", "x"})
_NO = frozenset({"no", "false", "0", "n"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: what it holds and within which bounds.

    ``words`` are the words allowed; without any it is a number from ``lowest`` to
    ``highest`` in ``unit``, or text where there is no highest either.
    """

    meaning: str
    lowest: float = 0.0
    highest: float | None = None
    unit: str = ""
    is_whole: bool = False
    words: tuple[str, ...] = ()


def _number(meaning: str, lowest: float, highest: float, unit: str = "") -> Column:
    return Column(meaning=meaning, lowest=lowest, highest=highest, unit=unit)


def _count(meaning: str, highest: float, lowest: float = 0) -> Column:
    return Column(meaning=meaning, lowest=lowest, highest=highest, is_whole=True)


def _words(meaning: str, *words: str) -> Column:
    return Column(meaning=meaning, words=words)


POWER: Mapping[str, Column] = {
    "fitted": Column(meaning="what was fitted: all, all but A | B x2, bare, or a list"),
    "removed": Column(meaning="what was taken out since the last row: A | B x2"),
    "refitted": Column(meaning="what was put back since the last row"),
    "state": _words("what the machine did", *STATES),
    "watts": _number("mean power at the wall", 0.1, 3000, "W"),
    "kwh": _number("energy at the wall, instead of watts", 0.001, 10_000, "kWh"),
    "hours": _number("over how many hours that energy was counted", 0.05, 9000, "h"),
    "meter_error_w": _number("standard error of one reading", 0.001, 100, "W"),
    "minute": _number("minutes since the first reading", 0, 100_000, "min"),
    "at_work": _count("array drives that moved data", 100),
    "standing": _count("array drives that stood still meanwhile", 100),
}
TRANSFER: Mapping[str, Column] = {
    "operation": _words("what was moved", *TRANSFERS),
    "size_gb": _number("size of the test", 0.001, 1_000_000, "GB"),
    "mb_s": _number("rate reached", 0.1, 50_000, "MB/s"),
    "fill": _number("how full the drives were", 0, 1),
    "drives": _count("drives, or files on as many drives, at once", 100, 1),
    "synced": _words(
        "writes: waited until data were on the drives; reads: memory had been emptied",
        "yes",
        "no",
    ),
    "client_mb_s": _number("what the other end manages alone", 1, 50_000, "MB/s"),
    "way": _words("over the network or within the machine", "network", "local"),
    "target": Column(meaning="the drive, where one was chosen"),
    "mode": _words(
        "write mode, where it was not the plan's", "read-modify-write", "reconstruct"
    ),
}
COUNTER: Mapping[str, Column] = {
    "drive": Column(meaning="a drive of the build, for what it counts itself"),
    "starts": _count("start/stop cycles so far", 10_000_000),
    "power_on_hours": _number("power-on hours so far", 0, 300_000, "h"),
    "pending_sectors": _count("sectors that wait for reallocation", 10**9),
    "reallocated_sectors": _count("sectors reallocated", 10**9),
    "interface_errors": _count("errors on the data cable", 10**12),
}
BOTH: Mapping[str, Column] = {
    "repeats": _count(
        "how often the reading was taken; the figure is the mean", 1000, 1
    ),
    "note": Column(meaning="anything; not read"),
}
COLUMNS: Mapping[str, Column] = {**POWER, **TRANSFER, **COUNTER, **BOTH}
EXTRA_PREFIX = "x_"
"""Columns that begin so are carried and not read."""


@dataclass(slots=True, kw_only=True)
class Cells:
    """The cells of one row, read one by one; what is wrong is noted in ``faults``."""

    path: str
    row: Row
    has_decimal_commas: bool = False
    faults: list[Fault] = field(default_factory=list)

    def has(self, *names: str) -> bool:
        """Return whether any of some cells is filled."""
        return any(name in self.row.cells for name in names)

    def text(self, name: str) -> str:
        """Return the text of a cell, empty where it is blank."""
        return self.row.cells.get(name, "")

    def fault(self, name: str, problem: str, remedy: str, value: str = "") -> None:
        """Note a fault at a cell."""
        self.faults.append(
            Fault(
                path=self.path,
                line=self.row.line,
                field=name,
                value=value or self.text(name),
                problem=problem,
                remedy=remedy,
            )
        )

    def word(self, name: str) -> str:
        """Return the word of a cell; empty where it is blank or not allowed."""
        text, words = self.text(name).lower(), COLUMNS[name].words
        if not text or text in words:
            return text
        self.fault(name, f"is none of {listed(words)}", nearest(text, words))
        return ""

    def yes_no(self, name: str) -> bool | None:
        """Return whether a cell says yes; nothing where it is blank."""
        text = self.text(name).lower()
        if not text or text in _YES | _NO:
            return text in _YES if text else None
        self.fault(name, "is neither yes nor no", "Write yes or no.")
        return None

    def whole(self, name: str) -> int | None:
        """Return the whole number of a cell; nothing where it is blank or wrong."""
        value = self.number(name)
        return None if value is None else round(value)

    def number(self, name: str) -> float | None:
        """Return the number of a cell; nothing where it is blank or wrong."""
        text = self.text(name)
        if not text:
            return None
        try:
            value = float(with_points(text, has_decimal_commas=self.has_decimal_commas))
        except ValueError as error:
            self._not_a_number(name, text, error)
            return None
        return value if self._is_allowed(name, value) else None

    def _not_a_number(self, name: str, text: str, error: ValueError) -> None:
        column = COLUMNS[name]
        if "could mean" in str(error):
            self.fault(name, str(error), "Write it without thousands marks.")
            return
        unit = f" in {column.unit}" if column.unit else ""
        digits = any(char.isdigit() for char in text)
        remedy = "Leave the unit's letters out." if digits else "Correct the cell."
        self.fault(name, f"is not a number; expected {column.meaning}{unit}", remedy)

    def _is_allowed(self, name: str, value: float) -> bool:
        column = COLUMNS[name]
        if column.is_whole and value != round(value):
            self.fault(name, "is not whole; expected a count", "Correct the count.")
            return False
        highest = column.highest or 0.0
        if column.lowest <= value <= highest:  # false for what is not a number, too
            return True
        bounds = f"{column.lowest:g} to {highest:g} {column.unit}".rstrip()
        remedy = "Correct the cell."
        if name == "fill" and 1 < value <= 100:
            remedy = f"Write it as a share: {value / 100:g}."
        problem = f"is outside the believable range; expected {bounds}"
        self.fault(name, problem, remedy)
        return False
