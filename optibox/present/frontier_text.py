"""A frontier as text: the rows that matter, where each is cheapest, what is proven."""

from collections.abc import Iterator, Sequence

from optibox.catalog.catalog import Catalog
from optibox.criteria import AXES, Criterion
from optibox.frontier.records import Frontier, Row
from optibox.present.frontier_words import (
    horizon_words,
    machine_words,
    pieces_words,
    proof_words,
    tariff_words,
    unit_of,
    why_among,
)
from optibox.present.order_text import MARGIN
from optibox.present.report import Report, currency_of
from optibox.present.text import Line
from optibox.present.verdict import NO_BUILD
from optibox.present.words import pad_left, width_of, wrapped
from optibox.report.quantity import number
from optibox.report.words import and_list, clean, counted
from optibox.scenario import Scenario

BESIDE: tuple[str, ...] = ("total cost", "kwh")
"""Axes that stand beside those that were asked for."""

PLAN_MARK = "*"


def frontier_lines(
    frontier: Frontier,
    scenario: Scenario,
    catalog: Catalog,
    *,
    width: int,
    is_all: bool = False,
) -> list[Line]:
    """Return a frontier as lines: all rows, or those that matter."""
    currency = currency_of(scenario, catalog)
    lines = [Line(t, "strong") for t in wrapped(_title(frontier), width)]
    lines += [Line(t) for t in wrapped(proof_words(frontier, currency), width)]
    lines += [Line(t) for t in wrapped(_stamp(frontier, scenario, catalog), width)]
    if not frontier.rows:
        if frontier.in_play:
            lines.append(Line("Needs and limits in play", "strong"))
        for words in frontier.in_play:
            lines += [Line(text) for text in wrapped(clean(words), width, MARGIN)]
        return lines
    rows = [row for row in frontier.rows if row.matters or is_all]
    lines += [Line("")]
    lines += _table(frontier, rows, currency, width)
    lines += [Line("")]
    lines += [Line(text) for text in _below(frontier, rows, currency, width)]
    return lines


def _title(frontier: Frontier) -> str:
    if not frontier.rows:
        return NO_BUILD if frontier.status == "infeasible" else "No machine was found."
    axes = and_list(axis.label.lower() for axis in frontier.axes)
    n = len(frontier.rows)
    return f"{counted(n, 'machine')} worth considering by {axes}."


def _stamp(frontier: Frontier, scenario: Scenario, catalog: Catalog) -> str:
    """Return how far the catalog can be trusted, as the plan's page says it."""
    if frontier.plan is None:
        return clean(catalog.name)
    return Report(plan=frontier.plan, scenario=scenario, catalog=catalog).stamp


def columns_of(frontier: Frontier) -> tuple[Criterion, ...]:
    """Return the axes of a table: those asked for, then total cost and energy."""
    return frontier.axes + tuple(
        AXES[name] for name in BESIDE if AXES[name] not in frontier.axes
    )


def _table(
    frontier: Frontier, rows: Sequence[Row], currency: str, width: int
) -> Iterator[Line]:
    """Yield two or three lines a row: figures and machine, then why it is there."""
    columns = columns_of(frontier)
    head = [["No", "", *(axis.label for axis in columns)]]
    head += [["", "", *(unit_of(axis, currency) for axis in columns)]]
    body = [_cells(row, columns) for row in rows]
    widths = [max(width_of(r[j]) for r in head + body) for j in range(len(head[0]))]
    why = why_among(rows, frontier, currency)
    for cells, last in zip(head, ("Machine", ""), strict=True):
        yield Line(_row_text(cells, widths) + "  " + last, "strong")
    indent = " " * (widths[0] + widths[1] + 2)
    for cells, row in zip(body, rows, strict=True):
        first = _row_text(cells, widths) + "  "
        machine = machine_words(row.assessment)
        for text in wrapped(machine, width, first, " " * width_of(first)):
            yield Line(text, "strong" if row.is_plan else "plain")
        for text in wrapped(why[row.number], width, indent):
            yield Line(text)


def _cells(row: Row, columns: Sequence[Criterion]) -> list[str]:
    mark = PLAN_MARK if row.is_plan else ""
    values = (axis.value_of(row.assessment) for axis in columns)
    return [
        str(row.number),
        mark,
        *(number(v, a.decimals) for v, a in zip(values, columns, strict=True)),
    ]


def _row_text(cells: Sequence[str], widths: Sequence[int]) -> str:
    first = pad_left(cells[0], widths[0]) + cells[1].ljust(widths[1])
    rest = (pad_left(c, w) for c, w in zip(cells[2:], widths[2:], strict=True))
    return "  ".join([first, *rest])


def _below(
    frontier: Frontier, rows: Sequence[Row], currency: str, width: int
) -> Iterator[str]:
    """Yield what stands below the table."""
    yield from wrapped(_plan_words(frontier), width)
    spans = tariff_words(frontier, currency)
    if spans:
        title = "Cheapest of these in total, by price of a kWh: "
        yield from wrapped(f"{title}{spans}.", width)
    years = horizon_words(frontier)
    if years:
        yield from wrapped(f"By years counted: {years}.", width)
    if frontier.tariffs:
        words = pieces_words(frontier.tariffs, currency)
        yield from wrapped(
            f"Cheapest of the whole catalog, searched anew at each break: {words}.",
            width,
        )
    effort = frontier.effort
    yield from wrapped(
        f"{counted(effort.n_solves, 'search', 'searches')}, {counted(effort.n_builds, 'machine')} judged, "
        f"{effort.seconds:.1f} s.",
        width,
    )
    left = len(frontier.rows) - len(rows)
    more = f"{counted(left, 'row')} more: --all. " if left else ""
    yield from wrapped(
        f"{more}Keep a machine: --save NUMBER build.toml. As a picture: --picture FILE.png.",
        width,
    )


def _plan_words(frontier: Frontier) -> str:
    """Return which row the plan is, or why it is in none."""
    if frontier.plan_number is not None:
        return f"{PLAN_MARK} the plan's own optimum."
    plan = frontier.plan.assessment if frontier.plan else None
    if plan is None:
        return ""
    values = [axis.value_of(plan) for axis in frontier.axes]
    beaten = [
        row.number
        for row in frontier.rows
        if all(
            axis.sign * mine <= axis.sign * theirs + 1e-9
            for axis, mine, theirs in zip(
                frontier.axes, row.values, values, strict=True
            )
        )
    ]
    if beaten:
        return (
            f"The plan's own optimum is in no row: row {beaten[0]} is at least as good "
            "on each of these axes."
        )
    return "The plan's own optimum is in no row: one within the steps stands for it."
