"""What to do about a value that cannot be used: guesses at what was meant."""

import re

from optibox.catalog.columns import Figure, Unit, number_text

_NUMBER_AND_UNIT = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-z/%]*)\s*")
_GB_PER_TB = 1000
_CENTS = 100
_ENDLESS = 1e15


def remedy_for_type(key: str, value: object, expected: str) -> str:
    """Return what to write instead of a value of the wrong type."""
    if isinstance(value, str):
        return _for_text(key, value, expected)
    if expected == "a whole number" and isinstance(value, float):
        return "Round it."
    words = {
        "a finite number": "Give a number such as 4.1.",
        "text": f'Write {key} = "{value}".',
        "a table": f"Write [{key}], then a line for each of its keys.",
        "a list in square brackets": f"Write {key} = [{value}].",
    }
    return words.get(expected, f"Write {key} = followed by {expected}.")


def _for_text(key: str, value: str, expected: str) -> str:
    found = _NUMBER_AND_UNIT.fullmatch(value)
    if expected.startswith("a list"):
        return f'Write {key} = ["{value}"].'
    if expected == "true or false" and value.lower() in ("yes", "no"):
        word = "true" if value.lower() == "yes" else "false"
        return f"Write {key} = {word}, without quotes."
    if found is None or "number" not in expected:
        return f"Write {key} = followed by {expected}, without quotes."
    number, unit = float(found[1].replace(",", ".")), found[2].lower()
    if unit == "%":
        return f"Write {key} = {number_text(number / 100)}."
    if unit == "tib" and key.endswith("_tb"):
        key = key.removesuffix("_tb") + "_tib"
    elif unit == "gb" and key.endswith("_tb"):
        number /= _GB_PER_TB
    return f"Write {key} = {number_text(number)}, without quotes and unit."


def remedy_for_range(key: str, value: object, unit: Unit | None) -> str:
    """Return what to do about a figure outside its range."""
    guess = meant(key, value, unit)
    if guess or unit is None or _number(value) is None:
        return guess or "Correct it."
    return f"Give it in {unit.symbol}." if unit.symbol else "Correct it."


def meant(key: str, value: object, unit: Unit | None) -> str:
    """Return what was probably meant by a figure outside its range, or nothing.

    Examples
    --------
    >>> meant("usable_tb", 12_000, Unit("TB", 0.01, 1000))
    'That looks like GB: write usable_tb = 12.'
    """
    number = _number(value)
    if unit is None or number is None or number <= unit.highest:
        return ""
    if unit.symbol == "" and unit.highest == 1 and number <= 100:
        return f"For {number:g} % write {key} = {number_text(number / 100)}."
    if unit.symbol == "TB" and number <= unit.highest * _GB_PER_TB:
        return f"That looks like GB: write {key} = {number_text(number / _GB_PER_TB)}."
    if unit.symbol == "per kWh" and number <= 10 * _CENTS:
        part = number_text(number / _CENTS)
        return f"That looks like hundredths of the currency: write {key} = {part}."
    return ""


def _number(value: object) -> float | None:
    if isinstance(value, Figure):
        return value.mid
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < _ENDLESS else None
