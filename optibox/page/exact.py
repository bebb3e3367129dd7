"""What the page needs to count money anew at another tariff or over other years.

All of it is linear: hours of each state by groups of hours that share one price, and
what a year of wear costs. Nothing here is rounded.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from optibox.assess import Assessment
from optibox.catalog.storage import HardDrive
from optibox.figures.year import day_use, rating_of, shape_of, wakes_of
from optibox.physics.operation import operating_year
from optibox.scenario import Money, Scenario
from optibox.units import DAYS_PER_YEAR

HOURS = range(24)
DAYS = range(7)


@dataclass(frozen=True, slots=True, kw_only=True)
class StateHours:
    """One state of the year with its hours in each bin of hours of day."""

    name: str
    wall_w: float
    hours: tuple[float, ...]
    """Hours a year, one figure for each bin. [h]"""


def price_patterns(money: Money) -> tuple[tuple[float | None, ...], ...]:
    """Return each hour's prices from Monday to Sunday; nothing = the base tariff."""
    bands_alone = money.model_copy(update={"tariff_per_kwh": None})
    return tuple(
        tuple(bands_alone.price_at(day, hour) for day in DAYS) for hour in HOURS
    )


def hour_groups(money: Money) -> tuple[list[int], list[tuple[float | None, ...]]]:
    """Return the group of each hour of day, and the prices of each group's week."""
    patterns = price_patterns(money)
    groups = list(dict.fromkeys(patterns))
    return [groups.index(pattern) for pattern in patterns], groups


def tariff_table(scenario: Scenario) -> dict[str, Any]:
    """Return how prices and years are counted, for the page's controls."""
    money = scenario.money
    hours, groups = hour_groups(money)
    return {
        "tariff_per_kwh": money.tariff_per_kwh,
        "hour_groups": hours,
        "groups": [list(group) for group in groups],
        "years": money.years,
        "discount": money.discount,
        "tariff_growth": money.tariff_growth,
        "terms": list(dict.fromkeys(money.terms)),
        "resale_fraction": money.resale_fraction,
        "total_cost_limit": scenario.limits.total_cost,
        "wear_budget": scenario.overrides.wear_budget.mid,
        "carbon_g_per_kwh": money.carbon_g_per_kwh,
    }


def state_hours(
    found: Assessment, bins: Sequence[int] = tuple(HOURS)
) -> tuple[StateHours, ...]:
    """Return every state of the year with its hours by bin.

    Transfers lie at fixed hours: what a price of one in a single bin makes them cost
    is their time in it. What transfers leave is shared out among the states of rest
    as their prices say.

    Parameters
    ----------
    found : Assessment
        The machine.
    bins : sequence of int
        The bin of each hour of day, counted from 0; hours of one bin have one price.
        Every hour by itself unless said.
    """
    transfers = _transfer_hours(found, bins)
    count = max(bins) + 1
    rest = [
        DAYS_PER_YEAR * bins.count(b) - sum(row[b] for row in transfers)
        for b in range(count)
    ]
    by_hour = found.scenario.money.prices_by_hour()
    prices = [by_hour[bins.index(b)] for b in range(count)]
    rows, n_rest = [], len(found.year.states) - len(transfers)
    for number, state in enumerate(found.year.states):
        if number >= n_rest:
            hours = transfers[number - n_rest]
        else:
            money_per_w = found.year.operating.states[number].money_per_w
            hours = _rest_hours(rest, prices, state.hours, money_per_w)
        rows.append(
            StateHours(name=state.name, wall_w=state.wall_w, hours=tuple(hours))
        )
    return tuple(rows)


def _transfer_hours(found: Assessment, bins: Sequence[int]) -> list[list[float]]:
    machine, plan = found.machine, found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    by_bin = []
    for one in range(max(bins) + 1):
        year = operating_year(
            replace(use, prices=tuple(float(b == one) for b in bins)),
            shape_of(machine),
            found.year.transfers,
        )
        states = [state for state in year.states if state.processor_active]
        by_bin.append([state.money_per_w * 1000.0 for state in states])
    return [list(row) for row in zip(*by_bin, strict=True)]


def _rest_hours(
    rest: list[float], prices: list[float], hours: float, money_per_w: float
) -> list[float]:
    """Return a state of rest by bin: all hours of its price alike."""
    paid = money_per_w / hours * 1000.0 if hours else 0.0
    price = min(set(prices), key=lambda p: abs(p - paid))
    free = sum(h for h, p in zip(rest, prices, strict=True) if p == price)
    share = hours / free if free else 0.0
    return [h * share if p == price else 0.0 for h, p in zip(rest, prices, strict=True)]


def money_table(found: Assessment) -> dict[str, Any]:
    """Return what one way of running a machine costs, in terms that scale."""
    groups, _ = hour_groups(found.scenario.money)
    amounts, year = found.cost.amounts, found.year
    return {
        "purchase": amounts.purchase,
        "states": [
            [row.name, row.wall_w, *row.hours] for row in state_hours(found, groups)
        ],
        "wear_per_year": amounts.wear,
        "cache_wear_per_year": amounts.cache_wear,
        "replacements_per_year": amounts.replacements,
        "wakes": {role: wakes_of(year, role) for role in ("data", "parity")},
        "drives": [list(row) for row in _drives(found)],
    }


def _drives(found: Assessment) -> Iterator[tuple[str, str, float, float, float, float]]:
    """Yield name, role, starts so far and ratings of each array drive."""
    for drive in found.machine.array:
        if isinstance(drive.part, HardDrive):
            part = drive.part
            yield (
                drive.name,
                drive.role,
                drive.item.starts,
                part.start_stop_rating.mid,
                part.load_unload_rating.mid,
                rating_of(part),
            )
