"""Which wall readings to take, in which order: the most worth for the minutes there are.

Parts come out one after the other and go back at the end. A step is one part taken
out with whatever must come out before it, read in the states that tell something.
The next step is the one that adds most worth a minute; without decisions to serve, the
one that narrows most. Steps that tell nothing are left out and named.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optibox.catalog.attachment import Controller, NetworkCard, NetworkLead, Riser
from optibox.catalog.columns import Part
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.machine import Machine
from optibox.measure.decisions import Decision
from optibox.measure.leastsq import Z95
from optibox.measure.power_fit import factor_at, supply_of, wall_of
from optibox.measure.records import Meter, Situation, State, difference_interval_w
from optibox.measure.unknowns import columns
from optibox.measure.worth import Belief, is_open, total_worth

REMOVABLE: tuple[type[Part], ...] = (
    HardDrive,
    SolidStateDrive,
    NetworkCard,
    NetworkLead,
    Controller,
    Riser,
)
"""Kinds without which a board still starts."""

LEAST_NARROWING = 0.15
"""Share by which a reading must narrow some figure to be worth its minutes; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How long a reading takes.

    Attributes
    ----------
    settle_min : float
        From boot until the machine draws what it draws at rest. [min]
    average_min : float
        Over which the meter is averaged. [min]
    refit_min : float
        To switch off, unplug, take a part out or in, and start again. [min]
    error_factor : float
        By how much a reading's error grows against that of the full pace.
    """

    settle_min: float
    average_min: float
    refit_min: float
    error_factor: float = 1.0

    def minutes(self, *, is_refitted: bool) -> float:
        """Return the time of one reading. [min]."""
        if is_refitted:
            return self.refit_min + self.settle_min + self.average_min
        return self.average_min + WAIT_MIN


WAIT_MIN = 3.0
"""From one state to the next without a boot; judgement. [min]"""
FULL_PACE = Pace(settle_min=15.0, average_min=10.0, refit_min=5.0)
"""15 min after boot, 10 min of average; common practice, no source."""
QUICK_PACE = Pace(settle_min=5.0, average_min=3.0, refit_min=4.0, error_factor=1.5)
"""For an hour in all; that errors grow by half is judgement."""
QUICK_BELOW_MIN = 120.0
"""Minutes below which the quick pace is taken: the full one has room for few readings."""


def pace_for(minutes: float) -> Pace:
    """Return the pace that minutes allow."""
    return QUICK_PACE if minutes < QUICK_BELOW_MIN else FULL_PACE


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One part to take out, with the readings that go with it."""

    label: str
    readings: tuple[tuple[Situation, str, str], ...]
    """Situation, item key, aspect told."""


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
    _baseline(draft)
    left_out = _busy(draft, minutes)
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
    states: tuple[State, ...] = ("spinning", "asleep")
    if not draft.machine.array:
        states = ("spinning",)
    for number, state in enumerate(states):
        here = _situation(draft.fitted, state)
        told = _told(draft, here, _first_drive(draft.machine), "standby")
        _take(
            draft,
            here,
            None if state == "spinning" else told,
            "baseline",
            is_first=number == 0,
        )


_BUSY: tuple[State, ...] = ("checking", "reading")


def _busy(draft: _Draft, minutes: float) -> list[LeftOut]:
    """Add readings at work while everything is fitted; return those left out."""
    left_out = []
    for state in _BUSY if draft.machine.array else ():
        here = _situation(draft.fitted, state)
        move = Move(label=f"all drives {state}", readings=((here, "", ""),))
        gain, narrowing, _, _ = rate_move(draft, move)
        cost = draft.pace.minutes(is_refitted=False)
        reason = _why_not(draft, gain, narrowing)
        if draft.minutes + cost > minutes / 3.0:
            reason = reason or f"no time left: {cost:.0f} min more"
        if reason:
            left_out.append(LeftOut(label=f"the machine {state}", reason=reason))
        else:
            _take(draft, here, None, f"what {state} adds", worth=gain)
    return left_out


