"""Constants and conversions: the only place where units meet.

Inside the package: rates in MB/s (10^6 B), capacities in bytes or TB (10^12 B),
power in W, energy in kWh, time in h or s as the suffix says, money in the
scenario's currency.
"""

HOURS_PER_DAY = 24.0
DAYS_PER_YEAR = 365.0
HOURS_PER_YEAR = 8760.0
"""Convention of the published appliance-energy formulas: 365 days, no leap day."""

BYTES_PER_MB = 10**6
BYTES_PER_GB = 10**9
BYTES_PER_TB = 10**12
BYTES_PER_TIB = 2**40
MB_PER_TB = 10**6
MB_PER_GB = 10**3

JOULES_PER_KWH = 3.6e6
SECONDS_PER_HOUR = 3600.0


def tb_to_tib(capacity_tb: float) -> float:
    """Return decimal terabytes as binary tebibytes. [TiB].

    Examples
    --------
    >>> round(tb_to_tib(16.0), 3)
    14.552
    """
    return capacity_tb * BYTES_PER_TB / BYTES_PER_TIB


def tib_to_tb(capacity_tib: float) -> float:
    """Return binary tebibytes as decimal terabytes. [TB].

    Examples
    --------
    >>> tib_to_tb(1.0)
    1.099511627776
    """
    return capacity_tib * BYTES_PER_TIB / BYTES_PER_TB
