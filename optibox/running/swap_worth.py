"""What a machine costs in a year, by the terms that count."""

from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.figures.terms import TERMS


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
    amounts, terms = found.cost.amounts, found.scenario.money.terms
    yearly = {term.amount for term in TERMS if term.name in terms} - {"purchase"}
    steady = sum(getattr(amounts, name) for name in sorted(yearly - {"energy"}))
    return Yearly(energy=amounts.energy if "energy" in yearly else 0.0, steady=steady)
