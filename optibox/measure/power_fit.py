"""Wall readings into watts of parts, each with its interval or the reason for none."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optibox.errors import Fault, InputError
from optibox.figures.power import loss_curve
from optibox.machine import Machine
from optibox.measure.found import (
    Drift,
    Fitted,
    FoundFigure,
    Interval,
    Outlier,
    around,
)
from optibox.measure.leastsq import (
    Z95,
    Array,
    Block,
    Solution,
    block_rows,
    blocks_of,
    chi_square_95,
    solve,
    tied_to,
)
from optibox.measure.records import PowerReading
from optibox.measure.unknowns import Unknown, columns, unknowns_of
from optibox.physics.power import Supply, dc_from_wall, marginal_factor, wall_w

DRIFT_W = 0.5
"""What a session may drift without being noticed, standard deviation; judgement. [W]"""
UNBOUNDED_W = 1000.0
"""Standard deviation of what nothing is known about. [W]"""
BEYOND_DOUBT = 3.3
"""Standard errors from which a drift is beyond doubt: once in a thousand sessions."""
OUTLIER = 3.5
"""Standard errors off the other readings from which one is called an outlier;
judgement: once in two thousand good readings."""


@dataclass(frozen=True, kw_only=True)
class PowerFit:
    """Everything that the wall readings say.

    Attributes
    ----------
    found : tuple of FoundFigure
        Figures that occur in the readings.
    combined : dict of Unknown to Interval
        Readings and catalog bounds together, for every unknown.
    unseen : tuple of Unknown
        What no reading contains.
    rank, n_spare : int
        Figures that the readings determine; readings beyond that number.
    scale : float
        By how much intervals were widened since readings contradict each other.
    factor : float
        Wall watts for each watt at the parts, at the readings' mean load.
    """

    machine: Machine
    readings: tuple[PowerReading, ...]
    unknowns: tuple[Unknown, ...]
    found: tuple[FoundFigure, ...]
    combined: dict[Unknown, Interval]
    unseen: tuple[Unknown, ...]
    fitted: tuple[Fitted, ...]
    outliers: tuple[Outlier, ...]
    drift: Drift | None
    rank: int
    n_spare: int
    scale: float
    factor: float

    @cached_property
    def by_unknown(self) -> dict[Unknown, FoundFigure]:
        """Return the single figures that are determined, by unknown."""
        return {
            found.members[0]: found
            for found in self.found
            if len(found.members) == 1 and found.measured is not None
        }


@dataclass(frozen=True, kw_only=True)
class _Work:
    """The readings as rows over unknowns, at the parts."""

    rows: Array
    dc: Array
    errors: Array
    supply: Supply | None

    @property
    def factor(self) -> float:
        """Return the marginal factor at the mean load."""
        return factor_at(self.supply, float(np.mean(self.dc)))


def factor_at(supply: Supply | None, dc_w: float) -> float:
    """Return the wall watts of one more watt at the parts."""
    return 1.0 if supply is None else marginal_factor(dc_w, supply)


def supply_of(machine: Machine) -> Supply | None:
    """Return the loss curve of a machine's supply, or nothing."""
    return None if machine.supply is None else loss_curve(machine.supply)


def fit_power(
    machine: Machine, readings: Sequence[PowerReading], path: str = "readings"
) -> PowerFit:
    """Return what wall readings say about a machine's parts.

    Readings go through the inverse of the supply's loss curve, then into weighted
    least squares without negative watts. Intervals are those of the fit without
    regard to signs, cut at zero: they hold the truth as often as they say.

    Parameters
    ----------
    machine : Machine
        What was measured.
    readings : sequence of PowerReading
        At least one.
    path : str
        Their file, for faults.

    Raises
    ------
    InputError
        Where a reading is below what the supply loses without load.
    """
    unknowns = unknowns_of(machine)
    work = _work(machine, unknowns, readings, path)
    blocks = blocks_of(work.rows)
    drift, allowance = _drift(work, blocks, readings)
    solution = _solved(work, blocks, allowance)
    scale = _scale(solution)
    fitted = _FitWork(work=work, blocks=blocks, solution=solution, scale=scale)
    found = tuple(
        _figure(machine, unknowns, fitted, number) for number in range(len(blocks))
    )
    seen = {j for block in blocks for j in block.members}
    return PowerFit(
        machine=machine,
        readings=tuple(readings),
        unknowns=unknowns,
        found=found,
        combined=_combined(work, unknowns, allowance, scale),
        unseen=tuple(u for j, u in enumerate(unknowns) if j not in seen),
        fitted=_beside(work, unknowns, solution, readings),
        outliers=_outliers(solution, readings),
        drift=drift,
        rank=solution.rank - (allowance is not None),
        n_spare=solution.n_spare,
        scale=scale,
        factor=work.factor,
    )


