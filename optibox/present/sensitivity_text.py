"""Which inputs change the decision, as text."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from optibox.present.sensitivity_words import corner_words, input_words, value_words
from optibox.present.text import PIPED_WIDTH, Line
from optibox.present.words import (
    and_list,
    counted,
    exact_money,
    money,
    pad,
    pad_left,
    wrapped,
)
from optibox.running.regret import RobustPick, RobustRow
from optibox.running.sensitivity import Effect, Sensitivity, Stretch
from optibox.running.sensitivity_decision import NEVER, Option
from optibox.running.sensitivity_inputs import Input, Spreads
from optibox.scenario import Scenario

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MOST_ROWS = 6
"""Inputs from which on those that change nothing share one line."""

_NAME, _VALUE = 27, 18


@dataclass(frozen=True, kw_only=True)
class SensitivityReport:
    """What each input does to the decision, and the robust pick."""

    found: Sensitivity
    scenario: Scenario
    spreads: Spreads
    currency: str
    describe: Callable[[Option], str]
    """A machine in words, against the one that is best as given."""

    what: str
    """What is decided: 'the machine' or 'what to change'."""

    remark: str
    robust: RobustPick | None = None

    def letter(self, option: Option | None) -> str:
        """Return the letter of a machine, the same for the same parts."""
        if option is None:
            return "-"
        keys = [o.parts_key for o in self.options]
        at = keys.index(option.parts_key)
        return LETTERS[at] if at < len(LETTERS) else f"#{at + 1}"

    @property
    def options(self) -> list[Option]:
        """Return the machines that are best somewhere, the present best first."""
        found = {self.found.option.parts_key: self.found.option}
        for effect in self.found.effects:
            for stretch in effect.stretches:
                if stretch.option is not None:
                    found.setdefault(stretch.option.parts_key, stretch.option)
        for row in self.robust.rows[:3] if self.robust else ():
            found.setdefault(row.option.parts_key, row.option)
        return list(found.values())

    @property
    def shown(self) -> list[Effect]:
        """Return the inputs that have a row: all, or of many those that matter."""
        effects = self.found.effects
        telling = [effect for effect in effects if effect.flips]
        is_long = len(effects) > MOST_ROWS and telling
        return telling if is_long else list(effects)

    def value(self, name: Input, position: float) -> str:
        """Return where an input stands, in words."""
        return value_words(name, position, self.scenario, self.spreads, self.currency)


def sensitivity_lines(
    report: SensitivityReport, width: int = PIPED_WIDTH
) -> list[Line]:
    """Return the whole answer as lines, the verdict first."""
    lines = [Line(t, "strong") for t in wrapped(sensitivity_verdict(report), width)]
    lines += [Line(""), *_table(report, width), Line(""), *_machines(report, width)]
    if report.robust is not None:
        lines += [Line(""), *_robust(report, report.robust, width)]
    return [*lines, *map(Line, wrapped(report.remark, width))]


def sensitivity_verdict(report: SensitivityReport) -> str:
    """Return whether any input changes the decision, and where."""
    best = report.describe(report.found.option)
    flips = [
        f"{input_words(effect.name)} ({and_list(_flip_words(report, effect))}; keeping "
        f"to it costs {_stake(report, effect)})"
        for effect in report.found.effects
        if effect.flips
    ]
    if not flips:
        effects = report.found.effects
        names = and_list(input_words(effect.name) for effect in effects)
        each = ", each by itself" if len(effects) > 1 else ""
        return (
            f"The decision stands: {report.what} stays the same ({best}) over the whole "
            f"range of {names}{each}."
        )
    others = (
        "; with no other input by itself"
        if len(flips) < len(report.found.effects)
        else ""
    )
    return f"The decision ({best}) changes with {and_list(flips)}{others}."


def _stake(report: SensitivityReport, effect: Effect) -> str:
    """Return what keeping to the present best costs at the worse end of an input."""
    most = max(effect.regrets)
    if most == NEVER:
        return "a need that is not met"
    return f"up to {money(most, report.currency)}"


def _flip_words(report: SensitivityReport, effect: Effect) -> list[str]:
    return [f"at {report.value(effect.name, flip)}" for flip in effect.flips]


def _table(report: SensitivityReport, width: int) -> Iterator[Line]:
    yield Line("What each input does by itself", "strong")
    head = pad("  input", _NAME) + "".join(
        pad(word, _VALUE) for word in ("low", "high", "flips at")
    )
    yield Line(head + pad_left("keeping A costs, low / high", 24))
    quiet = [e for e in report.found.effects if e not in report.shown]
    for effect in report.shown:
        low, high = effect.stretches[0], effect.stretches[-1]
        cells = [
            f"{report.value(effect.name, -1.0)} {report.letter(low.option)}",
            f"{report.value(effect.name, 1.0)} {report.letter(high.option)}",
        ]
        flips = [report.value(effect.name, flip) for flip in effect.flips]
        text = pad(f"  {input_words(effect.name)}", _NAME)
        text += "".join(pad(cell, _VALUE) for cell in cells)
        text += pad(flips[0] if flips else "nowhere", _VALUE)
        yield Line(text + pad_left(" / ".join(map(_sum, effect.regrets)), 24))
        if len(effect.stretches) > 2:
            yield from map(Line, wrapped(_path(report, effect), width, "    "))
    if quiet:
        names = and_list(input_words(effect.name) for effect in quiet)
        text = f"Nothing changes with {names}."
        yield from map(Line, wrapped(text, width, "  "))


def _path(report: SensitivityReport, effect: Effect) -> str:
    """Return the machines along an input with the values where they change."""
    words = [report.letter(effect.stretches[0].option)]
    for stretch in effect.stretches[1:]:
        value = report.value(effect.name, stretch.start)
        words.append(f"from {value} {report.letter(stretch.option)}")
    return "low: " + ", ".join(words)


def _sum(value: float) -> str:
    return "does not fit" if value == NEVER else exact_money(value)


def _machines(report: SensitivityReport, width: int) -> Iterator[Line]:
    """Yield what the letters stand for."""
    title = "What the letters stand for"
    yield Line(title, "strong")
    for option in report.options:
        lead = f"  {report.letter(option)}  "
        yield from map(Line, wrapped(report.describe(option), width, lead))
    if any(s.option is None for s in _stretches(report)):
        yield Line("  -  no machine meets all needs there")


def _stretches(report: SensitivityReport) -> Sequence[Stretch]:
    return [s for effect in report.found.effects for s in effect.stretches]


def _robust(
    report: SensitivityReport, robust: RobustPick, width: int
) -> Iterator[Line]:
    pick = robust.pick
    if pick is None:
        yield Line("Robust pick: no machine meets all needs at any corner", "strong")
        return
    at = pick.regrets.index(pick.worst)
    verdict = (
        f"Robust pick: {report.letter(pick.option)}, at worst "
        f"{_worst(pick, report.currency)} dearer than the best ("
        f"{robust.corners[at][0]})"
    )
    yield from (Line(t, "strong") for t in wrapped(verdict, width))
    for row in robust.rows[:3]:
        cells = [
            f"{corner_words(corner)}: {_sum(regret)}"
            for (_, corner), regret in zip(robust.corners, row.regrets, strict=True)
        ]
        lead = f"  {report.letter(row.option)}  "
        yield from map(Line, wrapped("; ".join(cells), width, lead))
    scope = (
        f"All {counted(len(robust.rows), 'choice')} of the list compared."
        if robust.is_over_all
        else f"Compared: {counted(len(robust.rows), 'machine')}, best at a corner, as "
        "given, or in the middle of the corners."
    )
    if robust.least_worst is not None and not robust.is_over_all:
        bound = exact_money(robust.least_worst)
        scope += f" No machine of the catalog does better than {bound} at its worst."
    yield from map(Line, wrapped(scope, width))


def _worst(row: RobustRow, currency: str) -> str:
    return "unfit" if row.worst == NEVER else money(row.worst, currency)
