"""What the page needs to count money anew at another tariff or over other years.

All of it is linear: hours of each state by groups of hours that share one price, and
what a year of wear costs. Nothing here is rounded.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from optibox.assess import Assessment
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import usable_cache
from optibox.figures.money import (
    cache_wear_per_year,
    replacements_per_year,
    wear_per_year,
)
from optibox.figures.year import day_use, rating_of, shape_of, wakes_of
from optibox.physics.operation import operating_year
from optibox.scenario import Money, Scenario
from optibox.units import DAYS_PER_YEAR

HOURS = range(24)
DAYS = range(7)


@dataclass(frozen=True, slots=True, kw_only=True)
class StateHours:
    """One state of the year with its hours in each hour of day."""

    name: str
    wall_w: float
    by_hour: tuple[float, ...]
    """Hours a year, 24 figures. [h]"""


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


def state_hours(found: Assessment) -> tuple[StateHours, ...]:
    """Return every state of the year with its hours by hour of day.

    Transfers lie at fixed hours: what a price of one in a single hour makes them cost
    is their time in that hour. What transfers leave is shared out among the states of
    rest as their prices say.
    """
    transfers = _transfer_hours(found)
    rest = [DAYS_PER_YEAR - sum(row[hour] for row in transfers) for hour in HOURS]
    prices = found.scenario.money.prices_by_hour()
    rows, n_rest = [], len(found.year.states) - len(transfers)
    for number, state in enumerate(found.year.states):
        if number >= n_rest:
            by_hour = transfers[number - n_rest]
        else:
            money_per_w = found.year.operating.states[number].money_per_w
            by_hour = _rest_hours(rest, prices, state.hours, money_per_w)
        rows.append(
            StateHours(name=state.name, wall_w=state.wall_w, by_hour=tuple(by_hour))
        )
    return tuple(rows)


def _transfer_hours(found: Assessment) -> list[list[float]]:
    machine, plan = found.machine, found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    by_hour = []
    for hour in HOURS:
        one = tuple(float(hour == at) for at in HOURS)
        year = operating_year(
            replace(use, prices=one), shape_of(machine), found.year.transfers
        )
        states = [state for state in year.states if state.processor_active]
        by_hour.append([state.money_per_w * 1000.0 for state in states])
    return [list(row) for row in zip(*by_hour, strict=True)]


def _rest_hours(
    rest: list[float], prices: tuple[float, ...], hours: float, money_per_w: float
) -> list[float]:
    """Return a state of rest by hour of day: all hours of its price alike."""
    paid = money_per_w / hours * 1000.0 if hours else 0.0
    price = min(set(prices), key=lambda p: abs(p - paid))
    free = sum(rest[h] for h in HOURS if prices[h] == price)
    share = hours / free if free else 0.0
    return [rest[h] * share if prices[h] == price else 0.0 for h in HOURS]


def grouped(by_hour: tuple[float, ...], groups: list[int]) -> list[float]:
    """Return hours summed over the hours of each price group."""
    found = [0.0] * (max(groups) + 1)
    for hour, group in zip(by_hour, groups, strict=True):
        found[group] += hour
    return found


def money_table(found: Assessment) -> dict[str, Any]:
    """Return what one way of running a machine costs, in terms that scale."""
    groups, _ = hour_groups(found.scenario.money)
    machine, year = found.machine, found.year
    usable = usable_cache(machine) if machine.in_role("cache") else 0.0
    return {
        "purchase": found.cost.purchase,
        "states": [
            [row.name, row.wall_w, *grouped(row.by_hour, groups)]
            for row in state_hours(found)
        ],
        "wear_per_year": wear_per_year(machine, year),
        "cache_wear_per_year": cache_wear_per_year(machine, usable),
        "replacements_per_year": replacements_per_year(machine.build),
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
