"""Frontier over builds: what is asked of the search, and answers as points.

``Search`` is all that the frontier wants to know about how builds are found.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from optibox.assess import Assessment
from optibox.frontier.axes import AxisName
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
    n_solves: int = 0


class Search(Protocol):
    """Finds the best build for weights on axes under limits on axes.

    ``best`` minimises the sum of weight times the evaluator's value over the axes of
    ``weights``, all of them minimised ones (purchase, running, total cost, kwh,
    asleep). Without weights any build will do. ``limits`` holds closed limits beside
    the scenario's own: at most for minimised axes, at least for the others (ingest,
    write, read, usable). ``cutoff``: builds of that value or more are of no interest.
    ``slack``: a build whose value is at most ``(1 + slack) * bound`` is good enough.
    ``deadline`` is a time of ``time.monotonic``. Each build that the evaluator finds
    fit for the scenario on the way, within the limits or not, goes to ``on_build``.
    """

    def best(
        self,
        scenario: Scenario,
        *,
        weights: Mapping[AxisName, float],
        limits: Mapping[AxisName, float],
        cutoff: float = float("inf"),
        slack: float = 0.0,
        deadline: float = float("inf"),
        on_build: OnBuild | None = None,
    ) -> Found:
        """Return the best build, or that there is none."""
        ...
