"""What a machine costs now and in a year: purchase, wear, replacements."""

from optibox.build import Build
from optibox.catalog.columns import Part
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.figures.terms import Amounts, CostTerms, terms_over
from optibox.figures.year import Year, rating_of, wakes_of
from optibox.machine import Machine
from optibox.physics.wear import cache_wear_price, wake_price
from optibox.scenario import Scenario
from optibox.units import DAYS_PER_YEAR, MB_PER_GB, MB_PER_TB


def purchase(build: Build) -> float:
    """Return what is paid now: packs, spares, postage. [currency]."""
    offers = {e.item.key: e.item for e in build.items + build.spares}
    bought = build.bought()
    goods = sum(offers[key].cost(count) for key, count in bought.items())
    sellers = {offers[key].part.seller for key in bought}
    return goods + sum(price for seller, price in build.postage if seller in sellers)


def wear_per_wake(part: HardDrive, replacement_price: float) -> float:
    """Return the price of one wake of one drive. [currency]."""
    return wake_price(
        replacement_price, part.start_stop_rating.mid, part.load_unload_rating.mid
    )


def wear_per_year(machine: Machine, year: Year) -> float:
    """Return the wear of all array drives in a year. [currency]."""
    return sum(
        wakes_of(year, drive.role)
        * wear_per_wake(drive.part, drive.item.replacement_price)
        for drive in machine.array
        if isinstance(drive.part, HardDrive)
    )


def cache_written_tb_per_year(scenario: Scenario, usable_mb: float) -> float:
    """Return what one cache drive is written in a year, amplification included. [TB]."""
    daily_mb = min(scenario.usage.ingest_gb_per_day * MB_PER_GB, usable_mb)
    amplification = scenario.overrides.write_amplification.mid
    return daily_mb / MB_PER_TB * DAYS_PER_YEAR * amplification


def cache_wear_per_year(machine: Machine, usable_mb: float) -> float:
    """Return the wear of the cache in a year. [currency]."""
    written = cache_written_tb_per_year(machine.scenario, usable_mb)
    return sum(
        cache_wear_price(drive.item.replacement_price, written, drive.part.tbw.mid)
        for drive in machine.in_role("cache")
        if isinstance(drive.part, SolidStateDrive)
    )


def replacement_rate(part: Part) -> float:
    """Return the share of such parts that fail in a year; known for drives alone."""
    return part.annual_failure_rate.mid if isinstance(part, Drive) else 0.0


def replacements_per_year(build: Build) -> float:
    """Return the expected price of replacements in a year. [currency]."""
    return sum(
        entry.count * replacement_rate(entry.item.part) * entry.item.replacement_price
        for entry in build.items
    )


def cost_terms(machine: Machine, year: Year, usable_cache_mb: float) -> CostTerms:
    """Return every term of a machine's cost over the years. [currency]."""
    amounts = Amounts(
        purchase=purchase(machine.build),
        energy=year.energy_money,
        wear=wear_per_year(machine, year),
        cache_wear=cache_wear_per_year(machine, usable_cache_mb),
        replacements=replacements_per_year(machine.build),
    )
    return terms_over(amounts, machine.scenario.money)


def wear_limit_ok(
    drive_starts: float, wakes: float, part: HardDrive, s: Scenario
) -> bool:
    """Return whether a drive stays within its wear budget over the years.

    A drive past it already is allowed only where it never wakes.
    """
    budget = s.overrides.wear_budget.mid * rating_of(part)
    return wakes <= 0 or drive_starts + wakes * s.money.years <= budget
