"""The machines that nothing beats: rows, why each is there, where it is cheapest."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from optibox.criteria import AXES, Criterion
from optibox.frontier.records import Frontier, Piece, Row, Span, Trade
from optibox.frontier.rows import trade
from optibox.frontier.second import SecondThoughts
from optibox.report.as_json import FORMAT, cents
from optibox.report.document import Column, Document, Note, Table, notes, section
from optibox.report.document import Row as Cells
from optibox.report.explain import NO_BUILD, NOT_FOUND
from optibox.report.machines import drives_and_ways
from optibox.report.quantity import Unit, number, share, sum_of
from optibox.report.second import TITLE, second_dict, second_section
from optibox.report.words import and_list, counted

BESIDE: tuple[str, ...] = ("total cost", "kwh")
"""Axes that stand beside those that were asked for."""
PLAN_MARK = "*"


@dataclass(frozen=True, kw_only=True)
class FrontierReport:
    """Machines worth considering, and how far that is proven."""

    found: Frontier
    currency: str
    stamp: str
    """How far the catalog can be trusted."""
    second: SecondThoughts | None = None
    is_all: bool = False
    """All rows, not those alone that matter."""

    def document(self) -> Document:
        """Return the rows that matter, or all, and what is known of them."""
        found, second = self.found, self.second
        rows = [row for row in found.rows if row.matters or self.is_all]
        lead = (Note(proof_words(found, self.currency)), Note(self.stamp))
        if not rows:
            needs = section("Needs and limits in play", notes(found.in_play))
            return Document(
                verdict=(self._title(),), lead=lead, sections=needs, data=self._data()
            )
        columns = axes_of(found)
        title = f"{TITLE} about the plan's own"
        return Document(
            verdict=(self._title(),),
            lead=lead,
            sections=(
                *section(
                    f"By {and_list(axis.label.lower() for axis in columns)}",
                    self._table(rows, columns),
                    *map(Note, self._below(len(found.rows) - len(rows))),
                ),
                *(second_section(second, self.currency, title) if second else ()),
            ),
            data=self._data(),
        )

    def _title(self) -> str:
        found = self.found
        if not found.rows:
            return NO_BUILD if found.status == "infeasible" else NOT_FOUND
        axes = and_list(axis.label.lower() for axis in found.axes)
        return f"{counted(len(found.rows), 'machine')} worth considering by {axes}."

    def _table(self, rows: Sequence[Row], columns: Sequence[Criterion]) -> Table:
        why = why_among(rows, self.found, self.currency)
        axes = (
            Column(
                head=axis.label, unit=Unit(unit_of(axis, self.currency), axis.decimals)
            )
            for axis in columns
        )
        return Table(
            columns=(
                Column(head="No", flow="keep"),
                *axes,
                Column(head="Machine", least=24),
            ),
            rows=tuple(
                Cells(
                    cells=(
                        f"{row.number}{PLAN_MARK if row.is_plan else ''}",
                        *(axis.value_of(row.assessment) for axis in columns),
                        drives_and_ways(row.assessment),
                    ),
                    note=why[row.number],
                    tone="strong" if row.is_plan else "plain",
                )
                for row in rows
            ),
        )

    def _below(self, left: int) -> list[str]:
        """Return what stands below the table."""
        found, currency = self.found, self.currency
        texts = [self._plan()]
        if spans := tariff_words(found, currency):
            texts.append(f"Cheapest of these in total, by price of a kWh: {spans}.")
        if years := horizon_words(found):
            texts.append(f"By years counted: {years}.")
        if found.tariffs:
            words = pieces_words(found.tariffs, currency)
            head = "Cheapest of the whole catalog, searched anew at each break"
            texts.append(f"{head}: {words}.")
        effort = found.effort
        texts.append(
            f"{counted(effort.n_solves, 'search', 'searches')}, "
            f"{counted(effort.n_builds, 'machine')} judged, {effort.seconds:.1f} s."
        )
        more = f"{counted(left, 'row')} more: --all. " if left else ""
        texts.append(
            f"{more}Keep a machine: --save NUMBER build.toml. As a picture: --picture "
            "FILE.png."
        )
        return texts

    def _plan(self) -> str:
        """Return which row the plan is, or why it is in none."""
        found = self.found
        if found.plan_number is not None:
            return f"{PLAN_MARK} the plan's own optimum."
        plan = found.plan.assessment if found.plan else None
        if plan is None:
            return ""
        head = "The plan's own optimum is in no row"
        for row in found.rows:
            pairs = zip(found.axes, row.values, strict=True)
            if all(x.sign * v <= x.sign * x.value_of(plan) + 1e-9 for x, v in pairs):
                return f"{head}: row {row.number} is at least as good on each of these axes."
        return f"{head}: one within the steps stands for it."

    def _data(self) -> Table:
        """Return all rows, as CSV has them; an open end of a span is a blank."""
        why = why_among(self.found.rows, self.found, self.currency)
        spans = ("from_per_kwh", "to_per_kwh", "from_years", "to_years")
        heads = ("currency", "is_plan", "matters", "best_in")
        return Table(
            columns=(
                Column(key="number"),
                *(
                    Column(key=axis.key, unit=Unit(is_money=axis.is_money))
                    for axis in AXES.values()
                ),
                *(Column(key=key) for key in heads),
                *(Column(key=f"cheapest_{span}") for span in spans),
                *(Column(key=key) for key in ("machine", "why")),
            ),
            rows=tuple(
                Cells(
                    cells=(
                        row.number,
                        *(axis.value_of(row.assessment) for axis in AXES.values()),
                        *(self.currency, row.is_plan, row.matters),
                        "; ".join(row.best_in),
                        *_ends(row.tariff),
                        *_ends(row.horizon),
                        *(drives_and_ways(row.assessment), why[row.number]),
                    )
                )
                for row in self.found.rows
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return all rows for programs.

        Keys, at the top:

        - ``status``: ``proven``, ``stopped`` (before the proof), ``infeasible`` or
          ``unknown`` (stopped without any build); ``mode``: ``cover`` or ``exact``
        - ``factor``: every build is within this factor of a row on every axis, 1 where
          the set is exact, null where nothing is proven; ``regions_open``: not searched
          to the end
        - ``axes``: ``name``, ``key``, ``unit``, ``is_maximised``, ``resolution``
        - ``plan_row``: number of the plan's own row, null where it is in none
        - ``rows``: ``number``, every axis by its ``key``, ``why`` in words, ``against``
          (the rows beside it: ``row``, ``gains``, ``gives_up`` by axis name),
          ``best_in``, ``is_plan``, ``matters``, ``cheapest_tariff`` (``from_per_kwh``,
          ``to_per_kwh``) and ``cheapest_years`` (``from``, ``to``; null = for ever),
          ``machine`` in words, ``parts``, ``operation``
        - ``tariffs``: which build of the whole catalog is cheapest at which mean price
          of a kWh, where that was asked for
        - ``second_thoughts``, where asked for: as in the JSON of ``plan``
        - ``progress``: ``seconds`` after which which ``factor`` was proven of the builds
          known; ``effort``; ``in_play``: needs and limits in words, without a build
        """
        found = self.found
        why = why_among(found.rows, found, self.currency)
        told = {
            "format": FORMAT,
            "status": found.status,
            "mode": found.mode,
            "currency": self.currency,
            "factor": found.factor,
            "regions_open": found.n_open,
            "axes": [
                {
                    "name": axis.name,
                    "key": axis.key,
                    "unit": unit_of(axis, self.currency),
                    "is_maximised": axis.is_maximised,
                    "resolution": step,
                }
                for axis, step in zip(found.axes, found.resolution, strict=True)
            ],
            "plan_row": found.plan_number,
            "rows": [_row_dict(row, why[row.number]) for row in found.rows],
            "tariffs": [
                _span_dict(piece.span, "_per_kwh")
                | {"row": piece.row, "machine": drives_and_ways(piece.assessment)}
                for piece in found.tariffs
            ],
            "progress": [
                {"seconds": round(seconds, 3), "factor": factor}
                for seconds, factor in found.progress
            ],
            "effort": {
                "searches": found.effort.n_solves,
                "builds": found.effort.n_builds,
                "seconds": round(found.effort.seconds, 3),
            },
            "in_play": list(found.in_play),
        }
        second = self.second
        return told | ({"second_thoughts": second_dict(second)} if second else {})


