"""Numbers with units: the only place that decides digits and the wording of a quantity.

A `Unit` knows its symbol and how many decimals a value deserves; a `Quantity` is a value
with its unit; the functions below word the quantities that sentences are made of.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from optibox.units import tb_to_tib

SAME_MONEY = 0.005
"""Half a minor unit: two sums of money this close are the same. [currency]"""
CENTS_BELOW = 20.0
"""Sums from which cents are left out of running text. [currency]"""
ALMOST_NEVER_H = 8760.0
"""Hours from which a transfer is said not to end: a whole year."""


def number(value: float, digits: int = 0) -> str:
    """Return a number with so many decimals; from 10 000 on in groups of three.

    Examples
    --------
    >>> number(1234.56, 1), number(43210.2), number(-0.01)
    ('1234.6', '43 210', '0')
    """
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return "unlimited" if value > 0 else "none"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    if abs(value) >= 10_000:
        text = f"{float(text):,.{digits}f}".replace(",", " ")
    return text


def _three(value: float) -> int:
    return 0 if abs(value) >= 99.95 else 1 if abs(value) >= 9.995 else 2


def _cents(value: float) -> int:
    return 2 if abs(value) < CENTS_BELOW and round(value * 100) % 100 != 0 else 0


def _some(value: float) -> int:
    """Return a decimal for small shares, none for large ones and for zero."""
    return 1 if 0 < abs(value) < 9.95 else 0


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit; ``digits`` are the decimals of its values, or a rule that gives them."""

    symbol: str = ""
    digits: int | Callable[[float], int] = 0
    is_money: bool = False
    scale: float = 1.0
    """What values are multiplied by to be read in this unit."""

    def number(self, value: float) -> str:
        """Return a value in this unit without its symbol."""
        value *= self.scale
        digits = self.digits if isinstance(self.digits, int) else self.digits(value)
        return number(value, digits)

    def text(self, value: float) -> str:
        """Return a value with the symbol of this unit."""
        return f"{self.number(value)} {self.symbol}".rstrip()

    def fine(self, digits: int) -> "Unit":
        """Return this unit with other decimals."""
        return replace(self, digits=digits)


COUNT = Unit()
WATT = Unit("W", 1)
RATE = Unit("MB/s")
TERABYTE = Unit("TB", _three)
TEBIBYTE = Unit("TiB", _three)
GIGABYTE = Unit("GB")
ENERGY = Unit("kWh")
AMPERE = Unit("A", 1)
HOUR = Unit("h", 1)
MINUTE = Unit("min")
SECOND = Unit("s")
PERCENT = Unit("%", _some)
SHARE = Unit("%", _some, scale=100.0)
"""Fractions of one, told as per cent."""

UNITS = {
    unit.symbol: unit
    for unit in (
        *(COUNT, WATT, RATE, TERABYTE, TEBIBYTE, GIGABYTE, ENERGY, AMPERE, HOUR),
        *(MINUTE, SECOND, PERCENT, Unit("GiB"), Unit("Gb/s", 1), Unit("U")),
    )
}
"""Units by their symbol, for figures that carry the name of their unit."""


def sum_of(currency: str) -> Unit:
    """Return money of running text: cents where they matter and there are any."""
    return Unit(currency, _cents, is_money=True)


def cents_of(currency: str) -> Unit:
    """Return money to the cent, as in columns that are added up."""
    return Unit(currency, 2, is_money=True)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit, worded by the unit."""

    value: float
    unit: Unit

    def __str__(self) -> str:
        return self.unit.text(self.value)


def money(value: float, currency: str) -> str:
    """Return money: cents where they matter, and only where there are any.

    Examples
    --------
    >>> money(758.8, "EUR"), money(4.6, "EUR"), money(3, "EUR")
    ('759 EUR', '4.60 EUR', '3 EUR')
    """
    return sum_of(currency).text(value)


def exact_money(value: float) -> str:
    """Return money to the cent, without its currency."""
    return cents_of("").number(value)


def watts(value: float) -> str:
    """Return watts with one decimal."""
    return WATT.text(value)


def rate(value_mb_s: float) -> str:
    """Return a rate in whole MB/s."""
    return RATE.text(value_mb_s)


def terabytes(value_tb: float) -> str:
    """Return a capacity in TB to three digits.

    Examples
    --------
    >>> terabytes(11.174), terabytes(0.5), terabytes(123.4)
    ('11.2 TB', '0.50 TB', '123 TB')
    """
    return TERABYTE.text(value_tb)


def both_capacities(value_tb: float) -> str:
    """Return a capacity in TB and in TiB.

    Examples
    --------
    >>> both_capacities(11.174)
    '11.2 TB (10.2 TiB)'
    """
    return f"{terabytes(value_tb)} ({TEBIBYTE.text(tb_to_tib(value_tb))})"


def hours(value_h: float) -> str:
    """Return a time in minutes, hours or days, whichever reads best.

    Examples
    --------
    >>> hours(0.25), hours(7.44), hours(31.2), hours(80), hours(0)
    ('15 min', '7.4 h', '31 h', '3.3 days', '0 min')
    """
    if math.isnan(value_h) or value_h >= ALMOST_NEVER_H:
        return "never ends"
    if value_h < 0.995:
        return f"{number(value_h * 60, _some(value_h * 60))} min"
    if value_h < 71.5:
        return f"{number(value_h, _some(value_h))} h"
    return f"{number(value_h / 24, 1)} days"


def clock(hour: float) -> str:
    """Return an hour of day as a clock shows it.

    Examples
    --------
    >>> clock(2.5), clock(24)
    ('02:30', '00:00')
    """
    minutes = round(hour * 60) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def share(fraction: float) -> str:
    """Return a share as per cent; small ones keep a decimal.

    Examples
    --------
    >>> share(0.283), share(0.0042), share(0)
    ('28 %', '0.4 %', '0 %')
    """
    return SHARE.text(fraction)


def chance(value: float) -> str:
    """Return a probability: per cent, or one in so many where it is small.

    Examples
    --------
    >>> chance(0.034), chance(0.0002), chance(0.0)
    ('3.4 %', '1 in 5000', 'none')
    """
    if value <= 0:
        return "none"
    return (
        share(value) if value >= 0.005 else f"1 in {number(float(f'{1 / value:.2g}'))}"
    )
