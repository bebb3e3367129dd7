"""Total cost of a build at other prices of a kWh and over other times."""

import math
from collections.abc import Iterator, Sequence

from optibox.assess import Assessment, assess
from optibox.figures.terms import energy_annuity
from optibox.frontier.envelope import Line, lower_envelope
from optibox.frontier.records import Span
from optibox.scenario import Money, Scenario
from optibox.units import HOURS_PER_DAY

YEARS = range(1, 31)
"""Times over which rows are compared. [years]"""
FURTHEST = 5.0
"""Up to how many times the scenario's own mean price of a kWh is looked."""


def mean_price(money: Money) -> float:
    """Return the price of a kWh, the mean over the hours of a week. [per kWh]."""
    return sum(money.prices_by_hour()) / HOURS_PER_DAY


def tariff_line(found: Assessment) -> Line[Assessment]:
    """Return a build's total cost as a line over the mean price of a kWh.

    All prices of a day move by the same factor.
    """
    money = found.scenario.money
    energy = found.cost.energy if "energy" in money.terms else 0.0
    mean = mean_price(money)
    slope = energy / mean if mean else found.year.kwh * energy_annuity(money)
    return Line(found.total_cost - energy, slope, found)


def tariff_spans(rows: Sequence[Assessment]) -> list[Span | None]:
    """Return for each build at which mean prices of a kWh none of them costs less."""
    spans: list[Span | None] = [None] * len(rows)
    lines = [tariff_line(found) for found in rows]
    most = FURTHEST * (mean_price(rows[0].scenario.money) or 1.0) if rows else 0.0
    for stretch in lower_envelope(lines, 0.0, most):
        high = math.inf if stretch.high >= most else stretch.high
        spans[lines.index(stretch.line)] = Span(low=stretch.low, high=high)
    return spans


def total_over(found: Assessment, years: int) -> float:
    """Return a build's cost of the terms that count over other years. [currency]."""
    then = found.scenario.money.model_copy(update={"years": years})
    return found.cost.over(then).total(then)


def horizon_spans(rows: Sequence[Assessment]) -> list[Span | None]:
    """Return for each build over how many whole years none of them costs less.

    A build whose drives do not last so long is not counted there. Where a build is
    cheapest in several runs of years, the longest run is told.
    """
    winners = [_cheapest(rows, years) for years in YEARS]
    spans: list[Span | None] = [None] * len(rows)
    for first, last, index in _runs(winners):
        old = spans[index]
        low, high = YEARS[first], YEARS[last]
        if old is None or high - low > old.high - old.low:
            spans[index] = Span(
                low=low, high=math.inf if high == YEARS[-1] else float(high)
            )
    return spans


def _cheapest(rows: Sequence[Assessment], years: int) -> int | None:
    order = sorted(range(len(rows)), key=lambda i: total_over(rows[i], years))
    return next((i for i in order if _lasts(rows[i], years)), None)


def _lasts(found: Assessment, years: int) -> bool:
    """Return whether a build is fit where the years are others."""
    if years <= found.scenario.money.years and found.is_fit:
        return True
    return assess(found.build, over(found.scenario, years)).is_fit


def over(scenario: Scenario, years: int) -> Scenario:
    """Return a scenario that counts other years."""
    money = scenario.money.model_copy(update={"years": years})
    return scenario.model_copy(update={"money": money})


def at_tariff(scenario: Scenario, mean: float) -> Scenario:
    """Return a scenario in which a kWh has another mean price, by one factor."""
    money = scenario.money
    old = mean_price(money)
    if old:
        factor = mean / old
        bands = tuple(
            band.model_copy(update={"price_per_kwh": band.price_per_kwh * factor})
            for band in money.bands
        )
        flat = money.tariff_per_kwh
        changed = {
            "bands": bands,
            "tariff_per_kwh": None if flat is None else flat * factor,
        }
    else:
        changed = {"bands": (), "tariff_per_kwh": mean}
    return scenario.model_copy(update={"money": money.model_copy(update=changed)})


def _runs(winners: Sequence[int | None]) -> Iterator[tuple[int, int, int]]:
    """Yield runs of the same winner: first place, last place, winner."""
    start = 0
    for place in range(1, len(winners) + 1):
        if place == len(winners) or winners[place] != winners[start]:
            winner = winners[start]
            if winner is not None:
                yield start, place - 1, winner
            start = place
