"""Catalogs of any size with realistic correlations, made from the shipped one.

Each new part is a shipped one redrawn: a hidden quality makes it dearer, thriftier and
faster at the same time, and noise of its own goes on top of each figure. What fits with
what stays as it is. All figures are invented.
"""

import math
import random
from collections.abc import Callable

from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Part

PRICE_SLOPE, PRICE_NOISE = 0.12, 0.06
"""By how much a price rises with quality, and how much it scatters (logarithms)."""
WATT_SLOPE, WATT_NOISE = -0.06, 0.04
RATE_SLOPE, RATE_NOISE = 0.04, 0.02
LOSS_SLOPE, LOSS_NOISE = -0.08, 0.04
LOSSES = ("loss_fixed_w", "loss_share", "loss_square")


def synthetic(catalog: Catalog, factor: int, seed: int = 1) -> Catalog:
    """Return a catalog with ``factor`` times the parts.

    Parameters
    ----------
    catalog : Catalog
        Its parts come first, as they are.
    factor : int
        1 gives the catalog itself.
    seed : int
        The same seed gives the same catalog.
    """
    chance = random.Random(seed)
    added = [
        redrawn(part, number, chance)
        for number in range(1, factor)
        for part in catalog.parts
    ]
    return catalog.with_parts(added)


def redrawn(part: Part, number: int, chance: random.Random) -> Part:
    """Return a part like another one, with figures drawn around its own."""
    quality = chance.gauss(0.0, 1.0)
    changed: dict[str, object] = {"id": f"{part.id}-s{number}"}
    if part.name:
        changed["label"] = f"{part.name} variant {number}"
    for name in type(part).model_fields:
        figure = getattr(part, name)
        drawn = _drawn(name, quality, chance)
        if isinstance(figure, Figure) and drawn is not None:
            changed[name] = _scaled(figure, drawn)
    return part.model_copy(update=changed)


def _drawn(name: str, quality: float, chance: random.Random) -> float | None:
    """Return the factor of one figure, nothing where it stays."""
    for fits, slope, noise in _RULES:
        if fits(name):
            return math.exp(slope * quality + chance.gauss(0.0, noise))
    return None


_RULES: tuple[tuple[Callable[[str], bool], float, float], ...] = (
    (lambda name: name == "price", PRICE_SLOPE, PRICE_NOISE),
    (lambda name: name in LOSSES, LOSS_SLOPE, LOSS_NOISE),
    (
        lambda name: name.endswith("_w") and not name.startswith(("rated", "tdp")),
        WATT_SLOPE,
        WATT_NOISE,
    ),
    (lambda name: name.endswith("_mb_s"), RATE_SLOPE, RATE_NOISE),
)


def _scaled(figure: Figure, factor: float) -> Figure:
    low, mid, high = (
        round(value * factor, 4) for value in (figure.low, figure.mid, figure.high)
    )
    return Figure(low, mid, high, figure.source)
