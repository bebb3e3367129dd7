"""Rows for a page from single answers, where no frontier was asked for."""

from collections.abc import Sequence

from optibox.assess import Assessment
from optibox.frontier.axes import axes_of, values_of
from optibox.frontier.records import Effort, Frontier, Row


def frontier_of(plan: Assessment, others: Sequence[Assessment] = ()) -> Frontier:
    """Return machines as the rows of a frontier about which nothing is proven.

    Parameters
    ----------
    plan : Assessment
        The plan's own answer.
    others : sequence of Assessment
        Machines to stand beside it; one with the plan's values is left out.
    """
    axes = axes_of()
    distinct = {values_of(found, axes): found for found in (*others, plan)}
    ordered = sorted(distinct.items(), key=lambda pair: pair[0])
    rows = tuple(
        Row(number=n, values=values, assessment=found, is_plan=found is plan)
        for n, (values, found) in enumerate(ordered, 1)
    )
    return Frontier(
        axes=axes,
        rows=rows,
        mode="cover",
        status="stopped",
        resolution=tuple(axis.resolution for axis in axes),
        factor=float("inf"),
        plan=plan,
        plan_number=next(row.number for row in rows if row.is_plan),
        effort=Effort(n_solves=0, n_builds=len(rows), seconds=0.0),
    )
