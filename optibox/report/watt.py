"""What a watt is worth, what to change next, what one more of each need costs."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from optibox.assess import Assessment
from optibox.report.as_json import FORMAT, cents
from optibox.report.document import (
    Column,
    Document,
    Note,
    Row,
    Section,
    Table,
    Value,
    Worded,
    notes,
    section,
)
from optibox.report.machines import changes
from optibox.report.quantity import (
    ENERGY,
    RATE,
    UNITS,
    WATT,
    Quantity,
    Unit,
    cents_of,
    exact_money,
    money,
    number,
    rate,
)
from optibox.report.words import counted
from optibox.running.marginal import MarginalPrice, MarginalPrices
from optibox.running.swap_changes import Change
from optibox.running.swap_payback import PaybackRange
from optibox.running.swap_sequence import SwapSequence
from optibox.running.swaps import MINOR_UNIT, Swap, SwapList
from optibox.running.watt import WattWorth

SHOWN = 8
"""Swaps that are shown unless all are asked for, beside doing nothing."""

_WHEN = {
    "always": "all year",
    "asleep": "while drives sleep",
    "drives spinning": "while drives spin",
}
_WHERE = {"parts": "at the parts", "wall": "at the wall"}
_RATES = (
    ("reads", "read_mb_s"),
    ("writes", "write_mb_s"),
    ("takes in", "ingest_mb_s"),
)
_YEARS = ("payback_low_years", "payback_mid_years", "payback_high_years")


@dataclass(frozen=True, kw_only=True)
class WattReport:
    """What one watt costs, what to change next, what each need costs."""

    worths: tuple[WattWorth, ...]
    swaps: SwapList
    rows: Sequence[tuple[Swap, PaybackRange]]
    """Swaps to show, with their paybacks."""
    currency: str
    sequence: SwapSequence | None = None
    marginal: MarginalPrices | None = None

    @property
    def found(self) -> Assessment:
        """Return the machine as it is."""
        return self.swaps.before

    @property
    def years(self) -> int:
        """Return the years that costs count."""
        return self.found.scenario.money.years

    def document(self) -> Document:
        """Return the answer, the verdict first."""
        swaps, currency = self._swaps(), self.currency
        return Document(
            verdict=(swaps_verdict(self.swaps, currency),),
            lead=(Note(self._sentence()),),
            sections=(
                *section("Changes, best first", swaps, Note(self._tried())),
                *(sequence_section(self.sequence, currency) if self.sequence else ()),
                *section("What one watt costs", self._worths(), Note(self._growth())),
                *(marginal_section(self.marginal, currency) if self.marginal else ()),
            ),
            data=swaps,
        )

    def _sentence(self) -> str:
        """Return what a watt costs, in one sentence."""
        at = {(row.where, row.when): row for row in self.worths}
        part, wall = at["parts", "always"], at["wall", "always"]
        asleep = at["parts", "asleep"]
        sleeping = (
            f"{exact_money(asleep.money_over_years)} when drawn only while drives sleep"
            if asleep.hours_per_year >= 1
            else "drives never sleep as it is run"
        )
        return (
            f"One watt at the parts costs {exact_money(part.money_over_years)} "
            f"{self.currency} over {counted(self.years, 'year')} when drawn all year (at "
            f"the wall {exact_money(wall.money_over_years)}), {sleeping}."
        )

    def _swaps(self) -> Table:
        price, years = cents_of(self.currency), Unit("years", 2)
        columns = (
            Column(is_right=True, flow="keep"),
            Column(head="net", key="net", unit=price),
            Column(head="pay now", key="money_now", unit=price),
            Column(head="saves\na year", key="saving_per_year", unit=price),
            Column(head="pays back in\nyears", is_right=True, flow="keep"),
            *(Column(key=key, unit=years, is_shown=False) for key in _YEARS),
            Column(head="asleep", key="asleep_w", unit=WATT),
            Column(head="spinning", key="spinning_w", unit=WATT),
            *(Column(key=key, unit=RATE, is_shown=False) for _, key in _RATES),
            Column(key="changes", is_shown=False),
            Column(key="currency", is_shown=False),
        )
        before = self.found
        told: list[tuple[Swap, PaybackRange] | None] = [*self.rows]
        better = sum(swap.net >= MINOR_UNIT for swap, _ in self.rows)
        told.insert(better if before.is_fit else len(told), None)
        return Table(
            columns=columns,
            rows=tuple(self._row(place, pair) for place, pair in enumerate(told, 1)),
        )

    def _row(self, place: int, told: tuple[Swap, PaybackRange] | None) -> Row:
        """Return a swap, or doing nothing, as a row."""
        before = self.found
        if told is None:
            sums: tuple[float, ...] = (0.0, 0.0, 0.0)
            years: tuple[Value, ...] = ("", None, None, None)
            after, words, note = before, "do nothing", "do nothing"
            if not before.is_fit:
                note += ": needs are not met"
        else:
            swap, payback = told
            sums = (swap.net, swap.money_now, swap.saving_per_year)
            back = (payback.low, payback.mid, payback.high)
            years, after = (payback_words(payback), *back), swap.after
            words = changes(swap.changes)
            note = words + _together(swap) + rates_words(swap.before, swap.after)
        rates = (getattr(after.rates, key) for _, key in _RATES)
        return Row(
            cells=(
                *(f"{place}.", *sums, *years),
                _moved(before.wall.asleep_w, after.wall.asleep_w),
                _moved(before.wall.spinning_w, after.wall.spinning_w),
                *(*rates, words, self.currency),
            ),
            note=note,
        )

    def _tried(self) -> str:
        found = self.swaps
        text = (
            f"Tried: {found.n_changes} changes of one part, of which "
            f"{len(found.singles)} keep the machine valid, and "
            f"{counted(found.n_pairs, 'pair')}; {found.n_hopeless} more pairs cannot pay "
            "by their own figures."
        )
        if found.n_left:
            text += (
                f" {found.n_left} pairs that might pay were not tried (--all-pairs)."
            )
        if (left := len(found.swaps) - len(self.rows)) > 0:
            text += (
                f" Not shown: {left} that do less in the same place or better nothing "
                "(--all)."
            )
        paid = (
            "Its parts count as paid (--not-bought: not yet)."
            if found.is_in_hand
            else "None of its parts is bought yet: one that is left out saves its price."
        )
        return (
            f"{text} Net is over {counted(self.years, 'year')} after the price; paybacks "
            "are simple, with all inputs low / as given / high. What comes out is counted "
            "as worth nothing; the machine runs as before (spindown looks at that). "
            f"{paid}"
        )

    def _worths(self) -> Table:
        """Return what one watt costs."""
        price, years, worths = cents_of(self.currency), self.years, self.worths
        spans = [(5, [row.money_five_years for row in worths])]
        spans += (
            [(years, [row.money_over_years for row in worths])] if years != 5 else []
        )
        return Table(
            columns=(
                Column(flow="keep"),
                Column(head="a year", unit=ENERGY.fine(2)),
                Column(head="a year", unit=price),
                *(Column(head=f"{span} years", unit=price) for span, _ in spans),
                Column(head="a year", unit=Unit("kg CO2", 2)),
            ),
            rows=tuple(
                Row(
                    cells=(
                        f"{_WHERE[row.where]}, {_WHEN[row.when]}",
                        *(row.kwh_per_year, row.money_per_year),
                        *(sums[n] for _, sums in spans),
                        row.carbon_kg_per_year,
                    )
                )
                for n, row in enumerate(worths)
            ),
        )

    def _growth(self) -> str:
        terms, factor = self.found.scenario.money, self.worths[0].marginal_factor
        text = (
            f"A watt at the parts is {number(factor, 3)} W at the wall here, by the "
            "supply's loss at this load."
        )
        growths = (
            (terms.tariff_growth, "growth of the tariff"),
            (terms.discount, "discount"),
        )
        words = [f"{part * 100:g} % a year {word}" for part, word in growths if part]
        return f"{text} Years count with {' and '.join(words)}." if words else text

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for programs."""
        swaps, sequence, marginal = self.swaps, self.sequence, self.marginal
        return {
            "format": FORMAT,
            "currency": self.currency,
            "years": self.years,
            "in_hand": swaps.is_in_hand,
            "verdict": swaps_verdict(swaps, self.currency),
            "worth_changing": swaps.best is not None,
            "watt": self.worths,
            "present": _figures(self.found),
            "swaps": [_swap_dict(swap, payback) for swap, payback in self.rows],
            "tried": {
                "changes": swaps.n_changes,
                "pairs": swaps.n_pairs,
                "pairs_that_cannot_pay": swaps.n_hopeless,
                "pairs_not_tried": swaps.n_left,
            },
            "sequence": sequence and _sequence_dict(sequence),
            "marginal_prices": marginal and [*map(_marginal_dict, marginal.prices)],
        }


