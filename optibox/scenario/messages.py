"""What is wrong with a file, in words: each finding at its place, with a remedy."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from optibox.catalog.columns import Unit, number_text
from optibox.catalog.nearest import nearest
from optibox.errors import Fault
from optibox.scenario.clash import CROSS
from optibox.scenario.places import Loc
from optibox.scenario.remedies import remedy_for_range, remedy_for_type
from optibox.scenario.schema import field_at, record_at, sections_with, unit_of

_LONGEST_VALUE = 60
_EXPECTED: Mapping[str, str] = {
    "float_type": "a number",
    "finite_number": "a finite number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "string_type": "text",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "dataclass_type": "a number, or a range such as 3.8..4.5",
    "dataclass_exact_type": "a number, or a range such as 3.8..4.5",
}
_TYPES: tuple[tuple[Any, str], ...] = (
    (bool, "true or false"),
    (str, "text"),
    (int | float, "a number"),
    (Mapping, "a table"),
    (list | tuple, "a list"),
    (date | time, "a day or time"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a value was written, if not in the file itself."""

    path: str
    line: int = 0
    field: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """The file that is read: its name, its lines, and what came from elsewhere."""

    path: str
    lines: Mapping[Loc, int] = field(default_factory=dict)
    moved: dict[Loc, Place] = field(default_factory=dict)

    def place(self, loc: Loc) -> Place:
        """Return where a key stands, or where its nearest parent does."""
        for length in range(len(loc), 0, -1):
            head, rest = loc[:length], loc[length:]
            if head in self.moved:
                place = self.moved[head]
                name = key_text(rest, place.field)
                return Place(path=place.path, line=place.line, field=name)
            if head in self.lines:
                return Place(path=self.path, line=self.lines[head], field=key_text(loc))
        return Place(path=self.path, field=key_text(loc))

    def fault(self, loc: Loc, problem: str, remedy: str, value: object = None) -> Fault:
        """Return a fault at a key."""
        place = self.place(loc)
        return Fault(
            path=place.path,
            line=place.line,
            field=place.field,
            value=value_text(value),
            problem=problem,
            remedy=remedy,
        )


def key_text(loc: Loc, start: str = "") -> str:
    """Return the place of a key as a person writes it.

    Examples
    --------
    >>> key_text(("owned", 0, "tb"))
    'owned[0].tb'
    """
    for step in loc:
        if isinstance(step, int):
            start += f"[{step}]"
        else:
            start += f".{step}" if start else step
    return start


def value_text(value: object) -> str:
    """Return a value as a TOML file shows it; nothing for tables."""
    if value is None or isinstance(value, Mapping | BaseModel):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        text = "[" + ", ".join(value_text(item) for item in value) + "]"
    elif isinstance(value, float):
        text = number_text(value)
    else:
        text = str(value)
    cut = text[: _LONGEST_VALUE - 3] + "..."
    return text if len(text) <= _LONGEST_VALUE else cut


def type_words(value: object) -> str:
    """Return what sort of value stands in a file."""
    for kind, name in _TYPES:
        if isinstance(value, kind):
            return name
    return "something else"


def faults_of(
    error: ValidationError, record: type[BaseModel], origin: Origin, at: Loc = ()
) -> list[Fault]:
    """Return the faults that a validation found, ``at`` being where it began."""
    return [_fault(detail, record, origin, at) for detail in error.errors()]


def _fault(
    detail: ErrorDetails, record: type[BaseModel], origin: Origin, at: Loc
) -> Fault:
    loc, value, kind = detail["loc"], detail["input"], detail["type"]
    context = detail.get("ctx", {})
    if kind == CROSS:
        loc = (*at, *loc, context["key"])
        return origin.fault(loc, context["problem"], context["remedy"])
    if kind == "extra_forbidden":
        problem, remedy = unknown_key(record, loc)
        return origin.fault((*at, *loc), problem, remedy)
    info = field_at(record, loc)
    meaning = info.description if info and info.description else ""
    if kind == "missing":
        remedy = f"Give it: {meaning[:1].lower() + meaning[1:]}."
        return origin.fault((*at, *loc), "is missing", remedy)
    problem, remedy = _words(detail, unit_of(info) if info else None)
    return origin.fault((*at, *loc), problem, remedy, value)


def _words(detail: ErrorDetails, unit: Unit | None) -> tuple[str, str]:
    kind, value = detail["type"], detail["input"]
    key = next((s for s in reversed(detail["loc"]) if isinstance(s, str)), "")
    if kind == "literal_error":
        choices = detail["ctx"]["expected"].replace("'", "")
        problem = f"is not among the values of this key; expected {choices}"
        known = choices.replace(" or ", ", ").split(", ")
        near = nearest(str(value), known)
        return problem, near if "Did you" in near else "Choose one of them."
    if kind in _EXPECTED:
        symbol = f" of {unit.symbol}" if unit and unit.symbol else ""
        problem = f"{_what(kind, value)}; expected {_EXPECTED[kind]}{symbol}"
        return problem, remedy_for_type(key, value, _EXPECTED[kind])
    message = detail["msg"].removeprefix("Value error, ")
    return message[:1].lower() + message[1:], remedy_for_range(key, value, unit)


def _what(kind: str, value: object) -> str:
    if kind == "finite_number":
        return "is not finite"
    if kind.startswith("int") and isinstance(value, float):
        return "is not whole"
    return f"is {type_words(value)}"


def unknown_key(record: type[BaseModel], loc: Loc) -> tuple[str, str]:
    """Return problem and remedy for a key that a record does not have."""
    key, parents = str(loc[-1]), loc[:-1]
    inner = record_at(record, parents) or record
    elsewhere = [name for name in sections_with(record, key) if name not in parents]
    section = next((s for s in reversed(parents) if isinstance(s, str)), "")
    problem = f"is not a key of [{section}]" if section else "is not a key of the file"
    if elsewhere:
        return problem, f"It belongs in [{elsewhere[0]}]."
    known = (*inner.model_fields, *getattr(inner, "file_only", ()))
    return problem, nearest(key, known)
