"""What readings say, in sentences."""

from collections.abc import Iterator

from optibox.measure.effect import DecisionNow
from optibox.measure.found import FoundFigure, Interval
from optibox.measure.next_reading import NextReading
from optibox.measure.power_fit import PowerFit
from optibox.measure.rates import Judged
from optibox.measure.reconcile import Reconciliation
from optibox.measure.unknowns import Unknown
from optibox.report.quantity import money, number, rate, share
from optibox.report.words import and_list, counted

SCALE_OF_METER = (
    "Intervals hold the meter's repeatability and the spread of the supply's losses; a "
    "meter that reads 1 or 2 % high or low as a whole shifts all watts alike."
)


def interval_words(interval: Interval) -> str:
    """Return a value with its interval.

    Examples
    --------
    >>> interval_words(Interval(value=4.5, low=3.66, high=5.34))
    '4.50 [3.66..5.34]'
    """
    return (
        f"{number(interval.value, 2)} "
        f"[{number(interval.low, 2)}..{number(interval.high, 2)}]"
    )


def remark_words(found: FoundFigure) -> str:
    """Return what is to be said of one figure; nothing where all is plain."""
    if found.measured is None:
        return f"not told from {and_list(found.tied)}: no interval"
    words = []
    if len(found.members) > 1:
        why = "in every reading" if found.is_base else "never seen apart"
        words.append(f"{why}: not split")
    if not found.agrees:
        way = "above" if found.measured.low > found.catalog.high else "below"
        words.append(f"{way} the catalog's bounds")
    elif found.is_base and len(found.members) == 1:
        words.append("in every reading, with whatever else never came out")
    return "; ".join(words)


def summary(found: Reconciliation, currency: str) -> Iterator[str]:
    """Yield what matters most: decisions turned, what is wrong, what is not explained."""
    turned = [one for one in found.decisions if one.is_turned]
    for one in turned:
        best = one.decision.change if one.gain_after > 0 else one.decision.keep
        gain = money(abs(one.gain_after), currency)
        lead = "Leans the other way now" if one.is_open else "Turned by the readings"
        unsure = ", not settled" if one.is_open else ""
        yield f"{lead}{unsure}: {best} ({gain} better)."
    if found.decisions and not turned:
        yield "The readings turn no decision."
    wrong = [
        f"line {one.reading.line}, {transfer_words(one)}: {_blame(one)}"
        for one in found.judged
        if not one.refused and not one.is_as_planned
    ]
    if wrong:
        yield f"Not as planned: {'; '.join(wrong)}."
    doubted = [f.words for f in found.fit.found if not f.agrees] if found.fit else []
    if doubted:
        yield f"Outside the catalog's bounds: {'; '.join(doubted)}."
    bad = [note for note in found.counters if note.severity == "error"]
    for note in bad:
        yield f"{note.drive}: {note.text}."


def _blame(one: Judged) -> str:
    return one.culprit.words if one.culprit else "no suspect fits"


def state_sentences(found: Reconciliation) -> Iterator[str]:
    """Yield what meter against plan says."""
    real = [gap for gap in found.gaps if gap.is_real]
    if not found.gaps:
        yield (
            "No reading was taken with everything fitted, so that nothing can be said "
            "of the machine as a whole."
        )
        return
    if not real:
        yield "Within the meter's error nothing is left unexplained."
        return
    parts = and_list(f"{number(gap.left_w, 1)} W {gap.state}" for gap in real)
    yield f"Unexplained: {parts}. It is not spread over parts."
    yield from _pattern_sentences(found)


def _pattern_sentences(found: Reconciliation) -> Iterator[str]:
    why = found.unexplained
    if why.pattern == "not in the drives":
        yield "It is the same asleep and spinning: it is not in the drives."
    elif why.pattern == "in the drives":
        yield (
            "It differs between asleep and spinning: it is in the drives or in what "
            "rests with them."
        )
    if why.suspects:
        names = "; ".join(f.words for f in why.suspects)
        yield f"It lies within what was only seen together: {names}."
    if why.hidden and why.pattern != "in the drives":
        cards = and_list(why.hidden)
        yield (
            f"A candidate that no single removal shows: the loss of deep idle, kept up "
            f"by {cards} as long as any one of them is fitted."
        )


def drive_sentences(found: Reconciliation) -> Iterator[str]:
    """Yield what the totals say of the drives' sleep."""
    one = found.per_drive
    if one is None:
        return
    yield (
        f"Between spinning and asleep: {number(one.wall_w, 1)} W per drive at the wall "
        f"(+-{number(one.half_w, 1)}, {counted(one.n_drives, 'drive')}), with whatever "
        "else rests while they sleep."
    )
    fit = found.fit
    if fit is None:
        return
    hard = {drive.item.key for drive in found.machine.array}
    if not any(u.aspect == "standby" and u.key in hard for u in fit.by_unknown):
        yield (
            "The drives' standby watts are not identified: that needs readings asleep "
            "with fewer drives."
        )


