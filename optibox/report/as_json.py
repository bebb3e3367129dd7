"""Records as JSON: numbers rounded, what has no finite value as null."""

import json
import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import Any

FORMAT = 1
"""Version of the layout of each command's JSON."""

_DIGITS = 6
"""Decimals of numbers: far below what any figure is known to."""


def as_json(table: Mapping[str, Any] | Sequence[Any]) -> str:
    """Return a table as JSON text that no terminal is steered by."""
    text = json.dumps(plain(table), indent=2, ensure_ascii=False, allow_nan=False)
    return "".join(map(_shown, text)) + "\n"


def _shown(char: str) -> str:
    if char == "\n" or char.isascii() or unicodedata.category(char)[0] != "C":
        return char
    return json.dumps(char)[1:-1]


class Exact(dict[str, Any]):
    """A table whose numbers keep the digits that they have."""


def plain(value: Any) -> Any:  # noqa: ANN401 - any record or JSON value
    """Return records as tables, numbers rounded, what is not finite as null."""
    if isinstance(value, Exact):
        return value
    if is_dataclass(value) and not isinstance(value, type):
        value = asdict(value)
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, float):
        return round(value, _DIGITS) if math.isfinite(value) else None
    return value


def cents(value: float) -> float | None:
    """Return money rounded to the minor unit; null where there is none."""
    return round(value, 2) if math.isfinite(value) else None
