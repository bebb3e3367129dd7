"""Which wall readings to take, in which order: the most worth for the minutes there are.

Parts come out one after the other and go back at the end. A step is one part taken
out with whatever must come out before it, read in the states that tell something.
The next step is the one that adds most worth a minute; without decisions to serve, the
one that narrows most. Steps that tell nothing are left out and named.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optibox.machine import Machine
from optibox.measure.decisions import Decision
from optibox.measure.leastsq import Z95
from optibox.measure.moves import (
    QUICK_BELOW_MIN,
    Move,
    Pace,
    moves_from,
    pace_for,
    situation,
)
from optibox.measure.power_fit import factor_at, supply_of, wall_of
from optibox.measure.records import Meter, Situation, State, difference_interval_w
from optibox.measure.unknowns import columns
from optibox.measure.worth import (
    Belief,
    is_open,
    open_stake,
    resolved,
    stake,
    total_worth,
)

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
    minutes : float
        Time, refitting included. [min]
    """

    situation: Situation
    removed: tuple[tuple[str, int], ...]
    refitted: tuple[tuple[str, int], ...]
    expected_w: float
    tolerance_w: float
    told: Told | None
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
    once the readings are in, should they find what is expected. ``at_stake`` is what
    knowing all watts exactly is expected to save, ``worth`` what these readings are.
    [currency]
    """

    steps: tuple[Step, ...]
    left_out: tuple[LeftOut, ...]
    pace: Pace
    error_w: float
    minutes: float
    has_decisions: bool
    n_open: int
    n_open_after: int
    at_stake: float
    worth: float
    before: Belief
    after: Belief

    @property
    def difference_w(self) -> float:
        """Return by how much a difference of two readings is uncertain, 95 %. [W]."""
        return difference_interval_w(self.error_w)


LEAST_BEARING = 0.05
"""Share of what was at stake at first that a reading must settle; judgement."""


@dataclass(frozen=True, slots=True)
class Rated:
    """What a move would do: its merit and its time.

    Merit is the share of what was at stake at first that it settles; without decisions
    it is the largest share by which it narrows a figure. [min]
    """

    merit: float
    minutes: float


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
    at_stake: float
    """In decisions that were open before the first reading. [currency]"""

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
        at_stake=open_stake(decisions, belief),
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
        at_stake=sum(stake(d, belief) for d in decisions),
        worth=total_worth(decisions, belief, draft.belief),
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
    system. The short version has no room for them: an idle machine draws most of
    its energy at rest.
    """
    if not draft.machine.array:
        return []
    rest = situation(draft.fitted, "spinning")
    pace = draft.pace
    is_short = minutes < QUICK_BELOW_MIN
    share = 0.0 if is_short else BUSY_SHARE
    room = share * minutes - pace.minutes(is_refitted=True)
    left_out, taken = list[LeftOut](), list[tuple[Situation, State]]()
    later = _with_baseline(draft)
    for state in _BUSY:
        here = situation(draft.fitted, state)
        move = Move(label=state, readings=((here, "", ""),))
        rated = rate_move(later, move)
        cost = pace.minutes(is_refitted=False)
        reason = _why_not(later, rated)
        if not reason and cost > room:
            reason = f"no time left: {cost:.0f} min more"
        if reason:
            left_out.append(LeftOut(label=f"the machine {state}", reason=reason))
        else:
            taken.append((here, state))
            room -= cost
    if taken:
        _take(
            draft,
            rest,
            _Note(purpose="rest beside work", is_booted=True, is_normal=True),
        )
    for here, state in taken:
        note = _Note(purpose=f"what {state} adds", is_normal=True)
        _take(draft, here, note)
    return left_out


def _with_baseline(draft: _Draft) -> _Draft:
    """Return a draft that knows what its baseline will tell, to rate the rest by."""
    copy = replace(draft, fitted=dict(draft.fitted), steps=[])
    _baseline(copy)
    return copy


def _why_not(draft: _Draft, rated: Rated) -> str:
    """Return why a reading is not worth its minutes; nothing where it is."""
    if not draft.decisions:
        is_telling = rated.merit >= LEAST_NARROWING
        return "" if is_telling else "the meter would tell no more than the catalog"
    if not any(is_open(d, draft.belief) for d in draft.decisions):
        return "no decision can change any more"
    return "" if rated.merit >= LEAST_BEARING else "no open decision turns on it"


def _close(draft: _Draft) -> None:
    everything = {e.item.key: e.count for e in draft.machine.build.items}
    if draft.fitted == everything:
        return
    note = _Note(purpose="baseline again: drift")
    _take(draft, situation(everything, "spinning"), note)


def _fill(draft: _Draft, minutes: float) -> list[LeftOut]:
    """Add the best moves until time or their use runs out; return what is left out."""
    while True:
        reasons, best = list[LeftOut](), list[tuple[float, str, Move]]()
        for move in moves_from(draft.machine, draft.fitted):
            rated = rate_move(draft, move)
            reason = _why_not(draft, rated)
            if not reason and draft.minutes + rated.minutes > minutes:
                reason = f"no time left: {rated.minutes:.0f} min more"
            if reason:
                reasons.append(LeftOut(label=move.label, reason=reason))
            else:
                best.append((rated.merit / rated.minutes, move.label, move))
        if not best:
            return reasons
        _apply(draft, max(best, key=lambda row: row[:2])[2])


def rate_move(draft: _Draft, move: Move) -> Rated:
    """Return what a move would do."""
    rows = np.array(
        [
            columns(draft.machine, draft.belief.unknowns, at)
            for at, _, _ in move.readings
        ]
    )
    factor = factor_at(
        supply_of(draft.machine), float(np.max(rows @ draft.belief.means))
    )
    after = draft.belief.after(rows, np.full(len(rows), draft.error_w / factor))
    minutes = draft.pace.minutes(is_refitted=True) * len(rows)
    if draft.decisions:
        settled = resolved(draft.decisions, draft.belief, after)
        merit = settled / draft.at_stake if draft.at_stake else 0.0
    else:
        merit = _narrowing(draft.belief, after, move)
    return Rated(merit, minutes)


def _narrowing(before: Belief, after: Belief, move: Move) -> float:
    """Return the share by which a move narrows the figure that it is about."""
    old = np.sqrt(np.maximum(1e-18, np.diag(before.covariance)))
    new = np.sqrt(np.maximum(0.0, np.diag(after.covariance)))
    _, key, aspect = move.readings[-1]
    about = [
        not key or (unknown.key, unknown.aspect) == (key, aspect)
        for unknown in before.unknowns
    ]
    return float(np.max((1.0 - new / old)[about], initial=0.0))


def _apply(draft: _Draft, move: Move) -> None:
    for place, key, aspect in move.readings:
        _take(draft, place, _Note(told=_told(draft, place, key, aspect)))


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
