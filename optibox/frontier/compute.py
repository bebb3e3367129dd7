"""The frontier of a scenario: all builds worth considering, and how far that is proven."""

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.criteria import Criterion
from optibox.frontier.axes import DEFAULT_AXES, axes_of
from optibox.frontier.cover import (
    Array,
    choose,
    chosen,
    covering,
    gaps,
    proven_corners,
)
from optibox.frontier.explore import Explorer, Progress, StoppedError
from optibox.frontier.oracle import Known, Point
from optibox.frontier.question import BuildOracle
from optibox.frontier.records import Effort, Frontier, Mode, Row, Status
from optibox.frontier.rows import rows_of, same_values
from optibox.frontier.scale import Factors, Scale, Steps
from optibox.frontier.searched import BestSearch
from optibox.frontier.storage import Search
from optibox.frontier.tariffs import tariff_pieces
from optibox.frontier.vectors import Vector, nondominated
from optibox.scenario import Scenario
from optibox.search.plan import plan as plan_of
from optibox.search.result import Plan

MOST_ROWS = 40
FACTORS = (4.0, 2.0, 1.4, 1.2, 1.1, 1.05, 1.025, 1.01)
"""Factors at which a short cover is sought, one after the other: each leaves an answer
that holds, and most of what it took serves the next one."""


SLACK = 0.1
"""Share of a cover's excess by which a point may be worse than the best of its box."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What kind of frontier is asked for."""

    axes: tuple[str, ...] = DEFAULT_AXES
    mode: Mode = "cover"
    most: int = MOST_ROWS
    """Rows of a cover at most, where no factor is said."""
    factor: float | None = None
    """The factor that a cover is to reach, with as many rows as that takes."""
    resolution: Mapping[str, float] = field(default_factory=dict)
    """Steps of axes, where they are not the usual ones."""
    time_limit_s: float | None = None
    has_tariffs: bool = False
    """Whether the cheapest build of the catalog at each tariff is searched."""

    def steps(self, axes: Sequence[Criterion]) -> Vector:
        """Return the step of each axis."""
        return tuple(float(self.resolution.get(a.name, a.resolution)) for a in axes)


