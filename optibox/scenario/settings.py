"""Settings for one run: ``needs.usable_tb=16`` laid over a scenario's table."""

import copy
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from optibox.errors import Fault
from optibox.scenario.messages import Origin, Place, key_text
from optibox.scenario.places import Loc

OPTION = "--set"
EITHER_OR: Mapping[Loc, Loc] = {
    ("needs", "usable_tb"): ("needs", "usable_tib"),
    ("needs", "usable_tib"): ("needs", "usable_tb"),
}
"""Keys of which a scenario has one: setting the first takes the other away."""

_STEP = r"[A-Za-z0-9_-]+(?:\[\d{1,4}\])*"
_KEY = re.compile(rf"{_STEP}(?:\.{_STEP})*")


class _NoPlaceError(ValueError):
    """A setting leads nowhere; the message says why."""


def with_settings(
    table: Mapping[str, Any], settings: Iterable[str], origin: Origin
) -> tuple[dict[str, Any], list[Fault]]:
    """Return a table with settings applied in order, and what is wrong with them.

    A value is read as TOML where it is TOML, else as text; a blank value takes the
    key away, so that its default holds again.

    Parameters
    ----------
    table : mapping
        The scenario as it was read; stays as it is.
    settings : iterable of str
        Such as ``needs.usable_tb=16`` or ``owned[0].count=3``.
    origin : Origin
        Learns which keys were set here.
    """
    changed, faults = copy.deepcopy(dict(table)), list[Fault]()
    for setting in settings:
        key, mark, text = (part.strip() for part in setting.partition("="))
        try:
            loc = _loc(key, has_value=bool(mark))
            _apply(changed, loc, text)
        except _NoPlaceError as error:
            remedy = "Write it as needs.usable_tb=16 or owned[0].count=2."
            faults.append(_fault(key, str(error), remedy))
            continue
        origin.moved[loc] = Place(path=OPTION, field=key_text(loc))
    return changed, faults


def _fault(key: str, problem: str, remedy: str) -> Fault:
    shown = key.encode("utf-8", "replace").decode()
    return Fault(path=OPTION, field=shown, problem=problem, remedy=remedy)


def _loc(key: str, *, has_value: bool) -> Loc:
    if not has_value:
        msg = "has no ="
        raise _NoPlaceError(msg)
    if not _KEY.fullmatch(key):
        msg = "is not a key"
        raise _NoPlaceError(msg)
    steps = re.findall(r"[A-Za-z0-9_-]+|\[\d+\]", key)
    return tuple(int(s[1:-1]) if s.startswith("[") else s for s in steps)


def _apply(table: dict[str, Any], loc: Loc, text: str) -> None:
    holder: Any = table
    for number, step in enumerate(loc[:-1]):
        if isinstance(holder, dict) and isinstance(step, str):
            holder = holder.setdefault(
                step, [] if isinstance(loc[number + 1], int) else {}
            )
        else:
            holder = _item(holder, step)
    last = loc[-1]
    if isinstance(last, int):
        _item(holder, last)
    elif not isinstance(holder, dict):
        msg = f"leads into {key_text(loc[:-1])}, which has no keys"
        raise _NoPlaceError(msg)
    if text:
        holder[last] = _value(text)
    else:
        _remove(holder, last)
    if text and loc in EITHER_OR:
        holder.pop(EITHER_OR[loc][-1], None)


def _item(holder: Any, step: str | int) -> Any:  # noqa: ANN401 - any TOML value
    if not isinstance(holder, list) or not isinstance(step, int):
        msg = "leads into a value that has no such keys"
        raise _NoPlaceError(msg)
    if step >= len(holder):
        msg = f"names item {step} of a list of {len(holder)}; the first one is 0"
        raise _NoPlaceError(msg)
    return holder[step]


def _remove(holder: Any, last: str | int) -> None:  # noqa: ANN401 - list or table
    if isinstance(last, int):
        del holder[last]
    else:
        holder.pop(last, None)


def _value(text: str) -> Any:  # noqa: ANN401 - any TOML value
    """Return the value of a setting; text that no file could hold is refused."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        msg = "is not UTF-8 text"
        raise _NoPlaceError(msg) from None
    try:
        found = tomllib.loads(f"x = {text}")
    except (ValueError, RecursionError):
        return text
    return found["x"] if found.keys() == {"x"} else text
