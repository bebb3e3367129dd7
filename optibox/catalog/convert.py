"""Cells into values: one reader per form of column."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from optibox.catalog.columns import Figure, Source, figure_from_text, iso_day
from optibox.catalog.decimals import with_points
from optibox.catalog.describe import LISTS, Column, Form
from optibox.catalog.nearest import listed
from optibox.catalog.notation import (
    connectors_from_text,
    leads_from_text,
    sharing_from_text,
    slots_from_text,
)

CLASS_DEFAULT: Source = "class default"

_YES = frozenset({"yes", "true", "1", "x", "y"})
_NO = frozenset({"no", "false", "0", "n"})
_NOT_FINITE = re.compile(r"[+-]?(nan|inf(inity)?)", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_TOO_LONG = 2000
_MAX_ID = 60
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The text of one cell, where it stands, and where its figure is from."""

    text: str
    path: str = ""
    line: int = 0
    source: Source = "stated"
    has_decimal_commas: bool = False


def value_of(column: Column, cell: Cell) -> Any:  # noqa: ANN401 - any column's value
    """Return the value that a non-blank cell stands for.

    Raises
    ------
    ValueError
        If the cell does not fit its column; the message says what is allowed.
    """
    text = cell.text.strip()
    if column.can_be_none and text.lower() == "none" and "none" not in column.choices:
        return _nothing(column)
    value = _READERS[column.form](column, text, cell)
    return column.unit(value) if column.unit else value


def remedy_of(column: Column) -> str:
    """Return what to do about a cell of a column that cannot be used."""
    if column.field == "price":
        return "Give the amount alone, without the currency."
    if column.is_numeric and column.unit and column.unit.symbol:
        return f"Give it in {column.unit.symbol}, without the unit's letters."
    if column.form == "text":
        return "Correct the cell."
    return f"This column takes: {column.type_words}."


def _nothing(column: Column) -> object:
    if column.form in LISTS:
        return ()
    return "" if "" in column.choices else None


def _checked_number(text: str, cell: Cell) -> str:
    """Return the text with decimal points, refusing what only looks like a number."""
    if _NOT_FINITE.fullmatch(text):
        msg = "is not a finite number; expected a number such as 4.1"
        raise ValueError(msg)
    if text.endswith("%"):
        msg = "is a percentage; expected a fraction such as 0.05"
        raise ValueError(msg)
    return with_points(text, has_decimal_commas=cell.has_decimal_commas)


def _figure(_: Column, text: str, cell: Cell) -> Figure:
    return figure_from_text(_checked_number(text, cell), cell.source)


def _number(_: Column, text: str, cell: Cell) -> float:
    plain = _checked_number(text, cell)
    if not _NUMBER.fullmatch(plain):
        msg = "is not a number; expected one number such as 4.1"
        raise ValueError(msg)
    return float(plain)


def _whole(column: Column, text: str, cell: Cell) -> int:
    plain = _checked_number(text, cell)
    value = _number(column, text, cell) if _NUMBER.fullmatch(plain) else 0.5
    if value != value // 1:
        msg = "is not a whole number; expected a number such as 4"
        raise ValueError(msg)
    return int(value)


def _yes_no(_: Column, text: str, __: Cell) -> bool:
    if text.lower() in _YES | _NO:
        return text.lower() in _YES
    msg = "is neither yes nor no; expected yes, no, true, false, 1, 0 or x"
    raise ValueError(msg)


def _choice(column: Column, text: str, _: Cell) -> str | int:
    by_text = {str(choice).lower(): choice for choice in column.choices}
    low = text.lower()
    if {"yes", "no"} <= by_text.keys() and low in _YES | _NO:
        low = "yes" if low in _YES else "no"
    for candidate in (low, low.replace(",", "."), low.removesuffix(".0")):
        if candidate in by_text:
            return by_text[candidate]
    allowed = listed(str(choice) for choice in column.choices if choice != "")
    msg = f"is not among the values of this column; expected {allowed}"
    raise ValueError(msg)


def _text(column: Column, text: str, _: Cell) -> str:
    if len(text) > _TOO_LONG:
        msg = f"is {len(text)} characters long; expected at most {_TOO_LONG}"
        raise ValueError(msg)
    if column.field == "id" and not (_ID.fullmatch(text) and len(text) <= _MAX_ID):
        msg = (
            "is not an id; expected letters, digits, dot, dash and underscore, "
            f"at most {_MAX_ID}, beginning with a letter or digit"
        )
        raise ValueError(msg)
    return iso_day(text) if column.field == "price_date" else text


def _words(_: Column, text: str, __: Cell) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split("|") if word.strip())


_READERS: dict[Form, Callable[[Column, str, Cell], Any]] = {
    "figure": _figure,
    "number": _number,
    "whole": _whole,
    "yes/no": _yes_no,
    "choice": _choice,
    "text": _text,
    "words": _words,
    "slots": lambda _, text, __: slots_from_text(text),
    "sharing": lambda _, text, __: sharing_from_text(text),
    "leads": lambda _, text, __: leads_from_text(text),
    "connectors": lambda _, text, __: connectors_from_text(text),
}
