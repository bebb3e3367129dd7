"""How sure the difference between two builds is, from what is known of the inputs."""

import math
from collections.abc import Iterator
from dataclasses import replace

from optibox.assess import Assessment, assess
from optibox.build import Build, ItemCount
from optibox.catalog.columns import Figure, Part
from optibox.frontier.totals import at_tariff, mean_price

SHARE = 0.1
"""How far a price or a wattage without bounds may be off: prices move and meters
differ, a tenth is a judgement."""


def doubt_of_difference(one: Assessment, other: Assessment) -> float:
    """Return by how much the difference of two total costs may be off. [currency].

    Each figure of the parts that only one of the builds has, or has more of, is moved to
    its bounds; the tariff by a tenth. Effects count as independent of each other: the
    root of the sum of their squares. What both builds have alike cancels out.

    Parameters
    ----------
    one, other : Assessment
        Two builds under the same scenario.
    """
    squares = 0.0
    for part in _differing(one.build, other.build):
        for name, low, high in _bounds(part):
            effects = [
                _difference(one, other, part, name, value) for value in (low, high)
            ]
            squares += ((effects[1] - effects[0]) / 2) ** 2
    return math.sqrt(squares + _by_tariff(one, other) ** 2)


def _differing(one: Build, other: Build) -> Iterator[Part]:
    """Yield the parts of which the builds have not the same number."""
    counts = [
        {e.item.key: e.count for e in build.items if not e.item.is_owned}
        for build in (one, other)
    ]
    parts = {e.item.key: e.item.part for e in one.items + other.items}
    for key in sorted(counts[0].keys() | counts[1].keys()):
        if counts[0].get(key, 0) != counts[1].get(key, 0):
            yield parts[key]


def _bounds(part: Part) -> Iterator[tuple[str, float, float]]:
    """Yield the figures of a part with the bounds within which they are known."""
    for name in type(part).model_fields:
        figure = getattr(part, name)
        if not isinstance(figure, Figure):
            continue
        if figure.low < figure.high:
            yield name, figure.low, figure.high
        elif name == "price" or name.endswith("_w"):
            yield name, figure.mid * (1 - SHARE), figure.mid * (1 + SHARE)


def _difference(
    one: Assessment, other: Assessment, part: Part, name: str, value: float
) -> float:
    changed = part.model_copy(update={name: Figure(value, value, value)})
    costs = [
        assess(_with_part(found.build, changed), found.scenario).total_cost
        for found in (one, other)
    ]
    return costs[1] - costs[0]


def _with_part(build: Build, part: Part) -> Build:
    def changed(entry: ItemCount) -> ItemCount:
        if entry.item.part.id != part.id or entry.item.is_owned:
            return entry
        return replace(entry, item=replace(entry.item, part=part))

    return replace(build, items=tuple(map(changed, build.items)))


def _by_tariff(one: Assessment, other: Assessment) -> float:
    scenario = one.scenario
    dearer = at_tariff(scenario, mean_price(scenario.money) * (1 + SHARE))
    costs = [
        assess(found.build, dearer).total_cost - found.total_cost
        for found in (one, other)
    ]
    return costs[1] - costs[0]
