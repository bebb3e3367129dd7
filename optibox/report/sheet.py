"""A measuring sheet: cautions, readings and tests in order, boxes to fill in."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optibox.measure.cells import COLUMNS
from optibox.measure.decisions import Decision
from optibox.measure.design import Step
from optibox.measure.sheet import Sheet
from optibox.measure.transfers import TransferTest
from optibox.measure.worth import gain_of, gain_spread, is_open
from optibox.report.as_json import FORMAT, cents
from optibox.report.document import (
    Blank,
    Column,
    Document,
    Facts,
    Note,
    Row,
    Table,
    cautions,
    notes,
    section,
)
from optibox.report.quantity import money
from optibox.report.quantity import number as shown
from optibox.report.words import counted, pieces

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


_BY_HAND = (
    "date, hands",
    "meter, outlet",
    "steps of the display, W",
    "same reading again differs by, W",
    "minutes there are",
    "other end alone, MB/s",
)
"""What is written down before the first reading."""
_COUNTERS = {
    "starts": "starts",
    "power_on_hours": "hours",
    "pending_sectors": "pending",
    "reallocated_sectors": "reallocated",
    "interface_errors": "link errors",
}
_EXTRAS = ("x_expected", "x_tolerance", "x_minutes", "x_tells")
_KEPT = frozenset(
    {"fitted", "kwh", "hours", "repeats", "minute", "note", "watts", "mb_s"}
)
"""Columns that the readings file has whether the sheet fills them or not."""


@dataclass(frozen=True, kw_only=True)
class SheetReport:
    """A measuring sheet in every form; the CSV, filled in, is a readings file."""

    sheet: Sheet
    is_assumed: bool = False
    """Nobody was asked what the meter can do."""

    def document(self) -> Document:
        """Return the sheet, cautions before its first box."""
        sheet = self.sheet
        left = left_out(sheet)
        return Document(
            title=title(sheet),
            verdict=(title(sheet),),
            lead=tuple(map(Note, head(sheet, is_assumed=self.is_assumed))),
            sections=(
                *section(
                    "What hangs on it, over the years", notes(decision_lines(sheet))
                ),
                *section("Before you start", cautions(BEFORE)),
                *section(
                    "Note by hand", Facts(tuple((name, Blank()) for name in _BY_HAND))
                ),
                *section(
                    "Wall readings, in this order", Note(HOW_POWER), self._steps()
                ),
                *section("Not asked for", notes(left)),
                *(
                    section("Transfer tests", Note(HOW_RATES), self._tests())
                    if sheet.tests
                    else ()
                ),
                *section("What the drives count", self._counters()),
            ),
            end=(cautions((AT_END,)),),
            data=self._data(),
            data_notes=(
                *BEFORE,
                HOW_POWER,
                HOW_RATES,
                "Fill watts (or kwh and hours) and mb_s; rows left blank are not read. "
                "Columns beginning x_ are predictions.",
            ),
        )

    def _steps(self) -> Table:
        return Table(
            columns=(
                Column(is_right=True, flow="keep"),
                Column(head="do", least=20),
                Column(head="state", flow="keep"),
                Column(head="expected", flow="keep"),
                Column(head="measured", flow="keep"),
                Column(head="over", flow="keep"),
            ),
            rows=tuple(
                Row(
                    cells=(
                        *(str(step.number), step.action, step.state, step.expected),
                        *(Blank("W"), step.minutes),
                    ),
                    note=step.tells,
                )
                for step in step_words(self.sheet)
            ),
        )

    def _tests(self) -> Table:
        return Table(
            columns=(
                Column(is_right=True, flow="keep"),
                Column(head="do", least=20),
                Column(head="size", flow="keep"),
                Column(head="expected", flow="keep"),
                Column(head="measured", flow="keep"),
            ),
            rows=tuple(
                Row(
                    cells=(
                        *(str(test.number), test.what, test.size, test.expected),
                        Blank("MB/s"),
                    ),
                    note=f"{test.purpose}; expected to bind: {test.binds}",
                )
                for test in test_words(self.sheet)
            ),
        )

    def _counters(self) -> Table:
        boxes = [Blank() for _ in _COUNTERS]
        heads = (Column(head=head, flow="keep") for head in _COUNTERS.values())
        return Table(
            columns=(Column(head="drive", flow="keep"), *heads),
            rows=tuple(
                Row(cells=(drive.name, *boxes)) for drive in self.sheet.machine.array
            ),
        )

    def _data(self) -> Table:
        """Return the rows to fill in."""
        rows = [*self._power_rows(), *self._test_rows()]
        counters = dict.fromkeys(_COUNTERS, "")
        rows += [{"drive": d.name, **counters} for d in self.sheet.machine.array]
        used = {name for row in rows for name in row} | _KEPT
        keys = [name for name in COLUMNS if name in used] + list(_EXTRAS)
        return Table(
            columns=tuple(Column(key=key) for key in keys),
            rows=tuple(Row(cells=tuple(row.get(key) for key in keys)) for row in rows),
        )

    def _power_rows(self) -> Iterator[dict[str, str]]:
        words = step_words(self.sheet)
        for step, told in zip(self.sheet.design.steps, words, strict=True):
            yield {
                "fitted": "all" if told.number == 1 else "",
                "removed": _cell(step.removed),
                "refitted": _cell(step.refitted),
                "state": step.situation.state,
                "meter_error_w": shown(self.sheet.design.error_w, 3),
                "x_expected": shown(step.expected_w, 1),
                "x_tolerance": shown(step.tolerance_w, 1),
                "x_minutes": shown(step.minutes),
                "x_tells": told.tells,
            }

    def _test_rows(self) -> Iterator[dict[str, str]]:
        for test in self.sheet.tests:
            yield {
                "operation": test.operation,
                "size_gb": shown(test.size_gb),
                "drives": str(test.n_drives) if test.n_drives > 1 else "",
                "fill": "0" if test.target else "",
                "synced": "" if test.operation == "network" else "yes",
                "client_mb_s": "",
                "way": test.way,
                "target": test.target,
                "mode": test.mode,
                "x_expected": shown(test.expected_mb_s),
                "x_tolerance": shown((test.high_mb_s - test.low_mb_s) / 2),
                "x_minutes": shown(test.minutes, 1),
                "x_tells": test.purpose,
            }

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet for programs.

        Keys: ``meter`` (``error_w`` of one reading at this pace, ``difference_w`` known
        to 95 %); ``minutes`` with ``asked``, ``power``, ``transfers``; ``power``: wall
        readings in order; ``left_out``; ``transfers``: tests; ``decisions``;
        ``at_stake`` and ``worth`` of the readings, in the currency; ``n_open``,
        ``n_open_after``; ``cautions``.
        """
        sheet, design = self.sheet, self.sheet.design
        return {
            "format": FORMAT,
            "meter": {
                "resolution_w": sheet.meter.resolution_w,
                "repeatability_w": sheet.meter.repeatability_w,
                "error_w": design.error_w,
                "difference_w": design.difference_w,
            },
            "minutes": {
                "asked": sheet.minutes,
                "power": design.minutes,
                "transfers": transfer_minutes(sheet),
            },
            "power": [*map(_step_dict, design.steps)],
            "left_out": [{"what": x.label, "why": x.reason} for x in design.left_out],
            "transfers": [*map(_test_dict, sheet.tests)],
            "decisions": [
                {"keep": d.keep, "change": d.change, "gain": cents(d.gain)}
                for d in sheet.decisions
            ],
            "currency": sheet.currency,
            "at_stake": cents(design.at_stake),
            "worth": cents(design.worth),
            "n_open": design.n_open,
            "n_open_after": design.n_open_after,
            "cautions": [*BEFORE, AT_END],
        }


