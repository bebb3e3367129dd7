"""Second thoughts about a plan: the nearest machine, prices to walk away at."""

import math
from typing import Any

from optibox.frontier.second import Nearest, SecondThoughts, WalkAway
from optibox.report.as_json import cents
from optibox.report.document import (
    Column,
    Note,
    Row,
    Section,
    Table,
    Value,
    Worded,
    section,
)
from optibox.report.machines import drives_and_ways
from optibox.report.quantity import cents_of, money

TITLE = "Second thoughts"
NOTHING_ELSE = "nothing else fits"


def second_section(
    thoughts: SecondThoughts, currency: str, title: str = TITLE
) -> tuple[Section, ...]:
    """Return the nearest other machine, then a row for each line of the order list."""
    nearest = "No machine does without any of these main parts."
    if thoughts.nearest is not None:
        nearest = nearest_words(thoughts.nearest, currency)
    price = cents_of(currency)
    table = Table(
        columns=(
            Column(head="Part", flow="cut"),
            Column(head="now", unit=price),
            Column(head="up to", unit=price),
            Column(head="Doing without costs", flow="keep"),
        ),
        rows=tuple(_row(line, currency) for line in thoughts.walk_aways),
    )
    stays = (
        "A part stays in the plan up to this price of a pack; above it another machine "
        "wins:"
    )
    stopped = "Stopped: lines not looked at are left out."
    return section(
        title,
        Note(nearest),
        Note(stays if thoughts.walk_aways else ""),
        table,
        Note("" if thoughts.is_proven else stopped),
    )


def nearest_words(nearest: Nearest, currency: str) -> str:
    """Return the nearest machine with other parts, and whether it is a tie."""
    doubt, found = money(nearest.doubt, currency), nearest.assessment
    verdict = (
        f"a tie: the inputs are not known to better than {doubt}"
        if nearest.is_tie
        else f"more than the inputs' uncertainty of {doubt}"
    )
    return (
        f"Nearest machine with other parts: without {nearest.without}, "
        f"{money(max(0.0, nearest.extra), currency)} more over the years, {verdict}. "
        f"{drives_and_ways(found)}; {money(found.cost.purchase, currency)} to buy, "
        f"{money(found.running_cost_per_year, currency)} a year."
    )


def _row(line: WalkAway, currency: str) -> Row:
    walk: Value = line.walk_price
    if math.isinf(line.walk_price):
        walk = Worded(None, "any")
    without = NOTHING_ELSE
    if not math.isinf(line.without_extra):
        without = f"{money(max(0.0, line.without_extra), currency)} more"
    return Row(cells=(line.label, line.price, walk, without))


def second_dict(thoughts: SecondThoughts) -> dict[str, Any]:
    """Return second thoughts for programs; what never happens is null."""
    nearest = thoughts.nearest
    return {
        "is_proven": thoughts.is_proven,
        "searches": thoughts.n_solves,
        "nearest": nearest
        and {
            "without": nearest.without,
            "extra_price": cents(nearest.extra),
            "uncertainty_price": cents(nearest.doubt),
            "is_tie": nearest.is_tie,
            "machine": drives_and_ways(nearest.assessment),
            "parts": [
                {"id": e.item.part.id, "count": e.count, "owned": e.item.is_owned}
                for e in nearest.assessment.build.items
            ],
        },
        "walk_away": [
            {
                "id": line.key,
                "price": line.price,
                "walk_away_price": cents(line.walk_price),
                "without_extra_price": cents(line.without_extra),
                "winner": drives_and_ways(line.winner) if line.winner else None,
            }
            for line in thoughts.walk_aways
        ],
    }
