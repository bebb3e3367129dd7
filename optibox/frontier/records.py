"""What a frontier is told by: rows, how far it is proven, where rows become cheapest."""

from dataclasses import dataclass
from typing import Literal

from optibox.assess import Assessment
from optibox.criteria import Criterion
from optibox.search.result import Plan

Status = Literal["proven", "stopped", "infeasible", "unknown"]
Mode = Literal["cover", "exact"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trade:
    """What a row gains and gives up against a neighbour in the table."""

    against: int
    """Number of the other row."""
    gains: tuple[tuple[str, float], ...]
    """Axes on which this row is better, by how much, in the axis' unit."""
    gives_up: tuple[tuple[str, float], ...]
    """Axes on which it is worse, by how much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Where a build is the cheapest in total: from, up to (infinite = for ever)."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One build of the frontier: complete, and judged by the evaluator."""

    number: int
    """Counts from 1 in the order of the first axis."""
    values: tuple[float, ...]
    """Its values in the order of the frontier's axes, each in the axis' unit."""
    assessment: Assessment
    best_in: tuple[str, ...] = ()
    """Axes on which no row is better: the ends."""
    is_plan: bool = False
    """Whether it is the plan's own optimum."""
    matters: bool = False
    """Whether it is one of the few rows that the terminal shows."""
    why: tuple[Trade, ...] = ()
    """What it gains and gives up against the row before and the row after."""
    tariff: Span | None = None
    """Mean prices of a kWh at which it is the cheapest row in total. [per kWh]"""
    horizon: Span | None = None
    """Years over which it is the cheapest row in total, whole ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of a parameter on which one build is the cheapest of all."""

    span: Span
    assessment: Assessment
    row: int | None
    """Number of its row; nothing where it is in no row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What a frontier took."""

    n_solves: int
    n_builds: int
    """Different builds that were evaluated on the way."""
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Frontier:
    """The alternatives worth considering, and how far that is proven."""

    axes: tuple[Criterion, ...]
    rows: tuple[Row, ...]
    mode: Mode
    status: Status
    resolution: tuple[float, ...]
    """Steps of the exact set, in the axes' units."""
    factor: float
    """Every build is within this factor of some row on every axis: 1.05 = 5 %.
    Infinite while nothing is proven; 1 where the set is exact."""
    progress: tuple[tuple[float, float], ...] = ()
    """When how much was proven: seconds since the start, factor."""
    n_open: int = 0
    """Regions that are not proven to hold nothing else."""
    plan: Plan | None = None
    """The plan of the scenario, by its own aim."""
    plan_number: int | None = None
    """Number of the row that is the plan's own optimum."""
    tariffs: tuple[Piece, ...] = ()
    """The cheapest build of the whole catalog at each mean price of a kWh."""
    effort: Effort
    in_play: tuple[str, ...] = ()
    """Where no build exists: the needs and limits in play, in words."""

    def row(self, number: int) -> Row:
        """Return a row by its number.

        Raises
        ------
        KeyError
            If there is no such row.
        """
        for row in self.rows:
            if row.number == number:
                return row
        raise KeyError(number)
