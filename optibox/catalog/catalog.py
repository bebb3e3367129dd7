"""A catalog: the parts to choose from, as one frozen record."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from optibox.catalog.columns import Part

P = TypeVar("P", bound=Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalog:
    """Parts of one or several catalog folders, later rows having replaced earlier."""

    name: str
    currency: str
    date: date | None
    is_invented: bool
    notes: str = ""
    folders: tuple[str, ...] = ()
    parts: tuple[Part, ...]
    postage: dict[str, float] = field(default_factory=dict)
    """Postage per seller and order. [currency]"""
    by_id: dict[str, Part] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        index = {part.id: part for part in self.parts}
        if len(index) != len(self.parts):
            msg = "two parts of one catalog share an id"
            raise ValueError(msg)
        object.__setattr__(self, "by_id", index)

    def of(self, record: type[P]) -> tuple[P, ...]:
        """Return the parts of one kind, in catalog order."""
        return tuple(part for part in self.parts if type(part) is record)

    def with_parts(self, extra: Iterable[Part]) -> "Catalog":
        """Return the catalog with parts added; same ids replace."""
        added = {part.id: part for part in extra}
        kept = tuple(added.pop(part.id, part) for part in self.parts)
        return Catalog(
            name=self.name,
            currency=self.currency,
            date=self.date,
            is_invented=self.is_invented,
            notes=self.notes,
            folders=self.folders,
            parts=kept + tuple(added.values()),
            postage=self.postage,
        )
