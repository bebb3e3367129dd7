"""What a machine costs in a year, by the terms that count."""

from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.figures.chains import usable_cache
from optibox.figures.money import (
    cache_wear_per_year,
    replacements_per_year,
    wear_per_year,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Yearly:
    """What a machine costs in its first year, of the terms that count. [currency]."""

    energy: float
    steady: float
    """Wear, cache wear and replacements: they do not grow with the tariff."""

    @property
    def total(self) -> float:
        """Return all of it."""
        return self.energy + self.steady


def yearly_of(found: Assessment) -> Yearly:
    """Return a machine's cost in its first year. [currency/year]."""
    machine, terms = found.machine, found.scenario.money.terms
    usable = usable_cache(machine) if machine.in_role("cache") else 0.0
    steady = {
        "wear": wear_per_year(machine, found.year),
        "cache wear": cache_wear_per_year(machine, usable),
        "replacements": replacements_per_year(found.build),
    }
    return Yearly(
        energy=found.year.energy_money if "energy" in terms else 0.0,
        steady=sum(value for term, value in steady.items() if term in terms),
    )