def _cell(fitted: tuple[tuple[str, int], ...]) -> str:
    return " | ".join(f"{key} x{n}" if n > 1 else key for key, n in fitted)


def _step_dict(step: Step) -> dict[str, Any]:
    told = step.told
    return {
        "state": step.situation.state,
        "system": "normal" if step.is_normal else "separate boot medium",
        "fitted": dict(step.situation.fitted),
        "removed": dict(step.removed),
        "refitted": dict(step.refitted),
        "expected_w": step.expected_w,
        "tolerance_w": step.tolerance_w,
        "minutes": step.minutes,
        "purpose": step.purpose,
        "tells": told
        and {
            "key": told.key,
            "pieces": told.count,
            "aspect": told.aspect,
            "known_to_w": told.before_w,
            "by_this_to_w": told.by_difference_w,
        },
    }


def _test_dict(test: TransferTest) -> dict[str, Any]:
    return {
        "operation": test.operation,
        "way": test.way,
        "size_gb": test.size_gb,
        "drives": test.n_drives,
        "target": test.target,
        "mode": test.mode,
        "expected_mb_s": test.expected_mb_s,
        "low_mb_s": test.low_mb_s,
        "high_mb_s": test.high_mb_s,
        "binds": test.stage,
        "minutes": test.minutes,
        "purpose": test.purpose,
    }


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
    where = board.name if board else "no board"
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
    best = f"{one.change}, which" if gain > 0 else f"{one.keep}; to {one.change}"
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


def _pieces(sheet: Sheet, fitted: tuple[tuple[str, int], ...]) -> str:
    names = {e.item.key: e.item.part.name for e in sheet.machine.build.items}
    return " and ".join(pieces(names[key], n) for key, n in fitted)


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
            binds=test.stage,
            purpose=test.purpose,
        )
        for number_, test in enumerate(sheet.tests, 1)
    )


def _what(test: TransferTest) -> str:
    where = "over the network" if test.way == "network" else "within the machine"
    if test.operation == "network":
        return "read a file from memory over the network"
    if test.target:
        return f"read {test.target} alone, {where}"
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
        reasons.setdefault(one.reason, []).append(one.label)
    return tuple(f"{'; '.join(names)}: {why}" for why, names in reasons.items())
