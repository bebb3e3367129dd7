"""Present values, payback, and what a watt is worth."""

import math
from collections.abc import Iterable, Sequence

from optibox.units import HOURS_PER_YEAR

KWH_PER_WATT_YEAR = HOURS_PER_YEAR / 1000.0
"""One watt all year. [kWh]"""


def annuity(years: int, discount: float = 0.0, growth: float = 0.0) -> float:
    """Return what one unit a year is worth today. [years].

    Payments fall at the end of each year and grow from the second on.

    Parameters
    ----------
    years : int
        Number of payments.
    discount : float
        Discount rate a year, > -1.
    growth : float
        Growth of the payment a year.

    Returns
    -------
    float
        Sum over k of (1 + growth)^(k-1) / (1 + discount)^k. [years]

    Examples
    --------
    >>> round(annuity(5, 0.05), 7)
    4.3294767
    """
    total, payment, worth = 0.0, 1.0, 1.0
    for _ in range(years):
        worth /= 1.0 + discount
        total += payment * worth
        payment *= 1.0 + growth
    return total


def present_value(
    annual: float, years: int, discount: float = 0.0, growth: float = 0.0
) -> float:
    """Return what an annual amount is worth today. [currency].

    Parameters
    ----------
    annual : float
        Amount of the first year. [currency/year]
    years, discount, growth
        As in `annuity`.

    Returns
    -------
    float
        [currency]

    Examples
    --------
    >>> round(present_value(78.84, 5, 0.05), 4)
    341.3359
    """
    return annual * annuity(years, discount, growth)


def npv(discount: float, flows: Sequence[float]) -> float:
    """Return the net present value of flows, the first of them today. [currency].

    Parameters
    ----------
    discount : float
        Discount rate a year, > -1.
    flows : sequence of float
        Received now, in one year, and so on. [currency]

    Returns
    -------
    float
        [currency]

    References
    ----------
    .. [1] L. J. Gitman, "Principles of Managerial Finance, Brief", 3rd edition, 2003,
       p. 346, the example below (as quoted by the NumPy manual).

    Examples
    --------
    >>> round(npv(0.281, [-100, 39, 59, 55, 20]), 6)
    -0.008479
    """
    return sum(flow / (1.0 + discount) ** year for year, flow in enumerate(flows))


def payback_years(extra_price: float, annual_saving: float) -> float:
    """Return the simple, undiscounted payback. [years].

    Parameters
    ----------
    extra_price : float
        What is paid more today. [currency]
    annual_saving : float
        What is saved each year. [currency/year]

    Returns
    -------
    float
        0 where nothing more is paid, infinite where nothing is saved. [years]

    Examples
    --------
    >>> payback_years(60.0, 24.0)
    2.5
    """
    if extra_price <= 0.0:
        return 0.0
    return extra_price / annual_saving if annual_saving > 0.0 else math.inf


def carbon_kg(energy_kwh: float, factor_g_per_kwh: float) -> float:
    """Return the carbon of some energy. [kg].

    Parameters
    ----------
    energy_kwh : float
        Energy at the wall. [kWh]
    factor_g_per_kwh : float
        The user's factor, average or marginal. [g/kWh]

    Returns
    -------
    float
        [kg]

    Examples
    --------
    >>> carbon_kg(250.0, 400.0)
    100.0
    """
    return energy_kwh * factor_g_per_kwh / 1000.0


def resale_present_value(
    price: float, fraction: float, years: float, discount: float = 0.0
) -> float:
    """Return what selling at the end is worth today. [currency].

    Parameters
    ----------
    price : float
        Price today. [currency]
    fraction : float
        Share of it that is got at the end.
    years : float
        Until then. [years]
    discount : float
        Discount rate a year, > -1.

    Returns
    -------
    float
        fraction * price / (1 + discount)^years. [currency]

    Examples
    --------
    >>> resale_present_value(156.25, 0.5, 2, 0.25)
    50.0
    """
    worth: float = (1.0 + discount) ** -years
    return fraction * price * worth


def expected_replacements(rates_and_prices: Iterable[tuple[float, float]]) -> float:
    """Return the expected price of replacements in a year. [currency/year].

    Parameters
    ----------
    rates_and_prices : iterable of tuple
        Annual failure rate and replacement price of each part. [1/year, currency]

    Returns
    -------
    float
        Sum of rate times price. [currency/year]

    Examples
    --------
    >>> expected_replacements([(0.02, 100.0), (0.01, 50.0)])
    2.5
    """
    return sum(rate * price for rate, price in rates_and_prices)


def watt_worth(
    price_per_kwh: float, annuity_years: float, factor: float = 1.0
) -> float:
    """Return what one watt all year long costs over the years. [currency/W].

    Parameters
    ----------
    price_per_kwh : float
        Mean price over the year. [currency/kWh]
    annuity_years : float
        `annuity` of the energy. [years]
    factor : float
        Marginal factor of the supply for a watt at the parts; 1 for a wall watt.

    Returns
    -------
    float
        [currency/W]

    Examples
    --------
    >>> round(watt_worth(0.30, 5.0), 2)
    13.14
    """
    return KWH_PER_WATT_YEAR * price_per_kwh * annuity_years * factor


def minor_units(amount: float, per_unit: int = 100) -> int:
    """Return an amount in whole minor units, in which amounts are compared.

    Parameters
    ----------
    amount : float
        [currency]
    per_unit : int
        Minor units of one unit: 100 for most currencies, 1 for some.

    Returns
    -------
    int
        Rounded to the nearest.

    Examples
    --------
    >>> minor_units(12.345678)
    1235
    """
    return round(amount * per_unit)