def swaps_verdict(found: SwapList, currency: str) -> str:
    """Return whether anything is worth changing, and what."""
    best, years = found.best, found.before.scenario.money.years
    errors = "; ".join(f.evidence for f in found.before.errors[:2])
    if best is None:
        if not found.before.is_fit:
            return (
                "Does not meet all needs, and no change of one part or pair of changes "
                f"mends it: {errors}."
            )
        return f"Nothing worth changing: {_runner_up(found, currency)}."
    paid = best.money_now
    pay = f"pay {money(paid, currency)} now" if paid >= MINOR_UNIT else "nothing to pay"
    what, saved = changes(best.changes), best.saving_per_year
    if not found.before.is_fit:
        way = "down by" if saved > 0 else "up by"
        return (
            f"Has to change: as it is, {errors}. Cheapest change that mends it: {what} "
            f"({pay}, running cost {way} {money(abs(saved), currency)} a year)."
        )
    return (
        f"Worth changing: {what}: {pay}, saves {money(saved, currency)} a year, "
        f"{money(best.net, currency)} over {counted(years, 'year')} after its price."
    )


def _runner_up(found: SwapList, currency: str) -> str:
    if not found.swaps:
        return "no other part of the catalog fits in alone"
    first = found.swaps[0]
    return (
        f"the best of {counted(len(found.swaps), 'possible change')} "
        f"({changes(first.changes)}) costs {money(-first.net, currency)} more than it "
        f"saves over {counted(found.before.scenario.money.years, 'year')}"
    )


