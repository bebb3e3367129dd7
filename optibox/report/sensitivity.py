"""Which inputs change the decision, where it flips, and the robust pick."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from optibox.report.as_json import FORMAT, cents
from optibox.report.document import (
    Column,
    Document,
    Item,
    Items,
    Note,
    Row,
    Section,
    Table,
    Value,
    Worded,
    section,
)
from optibox.report.quantity import cents_of, exact_money, money, number, share
from optibox.report.words import and_list, counted
from optibox.running.regret import RobustPick
from optibox.running.sensitivity import Effect, Sensitivity, Stretch
from optibox.running.sensitivity_decision import NEVER, Option
from optibox.running.sensitivity_inputs import (
    FACTOR,
    Corner,
    Input,
    Spreads,
    factor_at,
)
from optibox.scenario import Scenario

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MOST_ROWS = 6
"""Inputs from which on those that change nothing share one line."""
MOST_PICKS = 3
"""Candidates for the robust pick that are told."""
_EVEN = 0.005
_NAMES = {
    "tariff": "tariff",
    "prices": "prices of parts",
    "usage": "usage",
    "watts": "watts of parts",
    "factors": "factors (rates, space)",
}


def input_words(name: Input) -> str:
    """Return what an input is called.

    Examples
    --------
    >>> input_words("prices"), input_words("factors.fill_limit")
    ('prices of parts', 'fill limit')
    """
    return _NAMES.get(name, name.removeprefix(FACTOR).replace("_", " "))


def corner_words(corner: Corner) -> str:
    """Return a corner in words.

    Examples
    --------
    >>> corner_words({"tariff": 1.0, "prices": -1.0})
    'tariff high, prices of parts low'
    """
    levels = {-1.0: "low", 1.0: "high"}
    words = [
        f"{input_words(name)} {levels.get(x, number(x, 2))}"
        for name, x in corner.items()
        if x
    ]
    return ", ".join(words) or "as given"


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

    @cached_property
    def options(self) -> list[Option]:
        """Return the machines that are best somewhere, the present best first."""
        found = {self.found.option.parts_key: self.found.option}
        stretches = [s for effect in self.found.effects for s in effect.stretches]
        picks = self.robust.rows[:MOST_PICKS] if self.robust else ()
        for option in (*(s.option for s in stretches), *(row.option for row in picks)):
            if option is not None:
                found.setdefault(option.parts_key, option)
        return list(found.values())

    @property
    def shown(self) -> list[Effect]:
        """Return the inputs that have a row: all, or of many those that matter."""
        effects = self.found.effects
        telling = [effect for effect in effects if effect.flips]
        return telling if len(effects) > MOST_ROWS and telling else list(effects)

    def letter(self, option: Option | None) -> str:
        """Return the letter of a machine, the same for the same parts."""
        if option is None:
            return "-"
        at = [o.parts_key for o in self.options].index(option.parts_key)
        return LETTERS[at] if at < len(LETTERS) else f"#{at + 1}"

    def value(self, name: Input, position: float) -> str:
        """Return where an input stands, in its own unit where it has one.

        A position between bounds has none: it is told as a share of the way.
        """
        if name == "tariff":
            prices = self.scenario.money.prices_by_hour()
            mean = sum(prices) / len(prices) * (1 + self.spreads.tariff * position)
            return f"{number(mean, 3)} {self.currency}/kWh"
        if name.startswith(FACTOR):
            plain = name.removeprefix(FACTOR)
            at = factor_at(self.scenario, plain, {name: position}, self.spreads)
            return f"{at.mid:.3g}"
        if name == "usage":
            return f"{number(1 + self.spreads.usage * position, 2)} times"
        if abs(position) < _EVEN:
            return "as given"
        end = "high" if position > 0 else "low"
        return end if abs(position) > 1 - _EVEN else f"{share(abs(position))} to {end}"

    def verdict(self) -> str:
        """Return whether any input changes the decision, and where."""
        best, effects = self.describe(self.found.option), self.found.effects
        flips = [
            f"{input_words(effect.name)} ({and_list(self._flips(effect))}; keeping to it "
            f"costs {self._stake(effect)})"
            for effect in effects
            if effect.flips
        ]
        if not flips:
            names = and_list(input_words(effect.name) for effect in effects)
            each = ", each by itself" if len(effects) > 1 else ""
            return (
                f"The decision stands: {self.what} stays the same ({best}) over the whole "
                f"range of {names}{each}."
            )
        others = "; with no other input by itself" if len(flips) < len(effects) else ""
        return f"The decision ({best}) changes with {and_list(flips)}{others}."

    def _flips(self, effect: Effect) -> list[str]:
        return [f"at {self.value(effect.name, flip)}" for flip in effect.flips]

    def _stake(self, effect: Effect) -> str:
        """Return what keeping to the present best costs at the worse end of an input."""
        most = max(effect.regrets)
        never = most == NEVER
        return (
            "a need that is not met" if never else f"up to {money(most, self.currency)}"
        )

    def document(self) -> Document:
        """Return the answer, the verdict first."""
        return Document(
            verdict=(self.verdict(),),
            sections=(
                *section(
                    "What each input does by itself", self._inputs(), self._quiet()
                ),
                *section("What the letters stand for", Items(tuple(self._letters()))),
                *self._robust(),
            ),
            end=(Note(self.remark),),
            data=self._stretches(),
        )

    def _inputs(self) -> Table:
        keeping = cents_of(self.currency)
        return Table(
            columns=(
                Column(head="input"),
                Column(head="low"),
                Column(head="high"),
                Column(head="flips at"),
                Column(head="keeping A\ncosts, low", unit=keeping),
                Column(head="high", unit=keeping),
            ),
            rows=tuple(map(self._input, self.shown)),
        )

    def _input(self, effect: Effect) -> Row:
        def end(position: float, stretch: Stretch) -> str:
            return f"{self.value(effect.name, position)} {self.letter(stretch.option)}"

        low, high = effect.stretches[0], effect.stretches[-1]
        flips = [self.value(effect.name, flip) for flip in effect.flips]
        return Row(
            cells=(
                input_words(effect.name),
                end(-1.0, low),
                end(1.0, high),
                flips[0] if flips else "nowhere",
                *map(_regret, effect.regrets),
            ),
            note=self._path(effect) if len(effect.stretches) > 2 else "",
        )

    def _path(self, effect: Effect) -> str:
        """Return the machines along an input with the values where they change."""
        words = [self.letter(effect.stretches[0].option)]
        for stretch in effect.stretches[1:]:
            value = self.value(effect.name, stretch.start)
            words.append(f"from {value} {self.letter(stretch.option)}")
        return "low: " + ", ".join(words)

    def _quiet(self) -> Note:
        quiet = [e.name for e in self.found.effects if e not in self.shown]
        names = and_list(map(input_words, quiet))
        return Note(f"Nothing changes with {names}." if quiet else "")

    def _letters(self) -> Iterator[Item]:
        for option in self.options:
            yield Item(mark=f"{self.letter(option)}:", text=self.describe(option))
        stretches = [s for effect in self.found.effects for s in effect.stretches]
        if any(stretch.option is None for stretch in stretches):
            yield Item(mark="-:", text="no machine meets all needs there")

    def _robust(self) -> tuple[Section, ...]:
        robust = self.robust
        if robust is None:
            return ()
        if robust.pick is None:
            return section(
                "Robust pick", Note("No machine meets all needs at any corner.")
            )
        worst = robust.pick.worst
        dearer = "unfit" if worst == NEVER else money(worst, self.currency)
        corner = robust.corners[robust.pick.regrets.index(worst)][0]
        return section(
            f"Robust pick: {self.letter(robust.pick.option)}, at worst {dearer} dearer "
            f"than the best ({corner})",
            Items(tuple(self._picks(robust))),
            Note(_scope(robust)),
        )

    def _picks(self, robust: RobustPick) -> Iterator[Item]:
        for row in robust.rows[:MOST_PICKS]:
            cells = [
                f"{corner_words(corner)}: "
                f"{'does not fit' if regret == NEVER else exact_money(regret)}"
                for (_, corner), regret in zip(robust.corners, row.regrets, strict=True)
            ]
            yield Item(mark=f"{self.letter(row.option)}:", text="; ".join(cells))

    def _stretches(self) -> Table:
        """Return the stretches of all inputs, as CSV has them."""
        keys = ("input", "from", "to", "from_value", "to_value", "letter", "machine")
        return Table(
            columns=tuple(Column(key=key) for key in keys),
            rows=tuple(
                Row(
                    cells=(
                        effect.name,
                        stretch.start,
                        stretch.end,
                        self.value(effect.name, stretch.start),
                        self.value(effect.name, stretch.end),
                        self.letter(stretch.option),
                        self.describe(stretch.option) if stretch.option else "",
                    )
                )
                for effect in self.found.effects
                for stretch in effect.stretches
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for programs."""
        robust = self.robust
        return {
            "format": FORMAT,
            "currency": self.currency,
            "verdict": self.verdict(),
            "best": self.describe(self.found.option),
            "cost": cents(self.found.cost),
            "machines": {self.letter(o): self.describe(o) for o in self.options},
            "inputs": [self._effect_dict(effect) for effect in self.found.effects],
            "robust": robust and self._robust_dict(robust),
        }

    def _effect_dict(self, effect: Effect) -> dict[str, Any]:
        return {
            "input": effect.name,
            "flips": [
                {"position": flip, "value": self.value(effect.name, flip)}
                for flip in effect.flips
            ],
            "stretches": [
                {
                    "from": stretch.start,
                    "to": stretch.end,
                    "from_value": self.value(effect.name, stretch.start),
                    "to_value": self.value(effect.name, stretch.end),
                    "machine": self.letter(stretch.option),
                }
                for stretch in effect.stretches
            ],
            "best_costs": [*map(cents, effect.best_costs)],
            "kept_costs": [*map(cents, effect.kept_costs)],
        }

    def _robust_dict(self, robust: RobustPick) -> dict[str, Any]:
        return {
            "corners": dict(robust.corners),
            "best_costs": [*map(cents, robust.best_costs)],
            "over_all_choices": robust.is_over_all,
            "no_machine_below": robust.least_worst,
            "rows": [
                {
                    "machine": self.describe(row.option),
                    "worst": cents(row.worst),
                    "regrets": [*map(cents, row.regrets)],
                }
                for row in robust.rows
            ],
        }


def _regret(value: float) -> Value:
    return Worded(None, "does not fit") if value == NEVER else value


def _scope(robust: RobustPick) -> str:
    n = len(robust.rows)
    if robust.is_over_all:
        return f"All {counted(n, 'choice')} of the list compared."
    scope = (
        f"Compared: {counted(n, 'machine')}, best at a corner, as given, or in the middle "
        "of the corners."
    )
    if robust.least_worst is not None:
        least = exact_money(robust.least_worst)
        scope += f" No machine of the catalog does better than {least} at its worst."
    return scope