def _work(
    machine: Machine,
    unknowns: tuple[Unknown, ...],
    readings: Sequence[PowerReading],
    path: str,
) -> _Work:
    supply = supply_of(machine)
    faults, dc = [], []
    for reading in readings:
        lost = supply.loss_fixed_w if supply else 0.0
        if reading.watts < lost:
            faults.append(_below(path, reading, lost))
            continue
        dc.append(dc_from_wall(reading.watts, supply) if supply else reading.watts)
    if faults:
        raise InputError(faults)
    rows = [columns(machine, unknowns, reading.situation) for reading in readings]
    errors = [
        reading.error_w / factor_at(supply, load)
        for reading, load in zip(readings, dc, strict=True)
    ]
    return _Work(
        rows=np.array(rows, float).reshape(len(readings), len(unknowns)),
        dc=np.array(dc),
        errors=np.array(errors),
        supply=supply,
    )


def _below(path: str, reading: PowerReading, lost: float) -> Fault:
    return Fault(
        path=path,
        line=reading.line,
        field="watts",
        value=f"{reading.watts:g}",
        problem=f"is below what the supply of the build loses without load, {lost:g} W",
        remedy="Check the reading, or loss_fixed_w of the supply in the build file.",
    )


@dataclass(frozen=True, kw_only=True)
class _Allowance:
    """What is allowed for drift: its column, and how large it may be unless seen. [W].

    A drift beyond doubt is fitted freely; below that, it is known to be within
    ``DRIFT_W`` as if that had been one more reading, so that no interval depends on
    whether a small drift was noticed.
    """

    column: Array
    error: float


def _solved(
    work: _Work, blocks: tuple[Block, ...], drift: _Allowance | None
) -> Solution:
    rows = block_rows(work.rows, blocks)
    signed = [block.is_signed for block in blocks]
    dc, errors = work.dc, work.errors
    if drift is not None:
        rows, signed = np.column_stack([rows, drift.column]), [*signed, True]
        if math.isfinite(drift.error):
            rows = np.vstack([rows, np.eye(rows.shape[1])[-1]])
            dc, errors = np.append(dc, 0.0), np.append(errors, drift.error)
    return solve(rows, dc, errors, signed=signed)


def _drift(
    work: _Work, blocks: tuple[Block, ...], readings: Sequence[PowerReading]
) -> tuple[Drift | None, _Allowance | None]:
    """Return the drift that repeated situations show, and what is allowed for it."""
    minutes = np.array([reading.minute for reading in readings])
    span = float(np.ptp(minutes)) if len(minutes) else 0.0
    if span <= 0.0:
        return None, None
    free = _Allowance(column=(minutes - minutes.min()) / span, error=math.inf)
    plain, fitted = _solved(work, blocks, None), _solved(work, blocks, free)
    if fitted.rank == plain.rank or not fitted.is_identified[-1]:
        return None, None
    factor = work.factor
    watts, error = float(fitted.free[-1]), float(fitted.errors[-1])
    is_real = abs(watts) > BEYOND_DOUBT * error
    found = Drift(watts=watts * factor, error_w=error * factor, is_real=is_real)
    known = _Allowance(column=free.column, error=DRIFT_W / factor)
    return found, (free if is_real else known)


def _scale(solution: Solution) -> float:
    """Return by how much errors must grow for the readings to agree; 1 if they do."""
    n = solution.n_spare
    if n < 1 or solution.chi_square <= chi_square_95(n):
        return 1.0
    return math.sqrt(solution.chi_square / n)


@dataclass(frozen=True, kw_only=True)
class _FitWork:
    """The rows with what was solved of them."""

    work: _Work
    blocks: tuple[Block, ...]
    solution: Solution
    scale: float


