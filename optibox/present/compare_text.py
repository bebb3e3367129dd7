"""Machines side by side as text, JSON and CSV."""

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from optibox.catalog.csvcells import csv_text
from optibox.present.as_json import FORMAT, finite
from optibox.present.compare_report import (
    LEVELS,
    Comparison,
    Payback,
    PriceRow,
    Repriced,
    Row,
)
from optibox.present.order_text import MARGIN
from optibox.present.text import NARROWEST, WIDEST, Line
from optibox.present.words import cut, pad, pad_left, width_of, wrapped
from optibox.report.quantity import money, number
from optibox.report.words import clean, counted

SAME = 0.005
"""Half a minor unit: sums this close are the same. [currency]"""

_COLUMN = 19


def compare_lines(found: Comparison, width: int) -> list[Line]:
    """Return a comparison as lines: differences first, then what is alike."""
    width = min(WIDEST, max(NARROWEST, width))
    lines = [Line(f"{' against '.join(clean(n) for n in found.names)}", "strong")]
    lines += [Line(text) for text in _paybacks(found, width)]
    lines += _section("Different", [r for r in found.rows if r.differs], found, width)
    lines += _section("Parts that differ", list(found.parts), found, width)
    lines += _section("Alike", [r for r in found.rows if not r.differs], found, width)
    for one in found.repriced:
        lines += [Line(""), Line(f"{clean(one.name)} at the prices of today", "strong")]
        lines += [Line(text) for text in _repriced(one, found, width)]
    return lines


def _section(title: str, rows: list[Row], found: Comparison, width: int) -> list[Line]:
    if not rows:
        return []
    is_alike = title == "Alike"
    columns = 1 if is_alike else len(found.names)
    label_width = max(18, width - columns * (_COLUMN + 2) - 2)
    lines = [Line(""), Line(title, "strong")]
    if not is_alike:
        heads = "".join(
            f"  {pad_left(cut(clean(n), _COLUMN), _COLUMN)}" for n in found.names
        )
        lines.append(Line(f"{MARGIN}{pad('', label_width)}{heads}"))
    group = ""
    for row in rows:
        if row.group != group:
            group = row.group
            lines.append(Line(f"{MARGIN}{group}"))
        texts = row.texts[:columns]
        indent = MARGIN if row.group else ""
        label = pad(cut(f"{indent}{row.label}", label_width), label_width)
        if all(width_of(text) <= _COLUMN for text in texts):
            cells = "".join(f"  {pad_left(clean(t), _COLUMN)}" for t in texts)
            lines.append(Line(f"{MARGIN}{label}{cells}"))
        else:
            words = "; ".join(clean(t) for t in texts)
            lines += [Line(t) for t in wrapped(f"{row.label}: {words}", width, MARGIN)]
    return lines


def _paybacks(found: Comparison, width: int) -> Iterator[str]:
    for row in found.paybacks:
        yield from wrapped(payback_words(row, found), width)


def payback_words(row: Payback, found: Comparison) -> str:
    """Return what changing to a machine costs and saves, and when it pays back."""
    first, saved = clean(found.names[0]), row.saved_per_year["mid"]
    name = clean(row.name)
    energy = f"{number(abs(row.kwh_saved))} kWh a year {_less(row.kwh_saved)}"
    yearly = f"{money(abs(saved), found.currency)} a year {_less(saved)}"
    text = f"{name} against {first}: {energy}, {yearly} in energy and wear."
    return f"{text} {_back(row, found)}"


def _less(saved: float) -> str:
    return "less" if saved >= 0 else "more"


def _back(row: Payback, found: Comparison) -> str:
    if row.saved_per_year["mid"] <= 0:
        return "It never pays back by its running costs."
    parts = [f"If the first is there already: {_years(row, row.to_buy, found)}."]
    if abs(row.more_to_buy - row.to_buy) < SAME:
        return parts[0]
    if row.more_to_buy > SAME:
        parts.append(f"If neither is: {_years(row, row.more_to_buy, found)}.")
    else:
        less = money(-row.more_to_buy, found.currency)
        parts.append(f"If neither is: it is {less} cheaper to buy as well.")
    return " ".join(parts)


def _years(row: Payback, price: float, found: Comparison) -> str:
    if price <= SAME:
        return "nothing to buy, it pays at once"
    low, mid, high = (_year_text(row.years(level, price)) for level in LEVELS)
    return (
        f"{money(price, found.currency)} to buy, paid back after {mid} years "
        f"({low} at low watts and prices, {high} at high ones)"
    )


def _year_text(years: float | None) -> str:
    return "no number of" if years is None else number(years, 1)


