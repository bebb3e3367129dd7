"""Money against numpy-financial and a textbook; wear against hand-worked figures."""

import math

import numpy_financial as npf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import breakeven, money, wear
from optibox.units import HOURS_PER_YEAR

# --- money -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("discount", "years", "factor"),
    [(0.05, 5, 4.3294767), (0.08, 10, 6.7100814), (0.10, 5, 3.7907868)],
)
def test_annuity_factors(discount, years, factor):
    # (1 - (1 + r)^-n) / r, equal to numpy_financial.pv(r, n, -1).
    assert money.annuity(years, discount) == pytest.approx(factor, abs=5e-8)


@given(st.integers(1, 30), st.floats(0.001, 0.3))
@settings(deadline=None)
def test_annuity_is_the_librarys_present_value(years, discount):
    assert money.annuity(years, discount) == pytest.approx(npf.pv(discount, years, -1))


@given(st.integers(1, 30), st.floats(0.0, 0.3), st.floats(-0.05, 0.2))
@settings(deadline=None)
def test_growing_annuity_is_the_librarys_npv(years, discount, growth):
    # numpy_financial.npv puts the first value at today, payments come at year's end.
    flows = [0.0] + [100 * (1 + growth) ** (k - 1) for k in range(1, years + 1)]
    got = 100 * money.annuity(years, discount, growth)
    assert got == pytest.approx(npf.npv(discount, flows))


def test_thirty_watts_for_five_years():
    # 30 W x 8.76 h x 0.30 = 78.84 a year; 5 % discount at year's end.
    annual = 30 * HOURS_PER_YEAR / 1000 * 0.30
    assert annual * money.annuity(5) == pytest.approx(394.20)
    assert annual * money.annuity(5, 0.05) == pytest.approx(341.3359, abs=1e-4)


def test_equal_growth_and_discount_cancel():
    assert money.annuity(7, 0.04, 0.04) == pytest.approx(7 / 1.04)
    assert money.annuity(7) == pytest.approx(7)
    assert money.annuity(0, 0.04) == 0


def test_payback():
    assert money.payback_years(60, 24) == 2.5
    assert money.payback_years(60, 0) == math.inf
    assert money.payback_years(-5, 0) == 0


def test_carbon_and_resale():
    assert money.carbon_kg(262.8, 380) == pytest.approx(99.864)
    # numpy_financial.pv of one payment at the end.
    resale = money.resale_present_value(200, 0.25, 6, 0.05)
    assert resale == pytest.approx(-npf.pv(0.05, 6, 0, 50))


# --- wear ------------------------------------------------------------------------


def test_a_wake_costs_its_share_of_the_scarcer_rating():
    assert wear.wake_price(90, 50_000, 300_000) == pytest.approx(0.0018)
    assert wear.wake_price(90, 50_000, 30_000) == pytest.approx(0.003)
    assert wear.scarcer_rating(math.inf, 600_000) == 600_000


def test_budget():
    assert wear.share_used(25_000, 50_000) == 0.5


def test_wear_pays_off_after_an_hour_and_energy_after_a_minute():
    # Common practice, no source: a wake's energy is won back in about a minute, its
    # wear in about an hour or more (drive of 100, 50 000 starts, 4 W saved, 0.30/kWh;
    # a spin-up of 8 s at 25 W beyond idle).
    gap_h = wear.wear_break_even_h(wear.wake_price(100), 4.0, 0.30)
    assert 1 < gap_h < 5
    start = breakeven.Transition(up_j=8 * 25, up_s=8)
    assert 0.5 < breakeven.break_even_up_only_s(4.5, 0.5, start) / 60 < 2
    assert wear.wear_break_even_h(0.002, 0.0, 0.30) == math.inf


def test_cache_wear():
    # JEDEC JESD218B defines the rated terabytes written that the share is taken of.
    assert wear.cache_wear_price(120, 300, 600) == 60
