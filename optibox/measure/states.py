"""The whole machine by state: meter beside plan, what stays unexplained and where not.

An unexplained rest is told by state and never spread over parts: only a reading with
a part taken out says anything about that part.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from optibox.figures.power import is_blocker
from optibox.measure.found import FoundFigure
from optibox.measure.leastsq import Z95
from optibox.measure.power_fit import PowerFit, supply_of, wall_of
from optibox.measure.records import STATES, PowerReading, State
from optibox.measure.unknowns import Unknown, columns

Pattern = Literal["none", "not in the drives", "in the drives", "one state alone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateGap:
    """The whole machine in one state. [W at the wall].

    Attributes
    ----------
    measured_w, error_w : float
        Mean of the readings and its standard error.
    planned_w : float
        What the catalog's figures give.
    left_w : float
        What is measured beyond the plan once measured parts count as measured.
    """

    state: State
    measured_w: float
    error_w: float
    planned_w: float
    left_w: float

    @property
    def is_real(self) -> bool:
        """Return whether what is left is beyond the meter's error."""
        return abs(self.left_w) > Z95 * self.error_w


@dataclass(frozen=True, slots=True, kw_only=True)
class PerDrive:
    """What each drive draws more while spinning than while asleep, from the totals.

    Whatever else rests with the drives is in it.
    """

    n_drives: int
    wall_w: float
    dc_w: float
    half_w: float
    """Half of the 95 % interval of ``wall_w``. [W]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unexplained:
    """Where an unexplained rest cannot be, and where it may be.

    ``suspects`` are figures never seen apart; ``hidden`` are cards of which any one
    keeps the processor awake, so that taking out another shows nothing of that loss.
    """

    pattern: Pattern
    suspects: tuple[FoundFigure, ...] = ()
    hidden: tuple[str, ...] = ()


def state_gaps(fit: PowerFit) -> tuple[StateGap, ...]:
    """Return meter beside plan for each state in which the whole machine was read."""
    known = {
        unknown: f.measured.value
        for unknown, f in fit.by_unknown.items()
        if f.measured is not None
    }
    gaps = []
    for state in STATES:
        readings = [r for r in fit.readings if r.situation.state == state]
        readings = [r for r in readings if is_whole(fit, r)]
        if readings:
            gaps.append(_gap(fit, state, readings, known))
    return tuple(gaps)


def is_whole(fit: PowerFit, reading: PowerReading) -> bool:
    """Return whether a reading was taken with everything fitted, none held still."""
    everything = {e.item.key: e.count for e in fit.machine.build.items}
    here = reading.situation
    return dict(here.fitted) == everything and not here.standing


def _gap(
    fit: PowerFit,
    state: State,
    readings: Sequence[PowerReading],
    known: dict[Unknown, float],
) -> StateGap:
    supply = supply_of(fit.machine)
    row = np.array(columns(fit.machine, fit.unknowns, readings[0].situation))
    planned = row @ np.array([u.figure.mid for u in fit.unknowns])
    informed = row @ np.array([known.get(u, u.figure.mid) for u in fit.unknowns])
    measured, error = mean_of(readings)
    return StateGap(
        state=state,
        measured_w=measured,
        error_w=error,
        planned_w=wall_of(supply, float(planned)),
        left_w=measured - wall_of(supply, float(informed)),
    )


def mean_of(readings: Sequence[PowerReading]) -> tuple[float, float]:
    """Return the weighted mean of readings and its standard error. [W]."""
    weights = [1.0 / reading.error_w**2 for reading in readings]
    total = math.fsum(weights)
    mean = math.fsum(
        w * reading.watts for w, reading in zip(weights, readings, strict=True)
    )
    return mean / total, math.sqrt(1.0 / total)


def per_drive(fit: PowerFit) -> PerDrive | None:
    """Return the difference of spinning and asleep for each drive, where both were read.

    Taken where everything else was the same; of several such places the fullest.
    """
    hard = {drive.item.key for drive in fit.machine.array}
    places: dict[tuple[tuple[str, int], ...], dict[State, list[PowerReading]]] = {}
    for reading in fit.readings:
        here = reading.situation
        if here.state in ("asleep", "spinning") and not here.standing:
            states = places.setdefault(here.fitted, {})
            states.setdefault(here.state, []).append(reading)
    both = [(fitted, s) for fitted, s in places.items() if len(s) == 2]
    counted = [
        (sum(n for key, n in fitted if key in hard), fitted, states)
        for fitted, states in both
    ]
    counted = [one for one in counted if one[0]]
    if not counted:
        return None
    n, _, states = max(counted, key=lambda one: (one[0], one[1]))
    spinning, asleep = mean_of(states["spinning"]), mean_of(states["asleep"])
    wall = (spinning[0] - asleep[0]) / n
    half = Z95 * math.hypot(spinning[1], asleep[1]) / n
    return PerDrive(n_drives=n, wall_w=wall, dc_w=wall / fit.factor, half_w=half)


def unexplained(fit: PowerFit, gaps: Sequence[StateGap]) -> Unexplained:
    """Return what the states say about an unexplained rest."""
    by_state = {gap.state: gap for gap in gaps}
    real = [gap for gap in gaps if gap.is_real]
    asleep, spinning = by_state.get("asleep"), by_state.get("spinning")
    if not real:
        return Unexplained(pattern="none")
    pattern: Pattern = "one state alone"
    if asleep is not None and spinning is not None:
        gap = abs(asleep.left_w - spinning.left_w)
        error = math.hypot(asleep.error_w, spinning.error_w)
        same = gap <= Z95 * error
        pattern = "not in the drives" if same else "in the drives"
    suspects = tuple(
        found
        for found in fit.found
        if found.measured is not None
        and (len(found.members) > 1 or found.is_base)
        and abs(found.measured.value - found.catalog.mid) > found.measured.half
    )
    return Unexplained(pattern=pattern, suspects=suspects, hidden=_hidden(fit))


def _hidden(fit: PowerFit) -> tuple[str, ...]:
    """Return the blockers where the loss of deep idle was not seen by itself."""
    seen = any(u.aspect == "deep idle" for u in fit.by_unknown)
    cards = [
        entry.item.part.name
        for entry in fit.machine.build.items
        if is_blocker(entry.item.part)
    ]
    return () if seen else tuple(cards)
