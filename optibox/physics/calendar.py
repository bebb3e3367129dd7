"""A week of 168 hours: prices of each hour, and how much of each a block fills.

Hour 0 begins on Monday at midnight, hour 167 ends on Sunday at midnight. A vector of
hours says for each hour of the week which part of it, 0 to 1, is covered.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import mul
from typing import TypeAlias

from optibox.units import HOURS_PER_YEAR

HOURS_OF_DAY = 24
DAYS_OF_WEEK = 7
HOURS_OF_WEEK = HOURS_OF_DAY * DAYS_OF_WEEK
WEEKS_PER_YEAR = HOURS_PER_YEAR / HOURS_OF_WEEK
"""8760 h make 52 1/7 weeks: every hour of the week comes equally often."""

Week: TypeAlias = tuple[float, ...]
"""One figure for each hour of the week; shape (168,)."""


@dataclass(frozen=True, slots=True)
class Band:
    """A tariff band: the same hours of some days at one price.

    Attributes
    ----------
    days : tuple of int
        Days on which it begins; 0 is Monday.
    from_h, to_h : int
        First hour and the hour before which it ends; a band that ends at or before
        its start runs into the next day, one from 0 to 24 fills the day.
    price : float
        [currency/kWh]
    """

    days: tuple[int, ...]
    from_h: int
    to_h: int
    price: float

    def hours(self) -> list[int]:
        """Return the hours of the week that the band fills."""
        length = self.to_h - self.from_h
        if length <= 0:
            length += HOURS_OF_DAY
        return [
            (day * HOURS_OF_DAY + self.from_h + step) % HOURS_OF_WEEK
            for day in self.days
            for step in range(length)
        ]


def flat_week(price: float) -> Week:
    """Return a tariff of one price.

    Parameters
    ----------
    price : float
        [currency/kWh]

    Returns
    -------
    tuple of float, shape (168,)
        [currency/kWh]

    Examples
    --------
    >>> len(flat_week(0.3)), flat_week(0.3)[0]
    (168, 0.3)
    """
    return (price,) * HOURS_OF_WEEK


def banded_week(bands: Iterable[Band], base_price: float | None = None) -> Week:
    """Return a tariff made of bands.

    Parameters
    ----------
    bands : iterable of Band
        They must not overlap.
    base_price : float, optional
        Price of all hours outside the bands; without it the bands must fill the week.
        [currency/kWh]

    Returns
    -------
    tuple of float, shape (168,)
        [currency/kWh]

    Raises
    ------
    ValueError
        If two bands claim an hour, an hour has no price, or a band lies outside the
        week.

    Examples
    --------
    >>> night = Band(tuple(range(7)), 22, 6, 0.2)
    >>> week = banded_week([night], base_price=0.35)
    >>> week[5], week[6], week[22]
    (0.2, 0.35, 0.2)
    """
    prices: dict[int, float] = {}
    for band in bands:
        _check_band(band)
        for hour in band.hours():
            if hour in prices:
                msg = f"Two bands claim {_named(hour)}; each hour needs one price."
                raise ValueError(msg)
            prices[hour] = band.price
    week: list[float] = []
    for hour in range(HOURS_OF_WEEK):
        price = prices.get(hour, base_price)
        if price is None:
            msg = (
                f"No band gives a price to {_named(hour)}, and there is no base price."
            )
            raise ValueError(msg)
        week.append(price)
    return tuple(week)


def _check_band(band: Band) -> None:
    days_fit = all(0 <= day < DAYS_OF_WEEK for day in band.days)
    hours_fit = 0 <= band.from_h < HOURS_OF_DAY and 0 <= band.to_h <= HOURS_OF_DAY
    whole = band.from_h == int(band.from_h) and band.to_h == int(band.to_h)
    if not (days_fit and hours_fit and whole):
        msg = f"{band}: days run from 0 to 6, whole hours from 0 to 24."
        raise ValueError(msg)


def _named(hour: int) -> str:
    return f"day {hour // HOURS_OF_DAY}, hour {hour % HOURS_OF_DAY}"


def spread_block(start_h: float, length_h: float) -> Week:
    """Return the hours that a block covers which happens every day. [h].

    Parameters
    ----------
    start_h : float
        Hour of day. [h]
    length_h : float
        Length; what runs over midnight covers the next morning, and from 24 h on
        everything is covered, once. [h]

    Returns
    -------
    tuple of float, shape (168,)
        Covered part of each hour. [h]

    Examples
    --------
    >>> week = spread_block(22.5, 2.0)
    >>> week[22], week[23], week[0], sum(week)
    (0.5, 1.0, 0.5, 14.0)
    """
    return _covered(start_h, length_h, HOURS_OF_DAY) * DAYS_OF_WEEK


def spread_weekly_block(start_h: float, length_h: float) -> Week:
    """Return the hours that a block covers which happens once a week. [h].

    Parameters
    ----------
    start_h : float
        Hour of the week; 0 is Monday at midnight. [h]
    length_h : float
        Length; from 168 h on everything is covered, once. [h]

    Returns
    -------
    tuple of float, shape (168,)
        Covered part of each hour. [h]

    Examples
    --------
    >>> week = spread_weekly_block(167.0, 2.0)
    >>> week[167], week[0], sum(week)
    (1.0, 1.0, 2.0)
    """
    return _covered(start_h, length_h, HOURS_OF_WEEK)


def fill_hours(start_h: float, length_h: float, period: int = HOURS_OF_DAY) -> Week:
    """Return how much of each hour of a circle a block fills. [h].

    Parameters
    ----------
    start_h : float
        Where it starts, any number. [h]
    length_h : float
        Length, >= 0; beyond the period hours are filled repeatedly. [h]
    period : int
        Hours of the circle: a day or a week. [h]

    Returns
    -------
    tuple of float, shape (period,)
        Filled part of each hour; the sum is the length. [h]

    Examples
    --------
    >>> fill_hours(23.5, 1.0)[23], fill_hours(23.5, 1.0)[0]
    (0.5, 0.5)
    >>> fill_hours(0.0, 25.0)[0], fill_hours(0.0, 25.0)[1]
    (2.0, 1.0)
    """
    rounds, rest = divmod(length_h, period)
    filled = [rounds] * period
    position = start_h % period
    hour = int(position)
    first = min(rest, hour + 1 - position)
    filled[hour % period] += first
    whole, last = divmod(rest - first, 1.0)
    end = hour + int(whole) + 1
    for full in range(hour + 1, end):
        filled[full % period] += 1.0
    filled[end % period] += last
    return tuple(filled)


def _covered(start_h: float, length_h: float, period: int) -> Week:
    """Return the covered part of each hour of a circle of whole hours."""
    return fill_hours(start_h, min(max(0.0, length_h), period), period)


def rest_of(hours: Week) -> Week:
    """Return what of each hour is not covered. [h].

    Parameters
    ----------
    hours : tuple of float, shape (168,)
        Covered part of each hour. [h]

    Returns
    -------
    tuple of float, shape (168,)
        1 less each, never below 0. [h]

    Examples
    --------
    >>> sum(rest_of(spread_block(0.0, 6.0)))
    126.0
    """
    return tuple(max(0.0, 1.0 - hour) for hour in hours)


def price_hours(prices: Sequence[float], hours: Sequence[float]) -> float:
    """Return what one kilowatt costs that is drawn during the covered hours of a week.

    Parameters
    ----------
    prices : sequence of float, shape (168,)
        [currency/kWh]
    hours : sequence of float, shape (168,)
        Covered part of each hour. [h]

    Returns
    -------
    float
        Sum of price times hours. [currency/kW]

    Examples
    --------
    >>> price_hours(flat_week(0.25), spread_block(0.0, 2.0))
    3.5
    """
    if len(prices) != HOURS_OF_WEEK or len(hours) != HOURS_OF_WEEK:
        msg = f"{len(prices)} prices and {len(hours)} hours; a week has 168 of each."
        raise ValueError(msg)
    total: float = sum(map(mul, prices, hours))
    return total


def mean_price(prices: Sequence[float], hours: Sequence[float] | None = None) -> float:
    """Return the mean price of the covered hours, or of the week.

    Parameters
    ----------
    prices : sequence of float, shape (168,)
        [currency/kWh]
    hours : sequence of float, shape (168,), optional
        Covered part of each hour; the whole week where it is left out. [h]

    Returns
    -------
    float
        Weighted by the hours. [currency/kWh]

    Raises
    ------
    ValueError
        If nothing is covered: a mean over no hours has no value.

    Examples
    --------
    >>> week = banded_week([Band(tuple(range(7)), 22, 6, 0.2)], base_price=0.35)
    >>> round(mean_price(week, spread_block(5.0, 2.0)), 3), round(mean_price(week), 3)
    (0.275, 0.3)
    """
    covered: Sequence[float] = flat_week(1.0) if hours is None else hours
    total = sum(covered)
    if total <= 0.0:
        msg = "No hour is covered, so there is no mean price."
        raise ValueError(msg)
    return price_hours(prices, covered) / total


def day_prices(prices: Sequence[float]) -> tuple[float, ...]:
    """Return the mean price of each hour of day over the week.

    Parameters
    ----------
    prices : sequence of float, shape (168,)
        [currency/kWh]

    Returns
    -------
    tuple of float, shape (24,)
        [currency/kWh]

    Examples
    --------
    >>> day_prices(flat_week(0.25))[0]
    0.25
    """
    return tuple(
        sum(prices[hour::HOURS_OF_DAY]) / DAYS_OF_WEEK for hour in range(HOURS_OF_DAY)
    )


def hours_per_year(hours: Sequence[float]) -> float:
    """Return the hours of a year that a week's hours stand for. [h/year].

    Parameters
    ----------
    hours : sequence of float, shape (168,)
        Covered part of each hour of the week. [h]

    Returns
    -------
    float
        A year has 8760 h. [h/year]

    Examples
    --------
    >>> hours_per_year(spread_block(1.0, 1.0))
    365.0
    """
    return sum(hours) * WEEKS_PER_YEAR