def fit_sentences(fit: PowerFit) -> Iterator[str]:
    """Yield how far the readings agree with each other."""
    yield (
        f"{counted(len(fit.readings), 'reading')} determine {fit.rank} figures; "
        f"{fit.n_spare or 'none'} to spare"
        + ("." if fit.n_spare else ", so that nothing checks them.")
        + f" Here 1 W at the parts is {number(fit.factor, 2)} W at the wall."
    )
    if fit.scale > 1.0:
        yield (
            f"They contradict each other by more than their errors: all intervals are "
            f"widened {number(fit.scale, 1)} times."
        )
    for one in fit.outliers:
        yield (
            f"Line {one.line} is {number(abs(one.errors_off), 1)} standard errors off "
            "what the others say: repeat it, or put # before it."
        )
    if fit.drift is not None:
        watts, half = fit.drift.watts, 1.96 * fit.drift.error_w
        is_odd = abs(watts) > half
        done = "perhaps chance, allowed for" if is_odd else "within chance"
        done = "beyond doubt, taken out" if fit.drift.is_real else done
        yield (
            f"Baseline drift over the session: {number(watts, 1)} W "
            f"+-{number(half, 1)}, {done}."
        )


def unseen_words(unseen: tuple[Unknown, ...]) -> str:
    """Return what no reading contains."""
    names = [u.name for u in unseen if u.key]
    return f"In no reading: {'; '.join(names)}." if names else ""


def transfer_words(one: Judged) -> str:
    """Return what was moved."""
    reading = one.reading
    what: str = reading.operation
    if reading.operation == "network":
        return f"network alone, {number(reading.size_gb)} GB"
    if reading.target:
        what += f" {reading.target}"
    elif reading.n_drives > 1:
        what += f" {reading.n_drives} drives at once"
    if reading.mode:
        what += f" in {reading.mode} mode"
    return f"{what}, {reading.way}, {number(reading.size_gb)} GB"


def verdict_words(one: Judged) -> str:
    """Return what one transfer test says."""
    return _verdict(one)


def _verdict(one: Judged) -> str:
    if one.refused:
        return f"refused: {one.refused}"
    if one.is_as_planned:
        return f"as planned, by {one.planned.name}"
    way = "faster" if one.reading.mb_s > one.planned.rate_mb_s else "slower"
    pattern = f"; {one.pattern}" if one.pattern else ""
    culprit = one.culprit
    if culprit is None:
        near = one.suspects[0] if one.suspects else None
        text = f"{way} than planned, no suspect fits{pattern}"
        if near is not None:
            text += f"; nearest: {near.words}, {rate(near.mb_s)}"
        return text
    return f"{way} than planned{pattern}; likely {culprit.words}, {rate(culprit.mb_s)}"


def suspects_words(one: Judged, most: int = 4) -> str:
    """Return the suspects with the figure that each would give."""
    if one.is_as_planned or one.refused:
        return ""
    seen = dict.fromkeys((s.words, s.mb_s) for s in one.suspects)
    rows = [f"{words} {number(mb_s)}" for words, mb_s in seen]
    return "; ".join(rows[:most])


def next_words(one: NextReading, currency: str, *, has_worth: bool) -> str:
    """Return one reading that is worth taking."""
    text = f"{one.label}: {number(one.minutes)} min"
    narrows = (
        f"{one.narrows.name} from +-{number(one.before_w, 2)} to "
        f"+-{number(one.after_w, 2)} W"
    )
    if not has_worth or not one.settles:
        return f"{text}, {narrows}"
    small = 0 < one.worth < 0.01
    saved = f"below 0.01 {currency}" if small else money(one.worth, currency)
    return (
        f"{text}, settles {share(one.settles)} of what is open (expected to save "
        f"{saved}); {narrows}"
    )


def decision_words(one: DecisionNow, currency: str) -> str:
    """Return one decision before and after the readings."""
    change, keep = one.decision.change, one.decision.keep
    state = "Open" if one.is_open else "Settled"
    turned = ", planned the other way" if one.is_turned else ""
    best = f"{change}, which" if one.gain_after > 0 else f"{keep}; to {change}"
    digits = 2 if max(abs(one.low), abs(one.high)) < 20 else 0
    spread = f"[{number(one.low, digits)}..{number(one.high, digits)}]"
    return (
        f"{state}{turned}: {best} gains {money(one.gain_after, currency)} {spread}, "
        f"planned {money(one.gain_before, currency)}"
    )