def chosen(found: SwapList, shown: int | None) -> list[Swap]:
    """Return the swaps to show: those that make something better, or all of them.

    Of swaps in the same place the best one stands for all; a pair that is worth less
    than one of its changes alone is left out.
    """
    if shown is None:
        return list(found.swaps)
    alone = {swap.changes[0]: swap.net for swap in found.singles}
    best: dict[tuple[object, ...], Swap] = {}
    for swap in found.swaps:
        parts = [alone.get(change, -math.inf) for change in swap.changes]
        is_outdone = len(parts) > 1 and max(parts) >= swap.net
        if _betters(swap) and not is_outdone:
            best.setdefault(_same_place(swap), swap)
    return list(best.values())[:shown]


def _betters(swap: Swap) -> bool:
    """Return whether a swap makes anything better: cost, watts, a rate, or fitness."""
    before, after = swap.before, swap.after
    faster = any(
        getattr(after.rates, key) >= getattr(before.rates, key) + 0.5
        for _, key in _RATES
    )
    saves = swap.net >= MINOR_UNIT or swap.saving_per_year >= MINOR_UNIT
    return saves or faster or not before.is_fit


def _same_place(swap: Swap) -> tuple[object, ...]:
    """Return what swaps share that change the same pieces for something else."""
    return tuple(
        sorted(
            (c.kind, c.role or "", c.out.key if c.out else "", c.n_out > 1)
            for c in swap.changes
        )
    )


def _together(swap: Swap) -> str:
    if swap.sum_of_parts is not None:
        alone = exact_money(swap.sum_of_parts)
        return f"; one by one the two would be worth {alone}"
    return "; only together" if len(swap.changes) > 1 else ""


def payback_words(payback: PaybackRange) -> str:
    """Return a payback with all inputs low, as given and high.

    Examples
    --------
    >>> payback_words(PaybackRange(low=4.0, mid=3.0, high=2.25))
    '4.0 / 3.0 / 2.2'
    """
    values = (payback.low, payback.mid, payback.high)
    if all(value == 0 for value in values):
        return "at once"
    if all(math.isinf(value) for value in values):
        return "never"
    return " / ".join(map(_years, values))


def _years(value: float) -> str:
    if math.isinf(value):
        return "never"
    return ">100" if value >= 100 else number(value, 1)


def _moved(before: float, after: float) -> Value:
    old, new = WATT.number(before), WATT.number(after)
    return after if old == new else Worded(after, f"{old} to {new}")


def rates_words(before: Assessment, after: Assessment) -> str:
    """Return which rates change, from what to what; nothing where none does."""
    words = []
    for word, key in _RATES:
        old, new = getattr(before.rates, key), getattr(after.rates, key)
        if abs(old - new) >= 0.5:
            words.append(f"{word} {rate(new)} instead of {number(old)}")
    return f"; {', '.join(words)}" if words else ""


