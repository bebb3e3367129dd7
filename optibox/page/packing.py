"""Data made small: what occurs several times is kept once and pointed at.

Machines of a frontier have most parts, findings and drawings in common.
"""

import json
import math
from collections import Counter
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
    [{'$': 0}, {'$': 0}]
    """
    texts: Counter[str] = Counter()
    _count(value, texts)
    shared = {text for text, n in texts.items() if n > 1 and len(text) >= _WORTH}
    pool: list[Any] = []
    places: dict[str, int] = {}
    return {"value": _pointed(value, shared, places, pool), "pool": pool}


def _count(value: Any, texts: Counter[str]) -> str:  # noqa: ANN401 - JSON
    text = _text(value)
    texts[text] += 1
    if texts[text] > 1:
        return text
    if isinstance(value, dict):
        for item in value.values():
            _count(item, texts)
    elif isinstance(value, list):
        for item in value:
            _count(item, texts)
    return text


def _pointed(
    value: Any,  # noqa: ANN401 - JSON
    shared: set[str],
    places: dict[str, int],
    pool: list[Any],
) -> Any:  # noqa: ANN401 - JSON
    text = _text(value)
    if text in places:
        return {POINTER: places[text]}
    inner = value
    if isinstance(value, dict):
        inner = {k: _pointed(v, shared, places, pool) for k, v in value.items()}
    elif isinstance(value, list):
        inner = [_pointed(v, shared, places, pool) for v in value]
    if text not in shared:
        return inner
    places[text] = len(pool)
    pool.append(inner)
    return {POINTER: places[text]}


def _text(value: Any) -> str:  # noqa: ANN401 - JSON
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
