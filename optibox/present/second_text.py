"""Second thoughts about a plan in words: the nearest machine, prices to walk away at."""

import math
from typing import Any

from optibox.frontier.second import Nearest, SecondThoughts, WalkAway
from optibox.present.frontier_words import machine_words
from optibox.present.words import cut, pad, pad_left, width_of, wrapped
from optibox.report.quantity import exact_money, money, number
from optibox.report.words import clean

TITLE = "Second thoughts"
_INDENT = "  "
NOTHING_ELSE = "nothing else fits"


def second_lines(thoughts: SecondThoughts, currency: str, width: int) -> list[str]:
    """Return the nearest other machine, then a line for each line of the order list."""
    lines: list[str] = []
    if thoughts.nearest is not None:
        lines += wrapped(nearest_words(thoughts.nearest, currency), width, _INDENT)
    else:
        lines += wrapped(
            "No machine does without any of these main parts.", width, _INDENT
        )
    if thoughts.walk_aways:
        lines += wrapped(
            "A part stays in the plan up to this price of a pack; above it another "
            "machine wins:",
            width,
            _INDENT,
        )
        lines += _table(thoughts, currency, width)
    if not thoughts.is_proven:
        lines += wrapped("Stopped: lines not looked at are left out.", width, _INDENT)
    return lines


def nearest_words(nearest: Nearest, currency: str) -> str:
    """Return the nearest machine with other parts, and whether it is a tie."""
    extra = money(max(0.0, nearest.extra), currency)
    doubt = money(nearest.doubt, currency)
    found = nearest.assessment
    verdict = (
        f"a tie: the inputs are not known to better than {doubt}"
        if nearest.is_tie
        else f"more than the inputs' uncertainty of {doubt}"
    )
    return (
        f"Nearest machine with other parts: without {clean(nearest.without)}, {extra} "
        f"more over the years, {verdict}. {machine_words(found)}; "
        f"{money(found.cost.purchase, currency)} to buy, "
        f"{money(found.running_cost_per_year, currency)} a year."
    )


def _table(thoughts: SecondThoughts, currency: str, width: int) -> list[str]:
    rows = [
        (
            clean(line.label),
            exact_money(line.price),
            _walk(line),
            _without(line, currency),
        )
        for line in thoughts.walk_aways
    ]
    head = ("Part", f"now {currency}", f"up to {currency}", "Doing without costs")
    widths = [max(width_of(row[j]) for row in [head, *rows]) for j in range(4)]
    room = width - len(_INDENT) - sum(widths[1:]) - 6
    widths[0] = max(8, min(widths[0], room))
    return [
        (
            f"{_INDENT}{pad(cut(a, widths[0]), widths[0])}  {pad_left(b, widths[1])}  "
            f"{pad_left(c, widths[2])}  {d}"
        )
        for a, b, c, d in [head, *rows]
    ]


def _walk(line: WalkAway) -> str:
    return "any" if math.isinf(line.walk_price) else number(line.walk_price, 2)


def _without(line: WalkAway, currency: str) -> str:
    if math.isinf(line.without_extra):
        return NOTHING_ELSE
    return f"{money(max(0.0, line.without_extra), currency)} more"


def second_table(thoughts: SecondThoughts) -> dict[str, Any]:
    """Return second thoughts as a table for JSON; what never happens is null."""
    nearest = thoughts.nearest
    return {
        "is_proven": thoughts.is_proven,
        "searches": thoughts.n_solves,
        "nearest": None
        if nearest is None
        else {
            "without": nearest.without,
            "extra_price": round(nearest.extra, 2),
            "uncertainty_price": round(nearest.doubt, 2),
            "is_tie": nearest.is_tie,
            "machine": machine_words(nearest.assessment),
            "parts": _parts(nearest),
        },
        "walk_away": [
            {
                "id": line.key,
                "price": line.price,
                "walk_away_price": _price(line.walk_price),
                "without_extra_price": _price(line.without_extra),
                "winner": machine_words(line.winner) if line.winner else None,
            }
            for line in thoughts.walk_aways
        ],
    }


def _parts(nearest: Nearest) -> list[dict[str, Any]]:
    return [
        {"id": e.item.part.id, "count": e.count, "owned": e.item.is_owned}
        for e in nearest.assessment.build.items
    ]


def _price(value: float) -> float | None:
    return round(value, 2) if math.isfinite(value) else None
