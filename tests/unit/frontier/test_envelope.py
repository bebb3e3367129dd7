"""Lower envelopes and doubts by hand and by brute force."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optibox.frontier.envelope import Line, lower_envelope, search_envelope

lines_ = st.lists(
    st.tuples(st.integers(0, 40), st.integers(0, 12)), min_size=1, max_size=12
)


@given(lines_, st.floats(0, 50))
def test_envelope_is_the_least_line_everywhere(pairs, where):
    lines = [Line(float(a), float(b), n) for n, (a, b) in enumerate(pairs)]
    found = lower_envelope(lines)
    assert found[0].low == 0
    assert found[-1].high == math.inf
    for left, right in itertools.pairwise(found):
        assert left.high == right.low
        assert left.line.at(left.high) == pytest.approx(right.line.at(left.high))
    here = next(s for s in found if s.low <= where <= s.high)
    assert here.line.at(where) == pytest.approx(min(x.at(where) for x in lines))


@given(lines_)
def test_searched_envelope_is_the_true_one(pairs):
    """A search that tells one lowest line at a time finds all that matter."""
    lines = [Line(float(a), float(b), n) for n, (a, b) in enumerate(pairs)]

    def lowest(where):
        return min(lines, key=lambda line: (line.at(where), -line.slope))

    found = search_envelope(lowest, 0.0, 50.0, 1e-9)
    for stretch in found:
        for where in (stretch.low, (stretch.low + stretch.high) / 2, stretch.high):
            least = min(line.at(where) for line in lines)
            assert stretch.line.at(where) == pytest.approx(least)


def test_break_point_by_hand():
    """100 + 20 t against 60 + 70 t: equal where 40 = 50 t."""
    thrifty, cheap = Line(100.0, 20.0, "thrifty"), Line(60.0, 70.0, "cheap")
    first, second = lower_envelope([thrifty, cheap])
    assert (first.line.payload, second.line.payload) == ("cheap", "thrifty")
    assert first.high == pytest.approx(0.8)
