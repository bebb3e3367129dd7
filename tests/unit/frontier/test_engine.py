"""The engine against published sets, exhaustive search and general-purpose libraries."""

import math
import random
from dataclasses import dataclass, field

import moocore
import numpy as np
import pulp
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.frontier.boxes import corners, everything, split
from optibox.frontier.cover import choose, covering, gaps, proven_corners
from optibox.frontier.explore import Explorer
from optibox.frontier.oracle import NO_LIMIT, Answer, Cut, Known, Point
from optibox.frontier.scale import Factors, Steps
from optibox.frontier.vectors import (
    dominates,
    hypervolume,
    is_within,
    nondominated,
)
from tests.unit.frontier import knapsack

vectors = st.lists(
    st.tuples(*[st.integers(0, 12).map(float)] * 3), min_size=1, max_size=30
)


@dataclass
class Listed:
    """An oracle that knows all points."""

    points: list
    weighable: tuple[bool, ...]
    n_asked: int = 0

    def least(self, weights, limits, _deadline, _slack=0.0):
        self.n_asked += 1
        inside = [p for p in self.points if is_within(p, limits)]
        if not inside:
            cut = Cut(limits=limits, weights=weights, bound=math.inf)
            return Answer(outcome="none", cut=cut)
        best = min(
            inside, key=lambda p: sum(map(math.prod, zip(weights, p, strict=True)))
        )
        bound = sum(map(math.prod, zip(weights, best, strict=True)))
        cut = Cut(limits=limits, weights=weights, bound=bound)
        return Answer(outcome="best", points=(Point(best, None),), cut=cut)


@dataclass
class Linear:
    """An oracle that is a linear or integer program."""

    objectives: list
    constraints: list
    problem_type: str = "Continuous"
    weighable: tuple[bool, ...] = field(init=False)
    n_asked: int = 0

    def __post_init__(self):
        self.weighable = (True,) * len(self.objectives)

    def least(self, weights, limits, _deadline, _slack=0.0):
        self.n_asked += 1
        names = sorted({n for row in self.objectives for n in row})
        names = sorted({*names, *(n for row, _, _ in self.constraints for n in row)})
        problem = pulp.LpProblem("p", pulp.LpMinimize)
        top = 1 if self.problem_type == "Binary" else None
        cat = "Integer" if top else "Continuous"
        x = {n: problem.add_variable(f"x{i}", 0, top, cat) for i, n in enumerate(names)}
        values = [
            pulp.lpSum(c * x[n] for n, c in row.items()) for row in self.objectives
        ]
        problem += pulp.lpSum(w * v for w, v in zip(weights, values, strict=True))
        for row, sense, right in self.constraints:
            left = pulp.lpSum(c * x[n] for n, c in row.items())
            problem += {"<=": left <= right, ">=": left >= right, "=": left == right}[
                sense
            ]
        for value, limit in zip(values, limits, strict=True):
            if limit != NO_LIMIT:
                problem += value <= limit
        problem.solve(pulp.HiGHS(msg=False, gapRel=0.0, threads=1))
        if problem.sol_status != pulp.LpSolutionOptimal:
            cut = Cut(limits=limits, weights=weights, bound=math.inf)
            return Answer(outcome="none", cut=cut)
        digits = 0 if top else 6
        point = tuple(round(pulp.value(v), digits) for v in values)
        bound = sum(map(math.prod, zip(weights, point, strict=True))) - 1e-6
        cut = Cut(limits=limits, weights=weights, bound=bound)
        return Answer(outcome="best", points=(Point(point, None),), cut=cut)


def explored(oracle, steps):
    explorer = Explorer(oracle, Known(), steps)
    assert explorer.find_ends()
    assert explorer.sweep(Steps(steps)) == []
    return explorer


def test_knapsack_of_50_items_has_its_35_points():
    """Source: see tests/unit/frontier/knapsack.py."""
    profits = [{i: -value for i, value in enumerate(row)} for row in knapsack.PROFITS]
    constraints = [
        (dict(enumerate(row)), "<=", capacity)
        for row, capacity in zip(knapsack.WEIGHTS, knapsack.CAPACITIES, strict=True)
    ]
    oracle = Linear(profits, constraints, "Binary")
    explorer = explored(oracle, (1.0, 1.0))
    found = nondominated(p.values for p in explorer.known.points)
    assert sorted((-a, -b) for a, b in found) == sorted(knapsack.POINTS)
    assert len(found) == 35
    # local upper bounds need at most two programs a point and one more (Daechert and
    # Klamroth, Journal of Global Optimization 61, 2015; from memory), and two ends
    assert oracle.n_asked <= 2 * 35 + 3