def _figure(
    machine: Machine, unknowns: tuple[Unknown, ...], fit: _FitWork, number: int
) -> FoundFigure:
    """Return what the fit says of one block."""
    block = fit.blocks[number]
    members = tuple(unknowns[j] for j in block.members)
    column = fit.work.rows[:, block.members[0]] / block.ratios[0]
    is_base = bool(np.all(np.abs(column - column[0]) < 1e-9))
    if not fit.solution.is_identified[number]:
        over = block_rows(fit.work.rows, fit.blocks)
        others = [k for k in tied_to(over, number) if k != number]
        tied = tuple(unknowns[fit.blocks[k].members[0]].name for k in others)
        return FoundFigure(
            members=members, ratios=block.ratios, measured=None, tied=tied
        )
    value, free = (
        float(found[number]) for found in (fit.solution.values, fit.solution.free)
    )
    half = Z95 * fit.scale * float(fit.solution.errors[number])
    half = math.hypot(half, value * _supply_share(machine, fit.work))
    if is_base and machine.supply is not None:
        fixed = machine.supply.loss_fixed_w
        half = math.hypot(half, (fixed.high - fixed.low) / 2.0 / abs(column[0]))
    interval = around(value, free, half, is_signed=block.is_signed)
    return FoundFigure(
        members=members, ratios=block.ratios, measured=interval, is_base=is_base
    )


def _supply_share(machine: Machine, work: _Work) -> float:
    """Return by what share all watts may be off since the supply's losses may be."""
    part = machine.supply
    if part is None:
        return 0.0
    load, rated = float(np.mean(work.dc)), part.rated_w.mid
    ends = [
        1.0 + share + 2.0 * square * load / rated
        for share, square in (
            (part.loss_share.low, part.loss_square.low),
            (part.loss_share.high, part.loss_square.high),
        )
    ]
    return (ends[1] - ends[0]) / 2.0 / work.factor


def _combined(
    work: _Work,
    unknowns: tuple[Unknown, ...],
    drift: _Allowance | None,
    scale: float,
) -> dict[Unknown, Interval]:
    """Return readings and catalog together: its bounds count as one reading each."""
    n, rows, extra = len(unknowns), work.rows, 0
    beliefs = [(u.figure.mid, u.spread_w) for u in unknowns]
    if drift is not None:
        rows, extra = np.column_stack([rows, drift.column]), 1
        beliefs.append((0.0, min(drift.error, UNBOUNDED_W)))
    solution = solve(
        np.vstack([rows, np.eye(n + extra)]),
        np.concatenate([work.dc, [mid for mid, _ in beliefs]]),
        np.concatenate([work.errors * scale, [spread for _, spread in beliefs]]),
        signed=[False] * n + [True] * extra,
    )
    return {
        unknown: around(
            float(solution.values[j]),
            float(solution.free[j]),
            Z95 * float(solution.errors[j]),
            is_signed=False,
        )
        for j, unknown in enumerate(unknowns)
    }


def _beside(
    work: _Work,
    unknowns: tuple[Unknown, ...],
    solution: Solution,
    readings: Sequence[PowerReading],
) -> tuple[Fitted, ...]:
    planned = work.rows @ np.array([u.figure.mid for u in unknowns])
    fitted = work.dc - solution.residuals[: len(work.dc)] * work.errors
    return tuple(
        Fitted(
            reading=reading,
            fitted_w=wall_of(work.supply, float(fitted[i])),
            planned_w=wall_of(work.supply, float(planned[i])),
        )
        for i, reading in enumerate(readings)
    )


def wall_of(supply: Supply | None, dc_w: float) -> float:
    """Return the power at the wall of a load at the parts. [W]."""
    return dc_w if supply is None else wall_w(max(0.0, dc_w), supply)


def _outliers(
    solution: Solution, readings: Sequence[PowerReading]
) -> tuple[Outlier, ...]:
    """Return readings far off what the others say, the farthest first."""
    found = []
    for i, reading in enumerate(readings):
        room = 1.0 - float(solution.leverages[i])
        if room < 1e-6:
            continue
        off = float(solution.residuals[i]) / math.sqrt(room)
        if abs(off) > OUTLIER:
            found.append(Outlier(line=reading.line, errors_off=off))
    return tuple(sorted(found, key=lambda one: -abs(one.errors_off)))