def axes_of(found: Frontier) -> tuple[Criterion, ...]:
    """Return the axes of a table: those asked for, then total cost and energy."""
    beside = (AXES[name] for name in BESIDE)
    return found.axes + tuple(axis for axis in beside if axis not in found.axes)


def unit_of(axis: Criterion, currency: str) -> str:
    """Return the unit of an axis with the currency where it is money."""
    return f"{currency}{axis.unit}" if axis.is_money else axis.unit


def amount(axis: Criterion, value: float, currency: str) -> str:
    """Return a value of an axis with its unit, as in a sentence."""
    if axis.is_money:
        return sum_of(unit_of(axis, currency)).text(value)
    digits = max(axis.decimals, 1 if abs(value) < 10 else 0)
    return Unit(axis.unit, digits).text(value)


def trade_words(told: Trade, currency: str) -> str:
    """Return what a row gains and gives up against another one."""
    gains = [AXES[n].better.format(amount(AXES[n], x, currency)) for n, x in told.gains]
    losses = [
        AXES[n].worse.format(amount(AXES[n], x, currency)) for n, x in told.gives_up
    ]
    if not gains and not losses:
        return f"the same as {told.against}"
    text = f"against {told.against}: {and_list(gains) or 'nothing better'}"
    return f"{text} for {and_list(losses)}" if losses else text


def why_among(rows: Sequence[Row], frontier: Frontier, currency: str) -> dict[int, str]:
    """Return for some rows why they are there, each against the one shown before it."""
    found = {}
    for place, row in enumerate(rows):
        words = ends_of(row)
        if place:
            before = trade(row, rows[place - 1], frontier.axes)
            words.append(trade_words(before, currency))
        found[row.number] = "; ".join(words)
    return found


