"""Policies and timeouts in words."""

from collections.abc import Sequence
from itertools import groupby

from optibox.present.words import and_list, clean, number
from optibox.running.policy import Policy

NEVER = "never"
_CACHES = {
    "none": "no cache",
    "single": "single cache drive",
    "mirror": "mirrored cache",
}


def timeout_words(timeout_min: float | None) -> str:
    """Return a timeout as it stands in a table.

    Examples
    --------
    >>> timeout_words(10.0), timeout_words(None)
    ('10 min', 'never')
    """
    return NEVER if timeout_min is None else f"{timeout_min:g} min"


def stop_words(timeout_min: float | None) -> str:
    """Return what drives do under a timeout.

    Examples
    --------
    >>> stop_words(10.0), stop_words(None)
    ('drives stop after 10 min', 'drives never stop')
    """
    if timeout_min is None:
        return "drives never stop"
    return f"drives stop after {timeout_min:g} min"


def kind_words(policy: Policy) -> str:
    """Return write mode and cache of a policy.

    Examples
    --------
    >>> kind_words(Policy(timeout_min=5, write_mode="plain", cache="mirror"))
    'mirrored cache'
    """
    cache = _CACHES[policy.cache]
    return cache if policy.write_mode == "plain" else f"{policy.write_mode}, {cache}"


def policy_words(policy: Policy, other: Policy | None = None) -> str:
    """Return a policy; beside another one only what differs, timeout always."""
    words = [stop_words(policy.timeout_min)]
    if policy.write_mode != "plain" and (
        other is None or other.write_mode != policy.write_mode
    ):
        words.append(policy.write_mode)
    if other is None or other.cache != policy.cache:
        words.append(_CACHES[policy.cache])
    return ", ".join(words)


def drives_words(names: Sequence[str]) -> str:
    """Return names of drives, rows of numbers from the first to the last.

    Examples
    --------
    >>> drives_words(["data-1", "data-2", "data-3", "data-7", "odd"])
    'data-1 to data-3, data-7 and odd'
    """
    words: list[str] = []
    for _, run in groupby(enumerate(map(_numbered, names)), key=_run_key):
        row = [f"{stem}{number}" if number else stem for _, (stem, number) in run]
        if len(row) > 2:
            words.append(f"{row[0]} to {row[-1]}")
        else:
            words += row
    return clean(and_list(words))


def _numbered(name: str) -> tuple[str, int]:
    stem = name.rstrip("0123456789")
    digits = name[len(stem) :]
    return (stem, int(digits)) if digits and digits[0] != "0" else (name, 0)


def _run_key(place: tuple[int, tuple[str, int]]) -> tuple[str, int]:
    index, (stem, number) = place
    return stem, number - index if number else 0


def range_words(timeouts_min: list[float | None]) -> str:
    """Return timeouts from the shortest to the longest.

    Examples
    --------
    >>> range_words([10, 15, None]), range_words([10]), range_words([5, 10])
    ('any from 10 min on, and never', '10 min alone', '5 to 10 min')
    """
    minutes = sorted(t for t in timeouts_min if t is not None)
    if not minutes:
        return "never alone"
    if len(minutes) < len(timeouts_min):
        return f"any from {number(minutes[0])} min on, and never"
    if len(minutes) == 1:
        return f"{number(minutes[0])} min alone"
    return f"{number(minutes[0])} to {number(minutes[-1])} min"