def _repriced(one: Repriced, found: Comparison, width: int) -> Iterator[str]:
    then, now = money(one.then, found.currency), money(one.now, found.currency)
    change = one.now - one.then
    words = (
        "the same" if abs(change) < SAME else f"{money(abs(change), found.currency)} "
    )
    if abs(change) >= SAME:
        words += "more" if change > 0 else "less"
    yield from wrapped(
        f"Its parts cost {then} when saved, {now} now: {words}.", width, MARGIN
    )
    for row in one.rows:
        if row.now is None or abs(row.now - row.then) >= SAME:
            yield from wrapped(_price_words(row, found.currency), width, MARGIN * 2)
    yield from wrapped(_replan_words(one, found), width, MARGIN)


def _price_words(row: PriceRow, currency: str) -> str:
    now = (
        "not in the catalog any more"
        if row.now is None
        else f"{money(row.now, currency)} now"
    )
    return (
        f"{row.count} x {clean(row.name)} [{clean(row.part_id)}]: "
        f"{money(row.then, currency)} then, {now}"
    )


def _replan_words(one: Repriced, found: Comparison) -> str:
    """Return whether planning again pays."""
    if not found.is_asked:
        return "Whether planning again pays is told with --scenario."
    if one.replan is None:
        return "Planning again was not asked for."
    best, gain = one.replan.assessment, one.gain
    if best is None or gain is None:
        return "Planned again, no machine of the catalog meets the scenario."
    proof = "proven" if one.replan.status == "optimal" else "best found, not proven"
    cost = money(best.total_cost, found.currency)
    mine = money(one.found.total_cost, found.currency)
    over = f"over {counted(found.years, 'year')}"
    if not one.found.is_fit:
        return (
            f"Planned again ({proof}): {cost} {over}. This build does not meet the "
            "scenario; see check."
        )
    if gain <= SAME * 2:
        return f"Planned again ({proof}): nothing is cheaper {over}; keep to it."
    return (
        f"Planned again ({proof}): {cost} instead of {mine} {over}; planning again saves "
        f"{money(gain, found.currency)} as long as nothing is bought."
    )


def compare_json(found: Comparison) -> str:
    """Return a comparison as JSON text.

    Keys: ``format``, ``names``, ``currency``, ``rows`` and ``parts`` (``key``, ``label``,
    ``texts``, ``values``, ``differs``), ``paybacks``, ``repriced``.
    """
    table: dict[str, Any] = {
        "format": FORMAT,
        "names": list(found.names),
        "currency": found.currency,
        "rows": [asdict(row) | {"differs": row.differs} for row in found.rows],
        "parts": [asdict(row) | {"differs": True} for row in found.parts],
        "paybacks": [_payback_table(row) for row in found.paybacks],
        "repriced": [_repriced_table(one) for one in found.repriced],
    }
    return json.dumps(finite(table), indent=2, ensure_ascii=False) + "\n"


def _payback_table(row: Payback) -> dict[str, Any]:
    return {
        "name": row.name,
        "to_buy_price": round(row.to_buy, 2),
        "more_to_buy_price": round(row.more_to_buy, 2),
        "kwh_saved_per_year": row.kwh_saved,
        "saved_price_per_year": {k: round(v, 2) for k, v in row.saved_per_year.items()},
        "years": {level: row.years(level, row.to_buy) for level in LEVELS},
        "years_if_neither_is_there": {
            level: row.years(level, max(0.0, row.more_to_buy)) for level in LEVELS
        },
    }


def _repriced_table(one: Repriced) -> dict[str, Any]:
    return {
        "name": one.name,
        "then_price": round(one.then, 2),
        "now_price": round(one.now, 2),
        "rows": [asdict(row) for row in one.rows],
        "total_price_now": round(one.found.total_cost, 2),
        "replan_gain": None if one.gain is None else round(one.gain, 2),
        "replan_status": one.replan.status if one.replan else None,
    }


def compare_csv(found: Comparison) -> str:
    """Return a comparison as CSV: a row for each figure and each differing part."""
    names = [f"machine_{n}" for n in range(1, len(found.names) + 1)]
    columns = ("sort", "key", "label", "differs", *names)
    rows = [
        {
            "sort": sort,
            "key": row.key,
            "label": row.label,
            "differs": "yes" if row.differs else "no",
            **{n: _cell(row, i) for i, n in enumerate(names)},
        }
        for sort, group in (("figure", found.rows), ("part", found.parts))
        for row in group
    ]
    head: dict[str, str] = {
        "sort": "name",
        **dict(zip(names, found.names, strict=True)),
    }
    return csv_text(columns, [head, *rows])


def _cell(row: Row, index: int) -> str:
    value = row.values[index]
    return row.texts[index] if value is None else f"{value:.6g}"