def test_front_of_a_small_linear_program():
    """Payoff table (8, 184), (20, 160) and the front between: the first example of
    G. Mavrotas, Applied Mathematics and Computation 213(2), 2009, as in the tests of
    pyaugmecon. The front is the line f2 = 200 - 2 f1.
    """
    oracle = Linear(
        [{1: -1}, {1: -3, 2: -4}],
        [({1: 1}, "<=", 20), ({2: 1}, "<=", 40), ({1: 5, 2: 4}, "<=", 200)],
    )
    explorer = explored(oracle, (1.0, 1.0))
    found = [(-a, -b) for a, b in nondominated(p.values for p in explorer.known.points)]
    assert explorer.end_of(0).values == pytest.approx((-20, -160))
    assert explorer.end_of(1).values == pytest.approx((-8, -184))
    assert all(f2 <= 200 - 2 * f1 + 1e-6 for f1, f2 in found)
    for wanted in ((8, 184), (11, 178), (14, 172), (17, 166), (20, 160)):
        assert any(f1 > wanted[0] - 1 and f2 > wanted[1] - 1 for f1, f2 in found), (
            wanted
        )


def test_payoff_table_of_power_generation():
    """Cost, carbon dioxide and imported fuel of supply from four sources: the second
    example of the same article. Payoff table as published; the model is from memory,
    and reproduces the table.
    """
    oracle = Linear(
        [
            {"lignite": 30, "oil": 75, "gas": 60, "renewable": 90},
            {"lignite": 1.44, "oil": 0.72, "gas": 0.45},
            {"oil": 1, "gas": 1},
        ],
        [
            ({"lignite": 1, "l1": -1, "l2": -1}, "=", 0),
            ({"oil": 1, "o2": -1, "o3": -1}, "=", 0),
            ({"gas": 1, "g1": -1, "g2": -1, "g3": -1}, "=", 0),
            ({"renewable": 1, "r1": -1, "r3": -1}, "=", 0),
            ({"lignite": 1}, "<=", 31_000),
            ({"oil": 1}, "<=", 15_000),
            ({"gas": 1}, "<=", 22_000),
            ({"renewable": 1}, "<=", 10_000),
            ({"l1": 1, "g1": 1, "r1": 1}, ">=", 38_400),
            ({"l2": 1, "o2": 1, "g2": 1}, ">=", 19_200),
            ({"o3": 1, "g3": 1, "r3": 1}, ">=", 6_400),
        ],
    )
    steps = (100_000.0, 3_000.0, 2_000.0)
    explorer = explored(oracle, steps)
    payoff = (
        (3_075_000, 62_460, 33_000),
        (3_855_000, 45_180, 37_000),
        (3_225_000, 55_260, 23_000),
    )
    for axis, row in enumerate(payoff):
        assert explorer.end_of(axis).values[axis] == pytest.approx(row[axis], abs=0.1)
        assert any(
            all(a <= b + step for a, b, step in zip(p.values, row, steps, strict=True))
            for p in explorer.known.points
        ), row


@given(vectors)
def test_filter_agrees_with_a_library(found):
    """moocore 0.3, ``is_nondominated``: one of equal vectors is kept."""
    mask = moocore.is_nondominated(np.array(found), maximise=False, keep_weakly=False)
    assert nondominated(found) == sorted(
        v for v, m in zip(found, mask, strict=True) if m
    )


@given(vectors)
def test_hypervolume_agrees_with_a_library(found):
    """moocore 0.3, ``hypervolume``."""
    reference = (9.0, 10.0, 11.0)
    wanted = moocore.hypervolume(np.array(found), ref=np.array(reference))
    assert hypervolume(found, reference) == pytest.approx(wanted)


@given(vectors, st.sampled_from([1.0, 2.0, 3.0]), st.booleans())
@settings(deadline=None)
def test_exact_sets_are_those_of_the_list(found, step, all_weighable):
    """Every set that a list holds is found, whatever points the oracle prefers."""
    steps = (step, 1.0, 2.0)
    oracle = Listed(found, (True, True, all_weighable))
    explorer = explored(oracle, steps)
    scale = Steps(steps)
    got = nondominated(scale.levels(p.values) for p in explorer.known.points)
    assert got == nondominated(map(scale.levels, found))
    for axis in range(3):
        least = min(v[axis] for v in found)
        # an axis that can only be limited is known to its resolution
        room = 0.0 if oracle.weighable[axis] else steps[axis]
        assert least <= explorer.end_of(axis).values[axis] <= least + room


