"""The terms of the cost: one register, held against a general-purpose library."""

from dataclasses import fields
from typing import get_args

import numpy_financial as npf
import pytest

from optibox.criteria import AXES
from optibox.criteria.weights import Weights, total_cost_weights
from optibox.figures.terms import TERMS, Amounts, CostTerms, terms_over
from optibox.scenario.records import Money
from optibox.scenario.records import Term as TermName

AMOUNTS = Amounts(
    purchase=400.0, energy=50.0, wear=8.0, cache_wear=3.0, replacements=11.0
)
MONEY = Money(
    tariff_per_kwh=0.3,
    years=3,
    discount=0.1,
    tariff_growth=0.1,
    resale_fraction=0.2,
    terms=get_args(TermName),
)


def test_every_term_of_scenarios_is_in_the_register_and_a_field():
    names = {term.key for term in TERMS}
    assert {term.name for term in TERMS} == set(get_args(TermName))
    assert names == {f.name for f in fields(CostTerms)} - {"amounts"}


def test_terms_are_present_values():
    """Against numpy-financial's npv, which leaves the first payment undiscounted."""
    cost = terms_over(AMOUNTS, MONEY)
    assert cost.purchase == 400.0
    energy = [0.0, 50.0, 55.0, 60.5]
    assert cost.energy == pytest.approx(npf.npv(0.1, energy))
    for name, amount in (("wear", 8.0), ("cache_wear", 3.0), ("replacements", 11.0)):
        steady = npf.npv(0.1, [0.0, amount, amount, amount])
        assert getattr(cost, name) == pytest.approx(steady)
    assert cost.resale == pytest.approx(-npf.npv(0.1, [0.0, 0.0, 0.0, 80.0]))
    parts = (cost.purchase, cost.energy, cost.wear, cost.cache_wear)
    assert cost.total(MONEY) == pytest.approx(
        sum(parts) + cost.replacements + cost.resale
    )


@pytest.mark.parametrize("years", [1, 3, 12])
def test_other_years_are_counted_anew(years):
    then = MONEY.model_copy(update={"years": years})
    assert terms_over(AMOUNTS, MONEY).over(then) == terms_over(AMOUNTS, then)


@pytest.mark.parametrize(
    "counted", [get_args(TermName), ("energy", "wear"), ("resale",)]
)
def test_weights_and_terms_are_the_same_sum(counted):
    money = MONEY.model_copy(update={"terms": counted})
    assert weighed(total_cost_weights(money)) == pytest.approx(
        terms_over(AMOUNTS, money).total(money)
    )


def test_running_cost_is_the_first_years_whatever_the_discount():
    assert AMOUNTS.running == 61.0
    assert weighed(AXES["running"].weights(None)) == pytest.approx(61.0)


def weighed(weights: Weights) -> float:
    """Return the amounts by weights."""
    return (
        weights.purchase * AMOUNTS.purchase
        + weights.money_energy * AMOUNTS.energy
        + weights.wear * AMOUNTS.wear
        + weights.cache_wear * AMOUNTS.cache_wear
        + weights.replacements * AMOUNTS.replacements
    )
