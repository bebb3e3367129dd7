"""What the columns of a kind are, read off its record.

A column's name, form, unit, range, default and meaning stand in one field
definition; reading, templates, ``catalog columns`` and the documentation all
come from here.
"""

import types
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from optibox.catalog.columns import Figure, Part, Unit, number_text
from optibox.catalog.notation import (
    Connectors,
    Lead,
    SharingRule,
    Slot,
    connectors_to_text,
    leads_to_text,
    sharing_to_text,
    slots_to_text,
)

Form = Literal[
    "figure",
    "number",
    "whole",
    "yes/no",
    "choice",
    "text",
    "words",
    "slots",
    "sharing",
    "leads",
    "connectors",
]
NUMERIC: frozenset[Form] = frozenset({"figure", "number", "whole"})
LISTS: frozenset[Form] = frozenset({"words", "slots", "sharing", "leads"})

_INTERNAL = frozenset({"extras", "defaulted"})
_NOT_FROM_CLASS = frozenset(Part.model_fields)
_SCALARS: dict[Any, Form] = {
    Figure: "figure",
    float: "number",
    int: "whole",
    bool: "yes/no",
    str: "text",
    Connectors: "connectors",
}
_TUPLES: dict[Any, Form] = {
    str: "words",
    Slot: "slots",
    SharingRule: "sharing",
    Lead: "leads",
}
_WORDS: dict[Form, str] = {
    "figure": "number or range",
    "number": "number",
    "whole": "whole number",
    "yes/no": "yes or no",
    "text": "text",
    "words": "words separated by |",
    "slots": "slots separated by |",
    "sharing": "sharing rules separated by |",
    "leads": "leads separated by |",
    "connectors": "count and connector",
}
_UNIT_OF_NAME = {
    "gb": Unit("GB", 0, 1_000_000),
    "fast_gb": Unit("GB", 0, 100_000),
    "sectors": Unit("sectors of 512 bytes", 1, 1e12),
    "bit_error_rate": Unit("per bit", 0, 1e-6),
}
"""Ranges of the columns whose record states none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a kind's file."""

    name: str
    field: str
    form: Form
    meaning: str
    unit: Unit | None = None
    choices: tuple[str | int, ...] = ()
    is_required: bool = False
    is_optional: bool = False
    is_headline: bool = False
    default: Any = None

    @property
    def is_numeric(self) -> bool:
        """Return whether its cells hold numbers, so that decimal commas may occur."""
        return self.form in NUMERIC

    @property
    def from_class(self) -> bool:
        """Return whether a class may give its value."""
        return self.field not in _NOT_FROM_CLASS

    @property
    def can_be_none(self) -> bool:
        """Return whether the cell ``none`` has a meaning of its own."""
        return self.is_optional or self.form in LISTS or "" in self.choices

    @property
    def type_words(self) -> str:
        """Return what a cell may hold, in words."""
        if self.form == "choice":
            words = ", ".join(str(choice) for choice in self.choices if choice != "")
        else:
            words = _WORDS[self.form]
        return f"{words}, or none" if self.can_be_none else words

    @property
    def allowed(self) -> str:
        """Return the believable range with its unit, or nothing."""
        if self.unit is None:
            return ""
        low, high = number_text(self.unit.lowest), number_text(self.unit.highest)
        return f"{low} to {high} {self.unit.symbol}".rstrip()

    @property
    def default_text(self) -> str:
        """Return the cell that stands for a blank, or what fills it."""
        if not self.is_required:
            return text_of(self, self.default)
        return "class" if self.from_class else "required"


def text_of(column: Column, value: Any) -> str:  # noqa: ANN401 - any column's value
    """Return the cell that reads back as ``value``; empty for an empty text."""
    if value is None or (column.can_be_none and value in ("", ())):
        return "none"
    return _write(column.form, value)


def _write(form: Form, value: Any) -> str:  # noqa: ANN401 - any column's value
    writers: dict[Form, Any] = {
        "number": number_text,
        "yes/no": lambda v: "yes" if v else "no",
        "words": " | ".join,
        "slots": slots_to_text,
        "sharing": sharing_to_text,
        "leads": leads_to_text,
        "connectors": connectors_to_text,
    }
    return str(writers.get(form, str)(value))


@cache
def columns_of(record: type[Part]) -> tuple[Column, ...]:
    """Return the columns of a kind: identity, what distinguishes it, the others."""
    every = [
        _column(record, name, info)
        for name, info in record.model_fields.items()
        if name not in _INTERNAL
    ]
    return tuple(sorted(every, key=lambda column: _rank(record, column)))


def _rank(record: type[Part], column: Column) -> int:
    if column.name in ("id", "class"):
        return 0
    if column.is_headline:
        return 1 + record.headline.index(column.field)
    if column.name == "price":
        return 50
    return 200 if column.field in Part.model_fields else 100


@cache
def column_by_name(record: type[Part]) -> dict[str, Column]:
    """Return the columns of a kind by the name that its file uses."""
    return {column.name: column for column in columns_of(record)}


def _column(record: type[Part], field: str, info: FieldInfo) -> Column:
    inner, metadata, is_optional = _unwrapped(info)
    form, choices = _form(inner)
    units = [item for item in metadata if isinstance(item, Unit)]
    units += [item.func for item in metadata if isinstance(_func(item), Unit)]
    unit = units[0] if units else _UNIT_OF_NAME.get(field)
    return Column(
        name="class" if field == "part_class" else field,
        field=field,
        form=form,
        meaning=info.description or "",
        unit=unit,
        choices=choices,
        is_required=info.is_required(),
        is_optional=is_optional,
        is_headline=field in record.headline,
        default=None if info.is_required() else info.get_default(),
    )


def _func(item: object) -> object:
    return getattr(item, "func", None)


def _unwrapped(info: FieldInfo) -> tuple[Any, list[Any], bool]:
    """Return the bare type of a field, its metadata, and whether it may be None."""
    annotation, metadata = info.annotation, list(info.metadata)
    is_optional = False
    if get_origin(annotation) in (Union, types.UnionType):
        is_optional = True
        (annotation,) = (arm for arm in get_args(annotation) if arm is not type(None))
    if hasattr(annotation, "__metadata__"):
        metadata += list(annotation.__metadata__)  # type: ignore[union-attr]
        annotation = get_args(annotation)[0]
    return annotation, metadata, is_optional


def _form(annotation: Any) -> tuple[Form, tuple[str | int, ...]]:  # noqa: ANN401 - a type
    if get_origin(annotation) is Literal:
        return "choice", get_args(annotation)
    if get_origin(annotation) is tuple:
        return _TUPLES[get_args(annotation)[0]], ()
    return _SCALARS[annotation], ()
