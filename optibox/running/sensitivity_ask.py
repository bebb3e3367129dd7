"""What a person asks of a sensitivity: inputs, spreads and corners from their text."""

from collections.abc import Iterable, Mapping

from optibox.catalog.nearest import nearest
from optibox.errors import Fault, InputError
from optibox.running.sensitivity_inputs import (
    FACTOR_INPUTS,
    INPUTS,
    LEVELS,
    Corner,
    Input,
    Spreads,
)

EACH_FACTOR = "factors.each"
_KNOWN = (*INPUTS, *FACTOR_INPUTS, EACH_FACTOR)
MOST_SPREAD = 0.95
"""An input that moved by all of itself would be free, or stand still."""


def asked_inputs(text: str | None) -> tuple[Input, ...]:
    """Return the inputs named in a list with commas; all where nothing is said.

    Raises
    ------
    InputError
        For names that are no inputs, all at once.

    Examples
    --------
    >>> asked_inputs("usage, tariff")
    ('tariff', 'usage')
    """
    if text is None:
        return INPUTS
    names = [name.strip() for name in text.split(",") if name.strip()]
    faults = [_no_input("--input", name) for name in names if name not in _KNOWN]
    if not names:
        faults = [_no_input("--input", text)]
    if faults:
        raise InputError(faults)
    if EACH_FACTOR in names:
        names += FACTOR_INPUTS
    return tuple(name for name in (*INPUTS, *FACTOR_INPUTS) if name in names)


def _no_input(option: str, name: str) -> Fault:
    return Fault(
        path=option,
        value=name,
        problem=f"is no input; there are {', '.join(INPUTS)}, single factors as "
        f"factors.fill_limit, and {EACH_FACTOR} for each of them",
        remedy=nearest(name, _KNOWN),
    )


def asked_spreads(texts: Iterable[str]) -> Spreads:
    """Return spreads with those changed that are named, such as ``tariff=0.4``.

    Raises
    ------
    InputError
        For names and values that do not do, all at once.

    Examples
    --------
    >>> asked_spreads(["tariff=0.4"]).tariff
    0.4
    """
    changed: dict[str, float] = {}
    faults = []
    for text in texts:
        name, _, value = (piece.strip() for piece in text.partition("="))
        if name not in INPUTS:
            faults.append(_no_input("--spread", name))
            continue
        share = _share(value)
        if share is None:
            problem = f"is no share from 0 to {MOST_SPREAD:g}"
            remedy = "Write it as tariff=0.4: 40 per cent less and more."
            faults.append(
                Fault(
                    path="--spread",
                    field=name,
                    value=value,
                    problem=problem,
                    remedy=remedy,
                )
            )
            continue
        changed[name] = share
    if faults:
        raise InputError(faults)
    return Spreads(**changed)


def _share(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0.0 <= value <= MOST_SPREAD else None


def asked_corners(texts: Iterable[str]) -> dict[str, Corner]:
    """Return the corners named, such as ``tariff=high,prices=low``, by their text.

    Raises
    ------
    InputError
        For names and levels that do not do, all at once.

    Examples
    --------
    >>> asked_corners(["tariff=high,prices=low"])
    {'tariff=high,prices=low': {'tariff': 1.0, 'prices': -1.0}}
    """
    corners: dict[str, Corner] = {}
    faults: list[Fault] = []
    for text in texts:
        corner: dict[Input, float] = {}
        for piece in filter(None, (p.strip() for p in text.split(","))):
            name, _, level = (word.strip() for word in piece.partition("="))
            if name not in (*INPUTS, *FACTOR_INPUTS):
                faults.append(_no_input("--corner", name))
            elif level not in LEVELS:
                faults.append(_no_level(name, level))
            else:
                corner[name] = LEVELS[level]
        corners[text.strip()] = corner
    if faults:
        raise InputError(faults)
    return corners


def _no_level(name: str, level: str) -> Fault:
    return Fault(
        path="--corner",
        field=name,
        value=level,
        problem="is no level; there are low, mid, high",
        remedy="Write a corner as tariff=high,prices=low.",
    )


def with_plain_corner(corners: Mapping[str, Corner]) -> dict[str, Corner]:
    """Return corners with the inputs as given among them."""
    return {"as given": {}, **corners}
