"""What must hold for every year of operation and every policy."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optibox.physics.operation import ArrayShape, DayUse, Transfers, operating_year

LAYOUTS = ("independent", "striped", "pairs", "striped pairs")
minutes = st.integers(0, 24 * 60 - 1).map(lambda m: m / 60)


def use(**changes):
    plain = DayUse(
        sessions_per_h=0.0,
        metadata_per_h=0.0,
        accesses=3.0,
        gap_h=0.25,
        service_h=0.02,
        ingest_hour=20.0,
        flush_hour=2.0,
        check_hour=6.0,
        checks_per_year=0.0,
        spinning_fraction=None,
        prices=(0.2,) * 7 + (0.4,) * 17,
    )
    return replace(plain, **changes)


def shape(layout="striped", **changes):
    plain = ArrayShape(
        layout=layout,
        reconstructs=False,
        n_data=4,
        n_parity=1 if layout == "independent" else 0,
        has_cache=True,
        timeout_h=0.5,
    )
    return replace(plain, **changes)


def painted(blocks, tail_min):
    """Colour the minutes of a day that blocks and their tails cover."""
    grid = [False] * 1440
    for start_h, length_h in blocks:
        if length_h > 0:
            first = round(start_h * 60)
            for minute in range(first, first + round(length_h * 60) + tail_min):
                grid[minute % 1440] = True
    return grid


@given(minutes, minutes, st.integers(0, 500), st.integers(0, 500), st.integers(1, 400))
@settings(deadline=None)
def test_blocks_alone_are_a_painted_day(ingest, flush, over_min, flush_min, tail_min):
    # Nobody comes: hours and wakes follow from the calendar alone, minute by minute.
    blocks = [(ingest, over_min / 60), (flush, flush_min / 60)]
    grid = painted(blocks, tail_min)
    found = operating_year(
        use(ingest_hour=ingest, flush_hour=flush),
        # a hair, so that rounding parts nothing that touches
        shape(timeout_h=tail_min / 60 + 1e-9),
        Transfers(overflow_h=over_min / 60, flush_h=flush_min / 60),
    )
    assert found.data.spinning_h == pytest.approx(365 * sum(grid) / 60, abs=1e-3)
    starts = sum(on and not grid[m - 1] for m, on in enumerate(grid))
    assert found.data.wakes == pytest.approx(365 * starts)


@given(st.integers(0, 23), st.integers(0, 90), st.integers(1, 300), minutes)
@settings(deadline=None)
def test_starts_are_blocks_that_always_wake(boot, boot_min, tail_min, ingest):
    grid = painted([(boot, boot_min / 60)], tail_min) if boot_min else [False] * 1440
    asked = use(
        boot_hours=(float(boot),),
        boot_h=boot_min / 60,
        open_hours=(1.0,) * 24,
        ingest_hour=ingest,
    )
    found = operating_year(asked, shape(timeout_h=tail_min / 60), Transfers())
    assert found.data.spinning_h == pytest.approx(365 * sum(grid) / 60, abs=1e-3)
    assert found.data.wakes == 365


years = st.tuples(
    st.sampled_from(LAYOUTS),
    st.floats(0, 0.6),
    st.floats(0.02, 3),
    st.floats(0, 3),
    st.floats(0, 2),
    st.sampled_from([0.0, 4.0, 26.0]),
)


def made(layout, sessions, timeout_h, ingest_h, flush_h, checks):
    # ingest, flush and check lie apart, as they are meant to
    has_cache = flush_h > 0
    return (
        use(sessions_per_h=sessions, checks_per_year=checks),
        shape(layout, timeout_h=timeout_h, has_cache=has_cache),
        Transfers(ingest_h=ingest_h, flush_h=flush_h, check_h=9.0 if checks else 0.0),
    )


@given(years)
@settings(deadline=None)
def test_states_fill_the_year_and_hold_the_spinning(drawn):
    found = operating_year(*made(*drawn))
    assert sum(state.hours for state in found.states) == pytest.approx(8760)
    spun = sum(s.hours * (s.data.active + s.data.idle) for s in found.states)
    assert spun == pytest.approx(found.data.spinning_h, rel=1e-6, abs=1e-6)
    wakes = sum(s.hours * s.data.wakes_per_h for s in found.states)
    if drawn[0] == "independent" or drawn[1] > 1e-3:
        assert wakes == pytest.approx(found.data.wakes, rel=1e-6, abs=1e-6)
    else:
        # a stripe that no session wakes has no rest hours up in some price bands
        assert wakes <= found.data.wakes + 1e-6
    assert 0 <= found.data.session_wakes <= found.data.wakes + 1e-9
    money = sum(s.money_per_w for s in found.states)
    assert money == pytest.approx(365 * (7 * 0.2 + 17 * 0.4) / 1000)


@given(years)
@settings(deadline=None)
def test_longer_timeouts_spin_more_and_wake_less(drawn):
    asked, plan, times = made(*drawn)
    timeouts = [1 / 12, 0.25, 0.5, 1.0, 2.0, 3.0, math.inf]
    found = [
        operating_year(asked, replace(plan, timeout_h=tau), times) for tau in timeouts
    ]
    for before, after in pairwise(found):
        assert after.data.spinning_h >= before.data.spinning_h - 1e-6
        assert after.data.wakes <= before.data.wakes + 1e-6


@given(years, st.floats(1.0, 3.0))
@settings(deadline=None)
def test_faster_transfers_never_spin_longer(drawn, speed):
    asked, plan, times = made(*drawn)
    assume(times.ingest_h + times.flush_h > 0)
    fast = replace(
        times, ingest_h=times.ingest_h / speed, flush_h=times.flush_h / speed
    )
    slow_year, fast_year = (operating_year(asked, plan, t) for t in (times, fast))
    assert fast_year.data.spinning_h <= slow_year.data.spinning_h + 1e-6
