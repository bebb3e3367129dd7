"""Which reading to take next: the one that most narrows what is still open."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optibox.machine import Machine
from optibox.measure.decisions import Decision
from optibox.measure.leastsq import Z95
from optibox.measure.moves import FULL_PACE, Move, moves_from
from optibox.measure.power_fit import PowerFit, factor_at, supply_of
from optibox.measure.records import STATES, Meter, Situation
from optibox.measure.unknowns import Unknown, columns, unknowns_of
from optibox.measure.worth import (
    Belief,
    is_open,
    open_stake,
    prior,
    resolved,
    total_worth,
)

LEAST_SHOWN = 0.05
"""Merit below which a reading is not proposed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """A reading not yet taken.

    Attributes
    ----------
    label : str
        What to do for it, in words.
    worth : float
        What it is expected to save by turning a decision. [currency]
    narrows : Unknown
        The figure that it narrows most.
    before_w, after_w : float
        Half of that figure's 95 % range without and with it, per piece. [W DC]
    minutes : float
        Time at the full pace. [min]
    settles : float
        Share of what is at stake in open decisions that it settles; 0 without any.
    """

    label: str
    worth: float
    narrows: Unknown
    before_w: float
    after_w: float
    minutes: float
    settles: float = 0.0


def belief_after(machine: Machine, fit: PowerFit | None) -> Belief:
    """Return what is believed of a machine's watts once readings are in."""
    if fit is None:
        return prior(unknowns_of(machine))
    before = prior(fit.unknowns)
    supply = supply_of(machine)
    rows = [columns(machine, fit.unknowns, r.situation) for r in fit.readings]
    errors = [
        fit.scale * r.error_w / factor_at(supply, float(np.dot(row, before.means)))
        for r, row in zip(fit.readings, rows, strict=True)
    ]
    narrowed = before.after(np.array(rows, float), np.array(errors))
    means = np.array([fit.combined[u].value for u in fit.unknowns])
    return Belief(unknowns=fit.unknowns, means=means, covariance=narrowed.covariance)


def next_readings(
    machine: Machine,
    belief: Belief,
    meter: Meter,
    decisions: Sequence[Decision] = (),
    most: int = 3,
) -> tuple[NextReading, ...]:
    """Return the readings worth most for their minutes, the best first.

    While decisions are open they are ranked by how far they settle those, else by how
    much they narrow any figure.
    """
    still_open = [d for d in decisions if is_open(d, belief)]
    rated = []
    for move in _candidates(machine):
        found, merit = _rated(machine, belief, meter, still_open, move)
        if merit >= LEAST_SHOWN:
            rated.append((merit / found.minutes, found))
    ordered = sorted(rated, key=lambda one: (-one[0], one[1].label))
    return tuple(found for _, found in ordered[:most])


def _candidates(machine: Machine) -> Iterator[Move]:
    fitted = {entry.item.key: entry.count for entry in machine.build.items}
    pieces = tuple(sorted(fitted.items()))
    for state in STATES if machine.array else ():
        if state == "flushing" and not machine.in_role("cache"):
            continue
        here = Situation(fitted=pieces, state=state)
        yield Move(label=f"everything fitted, {state}", readings=((here, "", ""),))
    for move in moves_from(machine, fitted):
        last = move.readings[-1][0]
        gone = {k: n - last.count(k) for k, n in fitted.items()}
        names = {e.item.key: e.item.part.name for e in machine.build.items}
        out = " and ".join(
            f"{n} x {names[k]}" if n > 1 else names[k] for k, n in gone.items() if n
        )
        yield Move(label=f"without {out}, {last.state}", readings=move.readings)


def _rated(
    machine: Machine,
    belief: Belief,
    meter: Meter,
    decisions: Sequence[Decision],
    move: Move,
) -> tuple[NextReading, float]:
    """Return a reading with its merit, as the design of a sheet counts it."""
    rows = np.array(
        [columns(machine, belief.unknowns, place) for place, _, _ in move.readings]
    )
    factor = factor_at(supply_of(machine), float(np.max(rows @ belief.means)))
    errors = np.full(len(rows), meter.error_w() / factor)
    after = belief.after(rows, errors)
    old, new = (
        np.sqrt(np.maximum(0.0, np.diag(b.covariance))) for b in (belief, after)
    )
    share = 1.0 - new / np.where(old > 0.0, old, 1.0)
    best = int(np.argmax(share))
    whole = all(
        dict(place.fitted) == {e.item.key: e.count for e in machine.build.items}
        for place, _, _ in move.readings
    )
    minutes = FULL_PACE.minutes(is_refitted=not whole) * len(rows)
    settles = 0.0
    if decisions:
        settles = resolved(decisions, belief, after) / open_stake(decisions, belief)
    found = NextReading(
        label=move.label,
        worth=total_worth(decisions, belief, after),
        narrows=belief.unknowns[best],
        before_w=Z95 * float(old[best]),
        after_w=Z95 * float(new[best]),
        minutes=minutes,
        settles=settles,
    )
    return found, settles if decisions else float(share[best])
