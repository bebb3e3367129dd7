"""Inputs, positions and machines in words."""

from collections import Counter
from collections.abc import Mapping

from optibox.build import Build, OperatingPlan
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.present.words import clean, number, share
from optibox.running.sensitivity_inputs import (
    FACTOR,
    Corner,
    Input,
    Spreads,
    factor_at,
)
from optibox.running.swap_kit import FOLLOWERS
from optibox.scenario import Scenario

NAMES: Mapping[Input, str] = {
    "tariff": "tariff",
    "prices": "prices of parts",
    "usage": "usage",
    "watts": "watts of parts",
    "factors": "factors (rates, space)",
}
_EVEN = 0.005


def input_words(name: Input) -> str:
    """Return what an input is called.

    Examples
    --------
    >>> input_words("prices"), input_words("factors.fill_limit")
    ('prices of parts', 'fill limit')
    """
    return NAMES.get(name, name.removeprefix(FACTOR).replace("_", " "))


def value_words(
    name: Input, position: float, scenario: Scenario, spreads: Spreads, currency: str
) -> str:
    """Return where an input stands, in its own unit where it has one.

    A position between bounds has no unit of its own: it is told as a share of the way.
    """
    if name == "tariff":
        prices = scenario.money.prices_by_hour()
        mean = sum(prices) / len(prices) * (1 + spreads.tariff * position)
        return f"{number(mean, 3)} {currency}/kWh"
    if name.startswith(FACTOR):
        plain = name.removeprefix(FACTOR)
        return f"{factor_at(scenario, plain, {name: position}, spreads).mid:.3g}"
    if name == "usage":
        return f"{number(1 + spreads.usage * position, 2)} times"
    if abs(position) < _EVEN:
        return "as given"
    end = "high" if position > 0 else "low"
    if abs(position) > 1 - _EVEN:
        return end
    return f"{share(abs(position))} to {end}"


def corner_words(corner: Corner) -> str:
    """Return a corner in words.

    Examples
    --------
    >>> corner_words({"tariff": 1.0, "prices": -1.0})
    'tariff high, prices of parts low'
    """
    levels = {-1.0: "low", 0.0: "mid", 1.0: "high"}
    words = [
        f"{input_words(name)} {levels.get(x, number(x, 2))}"
        for name, x in corner.items()
        if x
    ]
    return ", ".join(words) or "as given"


def machine_words(build: Build) -> str:
    """Return what tells a machine from others: its drives, board and chassis."""
    kinds = (HardDrive, SolidStateDrive, Board, Chassis)
    counts: Counter[str] = Counter()
    for kind in kinds:
        for entry in build.items:
            if isinstance(entry.item.part, kind):
                counts[clean(entry.item.part.name)] += entry.count
    return ", ".join(n_words(name, n) for name, n in counts.items())


def n_words(name: str, n: int) -> str:
    """Return a name with its count, where there is more than one.

    Examples
    --------
    >>> n_words("drive", 2)
    '2 x drive'
    """
    return name if n == 1 else f"{n} x {name}"


def difference_words(before: Build, after: Build) -> str:
    """Return how a machine differs from another: parts out and in, and operation."""
    out, into = _parts(before), _parts(after)
    gone, new = out - into, into - out
    words = []
    if gone or new:
        words.append(f"{_listed(gone) or 'nothing'} -> {_listed(new) or 'nothing'}")
    words += _operation(before.operation, after.operation)
    return "; ".join(words) or "the same parts, wired otherwise"


def _parts(build: Build) -> Counter[str]:
    counts: Counter[str] = Counter()
    for entry in build.items:
        part = entry.item.part
        if not isinstance(part, FOLLOWERS):
            counts[clean(part.name)] += entry.count
    return counts


def _listed(counts: Counter[str]) -> str:
    return " + ".join(n_words(name, n) for name, n in sorted(counts.items()))


def _operation(before: OperatingPlan, after: OperatingPlan) -> list[str]:
    words = []
    if (before.layout, before.n_parity) != (after.layout, after.n_parity):
        parity = f", {after.n_parity} parity" if after.n_parity else ""
        words.append(f"{after.layout}{parity}")
    if after.write_mode not in (before.write_mode, "plain"):
        words.append(after.write_mode)
    if before.cache != after.cache:
        words.append("no cache" if after.cache == "none" else f"{after.cache} cache")
    if before.timeout_min != after.timeout_min:
        timeout = after.timeout_min
        words.append(
            "never asleep" if timeout is None else f"asleep after {timeout:g} min"
        )
    return words
