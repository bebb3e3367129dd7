"""The page's data: everything that it shows, as one table that JSON can hold.

Figures come from the evaluator's record by way of the JSON answer, so that the page
and ``--format json`` cannot differ.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from optibox.assess import Assessment
from optibox.criteria import AXES
from optibox.frontier.records import Frontier, Row
from optibox.page.bench import bench_steps
from optibox.page.beside import measuring, moving, sleeping, sources, thoughts_table
from optibox.page.drawing import drawing
from optibox.page.exact import money_table, tariff_table
from optibox.page.packing import lean, plain
from optibox.page.pictures import chain_rows, day_rows, ladder_rows, power_table
from optibox.page.question import question
from optibox.page.ways import ways_of
from optibox.report.answer import Report
from optibox.report.cautions import CAUTIONS
from optibox.report.described import described
from optibox.report.figures import figure_groups
from optibox.report.frontier import (
    ends_of,
    horizon_words,
    pieces_words,
    proof_words,
    tariff_words,
    trade_words,
)
from optibox.report.machines import drives_and_ways
from optibox.report.order import STEPS
from optibox.report.plan import card_words, proof_text, wiring_words
from optibox.report.run_line import operation_rows
from optibox.report.settle import finding_text, merged
from optibox.report.slack import share_text, slacks
from optibox.report.verdict import does, standing
from optibox.report.wiring_map import WiringRow, card_rows, wiring_rows
from optibox.report.words import capital, clean
from optibox.scenario import Scenario

FORMAT = 1
"""Version of the layout of the page's data."""

DIGITS = 6
"""Decimals of what the page shows as it is; what it counts with is not rounded."""

_LIVE_SLACK = ("limits.total_cost", "wear budget")
"""Slack that the page counts anew, since it depends on tariff or years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a page is about."""

    frontier: Frontier
    """The plan's own machine is one of its rows."""
    report: Report
    """The plan as the text answer tells it, second thoughts with it if asked for."""
    command: str = ""
    """The command that makes this page, without its output."""

    @property
    def scenario(self) -> Scenario:
        """Return the question."""
        return self.report.scenario


def page_data(subject: Subject) -> dict[str, Any]:
    """Return everything that the page shows.

    ``tariff`` and each row's ``money`` and ``ways`` have twelve digits, since the page
    counts with them; all else is rounded to six decimals.
    """
    report, front = subject.report, subject.frontier
    currency = report.currency
    needs = subject.scenario.needs
    table = {
        "format": FORMAT,
        "name": clean(subject.scenario.name) or "An archive server",
        "about": clean(subject.scenario.about),
        "currency": currency,
        "stamp": report.stamp,
        "command": subject.command,
        "date": report.today.isoformat() if report.today else "",
        "question": [list(row) for row in question(subject.scenario, currency)],
        "needs": {
            "usable_tb": needs.capacity_tb,
            "in_tib": needs.usable_tib is not None,
            "ingest_mb_s": needs.ingest_mb_s,
            "read_mb_s": needs.read_mb_s,
            "write_mb_s": needs.write_mb_s,
        },
        "axes": _axes(),
        "view": list(_view(front)),
        "proof": {
            "plan": capital(proof_text(report)),
            "frontier": proof_words(front, currency) if len(front.rows) > 1 else "",
            "tariffs": list(_cheapest(front, currency)),
        },
        "thoughts": thoughts_table(report.second, currency),
        "cautions": {c.key: c.text for c in CAUTIONS},
        "caution_steps": {s: [c.key for c in CAUTIONS if s in c.steps] for s in STEPS},
        "assumptions": [list(row) for row in report.assumed],
        "steps": list(STEPS),
    }
    found: dict[str, Any] = plain(table, DIGITS)
    found["tariff"] = plain(tariff_table(subject.scenario))
    found["rows"] = [_row(subject, row) for row in subject.frontier.rows]
    return found


def _view(front: Frontier) -> tuple[str, str]:
    """Return the two axes of the first picture: the first, and that of widest spread."""
    first, *others = front.axes
    spreads = {}
    for place, axis in enumerate(others, 1):
        values = [abs(row.values[place]) for row in front.rows]
        most = max(values, default=0.0)
        spreads[axis.key] = (most - min(values, default=0.0)) / most if most else 0.0
    return first.key, max(spreads, key=lambda key: spreads[key], default=first.key)


def _cheapest(front: Frontier, currency: str) -> Iterator[str]:
    """Yield which machine is the cheapest at which tariff and over which years."""
    if len(front.rows) < 2:
        return
    if words := tariff_words(front, currency):
        yield f"Cheapest in total of these by tariff: {words}."
    if words := horizon_words(front):
        yield f"Cheapest in total of these by years: {words}."
    if front.tariffs:
        words = pieces_words(front.tariffs, currency)
        yield f"Cheapest of the whole catalog by tariff: {words}."


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


def _row(subject: Subject, row: Row) -> dict[str, Any]:
    found, currency = row.assessment, subject.report.currency
    answer = described(found, currency)
    wiring = wiring_rows(found)
    order, move = measuring(found), moving(found)
    table = {
        "number": row.number,
        "key": fingerprint(found),
        "is_plan": row.is_plan,
        "is_fit": found.is_fit,
        "standing": standing(subject.report).split(" (")[0] if row.is_plan else "",
        "best_in": list(row.best_in),
        "why": list(_why(row, currency)),
        "title": drives_and_ways(found),
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
        "power_sentence": answer["build"]["power_sentence"],
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
        "sleeping": sleeping(found, currency),
        "sources": sources(found),
        "moving": move,
        "measuring": order,
        "bench": bench_steps(found, order, move),
    }
    shown: dict[str, Any] = plain(table, DIGITS)
    shown["drawing"] = drawing(found)
    shown["money"] = lean(plain(money_table(found)))
    shown["ways"] = lean(plain(ways_of(found)))
    return shown


def fingerprint(found: Assessment) -> str:
    """Return a short name of a build, under which a browser remembers its ticks."""
    build = found.build
    parts = sorted((entry.item.key, entry.count) for entry in build.items)
    text = repr((parts, build.drives, build.connections, build.slots, build.power))
    return sha256(text.encode()).hexdigest()[:12]


def _why(row: Row, currency: str) -> Iterator[str]:
    """Yield where a machine is the best, and what it trades against its neighbours."""
    if ends := "; ".join(ends_of(row)):
        yield capital(ends)
    yield from (capital(trade_words(trade, currency)) for trade in row.why)


def _way(row: WiringRow) -> list[str]:
    """Return cable, port and power of a drive, as a printed table has them."""
    leg = f"; {row.leg}" if row.leg else ""
    cable = f"{row.cable} [{row.cable_id}]{leg}" if row.cable else "-"
    return [cable, row.port_words, row.power_short]


def _kept(order: dict[str, Any]) -> dict[str, Any]:
    """Return an order row without what says nothing."""
    return {k: v for k, v in order.items() if v not in ("", 0, 0.0, (), [], {}, None)}
