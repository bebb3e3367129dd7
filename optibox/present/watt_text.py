"""What one watt is worth, as text."""

from collections.abc import Iterator, Sequence

from optibox.present.text import Line
from optibox.present.words import counted, exact_money, number, pad, pad_left, wrapped
from optibox.running.watt import WattWorth
from optibox.scenario import Scenario

_WHEN = {
    "always": "all year",
    "asleep": "while drives sleep",
    "drives spinning": "while drives spin",
}
_WHERE = {"parts": "at the parts", "wall": "at the wall"}
_FIRST, _NEXT = 33, 12


def watt_sentence(rows: Sequence[WattWorth], currency: str, years: int) -> str:
    """Return what a watt costs, in one sentence."""
    at = {(row.where, row.when): row for row in rows}
    part, wall = at["parts", "always"], at["wall", "always"]
    asleep = at["parts", "asleep"]
    sleeping = (
        f"{exact_money(asleep.money_over_years)} when drawn only while drives sleep"
        if asleep.hours_per_year >= 1
        else "drives never sleep as it is run"
    )
    return (
        f"One watt at the parts costs {exact_money(part.money_over_years)} {currency} "
        f"over {counted(years, 'year')} when drawn all year (at the wall "
        f"{exact_money(wall.money_over_years)}), {sleeping}."
    )


def watt_lines(
    rows: Sequence[WattWorth], currency: str, scenario: Scenario, width: int
) -> Iterator[Line]:
    """Yield the table of what one watt costs."""
    years = scenario.money.years
    yield Line("What one watt costs", "strong")
    has_carbon = scenario.money.carbon_g_per_kwh is not None
    head = ["kWh a year", f"{currency} a year", "5 years"]
    head += [f"{years} years"] if years != 5 else []
    head += ["kg CO2"] if has_carbon else []
    yield Line(pad("", _FIRST) + "".join(pad_left(x, _NEXT) for x in head))
    for row in rows:
        cells = [
            number(row.kwh_per_year, 2),
            exact_money(row.money_per_year),
            exact_money(row.money_five_years),
        ]
        cells += [exact_money(row.money_over_years)] if years != 5 else []
        if row.carbon_kg_per_year is not None:
            cells.append(number(row.carbon_kg_per_year, 2))
        name = f"  {_WHERE[row.where]}, {_WHEN[row.when]}"
        yield Line(pad(name, _FIRST) + "".join(pad_left(c, _NEXT) for c in cells))
    yield from map(Line, _remarks(rows, scenario, width))


def _remarks(
    rows: Sequence[WattWorth], scenario: Scenario, width: int
) -> Iterator[str]:
    money, factor = scenario.money, rows[0].marginal_factor
    text = (
        f"A watt at the parts is {number(factor, 3)} W at the wall here, by the supply's "
        "loss at this load."
    )
    moving = [
        f"{share * 100:g} % a year {word}"
        for share, word in (
            (money.tariff_growth, "growth of the tariff"),
            (money.discount, "discount"),
        )
        if share
    ]
    if moving:
        text += f" Years count with {' and '.join(moving)}."
    yield from wrapped(text, width)