def ends_of(row: Row) -> list[str]:
    """Return what a row is best in, and whether it is the plan's own."""
    own = ["the plan's own"] if row.is_plan else []
    return own + [AXES[name].end for name in row.best_in]


def proof_words(frontier: Frontier, currency: str) -> str:
    """Return how far a frontier is proven."""
    if frontier.status == "infeasible":
        return "Proven: no machine of this catalog meets all needs within all limits."
    if not frontier.rows:
        return "Stopped before any machine was found; one may exist."
    steps = and_list(
        f"{step:g} {unit_of(axis, currency)}"
        for axis, step in zip(frontier.axes, frontier.resolution, strict=True)
    )
    if frontier.mode == "exact" and frontier.status == "proven":
        return f"Proven complete: no other machine is better by {steps} anywhere."
    within = f"every machine is within {percent(frontier.factor)} of a row on each axis"
    if frontier.status == "proven":
        return f"Proven: {within}, ends included."
    left = counted(frontier.n_open, "region")
    if math.isinf(frontier.factor):
        return (
            "Stopped: nothing is proven yet about machines that are not shown "
            f"({left} not searched)."
        )
    return f"Stopped: so far {within} is proven; {left} not searched to the end."


def percent(factor: float) -> str:
    """Return a factor above 1 as per cent, rounded up.

    Examples
    --------
    >>> percent(1.0312), percent(1.5), percent(3.0), percent(math.inf)
    ('3.2 %', '50 %', 'a factor of 3.0', 'any factor')
    """
    if math.isinf(factor):
        return "any factor"
    if factor > 2:
        return f"a factor of {math.ceil(factor * 10 - 1e-6) / 10:.1f}"
    digits = 1000 if factor - 1 < 0.0995 else 100
    return share(math.ceil((factor - 1) * digits - 1e-6) / digits)


def tariff_words(frontier: Frontier, currency: str) -> str:
    """Return at which price of a kWh each row is the cheapest in total."""
    rows = [(row.tariff, f"row {row.number}") for row in frontier.rows if row.tariff]
    return _spans_words(rows, f"{currency}/kWh")


def pieces_words(pieces: Sequence[Piece], currency: str) -> str:
    """Return at which price of a kWh which build of the catalog is the cheapest."""
    rows = [
        (p.span, f"row {p.row}" if p.row else drives_and_ways(p.assessment))
        for p in pieces
    ]
    return _spans_words(rows, f"{currency}/kWh")


def _spans_words(rows: Sequence[tuple[Span, str]], unit: str) -> str:
    words = []
    for span, what in sorted(rows, key=lambda pair: pair[0].low):
        low, high = (number(x, 3) for x in (span.low, span.high))
        if math.isinf(span.high):
            where = "at any price" if span.low <= 0 else f"above {low} {unit}"
        else:
            where = (
                f"below {high} {unit}" if span.low <= 0 else f"{low} to {high} {unit}"
            )
        words.append(f"{where}: {what}")
    return "; ".join(words)


def horizon_words(frontier: Frontier) -> str:
    """Return over how many years each row is the cheapest in total."""
    spans = [(row.horizon, row.number) for row in frontier.rows if row.horizon]
    spans.sort(key=lambda pair: pair[0].low)
    return "; ".join(f"{_years(span)}: row {number_}" for span, number_ in spans)


def _years(span: Span) -> str:
    if math.isinf(span.high):
        return (
            f"{span.low:.0f} years or more" if span.low > 1 else "any number of years"
        )
    if span.low == span.high:
        return counted(int(span.low), "year")
    return f"{span.low:.0f} to {span.high:.0f} years"


def _ends(span: Span | None) -> tuple[float | None, float | None]:
    return (span.low, span.high) if span else (None, None)


def _row_dict(row: Row, why: str) -> dict[str, Any]:
    found = row.assessment
    axes = ((axis, axis.value_of(found)) for axis in AXES.values())
    return {
        "number": row.number,
        **{axis.key: cents(x) if axis.is_money else x for axis, x in axes},
        "why": why,
        "against": [
            {
                "row": told.against,
                "gains": dict(told.gains),
                "gives_up": dict(told.gives_up),
            }
            for told in row.why
        ],
        "best_in": list(row.best_in),
        "is_plan": row.is_plan,
        "matters": row.matters,
        "cheapest_tariff": _span_dict(row.tariff, "_per_kwh") if row.tariff else None,
        "cheapest_years": _span_dict(row.horizon, "") if row.horizon else None,
        "machine": drives_and_ways(found),
        "parts": [
            {
                "id": entry.item.part.id,
                "kind": entry.item.part.kind,
                "count": entry.count,
                "owned": entry.item.is_owned,
            }
            for entry in found.build.items
        ],
        "operation": asdict(found.build.operation),
    }


def _span_dict(span: Span, suffix: str) -> dict[str, Any]:
    return {f"from{suffix}": span.low, f"to{suffix}": span.high}
