"""What a wake uses up: start/stop and load/unload cycles, and flash writes."""

import math

START_STOP_RATING = 50_000
"""Start/stop cycles of a drive, low 10 000; usual datasheet figures, from memory."""
LOAD_UNLOAD_RATING = 300_000
"""Load/unload cycles of a drive, up to 600 000; usual datasheet figures, from memory."""


def scarcer_rating(
    start_stop_rating: float = START_STOP_RATING,
    load_unload_rating: float = LOAD_UNLOAD_RATING,
) -> float:
    """Return how many sleeps a drive is rated for; each uses one cycle of either kind.

    Parameters
    ----------
    start_stop_rating, load_unload_rating : float
        Rated cycles; infinite where a drive has no such rating.

    Returns
    -------
    float
        The smaller rating.

    Examples
    --------
    >>> scarcer_rating(50_000, 300_000)
    50000
    """
    return min(start_stop_rating, load_unload_rating)


def wake_price(
    replacement_price: float,
    start_stop_rating: float = START_STOP_RATING,
    load_unload_rating: float = LOAD_UNLOAD_RATING,
) -> float:
    """Return the price of the wear of one wake.

    Parameters
    ----------
    replacement_price : float
        Price of a drive like it today, owned or not. [currency]
    start_stop_rating, load_unload_rating : float
        Rated cycles, > 0.

    Returns
    -------
    float
        Price times the share of one cycle of the scarcer kind. [currency]

    Examples
    --------
    >>> wake_price(100.0, 50_000, 300_000)
    0.002
    """
    return replacement_price / scarcer_rating(start_stop_rating, load_unload_rating)


def share_used(starts: float, rating: float) -> float:
    """Return the share of a rating that some starts use up.

    Parameters
    ----------
    starts : float
        Starts, so far or planned.
    rating : float
        Rated cycles, > 0.

    Returns
    -------
    float
        Share; above 1 past the rating.

    Examples
    --------
    >>> share_used(5_000, 50_000)
    0.1
    """
    return starts / rating


def wear_break_even_h(
    price_of_wake: float, saved_wall_w: float, tariff: float
) -> float:
    """Return the gap from which on the energy saved pays for the wear of a wake. [h].

    Parameters
    ----------
    price_of_wake : float
        Wear of one wake. [currency]
    saved_wall_w : float
        Spinning less standby, at the wall. [W]
    tariff : float
        [currency/kWh]

    Returns
    -------
    float
        Infinite where sleeping saves nothing. [h]

    Examples
    --------
    >>> round(wear_break_even_h(0.002, 4.0, 0.30), 3)
    1.667
    """
    saved_per_h = saved_wall_w / 1000.0 * tariff
    return price_of_wake / saved_per_h if saved_per_h > 0.0 else math.inf


def cache_wear_price(replacement_price: float, written_tb: float, tbw: float) -> float:
    """Return the price of the flash that some writes use up.

    Parameters
    ----------
    replacement_price : float
        Price of a cache drive like it today. [currency]
    written_tb : float
        Writes to the flash, write amplification included. [TB]
    tbw : float
        Rated writes, > 0. [TB]

    Returns
    -------
    float
        Price times the share used. [currency]

    Examples
    --------
    >>> cache_wear_price(120.0, 60.0, 600.0)
    12.0
    """
    return replacement_price * share_used(written_tb, tbw)
