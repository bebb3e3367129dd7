"""Present values, payback, and what a watt is worth."""

import math


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
