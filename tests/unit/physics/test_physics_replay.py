"""Replaying a log against gaps, a grid, and Poisson theory."""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import duty
from optibox.physics.replay import replay


@given(
    st.lists(st.integers(0, 600), max_size=20), st.integers(0, 30), st.integers(1, 90)
)
@settings(deadline=None)
def test_against_a_minute_grid(access_min, service_min, timeout_min):
    grid = [False] * 601
    for start in access_min:
        for minute in range(start, min(601, start + service_min + timeout_min)):
            grid[minute] = True
    got = replay(
        [m / 60 for m in access_min],
        service_min / 60,
        timeout_min / 60 + 1e-9,  # a hair, so that rounding parts nothing that touches
        10.0,
    )
    assert got.spinning_share * 600 == pytest.approx(sum(grid[:600]), abs=1e-3)
    starts = sum(on and not grid[i - 1] for i, on in enumerate(grid[:601]) if i)
    assert got.wakes == starts + grid[0]


def test_share_asleep_is_the_sum_of_gaps_beyond_the_timeout():
    # Empirical share of a trace: sum of max(gap - tau, 0) over the sum of gaps.
    chance = random.Random(3)
    times = [0.0]
    for _ in range(500):
        times.append(times[-1] + chance.lognormvariate(0.0, 1.0))
    gaps = [b - a for a, b in pairwise(times)]
    asleep = sum(max(gap - 0.7, 0.0) for gap in gaps) / sum(gaps)
    got = replay(times, 0.0, 0.7, times[-1])
    assert 1 - got.spinning_share == pytest.approx(asleep)
    assert got.wakes == 1 + sum(gap > 0.7 for gap in gaps)


def test_a_poisson_log_gives_the_renewal_formula():
    # exp(-lambda tau) asleep and lambda exp(-lambda tau) wakes: renewal-reward.
    chance, times, now = random.Random(8), [], 0.0
    while now < 60_000:
        times.append(now)
        now += chance.expovariate(1.0)
    got = replay(times, 0.0, 0.25, 60_000.0)
    plain = duty.Sessions(1.0)
    assert got.spinning_share == pytest.approx(
        duty.spinning_share(plain, 0.25), rel=0.02
    )
    assert got.wakes_per_hour == pytest.approx(
        duty.wakes_per_hour(plain, 0.25), rel=0.02
    )


def test_edges():
    assert replay([], 0.1, 0.5, 10.0).spinning_share == 0.0
    never = replay([5.0], 0.1, math.inf, 10.0)
    assert (never.spinning_share, never.wakes) == (1.0, 0)
    assert replay([9.0], 0.5, 4.0, 10.0).spinning_share == pytest.approx(0.1)
    with pytest.raises(ValueError, match="the log spans"):
        replay([11.0], 0.0, 1.0, 10.0)
