"""Merged blocks against a grid of minutes."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import blocks
from optibox.physics.blocks import Block

minutes = st.integers(0, 30 * 60)
some_blocks = st.lists(
    st.builds(lambda a, b: Block(a / 60, b / 60), minutes, st.integers(0, 600)),
    max_size=6,
)


def painted(all_blocks, tail_minutes, period_minutes):
    """Colour every minute of the circle that a block or its tail covers."""
    grid = [False] * period_minutes
    for block in all_blocks:
        length = round(block.length_h * 60)
        if length:
            start = round(block.start_h * 60)
            for minute in range(start, start + length + tail_minutes):
                grid[minute % period_minutes] = True
    return grid


@given(some_blocks, st.integers(0, 300), st.sampled_from([24, 30]))
@settings(deadline=None, max_examples=200)
def test_against_a_minute_grid(all_blocks, tail_minutes, period_h):
    grid = painted(all_blocks, tail_minutes, period_h * 60)
    # Shrink each stretch by a hair so that rounding cannot make touching blocks part.
    got = blocks.covered_hours(all_blocks, tail_minutes / 60 + 1e-9, period_h)
    assert got * 60 == pytest.approx(sum(grid), abs=1e-3)


@given(some_blocks, st.integers(0, 300))
@settings(deadline=None)
def test_merged_stretches_are_sorted_and_apart(all_blocks, tail_minutes):
    found = blocks.merged(all_blocks, tail_minutes / 60, 24.0)
    assert found == sorted(found, key=lambda block: block.start_h)
    assert all(0 <= block.start_h < 24 for block in found)
    for before, after in pairwise(found):
        assert before.end_h < after.start_h
    if len(found) > 1:
        assert found[-1].end_h - 24 < found[0].start_h


def test_a_block_over_midnight_meets_the_next_morning():
    evening, morning = Block(22.0, 4.0), Block(1.0, 2.0)
    assert blocks.merged([morning, evening]) == [Block(22.0, 5.0)]


def test_one_long_block_swallows_several_past_the_turn():
    found = blocks.merged([Block(20.0, 9.0), Block(1.0, 1.0), Block(4.0, 3.0)])
    assert found == [Block(20.0, 11.0)]


def test_an_infinite_tail_covers_everything():
    for some in ([], [Block(3.0, 1.0)]):
        assert blocks.covered_hours(some, math.inf, 168.0) == 168.0


def test_blocks_that_close_the_circle_leave_nothing_to_wake():
    assert blocks.covered_hours([Block(0.0, 12.0), Block(12.0, 12.0)]) == 24.0
    assert blocks.covered_hours([Block(5.0, 100.0)]) == 24.0


def test_blocks_without_length_do_nothing():
    assert blocks.merged([Block(3.0, 0.0)], tail_h=1.0) == []
