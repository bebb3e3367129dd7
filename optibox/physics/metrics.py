"""Figures that standards define: idle capacity per watt, flash endurance, energy."""

from collections.abc import Iterable

from optibox.units import DAYS_PER_YEAR, HOURS_PER_YEAR

SHARE_TOLERANCE = 1e-9


def ready_idle_gb_per_w(raw_capacity_gb: float, mean_idle_w: float) -> float:
    """Return the ready-idle metric of storage: raw capacity over idle power. [GB/W].

    Parameters
    ----------
    raw_capacity_gb : float
        Sum of the drives' capacities. [GB]
    mean_idle_w : float
        Mean power at the wall, idle and ready to answer at once. [W]

    Returns
    -------
    float
        [GB/W]

    References
    ----------
    .. [1] ISO/IEC 24091:2019 (abstract read): idle capacity to average measured power.

    Examples
    --------
    >>> ready_idle_gb_per_w(32_000.0, 50.0)
    640.0
    """
    return raw_capacity_gb / mean_idle_w


def dwpd_from_tbw(tbw: float, capacity_tb: float, years: float) -> float:
    """Return rated writes as whole drives a day. [1/day].

    Parameters
    ----------
    tbw : float
        Rated writes. [TB]
    capacity_tb : float
        Capacity. [TB]
    years : float
        Warranted years. [years]

    Returns
    -------
    float
        TBW / (365 years capacity), a relation of the trade. [1/day]

    Examples
    --------
    >>> round(dwpd_from_tbw(600.0, 1.0, 5), 6)
    0.328767
    """
    return tbw / (DAYS_PER_YEAR * years * capacity_tb)


def tbw_from_dwpd(dwpd: float, capacity_tb: float, years: float) -> float:
    """Return whole drives a day as rated writes. [TB].

    Parameters
    ----------
    dwpd : float
        Drive writes a day. [1/day]
    capacity_tb : float
        Capacity. [TB]
    years : float
        Warranted years. [years]

    Returns
    -------
    float
        [TB]

    Examples
    --------
    >>> tbw_from_dwpd(0.25, 1.0, 4)
    365.0
    """
    return dwpd * DAYS_PER_YEAR * years * capacity_tb


def annual_energy_kwh(modes: Iterable[tuple[float, float]]) -> float:
    """Return the energy of a year from the power in each mode. [kWh].

    Parameters
    ----------
    modes : iterable of tuple
        Power at the wall and share of the year. [W, 0 to 1]

    Returns
    -------
    float
        8760/1000 times the sum of power times share. [kWh]

    Raises
    ------
    ValueError
        If the shares do not add up to 1.

    References
    ----------
    .. [1] ENERGY STAR computers, version 6.1: typical energy consumption.

    Examples
    --------
    >>> round(annual_energy_kwh([(1.0, 0.60), (1.7, 0.10), (10.0, 0.30)]), 4)
    33.0252
    """
    listed = tuple(modes)
    shares = sum(share for _, share in listed)
    if abs(shares - 1.0) > SHARE_TOLERANCE:
        msg = f"Shares of the year add up to {shares}; they must add up to 1."
        raise ValueError(msg)
    return HOURS_PER_YEAR / 1000.0 * sum(power * share for power, share in listed)