def frontier(  # noqa: PLR0913 - what is asked, what is known, who listens
    catalog: Catalog,
    scenario: Scenario,
    wanted: Wanted | None = None,
    *,
    plan: Plan | None = None,
    search: Search | None = None,
    on_progress: Progress | None = None,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Frontier:
    """Return the builds of a scenario that nothing beats on all axes.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    scenario : Scenario
        What is asked.
    wanted : Wanted, optional
        Axes, exact set or short cover, time; the short cover of purchase, running cost
        and ingest unless said.
    plan : Plan, optional
        The scenario's plan, where it is known already.
    search : Search, optional
        What finds builds; the planner's own unless said.
    on_progress : callable, optional
        Receives a line about what is proven now and then.
    is_stopped : callable, optional
        Returns whether the answer is wanted now, with what is proven by then.
    """
    wanted = wanted or Wanted()
    study = _Study(catalog, scenario, wanted, search or BestSearch(catalog))
    study.own = plan
    study.explorer.on_progress = on_progress
    study.explorer.is_stopped = is_stopped
    return study.run()


class _Study:
    """One frontier in the making."""

    def __init__(
        self, catalog: Catalog, scenario: Scenario, wanted: Wanted, search: Search
    ) -> None:
        self.started = time.monotonic()
        limit = wanted.time_limit_s
        self.deadline = math.inf if limit is None else self.started + limit
        self.catalog, self.scenario, self.wanted = catalog, scenario, wanted
        self.axes = axes_of(wanted.axes)
        self.steps = wanted.steps(self.axes)
        self.oracle = BuildOracle(search, scenario, self.axes)
        self.explorer: Explorer[Assessment] = Explorer(
            self.oracle, Known(), self.steps, self.deadline
        )
        self.own: Plan | None = None
        self.factor = math.inf
        self.n_open = 0
        self.is_stopped = False
        self.progress: list[tuple[float, float]] = []

    @property
    def known(self) -> Known[Assessment]:
        """Return the points and proofs so far."""
        return self.explorer.known

    def run(self) -> Frontier:
        """Plan, find the ends, then sweep."""
        own = self.own = self.own or self._plan()
        if own.assessment is None:
            is_none = own.status == "infeasible"
            return self._frontier((), "infeasible" if is_none else "unknown")
        self.oracle.keep(own.assessment)
        self.known.add(self.oracle.point(own.assessment))
        try:
            self.explorer.find_ends()
        except StoppedError:
            pass  # the sweep says what is open
        except KeyboardInterrupt:
            self.explorer.deadline = -math.inf
        sweep = self._exact if self.wanted.mode == "exact" else self._cover
        builds = sweep()
        rows = rows_of(builds, self.axes, own.assessment)
        found = self._frontier(rows, "stopped" if self.is_stopped else "proven")
        if not self.wanted.has_tariffs or self.is_stopped:
            return found
        pieces = tariff_pieces(self.scenario, self._cheapest, rows)
        return replace(found, tariffs=pieces, effort=self._effort())

    def _cheapest(self, scenario: Scenario) -> Assessment | None:
        """Return the build of least total cost, or nothing where it is not proven."""
        self.known.n_solves += 1
        choices = scenario.choices.model_copy(update={"aim": "total cost"})
        found = plan_of(
            self.catalog,
            scenario.model_copy(update={"choices": choices}),
            time_limit_s=self._left_s(),
        )
        return found.assessment if found.status == "optimal" else None

    def _plan(self) -> Plan:
        self.known.n_solves += 1
        return plan_of(self.catalog, self.scenario, time_limit_s=self._left_s())

    def _left_s(self) -> float | None:
        left = self.deadline - time.monotonic()
        return None if left == math.inf else max(0.1, left)

    def _frontier(self, rows: tuple[Row, ...], status: Status) -> Frontier:
        own = [row.number for row in rows if row.is_plan]
        return Frontier(
            axes=self.axes,
            rows=rows,
            mode=self.wanted.mode,
            status=status,
            resolution=self.steps,
            factor=self.factor,
            progress=tuple(self.progress),
            n_open=self.n_open,
            plan=self.own,
            plan_number=own[0] if own else None,
            effort=self._effort(),
            in_play=self.own.in_play if self.own else (),
        )

    def _effort(self) -> Effort:
        return Effort(
            n_solves=self.known.n_solves,
            n_builds=len(self.oracle.seen),
            seconds=time.monotonic() - self.started,
        )

    # -- the exact set

    def _exact(self) -> list[Assessment]:
        scale = Steps(self.steps)
        self.n_open = len(self.explorer.cover(scale))
        self.is_stopped = self.n_open > 0
        self._note()
        self.factor = 1.0
        if self.is_stopped:
            self.factor = math.exp(float(self._gaps().min(axis=1).max(initial=0.0)))
        return [point.payload for point in representatives(self.explorer, scale)]

    # -- the cover

    def _cover(self) -> list[Assessment]:
        target = self.wanted.factor
        factors = [f for f in FACTORS if target is None or f > target]
        for factor in factors if target is None else [*factors, target]:
            self.explorer.slack = SLACK * (factor - 1)
            self.n_open = len(self.explorer.cover(self._scale(factor)))
            self.is_stopped = self.n_open > 0
            self._note()
            if self.is_stopped or (target is None and self._is_full(factor)):
                break
        return self._choice()

    def _choice(self) -> list[Assessment]:
        """Return the rows of the cover; note the factor that they achieve."""
        gap, must = self._gaps(), self._must()
        if self.wanted.factor is not None:
            rows = covering(gap, math.log(self.wanted.factor), must)
            taken = chosen(gap, rows)
        else:
            taken = choose(gap, self.wanted.most, must)
        self.factor = taken.factor
        if math.isinf(taken.gap):
            # nothing is proven yet: the rows that tell most about the builds known
            scale = self._scale()
            levels = [scale.levels(p.values) for p in self.known.points]
            taken = choose(gaps(levels, levels), self.wanted.most, must)
        return [self.known.points[i].payload for i in taken.indices]

    def _must(self) -> list[int]:
        """Return the places of the points that every cover has: ends and plan."""
        ends = [self.explorer.end_of(j) for j in range(len(self.axes))]
        must = {self.known.points.index(point) for point in ends}
        own = self.own.assessment if self.own else None
        for place, point in enumerate(self.known.points):
            if own is not None and same_values(point.payload, own, self.axes):
                must.add(place)
        return sorted(must)

    def _note(self) -> None:
        """Note what the points known are proven to cover by now."""
        if self.known.points:
            gap = self._gaps().min(axis=1).max(initial=0.0)
            passed = time.monotonic() - self.started
            self.progress.append((passed, math.exp(float(gap))))

    def _is_full(self, factor: float) -> bool:
        """Return whether a cover to a factor takes more rows than there may be."""
        rows = covering(self._gaps(), math.log(factor), self._must())
        return len(rows) > self.wanted.most

    def _scale(self, factor: float = 2.0) -> Factors:
        return Factors(self.steps, tuple(axis.sign for axis in self.axes), factor)

    def _gaps(self) -> Array:
        """Return by how much anything may be better than each point known."""
        scale = self._scale()
        wanted = proven_corners(self.known.cuts, scale)
        return gaps([scale.levels(p.values) for p in self.known.points], wanted)


def representatives(
    explorer: Explorer[Assessment], scale: Scale
) -> list[Point[Assessment]]:
    """Return a point for each set of levels that none dominates; ends come first."""
    points = explorer.known.points
    ends = [explorer.end_of(axis) for axis in range(explorer.n_axes)]
    by_levels: dict[Vector, Point[Assessment]] = {}
    for point in [*ends, *sorted(points, key=explorer.rank)]:
        by_levels.setdefault(scale.levels(point.values), point)
    return [by_levels[levels] for levels in nondominated(by_levels)]
