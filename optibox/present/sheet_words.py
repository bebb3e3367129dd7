"""A measuring sheet in words: cautions, steps and tests, for every form alike."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.measure.decisions import Decision
from optibox.measure.design import Step
from optibox.measure.sheet import Sheet
from optibox.measure.transfers import TransferTest
from optibox.measure.worth import gain_of, gain_spread, is_open
from optibox.report.quantity import money
from optibox.report.quantity import number as shown
from optibox.report.words import clean, counted

_Z95 = 1.96
BEFORE = (
    "Two verified copies of everything first. Parity is not a backup.",
    "Label every drive with its serial number and bay before it is touched.",
    "Take these readings from a separate boot medium with array assembly disabled and "
    "all drives read-only: with drives missing, the usual system may start a degraded "
    "array or a resync.",
    "Switch off, pull the plug and wait 30 s for platters before a part goes out or "
    "in; guard against static.",
    "An enclosed, approved plug-in meter alone. Never open a supply, a cord or live "
    "wiring.",
    "A UPS, strip or circuit must bear drives that start: 3 to 5 times their idle "
    "current.",
    "Put everything back and compare with the labels before the normal system starts.",
)
"""What stands in front of every sheet."""

HOW_POWER = (
    "Same outlet and meter throughout. Note the mean over the minutes given, or kWh "
    "and hours."
)
HOW_RATES = (
    "Transfers run on the complete machine under its normal system. Sizes are chosen so "
    "that memory and fast regions cannot answer; time writes until data are on the "
    "drives, empty memory before reads."
)
AT_END = (
    "Figures are planning estimates; local electrical codes, makers' instructions and "
    "qualified people come first. Wipe a drive before it leaves your hands."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWords:
    """One wall reading in words."""

    number: int
    action: str
    state: str
    expected: str
    tells: str
    minutes: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferWords:
    """One transfer test in words."""

    number: int
    what: str
    size: str
    expected: str
    binds: str
    purpose: str


def title(sheet: Sheet) -> str:
    """Return what is measured."""
    n = len(sheet.machine.array)
    board = sheet.machine.board
    where = clean(board.name) if board else "no board"
    return f"Measuring sheet: {where}, {counted(n, 'array drive')}"


def head(sheet: Sheet, *, is_assumed: bool = False) -> tuple[str, ...]:
    """Return what the meter can tell and what the time is for."""
    found, meter = sheet.design, sheet.meter
    note = " (assumed)" if is_assumed else ""
    pace = found.pace
    rough = ""
    if pace.error_factor > 1:
        rough = f", so that errors grow by {shown((pace.error_factor - 1) * 100)} %"
    return (
        f"Meter: steps of {meter.resolution_w:g} W, repeats within "
        f"{meter.repeatability_w:g} W{note}. The difference of two readings is then "
        f"known to +-{shown(found.difference_w, 1)} W (95 %); smaller things cannot be "
        "told.",
        f"Time: {shown(found.minutes)} of {shown(sheet.minutes)} min for "
        f"{counted(len(found.steps), 'wall reading')}, each {shown(pace.settle_min)} min "
        f"after boot over {shown(pace.average_min)} min{rough}; "
        f"{shown(transfer_minutes(sheet))} min of transfers besides.",
        *_aim(sheet),
    )


def transfer_minutes(sheet: Sheet) -> float:
    """Return the time that all transfer tests take. [min]."""
    return sum(test.minutes for test in sheet.tests)


def _aim(sheet: Sheet) -> Iterator[str]:
    found = sheet.design
    if not sheet.design.has_decisions:
        yield (
            "No scenario was given: readings are chosen to know the parts. With "
            "--scenario they serve what is to be decided, and stop where that is settled."
        )
        return
    n = counted(len(sheet.decisions), "possible change")
    if found.n_open == 0:
        yield (
            f"None of {n} turns on watts within the catalog's bounds: the readings below "
            "check the plan as a whole, no part need come out."
        )
        return
    turn = "turns" if found.n_open == 1 else "turn"
    yield (
        f"{found.n_open} of {n} {turn} on watts that are not known well enough. Knowing "
        f"them exactly is expected to save {money(found.at_stake, sheet.currency)}, "
        f"these readings {money(found.worth, sheet.currency)}."
    )


def decision_lines(sheet: Sheet) -> tuple[str, ...]:
    """Return what could be changed, what that would gain, and whether it is settled."""
    return tuple(_decision(sheet, one) for one in sheet.decisions)


def _decision(sheet: Sheet, one: Decision) -> str:
    gain, half = (
        gain_of(one, sheet.design.before),
        _Z95 * gain_spread(one, sheet.design.before),
    )
    state = "open" if is_open(one, sheet.design.before) else "settled"
    best = (
        f"{clean(one.change)}, which"
        if gain > 0
        else f"{clean(one.keep)}; to {clean(one.change)}"
    )
    return f"{state}: {best} gains {money(gain, sheet.currency)} +-{shown(half)}"


def step_words(sheet: Sheet) -> tuple[StepWords, ...]:
    """Return the wall readings in words."""
    return tuple(
        StepWords(
            number=number_,
            action=_action(sheet, step, number_),
            state=step.situation.state,
            expected=f"{shown(step.expected_w, 1)} +-{shown(step.tolerance_w, 1)} W",
            tells=_tells(step),
            minutes=f"{shown(step.minutes)} min",
        )
        for number_, step in enumerate(sheet.design.steps, 1)
    )


def _action(sheet: Sheet, step: Step, number: int) -> str:
    if step.removed:
        return f"take out {_pieces(sheet, step.removed)}"
    if step.refitted:
        everything = {e.item.key: e.count for e in sheet.machine.build.items}
        if dict(step.situation.fitted) == everything:
            return "put everything back"
        return f"put back {_pieces(sheet, step.refitted)}"
    if number == 1 or step.is_normal != sheet.design.steps[number - 2].is_normal:
        where = "normal system" if step.is_normal else "separate boot medium"
        return f"complete, {where}"
    return "leave as it is"


def _pieces(sheet: Sheet, pieces: tuple[tuple[str, int], ...]) -> str:
    names = {e.item.key: clean(e.item.part.name) for e in sheet.machine.build.items}
    return " and ".join(f"{n} x {names[k]}" if n > 1 else names[k] for k, n in pieces)


def _tells(step: Step) -> str:
    told = step.told
    if told is None:
        return step.purpose
    what = {"idle": "", "standby": "asleep, "}.get(told.aspect, f"{told.aspect}, ")
    each = " each" if told.count > 1 else ""
    return (
        f"{what}known to +-{shown(told.before_w, 1)} W{each}, by this to "
        f"+-{shown(told.by_difference_w, 1)} W"
    )


def test_words(sheet: Sheet) -> tuple[TransferWords, ...]:
    """Return the transfer tests in words."""
    return tuple(
        TransferWords(
            number=number_,
            what=_what(test),
            size=f"{shown(test.size_gb)} GB",
            expected=f"{shown(test.expected_mb_s)} ({shown(test.low_mb_s)} to "
            f"{shown(test.high_mb_s)}) MB/s",
            binds=clean(test.stage),
            purpose=test.purpose,
        )
        for number_, test in enumerate(sheet.tests, 1)
    )


def _what(test: TransferTest) -> str:
    where = "over the network" if test.way == "network" else "within the machine"
    if test.operation == "network":
        return "read a file from memory over the network"
    if test.target:
        return f"read {clean(test.target)} alone, {where}"
    if test.n_drives > 1:
        return f"read {test.n_drives} drives at once, {where}"
    verb = {
        "read": "read one file",
        "write": "write one file",
        "ingest": "take in files",
        "flush": "flush the cache",
    }[test.operation]
    mode = f" in {test.mode} mode" if test.mode else ""
    return f"{verb}{mode}, {where}"


def left_out(sheet: Sheet) -> tuple[str, ...]:
    """Return what is not measured, grouped by its reason."""
    reasons: dict[str, list[str]] = {}
    for one in sheet.design.left_out:
        reasons.setdefault(one.reason, []).append(clean(one.label))
    return tuple(f"{'; '.join(names)}: {why}" for why, names in reasons.items())
