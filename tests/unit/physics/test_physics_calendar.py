"""A week of hours against the standard library's calendar and a grid of minutes."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import calendar
from optibox.physics.calendar import Band

EVERY_DAY = tuple(range(7))
WORKDAYS = tuple(range(5))
# Monday 2024-01-01, 00:00 (ISO 8601 weekday 1).
MONDAY = datetime(2024, 1, 1, tzinfo=UTC)


def test_hours_are_those_of_the_calendar():
    # Weekdays and hours as datetime sees them: cheap at night and on weekends.
    week = calendar.banded_week([Band(WORKDAYS, 6, 22, 0.35)], base_price=0.2)
    for hour, price in enumerate(week):
        moment = MONDAY + timedelta(hours=hour)
        dear = moment.weekday() < 5 and 6 <= moment.hour < 22
        assert price == (0.35 if dear else 0.2)


def test_a_band_over_midnight_belongs_to_the_day_it_begins():
    sunday_night = Band((6,), 22, 6, 0.1)
    week = calendar.banded_week([sunday_night], base_price=0.3)
    cheap = [hour for hour, price in enumerate(week) if price == 0.1]
    assert cheap == [0, 1, 2, 3, 4, 5, 166, 167]


def test_a_whole_day_may_be_written_either_way():
    for to_h in (0, 24):
        week = calendar.banded_week([Band(EVERY_DAY, 0, to_h, 0.3)])
        assert week == calendar.flat_week(0.3)


@pytest.mark.parametrize(
    ("bands", "problem"),
    [
        ([Band((0,), 0, 12, 0.3), Band((0,), 11, 24, 0.2)], "day 0, hour 11"),
        ([Band(EVERY_DAY, 0, 23, 0.3)], "price to day 0, hour 23"),
        ([Band((7,), 0, 24, 0.3)], "days run from 0 to 6"),
        ([Band((0,), 0, 25, 0.3)], "whole hours from 0 to 24"),
        ([Band((0,), 0.5, 24, 0.3)], "whole hours from 0 to 24"),
    ],
)
def test_contradicting_bands_are_refused(bands, problem):
    with pytest.raises(ValueError, match=problem):
        calendar.banded_week(bands)


@given(st.integers(0, 2000), st.integers(0, 3000), st.sampled_from([24, 168]))
@settings(deadline=None)
def test_spreading_against_a_minute_grid(start_min, length_min, period_h):
    grid = [False] * (period_h * 60)
    for minute in range(start_min, start_min + length_min):
        grid[minute % len(grid)] = True
    spread = calendar.spread_block if period_h == 24 else calendar.spread_weekly_block
    week = spread(start_min / 60, length_min / 60)
    assert len(week) == 168
    for hour in range(168):
        at = hour % period_h * 60
        assert week[hour] == pytest.approx(sum(grid[at : at + 60]) / 60, abs=1e-9)


def test_a_long_block_covers_each_hour_once():
    assert calendar.spread_block(5.0, 24.0) == calendar.flat_week(1.0)
    assert calendar.spread_block(5.0, 60.0) == calendar.flat_week(1.0)
    assert calendar.spread_block(5.0, 0.0) == calendar.flat_week(0.0)


@given(st.floats(0, 24), st.floats(0, 30))
@settings(deadline=None)
def test_rest_and_block_fill_the_week(start_h, length_h):
    block = calendar.spread_block(start_h, length_h)
    rest = calendar.rest_of(block)
    assert sum(block) + sum(rest) == pytest.approx(168)
    assert all(-1e-12 <= hour <= 1 + 1e-12 for hour in block)


def test_mean_prices():
    week = calendar.banded_week([Band(EVERY_DAY, 22, 6, 0.2)], base_price=0.35)
    assert calendar.mean_price(week) == pytest.approx((8 * 0.2 + 16 * 0.35) / 24)
    in_the_night = calendar.spread_block(23.0, 4.0)
    assert calendar.mean_price(week, in_the_night) == pytest.approx(0.2)
    assert calendar.day_prices(week)[5:7] == pytest.approx((0.2, 0.35))
    with pytest.raises(ValueError, match="No hour is covered"):
        calendar.mean_price(week, calendar.flat_week(0.0))


def test_a_kilowatt_all_week_costs_168_hours():
    assert calendar.price_hours(
        calendar.flat_week(0.25), calendar.flat_week(1.0)
    ) == pytest.approx(42)
    with pytest.raises(ValueError, match="24 prices and 168 hours"):
        calendar.price_hours((0.25,) * 24, calendar.flat_week(1.0))


def test_a_year_of_all_hours_is_8760():
    # 365 days of 24 h, the convention of the ENERGY STAR consumption formula.
    assert calendar.hours_per_year(calendar.flat_week(1.0)) == pytest.approx(8760)
