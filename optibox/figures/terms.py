"""The terms of the cost over the years: each is an amount times what the years make of it.

An amount is paid once or every year; a term says which one, and how many times it counts
over the years of the scenario. All sums of money over time are made of this register.
"""

from collections.abc import Callable
from dataclasses import dataclass

from optibox.physics.money import annuity, resale_present_value
from optibox.scenario import Money


def energy_annuity(money: Money) -> float:
    """Return the years that one unit of the first year's energy is worth."""
    return annuity(money.years, money.discount, money.tariff_growth)


def plain_annuity(money: Money) -> float:
    """Return the years that one unit a year is worth."""
    return annuity(money.years, money.discount)


def _resale(money: Money) -> float:
    return -resale_present_value(
        1.0, money.resale_fraction, money.years, money.discount
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One term of the cost over the years."""

    name: str
    """Word in ``money.terms``."""
    amount: str
    """Field of `Amounts` that it multiplies."""
    times: Callable[[Money], float]
    """How often one unit of the amount counts over the years."""

    @property
    def key(self) -> str:
        """Return the name as a key."""
        return self.name.replace(" ", "_")


TERMS: tuple[Term, ...] = (
    Term(name="purchase", amount="purchase", times=lambda _: 1.0),
    Term(name="energy", amount="energy", times=energy_annuity),
    Term(name="wear", amount="wear", times=plain_annuity),
    Term(name="cache wear", amount="cache_wear", times=plain_annuity),
    Term(name="replacements", amount="replacements", times=plain_annuity),
    Term(name="resale", amount="purchase", times=_resale),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """What a machine costs now, and in its first year. [currency]."""

    purchase: float
    """Paid now; all others in a year."""
    energy: float
    wear: float
    cache_wear: float
    replacements: float

    @property
    def running(self) -> float:
        """Return energy and wear in the first year."""
        return self.energy + self.wear + self.cache_wear


@dataclass(frozen=True, slots=True, kw_only=True)
class CostTerms:
    """Every term over the years, counted or not. [currency]."""

    amounts: Amounts
    purchase: float
    energy: float
    wear: float
    cache_wear: float
    replacements: float
    resale: float
    """Negative: money that comes back."""

    def total(self, money: Money) -> float:
        """Return the sum of the terms that a scenario counts. [currency]."""
        return sum(
            float(getattr(self, term.key)) for term in TERMS if term.name in money.terms
        )

    def over(self, money: Money) -> "CostTerms":
        """Return the terms with other years, rates or growth."""
        return terms_over(self.amounts, money)


def terms_over(amounts: Amounts, money: Money) -> CostTerms:
    """Return what amounts come to over the years. [currency]."""
    return CostTerms(
        amounts=amounts,
        **{
            term.key: float(getattr(amounts, term.amount)) * term.times(money)
            for term in TERMS
        },
    )
