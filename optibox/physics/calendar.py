"""Hours of a day and of a week, and how much of each a block fills.

Hour 0 of a week begins on Monday at midnight, hour 167 ends on Sunday at midnight.
"""

HOURS_OF_DAY = 24
DAYS_OF_WEEK = 7
HOURS_OF_WEEK = HOURS_OF_DAY * DAYS_OF_WEEK


def fill_hours(
    start_h: float, length_h: float, period: int = HOURS_OF_DAY
) -> tuple[float, ...]:
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
