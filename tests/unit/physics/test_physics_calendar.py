"""Hours that a block fills, against a grid of minutes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import calendar


@given(st.integers(0, 2000), st.integers(0, 20_000), st.sampled_from([24, 168]))
@settings(deadline=None)
def test_filled_hours_against_a_minute_grid(start_min, length_min, period_h):
    grid = [0] * (period_h * 60)
    for minute in range(start_min, start_min + length_min):
        grid[minute % len(grid)] += 1
    filled = calendar.fill_hours(start_min / 60, length_min / 60, period_h)
    assert len(filled) == period_h
    for hour in range(period_h):
        minutes = sum(grid[hour * 60 : hour * 60 + 60])
        assert filled[hour] == pytest.approx(minutes / 60, abs=1e-9)


def test_nothing_fills_nothing():
    assert calendar.fill_hours(5.0, 0.0) == (0.0,) * 24
