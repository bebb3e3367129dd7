"""How finely two values are told apart: by steps, or by a factor.

A scale maps each minimised value to a *level* and back: levels grow with the value,
and all that has no higher level than a limit's keeps that limit.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from optibox.frontier.vectors import Vector

NEAR = 1e-4
"""Share of a step by which a value may be above a grid line and still counts as on it:
money of ten thousand is compared by the evaluator to a hundred-thousandth."""


class Scale(Protocol):
    """Values as levels, and the level that is just better."""

    def levels(self, values: Sequence[float]) -> Vector:
        """Return the levels of minimised values."""
        ...

    def limit(self, axis: int, level: float) -> float:
        """Return the largest value of a level: what a limit has to be."""
        ...

    def better(self, axis: int, level: float) -> float:
        """Return the level that counts as better than one."""
        ...

    def lowest(self, axis: int) -> float:
        """Return a level below which nothing is told apart."""
        ...


@dataclass(frozen=True, slots=True)
class Steps:
    """Levels are whole numbers of a step: the set is exact to that step.

    Examples
    --------
    >>> scale = Steps((10.0,))
    >>> scale.levels((21.0,)), scale.levels((30.0,)), scale.limit(0, 3)
    ((3,), (3,), 30.0)
    """

    steps: Vector

    def levels(self, values: Sequence[float]) -> Vector:
        """Return how many steps hold each value."""
        return tuple(
            math.ceil(value / step - NEAR)
            for value, step in zip(values, self.steps, strict=True)
        )

    def limit(self, axis: int, level: float) -> float:
        """Return the largest value of a level."""
        return level * self.steps[axis]

    def better(self, axis: int, level: float) -> float:  # noqa: ARG002 - one step anywhere
        """Return the level one step below."""
        return level - 1

    def lowest(self, axis: int) -> float:  # noqa: ARG002 - no level is special
        """Return that levels have no end."""
        return -math.inf


@dataclass(frozen=True, slots=True)
class Factors:
    """Levels are logarithms: better means better by a factor.

    Values below a floor count as the floor, for a factor means nothing at zero.

    Parameters
    ----------
    floors : tuple
        Smallest value of each axis, without sign, that is told apart.
    senses : tuple
        1 where less is better, -1 where the values are negated ones.
    factor : float
        What counts as better, above 1.

    Examples
    --------
    >>> scale = Factors((1.0, 1.0), (1.0, -1.0), 2.0)
    >>> low, high = scale.levels((8.0, -8.0))
    >>> round(scale.limit(0, scale.better(0, low)), 9)
    4.0
    >>> round(scale.limit(1, scale.better(1, high)), 9)
    -16.0
    """

    floors: Vector
    senses: Vector
    factor: float

    def levels(self, values: Sequence[float]) -> Vector:
        """Return the logarithms, negative ones where more is better."""
        return tuple(
            sense * math.log(max(sense * value, floor))
            for value, sense, floor in zip(
                values, self.senses, self.floors, strict=True
            )
        )

    def limit(self, axis: int, level: float) -> float:
        """Return the largest value of a level."""
        sense = self.senses[axis]
        return sense * math.exp(sense * level)

    def better(self, axis: int, level: float) -> float:  # noqa: ARG002 - a factor anywhere
        """Return the level that is better by the factor."""
        return level - math.log(self.factor)

    def lowest(self, axis: int) -> float:
        """Return the level of the floor; more is better without end."""
        return math.log(self.floors[axis]) if self.senses[axis] > 0 else -math.inf
