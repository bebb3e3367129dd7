"""Rows of a frontier: order, ends, what each gains and gives up, which matter."""

import math
from collections.abc import Sequence
from dataclasses import replace

from optibox.assess import Assessment
from optibox.criteria import Criterion
from optibox.frontier.axes import values_of
from optibox.frontier.records import Row, Trade
from optibox.frontier.scale import NEAR
from optibox.frontier.totals import horizon_spans, tariff_spans

MATTER = 7
"""Rows that the terminal shows."""


def rows_of(
    builds: Sequence[Assessment], axes: tuple[Criterion, ...], plan: Assessment | None
) -> tuple[Row, ...]:
    """Return builds as rows, sorted by the first axis, the best end of it first.

    Parameters
    ----------
    builds : sequence of Assessment
        None of them dominated.
    axes : tuple of Criterion
        What they are compared by.
    plan : Assessment, optional
        The plan's own optimum; the row that is as good in every axis is marked.
    """
    chosen = sorted(builds, key=lambda found: _order(found, axes))
    tariffs, horizons = tariff_spans(chosen), horizon_spans(chosen)
    rows = [
        Row(
            number=number,
            values=values_of(found, axes),
            assessment=found,
            is_plan=plan is not None and same_values(found, plan, axes),
            tariff=tariff,
            horizon=horizon,
        )
        for number, (found, tariff, horizon) in enumerate(
            zip(chosen, tariffs, horizons, strict=True), 1
        )
    ]
    rows = _with_ends(rows, axes)
    return tuple(_with_matters(_with_trades(rows, axes), axes))


def _order(found: Assessment, axes: Sequence[Criterion]) -> tuple[float, ...]:
    return tuple(axis.sign * axis.value_of(found) for axis in axes)


def same_values(one: Assessment, other: Assessment, axes: Sequence[Criterion]) -> bool:
    """Return whether two builds are the same on all axes, by rounding."""
    return all(
        abs(axis.value_of(one) - axis.value_of(other)) <= NEAR * axis.resolution
        for axis in axes
    )


def _with_ends(rows: Sequence[Row], axes: Sequence[Criterion]) -> list[Row]:
    ends: dict[int, list[str]] = {}
    for j, axis in enumerate(axes):
        if rows:
            best = min(rows, key=lambda row: (axis.sign * row.values[j], row.number))
            ends.setdefault(best.number, []).append(axis.name)
    return [replace(row, best_in=tuple(ends.get(row.number, ()))) for row in rows]


def _with_trades(rows: Sequence[Row], axes: Sequence[Criterion]) -> list[Row]:
    """Say of each row what it gains and gives up against the rows beside it."""
    told = []
    for place, row in enumerate(rows):
        beside = [rows[i] for i in (place - 1, place + 1) if 0 <= i < len(rows)]
        told.append(
            replace(row, why=tuple(trade(row, other, axes) for other in beside))
        )
    return told


def trade(row: Row, other: Row, axes: Sequence[Criterion]) -> Trade:
    """Return what a row gains and gives up against another one."""
    gains, losses = [], []
    for axis, mine, theirs in zip(axes, row.values, other.values, strict=True):
        better = axis.sign * (theirs - mine)
        if better > NEAR * axis.resolution:
            gains.append((axis.name, better))
        elif better < -NEAR * axis.resolution:
            losses.append((axis.name, -better))
    return Trade(against=other.number, gains=tuple(gains), gives_up=tuple(losses))


def _with_matters(rows: Sequence[Row], axes: Sequence[Criterion]) -> list[Row]:
    """Mark the ends, the plan's own row, and those with the largest jumps."""
    kept = {row.number for row in rows if row.best_in or row.is_plan}
    jumps = {row.number: _jump(row, rows, axes) for row in rows}
    for number in sorted(jumps, key=lambda n: (-jumps[n], n)):
        if len(kept) >= MATTER:
            break
        kept.add(number)
    return [replace(row, matters=row.number in kept) for row in rows]


def _jump(row: Row, rows: Sequence[Row], axes: Sequence[Criterion]) -> float:
    """Return how much better a row is than all before it, as a logarithm.

    Before it stand the rows that are better on the first axis: the jump is what the
    step up to this row buys for the first time.
    """
    before = rows[: row.number - 1]
    if not before:
        return math.inf
    best = 0.0
    for j, axis in enumerate(axes):
        level = _level(row.values[j], axis)
        best = max(best, min(_level(r.values[j], axis) for r in before) - level)
    return best


def _level(value: float, axis: Criterion) -> float:
    return axis.sign * math.log(max(value, axis.resolution))
