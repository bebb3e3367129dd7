"""A frontier in words: what a row is, why it is there, where it becomes cheapest."""

import math
from collections.abc import Callable, Sequence
from itertools import groupby

from optibox.assess import Assessment
from optibox.catalog.storage import Drive
from optibox.criteria import AXES, Criterion
from optibox.frontier.records import Frontier, Piece, Row, Span, Trade
from optibox.frontier.rows import trade
from optibox.report.quantity import CENTS_BELOW, number, share
from optibox.report.words import and_list, clean, counted

Words = Callable[[str, str], str]
"""Makes a difference, with its unit, and a comparing word into a phrase."""


def unit_of(axis: Criterion, currency: str) -> str:
    """Return the unit of an axis with the currency where it is money."""
    return f"{currency}{axis.unit}" if axis.is_money else axis.unit


def amount(axis: Criterion, value: float, currency: str) -> str:
    """Return a value of an axis with its unit."""
    if axis.is_money:
        digits = 2 if abs(value) < CENTS_BELOW and round(value * 100) % 100 else 0
    else:
        digits = max(axis.decimals, 1 if abs(value) < 10 else 0)
    return f"{number(value, digits)} {unit_of(axis, currency)}"


def trade_words(told: Trade, currency: str) -> str:
    """Return what a row gains and gives up against another one."""
    gains = [
        AXES[name].better.format(amount(AXES[name], value, currency))
        for name, value in told.gains
    ]
    losses = [
        AXES[name].worse.format(amount(AXES[name], value, currency))
        for name, value in told.gives_up
    ]
    if not gains and not losses:
        return f"the same as {told.against}"
    text = f"against {told.against}: {and_list(gains) or 'nothing better'}"
    return f"{text} for {and_list(losses)}" if losses else text


def why_words(row: Row, told: Trade | None, currency: str) -> str:
    """Return in a few words why a row is there.

    Parameters
    ----------
    row : Row
        The row.
    told : Trade, optional
        Against which row it is told what it gains and gives up.
    currency : str
        Of the money.
    """
    pieces = ["the plan's own"] if row.is_plan else []
    pieces += [AXES[name].end for name in row.best_in]
    if told is not None:
        pieces.append(trade_words(told, currency))
    return "; ".join(pieces)


def why_all(frontier: Frontier, currency: str) -> dict[int, str]:
    """Return for each row why it is there, against the row before it."""
    return why_among(frontier.rows, frontier, currency)


def why_among(rows: Sequence[Row], frontier: Frontier, currency: str) -> dict[int, str]:
    """Return for some rows why they are there, each against the one shown before it."""
    found = {}
    for place, row in enumerate(rows):
        before = trade(row, rows[place - 1], frontier.axes) if place else None
        found[row.number] = why_words(row, before, currency)
    return found


def machine_words(found: Assessment) -> str:
    """Return what a machine is, on one line: drives, layout, cache, timeout."""
    plan, machine = found.build.operation, found.machine
    data = drive_words(found, "data")
    drives = data
    if machine.in_role("parity"):
        drives += f" + parity {drive_words(found, 'parity')}"
    words = [drives]
    if plan.layout != "independent":
        words.append(
            plan.layout + (f" {plan.n_parity} parity" if plan.n_parity else "")
        )
    if plan.write_mode != "plain":
        words.append(plan.write_mode)
    if machine.in_role("cache"):
        words.append(f"cache {drive_words(found, 'cache')}")
    words.append(
        "never stops"
        if plan.timeout_min is None
        else f"stops after {plan.timeout_min:g} min"
    )
    return ", ".join(words)


def drive_words(found: Assessment, role: str) -> str:
    """Return the drives of a role by size, owned ones said so."""
    drives = [d for d in found.machine.drives if d.role == role]
    kinds = sorted(
        (d.part.tb, not d.item.is_owned) for d in drives if isinstance(d.part, Drive)
    )
    return ", ".join(
        f"{len(list(group))} x {tb:g} TB{'' if is_new else ' owned'}"
        for (tb, is_new), group in groupby(kinds)
    )


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
    share_ = factor - 1
    digits = 1000 if share_ < 0.0995 else 100
    return share(math.ceil(share_ * digits - 1e-6) / digits)


def tariff_words(frontier: Frontier, currency: str) -> str:
    """Return at which price of a kWh each row is the cheapest in total."""
    rows = [(row.tariff, f"row {row.number}") for row in frontier.rows if row.tariff]
    return _spans_words(rows, f"{currency}/kWh", 3)


def pieces_words(pieces: Sequence[Piece], currency: str) -> str:
    """Return at which price of a kWh which build of the catalog is the cheapest."""
    rows = [
        (p.span, f"row {p.row}" if p.row else machine_words(p.assessment))
        for p in pieces
    ]
    return _spans_words(rows, f"{currency}/kWh", 3)


def horizon_words(frontier: Frontier) -> str:
    """Return over how many years each row is the cheapest in total."""
    rows = [row for row in frontier.rows if row.horizon]
    rows.sort(key=lambda row: row.horizon.low if row.horizon else 0)
    words = []
    for row in rows:
        span = row.horizon
        if span is not None:
            words.append(f"{_years(span)}: row {row.number}")
    return "; ".join(words)


def _years(span: Span) -> str:
    if math.isinf(span.high):
        return (
            f"{span.low:.0f} years or more" if span.low > 1 else "any number of years"
        )
    if span.low == span.high:
        return counted(int(span.low), "year")
    return f"{span.low:.0f} to {span.high:.0f} years"


def _spans_words(rows: Sequence[tuple[Span, str]], unit: str, digits: int) -> str:
    words = []
    for span, what in sorted(rows, key=lambda pair: pair[0].low):
        low, high = (number(x, digits) for x in (span.low, span.high))
        if span.low <= 0 and math.isinf(span.high):
            where = "at any price"
        elif span.low <= 0:
            where = f"below {high} {unit}"
        elif math.isinf(span.high):
            where = f"above {low} {unit}"
        else:
            where = f"{low} to {high} {unit}"
        words.append(f"{where}: {clean(what)}")
    return "; ".join(words)