def sequence_section(found: SwapSequence, currency: str) -> tuple[Section, ...]:
    """Return what to change in which year under a yearly budget."""
    head = "No change within the budget saves more than it costs."
    if found.steps:
        head = f"Worth {money(found.net, currency)} over the years, today's value."
    steps = [
        f"{'now' if step.year == 1 else f'start of year {step.year}'}, "
        f"{money(step.price, currency)}: {changes(step.changes)}"
        for step in found.steps
    ]
    scope = (
        "all changes of one part that the budget pays"
        if found.is_over_all
        else f"the {found.n_changes} most promising of {found.n_changes_in_all} changes "
        "that the budget pays"
    )
    exact = f"Exact over {scope}; {found.n_sets} sets of up to four assessed."
    return section(
        f"Best sequence under {money(found.budget_per_year, currency)} a year",
        Note(head),
        notes(steps),
        Note(exact),
    )


def marginal_section(found: MarginalPrices, currency: str) -> tuple[Section, ...]:
    """Return what one more of each need costs."""
    title, base = "What one more of each need costs", found.base.assessment
    if base is None:
        text = "No machine of this catalog meets all needs as they are."
        return section(title, Note(text))
    price = cents_of(currency)
    table = Table(
        columns=(
            Column(head="need", flow="keep"),
            Column(head="free up to", is_right=True, flow="keep"),
            Column(head="then", unit=price),
            Column(head="paid now", unit=price),
            Column(flow="keep"),
        ),
        rows=tuple(map(_marginal, found.prices)),
    )
    remark = (
        f"Against the best machine of the catalog ({exact_money(base.total_cost)} "
        f"{currency} over the years), which gives what stands under 'free up to'; the "
        "price is that of one unit more, from a search of its own. Only whole machines "
        "are compared, so that the next unit after it may cost nothing."
    )
    return section(title, table, Note(remark))


def _marginal(row: MarginalPrice) -> Row:
    question = row.question
    then: Value = None
    if row.price is not None:
        then = Worded(row.price, f"+{exact_money(row.price)}")
    elif row.plan.status == "infeasible":
        then = Worded(None, "none has it")
    else:
        then = Worded(None, "not found")
    return Row(
        cells=(
            question.need,
            Quantity(question.given, UNITS[question.unit]),
            then,
            Worded(None, "") if row.purchase is None else row.purchase,
            "" if row.is_proven else "not proven",
        )
    )


def _figures(found: Assessment) -> dict[str, Any]:
    wall, rates = found.wall, found.rates
    states = ("asleep", "spinning", "reading", "writing", "checking", "peak")
    return {
        "is_fit": found.is_fit,
        **{f"{state}_w": getattr(wall, f"{state}_w") for state in states},
        **{key: getattr(rates, key) for _, key in _RATES},
        "usable_tb": found.capacity.usable_tb,
        "kwh_per_year": found.year.kwh,
        "total_cost": cents(found.total_cost),
    }


def _change_dict(change: Change) -> dict[str, Any]:
    out, into = change.out, change.into
    return {
        "kind": change.kind,
        "role": change.role,
        "out": out and out.part.id,
        "out_count": change.n_out,
        "in": into and into.part.id,
        "in_count": change.n_in,
        "in_is_owned": bool(into and into.is_owned),
    }


def _swap_dict(swap: Swap, payback: PaybackRange) -> dict[str, Any]:
    return {
        "words": changes(swap.changes),
        "changes": [*map(_change_dict, swap.changes)],
        "net": cents(swap.net),
        "money_now": cents(swap.money_now),
        "saving_per_year": cents(swap.saving_per_year),
        "payback_years": asdict(payback),
        "sum_of_parts": swap.sum_of_parts,
        "after": _figures(swap.after),
    }


def _sequence_dict(found: SwapSequence) -> dict[str, Any]:
    return {
        "net": cents(found.net),
        "budget_per_year": found.budget_per_year,
        "exact_over_all_changes": found.is_over_all,
        "changes_in_play": found.n_changes,
        "sets_assessed": found.n_sets,
        "steps": [
            {
                "year": step.year,
                "price": cents(step.price),
                "words": changes(step.changes),
                "changes": [*map(_change_dict, step.changes)],
                "after": _figures(step.after),
            }
            for step in found.steps
        ],
    }


def _marginal_dict(row: MarginalPrice) -> dict[str, Any]:
    return {
        "key": row.question.key,
        "unit": row.question.unit,
        "given": row.question.given,
        "asked": row.question.asked,
        "price": row.price,
        "purchase": row.purchase,
        "is_proven": row.is_proven,
    }