def _why_not(draft: _Draft, gain: float, narrowing: float) -> str:
    """Return why a reading is not worth its minutes; nothing where it is."""
    if draft.decisions:
        return "" if gain >= LEAST_WORTH else "cannot turn a decision"
    is_telling = narrowing >= LEAST_NARROWING
    return "" if is_telling else "the meter would tell no more than the catalog"


def _first_drive(machine: Machine) -> str:
    return next((drive.item.key for drive in machine.array), "")


def _close(draft: _Draft) -> None:
    everything = {e.item.key: e.count for e in draft.machine.build.items}
    if draft.fitted == everything:
        return
    _take(draft, _situation(everything, "spinning"), None, "baseline again: drift")


def _situation(fitted: dict[str, int], state: State) -> Situation:
    pieces = tuple(sorted((key, n) for key, n in fitted.items() if n))
    return Situation(fitted=pieces, state=state)


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


def moves_from(machine: Machine, fitted: dict[str, int]) -> Iterator[Move]:
    """Yield every part that could come out next, with the readings that tell of it."""
    for entry in machine.build.items:
        part, key = entry.item.part, entry.item.key
        n = fitted.get(key, 0)
        if not n or not isinstance(part, REMOVABLE):
            continue
        if part.idle_dc_w <= 0.0:
            continue
        before = list(_first_out(machine, part, fitted))
        left = {**fitted, **dict.fromkeys(before, 0)}
        readings = []
        if before:
            readings.append((_situation(left, "spinning"), before[0], "idle"))
        if isinstance(part, HardDrive) and n > 1:
            half = {**left, key: n - n // 2}
            yield Move(
                label=f"{part.name}, standby",
                readings=((_situation(half, "asleep"), key, "standby"),),
            )
        gone = {**left, key: 0}
        readings.append((_situation(gone, "spinning"), key, "idle"))
        yield Move(label=part.name, readings=tuple(readings))


def _first_out(machine: Machine, part: Part, fitted: dict[str, int]) -> Iterator[str]:
    """Yield the keys of what hangs on a card and must come out before it."""
    names = {
        use.name
        for use in machine.build.slots
        if machine.build.item(use.key).part is part
    }
    seen = set()
    for drive in machine.drives:
        wire = drive.connection
        on_card = wire is not None and wire.host in names
        in_card = drive.slot is not None and any(
            use.name == drive.name and use.slot.rpartition(".")[0] in names
            for use in machine.build.slots
        )
        if (
            (on_card or in_card)
            and fitted.get(drive.item.key)
            and (drive.item.key not in seen)
        ):
            seen.add(drive.item.key)
            yield drive.item.key


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
    for number, (situation, key, aspect) in enumerate(move.readings):
        told = _told(draft, situation, key, aspect)
        _take(draft, situation, told, "", worth=gain if number == last else 0.0)


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


def _take(
    draft: _Draft,
    here: Situation,
    told: Told | None,
    purpose: str,
    *,
    worth: float = 0.0,
    is_first: bool = False,
) -> None:
    """Add one reading and believe it taken."""
    fitted = dict(here.fitted)
    removed = _less(draft.fitted, fitted)
    refitted = _less(fitted, draft.fitted)
    row = np.array(columns(draft.machine, draft.belief.unknowns, here))
    supply = supply_of(draft.machine)
    load = float(row @ draft.belief.means)
    factor = factor_at(supply, load)
    spread = float(np.hypot(draft.belief.spread_w(row) * factor, draft.error_w))
    minutes = draft.pace.minutes(is_refitted=is_first or bool(removed or refitted))
    draft.steps.append(
        Step(
            situation=here,
            removed=removed,
            refitted=refitted,
            expected_w=wall_of(supply, load),
            tolerance_w=Z95 * spread,
            told=told,
            worth=worth,
            minutes=minutes,
            purpose=purpose,
        )
    )
    draft.belief = draft.belief.after(row[None, :], np.array([draft.error_w / factor]))
    draft.fitted = fitted
    draft.minutes += minutes


def _less(these: dict[str, int], those: dict[str, int]) -> tuple[tuple[str, int], ...]:
    """Return the pieces that the first count has beyond the second."""
    gaps = ((key, n - those.get(key, 0)) for key, n in these.items())
    return tuple(sorted((key, n) for key, n in gaps if n > 0))
