"""Rows for a page from single answers, where no frontier was asked for."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from optibox.assess import Assessment
from optibox.frontier.axes import axes_of, values_of
from optibox.frontier.records import Effort, Frontier, Row, Status
from optibox.search.result import Plan

_STATUS: Mapping[str, Status] = {
    "optimal": "proven",
    "feasible": "stopped",
    "infeasible": "infeasible",
    "unknown": "unknown",
}


def with_plan(front: Frontier) -> Frontier:
    """Return a frontier in which the plan's own machine is a row.

    A short cover may do without it: it then comes last.
    """
    best = front.plan.assessment if front.plan else None
    if best is None or front.plan_number is not None:
        return front
    number = max((row.number for row in front.rows), default=0) + 1
    row = Row(
        number=number, values=values_of(best, front.axes), assessment=best, is_plan=True
    )
    return replace(front, rows=(*front.rows, row), plan_number=number)


def frontier_of(plan: Plan, others: Sequence[Assessment] = ()) -> Frontier:
    """Return machines as the rows of a frontier about which nothing is proven.

    Parameters
    ----------
    plan : Plan
        The scenario's own answer, with a machine.
    others : sequence of Assessment
        Machines to stand beside it; one with the plan's values is left out.
    """
    axes, best = axes_of(), plan.assessment
    founds = (*others, best) if best is not None else tuple(others)
    distinct = {values_of(found, axes): found for found in founds}
    ordered = sorted(distinct.items(), key=lambda pair: pair[0])
    rows = tuple(
        Row(number=n, values=values, assessment=found, is_plan=found is best)
        for n, (values, found) in enumerate(ordered, 1)
    )
    return Frontier(
        axes=axes,
        rows=rows,
        mode="cover",
        status=_STATUS[plan.status] if not others else "stopped",
        resolution=tuple(axis.resolution for axis in axes),
        factor=float("inf"),
        plan=plan,
        plan_number=next((row.number for row in rows if row.is_plan), None),
        effort=Effort(n_solves=0, n_builds=len(rows), seconds=0.0),
    )
