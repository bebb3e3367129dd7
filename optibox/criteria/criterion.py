"""One thing that builds are judged by, and all that anybody has to know about it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from optibox.criteria.weights import Weights
from optibox.figures.capacity import CapacityLadder
from optibox.figures.power import WallPower
from optibox.figures.rates import Rates
from optibox.figures.terms import CostTerms
from optibox.figures.year import Year
from optibox.machine import Machine
from optibox.scenario import Scenario


class Judged(Protocol):
    """A machine with its figures: what rules look at, and what assessments hold."""

    @property
    def machine(self) -> Machine:
        """Return the machine."""

    @property
    def capacity(self) -> CapacityLadder:
        """Return its capacity."""

    @property
    def rates(self) -> Rates:
        """Return its rates."""

    @property
    def year(self) -> Year:
        """Return its year."""

    @property
    def wall(self) -> WallPower:
        """Return its watts at the wall."""

    @property
    def cost(self) -> CostTerms:
        """Return its cost over the years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """A figure of a build that can be limited, needed, made best, or traded.

    Which of these it can be follows from what is filled in: ``limit`` and ``need`` name
    the scenario's key, ``aim`` the word in ``choices.aim``, ``label`` makes it an axis of
    a frontier, and ``weights`` lets a program minimise it. Rules, bounds, search,
    frontier, explanations and texts all read it here.
    """

    name: str
    noun: str
    """The quantity in a sentence."""
    key: str
    """Key in JSON and head of a CSV column, with the unit."""
    value_of: Callable[[Judged], float]
    """The evaluator's value of it, in its unit."""
    unit: str = ""
    """Unit of its values; of money only what follows the scenario's currency."""
    is_money: bool = False
    is_maximised: bool = False
    decimals: int = 0
    """Decimals in tables."""
    step: float = 1.0
    """Values that are asked for are stated in multiples of it."""
    resolution: float = 1.0
    """Difference below which two builds count as equal on a frontier's axis."""
    tolerance: float = 0.01
    """How close bound and value of a proof must be."""

    weights: Callable[[Scenario], Weights] | None = None
    """The terms that it is a sum of; nothing where a program can only be asked for it."""
    limit: str = ""
    """Key in ``[limits]``: kept from below."""
    need: str = ""
    """Key in ``[needs]``: met from above."""
    aim: str = ""
    """Word in ``choices.aim``."""
    label: str = ""
    """Head of its column where it is an axis; nothing where it is none."""

    asked: str = ""
    """What a scenario asks for, with places for number and currency."""
    best: str = ""
    """What a build is that is proven best in it."""
    end: str = ""
    """Why a row stands at its end of a frontier."""
    better: str = "{} less"
    """How a better value is told, with a place for the difference."""
    worse: str = "{} more"

    @property
    def sign(self) -> float:
        """Return -1 where more is better: what the sign makes is minimised."""
        return -1.0 if self.is_maximised else 1.0

    @property
    def scenario_key(self) -> str:
        """Return the scenario's key that asks for it, with its section."""
        return f"needs.{self.need}" if self.need else f"limits.{self.limit}"

    def asked_of(self, scenario: Scenario) -> float | None:
        """Return the need or limit that a scenario sets, in the unit."""
        if self.need == "usable_tb":  # may be said in TiB
            return scenario.needs.capacity_tb
        record = scenario.needs if self.need else scenario.limits
        value = getattr(record, self.need or self.limit)
        return None if value is None else float(value)