@given(
    st.lists(
        st.tuples(st.floats(1, 90), st.floats(1, 90), st.floats(-90, -1)),
        min_size=1,
        max_size=25,
    ),
    st.sampled_from([1.05, 1.2, 1.5]),
    st.integers(3, 8),
)
@settings(deadline=None)
def test_covers_hold_what_they_promise(found, factor, most):
    """Every vector is within the proven factor of a chosen one, on every axis."""
    scale = Factors((1.0, 1.0, 1.0), (1.0, 1.0, -1.0), factor)
    explorer = Explorer(Listed(found, (True, True, False)), Known(), (1.0, 1.0, 1.0))
    assert explorer.find_ends()
    assert explorer.sweep(scale) == []
    levels = [scale.levels(p.values) for p in explorer.known.points]
    gap = gaps(levels, proven_corners(explorer.known.cuts, scale))
    assert gap.min(axis=1).max() <= math.log(factor) + 1e-9
    for choice in (
        choose(gap, most),
        choose(gap, len(levels)),
    ):
        assert len(choice.indices) <= max(most, len(levels))
        rows = [levels[i] for i in choice.indices]
        for vector in found:
            level = scale.levels(vector)
            nearest = min(
                max(a - b for a, b in zip(row, level, strict=True)) for row in rows
            )
            assert nearest <= choice.gap + 1e-9
    full = covering(gap, math.log(factor))
    assert gap[:, list(full)].min(axis=1).max() <= math.log(factor) + 1e-9


def test_a_stopped_sweep_says_what_is_proven():
    """After each answer the proven factor holds for every vector of the list."""
    chance = random.Random(7)
    found = [
        (chance.uniform(10, 90), chance.uniform(10, 90), -chance.uniform(10, 90))
        for _ in range(300)
    ]
    scale = Factors((1.0, 1.0, 1.0), (1.0, 1.0, -1.0), 1.1)
    last = math.inf
    for most in range(6, 60, 9):
        oracle = Listed(found, (True, True, True))
        explorer = Explorer(oracle, Known(), (1.0, 1.0, 1.0))
        explorer.is_stopped = lambda oracle=oracle, most=most: oracle.n_asked >= most
        explorer.find_ends()
        left = explorer.sweep(scale)
        levels = [scale.levels(p.values) for p in explorer.known.points]
        gap = gaps(levels, proven_corners(explorer.known.cuts, scale))
        proven = float(gap.min(axis=1).max())
        true = gaps(levels, [scale.levels(v) for v in found]).min(axis=1).max()
        assert true <= proven + 1e-9
        assert bool(left) == (proven > math.log(1.1) + 1e-9)
        last = min(last, proven)
    assert last <= math.log(1.1) + 1e-9


def test_boxes_and_corners_are_each_others_border():
    """What splits leave open, and what their proof leaves, meet in the points."""
    points = [(3.0, 5.0), (5.0, 2.0), (8.0, 1.0)]
    scale = Steps((1.0, 1.0))
    boxes = everything(2)
    for point in points:
        boxes = split(boxes, point, scale)
    # taken by hand: one box left of all, one below all, one between each two
    assert boxes == [(2.0, math.inf), (4.0, 4.0), (7.0, 1.0), (math.inf, 0.0)]
    left = corners(boxes, (-math.inf, -math.inf))
    # values are whole: just above the boxes means at the points
    assert left == [(2.0, 4.0), (4.0, 1.0), (7.0, 0.0)]


def test_splitting_projections_would_lose_points():
    """A trap seen in practice: all boxes, not only those that hold a point, split in
    the plane of the last two axes. On this list that search misses vectors.
    """
    chance = random.Random(3)
    found = [tuple(float(chance.randint(0, 9)) for _ in range(3)) for _ in range(40)]
    explorer = explored(Listed(found, (True, True, True)), (1.0, 1.0, 1.0))
    got = nondominated(p.values for p in explorer.known.points)
    assert got == nondominated(found)
    assert not any(dominates(a, b) for a in got for b in got)
