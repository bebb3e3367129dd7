"""Blank files of a kind, and the documentation of its columns as text."""

from optibox.catalog.classes import Classes
from optibox.catalog.columns import Part
from optibox.catalog.csvcells import FORMAT_LINE, csv_line
from optibox.catalog.describe import Column, columns_of
from optibox.catalog.nearest import listed

_SHORT = frozenset({"id", "class", "price"})


def template(record: type[Part], classes: Classes, *, is_full: bool = False) -> str:
    """Return a blank CSV file of a kind, its columns explained in comments.

    Parameters
    ----------
    record : type of Part
        The kind.
    classes : Classes
        The classes that its rows may name.
    is_full : bool
        All columns instead of those that distinguish a part from its class.
    """
    columns = [
        column
        for column in columns_of(record)
        if is_full or column.name in _SHORT or column.is_headline
    ]
    lines = [FORMAT_LINE, f"# kind: {record.kind}"]
    if names := classes.names(record.kind):
        lines.append(f"# classes: {listed(names)}")
    lines += [f"# {column.name}: {one_line(column)}" for column in columns]
    lines.append(csv_line([column.name for column in columns], ","))
    return "\n".join(lines) + "\n"


def one_line(column: Column) -> str:
    """Return meaning, type, range and blank of a column in one line."""
    allowed = f", {column.allowed}" if column.allowed else ""
    return f"{column.meaning} ({column.type_words}{allowed}; blank = {blank(column)})"


def blank(column: Column) -> str:
    """Return what a blank cell of a column stands for, in words."""
    if column.is_required:
        return "the class's value" if column.from_class else "not allowed"
    value = column.default_text or "nothing"
    return f"the class's value, else {value}" if column.from_class else value
