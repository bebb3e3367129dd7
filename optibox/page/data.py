"""The page's data: everything that it shows, as one table that JSON can hold.

Figures come from the evaluator's record by way of the JSON answer, so that the page
and ``--format json`` cannot differ.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.frontier.axes import AXES
from optibox.frontier.records import Frontier, Row, Span, Trade
from optibox.page.bench import bench_steps
from optibox.page.drawing import drawing
from optibox.page.exact import money_table, tariff_table
from optibox.page.packing import lean, plain
from optibox.page.pictures import chain_rows, day_rows, ladder_rows, power_table
from optibox.page.question import question
from optibox.page.ways import ways_of
from optibox.present.as_json import described
from optibox.present.cautions import CAUTIONS
from optibox.present.figures_table import figure_groups
from optibox.present.order import STEPS
from optibox.present.report import Report
from optibox.present.run_line import layout_words, operation_rows
from optibox.present.sections import card_words, proof_text, wiring_words
from optibox.present.settle import finding_text, merged
from optibox.present.slack import share_text, slacks
from optibox.present.verdict import does, standing
from optibox.present.wiring_map import WiringRow, card_rows, wiring_rows
from optibox.present.words import capital, clean, counted, money, number
from optibox.scenario import Assumed, Scenario
from optibox.search.result import Plan

FORMAT = 1
"""Version of the layout of the page's data."""

DIGITS = 6
"""Decimals of what the page shows as it is; what it counts with is not rounded."""

_LIVE_SLACK = ("limits.total_cost", "wear budget")
"""Slack that the page counts anew, since it depends on tariff or years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a page is about."""

    scenario: Scenario
    catalog: Catalog
    frontier: Frontier
    plan: Plan
    """The plan's own answer; its build is a row of the frontier."""
    assumed: tuple[Assumed, ...] = ()
    today: date | None = None
    command: str = ""
    """The command that makes this page, without its output."""

    @property
    def report(self) -> Report:
        """Return the plan as the text answer tells it."""
        return Report(
            plan=self.plan,
            scenario=self.scenario,
            catalog=self.catalog,
            assumed=self.assumed,
            today=self.today,
        )


def page_data(subject: Subject) -> dict[str, Any]:
    """Return everything that the page shows.

    ``tariff`` and each row's ``money`` and ``ways`` have twelve digits, since the page
    counts with them; all else is rounded to six decimals.
    """
    report, currency = subject.report, subject.report.currency
    needs = subject.scenario.needs
    table = {
        "format": FORMAT,
        "name": clean(subject.scenario.name) or "An archive server",
        "about": clean(subject.scenario.about),
        "currency": currency,
        "stamp": report.stamp,
        "command": subject.command,
        "date": subject.today.isoformat() if subject.today else "",
        "question": [list(row) for row in question(subject.scenario, currency)],
        "needs": {
            "usable_tb": needs.capacity_tb,
            "in_tib": needs.usable_tib is not None,
            "ingest_mb_s": needs.ingest_mb_s,
            "read_mb_s": needs.read_mb_s,
            "write_mb_s": needs.write_mb_s,
        },
        "axes": _axes(),
        "proof": {
            "plan": capital(proof_text(report)),
            "frontier": frontier_words(subject),
        },
        "cautions": {c.key: c.text for c in CAUTIONS},
        "caution_steps": {s: [c.key for c in CAUTIONS if s in c.steps] for s in STEPS},
        "assumptions": [list(row) for row in subject.assumed],
        "steps": list(STEPS),
    }
    found: dict[str, Any] = plain(table, DIGITS)
    found["tariff"] = plain(tariff_table(subject.scenario))
    found["rows"] = [_row(subject, row) for row in subject.frontier.rows]
    return found


def _axes() -> list[dict[str, Any]]:
    return [
        {
            "key": axis.key,
            "label": axis.label,
            "unit": axis.unit,
            "is_money": axis.is_money,
            "is_maximised": axis.is_maximised,
            "decimals": axis.decimals,
        }
        for axis in AXES.values()
    ]


def frontier_words(subject: Subject) -> str:
    """Return how far the set of alternatives is proven."""
    front = subject.frontier
    n = counted(len(front.rows), "machine")
    if len(front.rows) < 2 or front.status == "unknown":
        return ""
    names = ", ".join(axis.label.lower() for axis in front.axes)
    if front.status != "proven":
        return f"{n}, compared by {names}; stopped before all others were ruled out."
    if front.factor == 1:
        return f"{n}: all that nothing beats in {names}; proven."
    within = number((front.factor - 1) * 100, 1).removesuffix(".0")
    return (
        f"{n}: every other machine of the catalog is within {within} % of one of them, "
        f"or worse, in {names}; proven."
    )


