"""What the keys of a file are, read off its record: unit, choices, neighbours."""

from collections.abc import Iterator
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from optibox.catalog.columns import Unit
from optibox.scenario.places import Loc


def field_at(record: type[BaseModel], loc: Loc) -> FieldInfo | None:
    """Return the definition of the key at a place, if there is such a key."""
    info: FieldInfo | None = None
    inner: type[BaseModel] | None = record
    for step in loc:
        if isinstance(step, int):
            continue
        info = inner.model_fields.get(step) if inner else None
        if info is None:
            return None
        inner = record_in(info.annotation)
    return info


def record_at(record: type[BaseModel], loc: Loc) -> type[BaseModel] | None:
    """Return the record whose keys stand at a place."""
    if not any(isinstance(step, str) for step in loc):
        return record
    info = field_at(record, loc)
    return record_in(info.annotation) if info else None


def record_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - a type
    """Return the record that a type holds, alone, optionally or in a tuple."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (record_in(inner) for inner in get_args(annotation))
    return next((record for record in found if record), None)


def unit_of(info: FieldInfo) -> Unit | None:
    """Return the unit and range of a key, if its type states one."""
    return next(_units([*info.metadata, info.annotation]), None)


def _units(items: Any) -> Iterator[Unit]:  # noqa: ANN401 - types and their metadata
    for item in items:
        func = getattr(item, "func", None)
        if isinstance(func, Unit):
            yield func
        yield from _units([*getattr(item, "__metadata__", ()), *_inner(item)])


def _inner(item: object) -> tuple[Any, ...]:
    # the items of a Literal are values, not types
    return () if str(get_origin(item)).endswith("Literal") else get_args(item)


def sections_with(record: type[BaseModel], key: str) -> tuple[str, ...]:
    """Return the sections of a record that have a key of this name."""
    return tuple(
        name
        for name, info in record.model_fields.items()
        if (inner := record_in(info.annotation)) and key in inner.model_fields
    )
