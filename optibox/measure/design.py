"""Which wall readings to take, in which order: the most worth for the minutes there are.

Parts come out one after the other and go back at the end. A step is one part taken
out with whatever must come out before it, read in the states that tell something.
The next step is the one that adds most worth a minute; without decisions to serve, the
one that narrows most. Steps that tell nothing are left out and named.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optibox.machine import Machine
from optibox.measure.decisions import Decision
from optibox.measure.leastsq import Z95
from optibox.measure.moves import Move, Pace, moves_from, pace_for, situation
from optibox.measure.power_fit import factor_at, supply_of, wall_of
from optibox.measure.records import Meter, Situation, State, difference_interval_w
from optibox.measure.unknowns import columns
from optibox.measure.worth import Belief, is_open, total_worth

LEAST_NARROWING = 0.15
"""Share by which a reading must narrow some figure to be worth its minutes; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a reading says of one part: how well it is known before and by it. [W]."""

    key: str
    label: str
    count: int
    aspect: str
    before_w: float
    """Half of the 95 % range that the catalog leaves, per piece at the parts."""

    by_difference_w: float
    """Half of the 95 % interval that this reading's difference gives, per piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One reading of the sheet.

    Attributes
    ----------
    removed, refitted : tuple of (str, int)
        Pieces taken out and put back before it, by item key.
    expected_w, tolerance_w : float
        What the catalog predicts at the wall, and half of its 95 % range with the
        meter's error. [W]
    told : Told or None
        What it tells, nothing for a baseline.
    worth : float
        What it is expected to save by turning a decision; 0 where none is served.
    minutes : float
        Time, refitting included. [min]
    """

    situation: Situation
    removed: tuple[tuple[str, int], ...]
    refitted: tuple[tuple[str, int], ...]
    expected_w: float
    tolerance_w: float
    told: Told | None
    worth: float
    minutes: float
    purpose: str
    is_normal: bool = False
    """Whether it is taken under the normal system, the array at work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What is not measured, and why."""

    label: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Design:
    """The wall readings of a sheet.

    ``n_open`` counts the decisions that watts could turn before, ``n_open_after``
    once the readings are in.
    """

    steps: tuple[Step, ...]
    left_out: tuple[LeftOut, ...]
    pace: Pace
    error_w: float
    minutes: float
    has_decisions: bool
    n_open: int
    n_open_after: int
    before: Belief
    after: Belief

    @property
    def difference_w(self) -> float:
        """Return by how much a difference of two readings is uncertain, 95 %. [W]."""
        return difference_interval_w(self.error_w)


@dataclass(kw_only=True)
class _Draft:
    """A design under construction."""

    machine: Machine
    decisions: Sequence[Decision]
    pace: Pace
    error_w: float
    belief: Belief
    fitted: dict[str, int]
    steps: list[Step]
    minutes: float = 0.0


def design(
    machine: Machine,
    belief: Belief,
    meter: Meter,
    minutes: float,
    decisions: Sequence[Decision] = (),
) -> Design:
    """Return the wall readings to take within some minutes.

    Parameters
    ----------
    machine : Machine
        What is measured.
    belief : Belief
        What is known of its watts.
    meter : Meter
        What a reading is worth at the full pace.
    minutes : float
        Time there is, the closing baseline included. [min]
    decisions : sequence of Decision
        What the readings are to settle; none = to know the parts.
    """
    pace = pace_for(minutes)
    draft = _Draft(
        machine=machine,
        decisions=decisions,
        pace=pace,
        error_w=meter.error_w() * pace.error_factor,
        belief=belief,
        fitted={entry.item.key: entry.count for entry in machine.build.items},
        steps=[],
    )
    left_out = _busy(draft, minutes)
    _baseline(draft)
    left_out += _fill(draft, minutes - closing_minutes(pace))
    _close(draft)
    return Design(
        steps=tuple(draft.steps),
        left_out=tuple(left_out),
        pace=pace,
        error_w=draft.error_w,
        minutes=draft.minutes,
        has_decisions=bool(decisions),
        n_open=sum(is_open(d, belief) for d in decisions),
        n_open_after=sum(is_open(d, draft.belief) for d in decisions),
        before=belief,
        after=draft.belief,
    )


def closing_minutes(pace: Pace) -> float:
    """Return the time of the last reading, everything fitted again. [min]."""
    return pace.minutes(is_refitted=True)


def _baseline(draft: _Draft) -> None:
    """Add the complete machine from the boot medium that all the rest is read from."""
    here = situation(draft.fitted, "spinning")
    _take(draft, here, _Note(purpose="baseline", is_booted=True))
    if draft.machine.array:
        asleep = situation(draft.fitted, "asleep")
        _take(draft, asleep, _Note(purpose="what the drives' sleep saves"))


_BUSY: tuple[State, ...] = ("checking", "reading")
BUSY_SHARE = 1.0 / 3.0
"""Share of the minutes that readings at work may take; judgement."""


def _busy(draft: _Draft, minutes: float) -> list[LeftOut]:
    """Add readings at work under the normal system; return those left out.

    They need the array, so that they come first, beside a reading at rest of the same
    system.
    """
    if not draft.machine.array:
        return []
    rest = situation(draft.fitted, "spinning")
    pace = draft.pace
    room = BUSY_SHARE * minutes - pace.minutes(is_refitted=True)
    left_out, taken = [], []
    for state in _BUSY:
        here = situation(draft.fitted, state)
        move = Move(label=state, readings=((here, "", ""),))
        gain, narrowing, _, _ = rate_move(draft, move)
        cost = pace.minutes(is_refitted=False)
        reason = _why_not(draft, gain, narrowing)
        if not reason and cost > room:
            reason = f"no time left: {cost:.0f} min more"
        if reason:
            left_out.append(LeftOut(label=f"the machine {state}", reason=reason))
        else:
            taken.append((here, state, gain))
            room -= cost
    if taken:
        _take(
            draft,
            rest,
            _Note(purpose="rest beside work", is_booted=True, is_normal=True),
        )
    for here, state, gain in taken:
        note = _Note(purpose=f"what {state} adds", worth=gain, is_normal=True)
        _take(draft, here, note)
    return left_out


def _why_not(draft: _Draft, gain: float, narrowing: float) -> str:
    """Return why a reading is not worth its minutes; nothing where it is."""
    if draft.decisions:
        return "" if gain >= LEAST_WORTH else "cannot turn a decision"
    is_telling = narrowing >= LEAST_NARROWING
    return "" if is_telling else "the meter would tell no more than the catalog"


def _close(draft: _Draft) -> None:
    everything = {e.item.key: e.count for e in draft.machine.build.items}
    if draft.fitted == everything:
        return
    note = _Note(purpose="baseline again: drift")
    _take(draft, situation(everything, "spinning"), note)


def _fill(draft: _Draft, minutes: float) -> list[LeftOut]:
    """Add the best moves until time or worth runs out; return what is left out."""
    reasons: dict[str, str] = {}
    while True:
        moves = list(moves_from(draft.machine, draft.fitted))
        rated = []
        for move in moves:
            gain, narrowing, cost, _ = rate_move(draft, move)
            reason = _why_not(draft, gain, narrowing)
            if not reason and draft.minutes + cost > minutes:
                reason = f"no time left: {cost:.0f} min more"
            reasons[move.label] = reason
            if not reason:
                merit = gain if draft.decisions else narrowing
                rated.append((merit / cost, move, gain))
        if not rated:
            return [
                LeftOut(label=move.label, reason=reasons[move.label]) for move in moves
            ]
        _, move, gain = max(rated, key=lambda one: (one[0], one[1].label))
        _apply(draft, move, gain)


LEAST_WORTH = 0.05
"""Below five hundredths of the currency no reading is worth a walk to the meter."""


def rate_move(draft: _Draft, move: Move) -> tuple[float, float, float, Belief]:
    """Return worth, narrowing, minutes and the belief after a move."""
    rows = [
        columns(draft.machine, draft.belief.unknowns, situation)
        for situation, _, _ in move.readings
    ]
    factor = factor_at(supply_of(draft.machine), float(np.max(rows)))
    errors = np.full(len(rows), draft.error_w / factor)
    after = draft.belief.after(np.array(rows), errors)
    gain = total_worth(draft.decisions, draft.belief, after)
    minutes = sum(draft.pace.minutes(is_refitted=True) for _ in rows)
    return gain, _narrowing(draft.belief, after), minutes, after


def _narrowing(before: Belief, after: Belief) -> float:
    """Return the largest share by which a figure is narrowed."""
    old = np.sqrt(np.maximum(1e-18, np.diag(before.covariance)))
    new = np.sqrt(np.maximum(0.0, np.diag(after.covariance)))
    return float(np.max(1.0 - new / old))


def _apply(draft: _Draft, move: Move, gain: float) -> None:
    last = len(move.readings) - 1
    for number, (place, key, aspect) in enumerate(move.readings):
        told = _told(draft, place, key, aspect)
        _take(draft, place, _Note(told=told, worth=gain if number == last else 0.0))


def _told(draft: _Draft, here: Situation, key: str, aspect: str) -> Told | None:
    """Return what the difference to the reading before says of one part."""
    for j, unknown in enumerate(draft.belief.unknowns):
        if unknown.key != key or unknown.aspect != aspect:
            continue
        pieces = abs(draft.fitted.get(key, 0) - here.count(key)) or here.count(key)
        factor = factor_at(supply_of(draft.machine), float(np.sum(draft.belief.means)))
        spread = float(np.sqrt(draft.belief.covariance[j, j]))
        return Told(
            key=key,
            label=unknown.label,
            count=pieces,
            aspect=aspect,
            before_w=Z95 * spread,
            by_difference_w=difference_interval_w(draft.error_w) / factor / pieces,
        )
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Note:
    """What is said beside a reading."""

    told: Told | None = None
    purpose: str = ""
    worth: float = 0.0
    is_booted: bool = False
    is_normal: bool = False


def _take(draft: _Draft, here: Situation, note: _Note) -> None:
    """Add one reading and believe it taken."""
    fitted = dict(here.fitted)
    removed = _less(draft.fitted, fitted)
    refitted = _less(fitted, draft.fitted)
    row = np.array(columns(draft.machine, draft.belief.unknowns, here))
    supply = supply_of(draft.machine)
    load = float(row @ draft.belief.means)
    factor = factor_at(supply, load)
    spread = float(np.hypot(draft.belief.spread_w(row) * factor, draft.error_w))
    minutes = draft.pace.minutes(
        is_refitted=note.is_booted or bool(removed or refitted)
    )
    draft.steps.append(
        Step(
            situation=here,
            removed=removed,
            refitted=refitted,
            expected_w=wall_of(supply, load),
            tolerance_w=Z95 * spread,
            told=note.told,
            worth=note.worth,
            minutes=minutes,
            purpose=note.purpose,
            is_normal=note.is_normal,
        )
    )
    draft.belief = draft.belief.after(row[None, :], np.array([draft.error_w / factor]))
    draft.fitted = fitted
    draft.minutes += minutes


def _less(these: dict[str, int], those: dict[str, int]) -> tuple[tuple[str, int], ...]:
    """Return the pieces that the first count has beyond the second."""
    gaps = ((key, n - those.get(key, 0)) for key, n in these.items())
    return tuple(sorted((key, n) for key, n in gaps if n > 0))