def _row(subject: Subject, row: Row) -> dict[str, Any]:
    found, currency = row.assessment, subject.report.currency
    answer = described(found, currency)
    wiring = wiring_rows(found)
    table = {
        "number": row.number,
        "is_plan": row.is_plan,
        "is_fit": found.is_fit,
        "standing": standing(subject.report).split(" (")[0] if row.is_plan else "",
        "best_in": list(row.best_in),
        "why": [why_words(trade, currency) for trade in row.why],
        "spans": list(_spans(row, currency)),
        "title": title_of(found),
        "does": does(found),
        "layout": found.machine.operation.layout,
        "timeout_min": found.machine.operation.timeout_min,
        "figures": answer["figures"],
        "groups": [
            [group.title, [[f.key, f.label, f.text] for f in group.figures if f.label]]
            for group in figure_groups(found, currency)
        ],
        "order": [_kept(order) for order in answer["order"]],
        "postage": answer["postage"],
        "unused_owned": answer["unused_owned"],
        "settle_first": answer["settle_first"],
        "findings": [[f.severity, finding_text(f)] for f in merged(found.findings)],
        "wiring": [
            [row.bay, row.drive, list(wiring_words(row)), _way(row)] for row in wiring
        ],
        "cards": [card_words(card) for card in card_rows(found)],
        "power_plugs": answer["build"]["power_plugs"],
        "run": [
            [name, text]
            for name, text in operation_rows(found, currency)
            if name and name != "stop drives after"
        ],
        "slack": [
            [capital(s.text), share_text(s), s.is_tight]
            for s in slacks(found)
            if s.key not in _LIVE_SLACK
        ],
        "rates": answer["rates"],
        "power": power_table(found),
        "chains": chain_rows(found),
        "day": day_rows(found),
        "ladder": ladder_rows(found),
        "bench": bench_steps(found),
    }
    shown: dict[str, Any] = plain(table, DIGITS)
    shown["drawing"] = drawing(found)
    shown["money"] = lean(plain(money_table(found)))
    shown["ways"] = lean(plain(ways_of(found)))
    return shown


def _way(row: WiringRow) -> list[str]:
    """Return cable, port and power of a drive, as a printed table has them."""
    leg = f"; {row.leg}" if row.leg else ""
    cable = f"{row.cable} [{row.cable_id}]{leg}" if row.cable else "-"
    return [cable, row.port_words, row.power]


def _kept(order: dict[str, Any]) -> dict[str, Any]:
    """Return an order row without what says nothing."""
    return {k: v for k, v in order.items() if v not in ("", 0, 0.0, (), [], {}, None)}


def title_of(found: Assessment) -> str:
    """Return a machine in a few words: array, cache, when drives stop."""
    plan = found.machine.operation
    cache = {"mirror": "mirrored cache", "single": "cache", "none": "no cache"}
    stop = (
        "drives never stop"
        if plan.timeout_min is None
        else f"stop after {plan.timeout_min:g} min"
    )
    mode = "" if plan.write_mode == "plain" else f", {plan.write_mode}"
    return f"{capital(layout_words(found))}{mode}, {cache[plan.cache]}, {stop}"


def why_words(trade: Trade, currency: str) -> str:
    """Return what a machine gains and gives up against another."""
    gains = ", ".join(_amount(name, x, currency) for name, x in trade.gains)
    loses = ", ".join(_amount(name, x, currency) for name, x in trade.gives_up)
    against = f"Against no. {trade.against}: "
    if gains and loses:
        return f"{against}better by {gains}; worse by {loses}."
    return f"{against}{'better' if gains else 'worse'} by {gains or loses}."


def _amount(name: str, value: float, currency: str) -> str:
    axis = AXES[name]
    words = axis.label.lower()
    if axis.is_money:
        return f"{money(abs(value), currency)}{axis.unit.replace('/', ' a ')} {words}"
    return f"{number(abs(value), axis.decimals)} {axis.unit} {words}"


def _spans(row: Row, currency: str) -> Iterator[str]:
    if row.tariff:
        per = f" {currency} a kWh"
        yield f"Cheapest in total {_between(row.tariff, 3, per)}."
    if row.horizon:
        yield f"Cheapest in total over {_between(row.horizon, 0, ' years')}."


def _between(span: Span, digits: int, unit: str) -> str:
    low, high = number(span.low, digits), number(span.high, digits)
    if span.high == float("inf"):
        return f"{low}{unit} and more"
    return f"{low} to {high}{unit}"
