"""Data made small: what occurs several times is kept once and pointed at.

Machines of a frontier have most parts, findings and drawings in common.
"""

import math
from dataclasses import dataclass, field
from typing import Any

POINTER = "$"
"""The key of a table that stands for an entry of the pool."""

_WORTH = 40
"""Characters from which a pointer pays."""


def plain(value: Any, digits: int | None = None) -> Any:  # noqa: ANN401 - JSON
    """Return a value as JSON knows it: lists, and nothing for what is not finite.

    Examples
    --------
    >>> plain({"a": (1.23456, float("inf"))}, 2)
    {'a': [1.23, None]}
    """
    if isinstance(value, dict):
        return {str(key): plain(item, digits) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item, digits) for item in value]
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return value if digits is None else round(value, digits)
    return value


def lean(value: Any) -> Any:  # noqa: ANN401 - JSON
    """Return a JSON value with floats at twelve digits, far beyond what is shown.

    Examples
    --------
    >>> lean([0.1 + 0.2, 3])
    [0.3, 3]
    """
    if isinstance(value, dict):
        return {key: lean(item) for key, item in value.items()}
    if isinstance(value, list):
        return [lean(item) for item in value]
    return float(f"{value:.12g}") if isinstance(value, float) else value


def packed(value: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
    """Return a JSON value as a pool of repeated pieces and the value that uses it.

    Examples
    --------
    >>> row = {"label": "a label that is long enough to be worth sharing"}
    >>> packed([row, row])["value"]
    [{'$': 1}, {'$': 1}]
    """
    pieces = _Pieces()
    top = pieces.enter(value)
    return {"value": pieces.written(top), "pool": pieces.pool}


@dataclass(slots=True)
class _Pieces:
    """Every different piece of a value once, with how often it occurs."""

    numbers: dict[Any, int] = field(default_factory=dict)
    values: list[Any] = field(default_factory=list)
    """Leaves as they are; lists and tables as numbers of their pieces."""
    sizes: list[int] = field(default_factory=list)
    """Characters of each piece as JSON, about."""
    counts: list[int] = field(default_factory=list)
    tables: set[int] = field(default_factory=set)
    places: dict[int, int] = field(default_factory=dict)
    pool: list[Any] = field(default_factory=list)

    def enter(self, value: Any) -> int:  # noqa: ANN401 - JSON
        """Count a value and all its pieces; return its number."""
        inner: Any = value
        if isinstance(value, dict):
            inner = tuple((key, self.enter(item)) for key, item in value.items())
            size = sum(len(key) + 4 + self.sizes[n] for key, n in inner)
        elif isinstance(value, list):
            inner = tuple(self.enter(item) for item in value)
            size = sum(1 + self.sizes[n] for n in inner)
        else:
            size = len(value) + 2 if isinstance(value, str) else len(repr(value))
        number = self.numbers.setdefault((type(value), inner), len(self.values))
        if number == len(self.values):
            self.values.append(inner)
            self.sizes.append(size + 2)
            self.counts.append(0)
            if isinstance(value, dict):
                self.tables.add(number)
        self.counts[number] += 1
        return number

    def _opened(self, number: int, inner: tuple[Any, ...]) -> Any:  # noqa: ANN401
        if number in self.tables:
            return {key: self.written(n) for key, n in inner}
        return [self.written(n) for n in inner]

    def written(self, number: int) -> Any:  # noqa: ANN401 - JSON
        """Return a piece, repeated ones within it as pointers."""
        if number in self.places:
            return {POINTER: self.places[number]}
        inner = self.values[number]
        if isinstance(inner, tuple):
            inner = self._opened(number, inner)
        if self.counts[number] < 2 or self.sizes[number] < _WORTH:
            return inner
        self.places[number] = len(self.pool)
        self.pool.append(inner)
        return {POINTER: self.places[number]}
