"""Frontier over builds: what is asked of the search, and answers as points.

``Search`` is all that the frontier wants to know about how builds are found.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from optibox.assess import Assessment
from optibox.scenario import Scenario

OnBuild = Callable[[Assessment], None]
Outcome = Literal["best", "none", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The answer to one question of the frontier."""

    outcome: Outcome
    """``best``: a build, proven to within the slack. ``none``: no build keeps the
    limits with a value below the cutoff, proven. ``stopped``: the deadline came."""
    assessment: Assessment | None
    """The best build found, judged under the scenario that was asked with."""
    bound: float
    """No build within the limits has a value below this; infinite where none keeps
    the limits at all, at least the cutoff where none is below it."""
    weights: Mapping[str, float] | None = None
    """What the bound is of, where the search took other weights than it was asked
    for; nothing = those of the question."""
    n_solves: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One question: weights on axes, limits on axes, and how exact to be."""

    weights: Mapping[str, float]
    """What a unit of an axis' value is worth, minimised axes alone (purchase, running,
    total cost, kwh, asleep). Empty: any build within the limits will do."""
    limits: Mapping[str, float]
    """Closed limits beside the scenario's own: at most on minimised axes, at least
    on the others (ingest, write, read, usable)."""
    cutoff: float = float("inf")
    """Builds of this value or more are of no interest."""
    slack: float = 0.0
    """A build whose value is at most ``(1 + slack) * bound`` is good enough."""
    deadline: float = float("inf")
    """A time of ``time.monotonic`` at which to stop."""


class Search(Protocol):
    """Finds the best build for a question; the value is the evaluator's.

    Each build that the evaluator finds fit for the scenario on the way, whether it
    keeps the limits of the question or not, goes to ``on_build``.
    """

    def best(
        self, scenario: Scenario, ask: Ask, on_build: OnBuild | None = None
    ) -> Found:
        """Return the best build, or that there is none."""
        ...
