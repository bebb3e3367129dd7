"""TOML values as records and cells take them."""

from collections.abc import Mapping
from typing import Any

from optibox.catalog.columns import number_text

_LARGEST = 2**63
"""TOML v1.0.0, "Integer": 64-bit signed integers are what a reader must take."""


def frozen(value: Any) -> Any:  # noqa: ANN401 - any TOML value
    """Return a value as records hold it: tuples for lists, no endless integers.

    Examples
    --------
    >>> frozen({"a": [1, 10**400]})
    {'a': (1, inf)}
    """
    if isinstance(value, list):
        return tuple(frozen(item) for item in value)
    if isinstance(value, Mapping):
        return {key: frozen(item) for key, item in value.items()}
    is_endless = isinstance(value, int) and abs(value) > _LARGEST
    return float("inf") if is_endless else value


def cell_text(value: object) -> str:
    """Return a value as the cell that means the same.

    Examples
    --------
    >>> cell_text(True), cell_text(4.0), cell_text(["a", "b"])
    ('yes', '4', 'a | b')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number_text(value)
    if isinstance(value, list | tuple):
        return " | ".join(cell_text(item) for item in value)
    return str(value)
