"""Frontiers against every build of tiny catalogs, judged by the evaluator alone.

The enumeration knows no weights, no boxes and no solver: the frontier of its list is
what a plain comparison of all builds leaves.
"""

import math
from functools import lru_cache
from itertools import combinations

import pytest

from optibox.assess import Assessment, assess
from optibox.criteria import AXES
from optibox.frontier.axes import axes_of, minimised
from optibox.frontier.compute import Wanted, frontier
from optibox.frontier.scale import Factors, Steps
from optibox.frontier.searched import BestSearch
from optibox.frontier.tariffs import tariff_pieces
from optibox.frontier.totals import at_tariff, mean_price, over, total_over
from optibox.frontier.vectors import nondominated
from optibox.search.plan import plan
from tests.support.tiny import seeded
from tests.unit.frontier.brute import BruteSearch

SEEDS = (4, 25, 95)
"""Instances with few builds and several that are worth considering."""
SLOW_SEEDS = (0, 5, 56, 90, 15, 16, 23, 30, 46, 50, 60, 62, 69, 71, 92, 108)
PAIRS = tuple(combinations(AXES, 2))
TRIPLES = (
    ("purchase", "running", "ingest"),
    ("purchase", "kwh", "read"),
    ("purchase", "asleep", "usable"),
    ("running", "write", "usable"),
    ("total cost", "read", "write"),
    ("kwh", "asleep", "ingest"),
)


@lru_cache(maxsize=64)
def instance_of(seed):
    instance, outcome = seeded(seed)
    found = plan(instance.catalog, instance.scenario)
    assert found.status == "optimal"
    return instance, outcome, found


def frontier_of(seed, wanted: Wanted, *, is_real=False):
    instance, outcome, own = instance_of(seed)
    search = BestSearch(instance.catalog) if is_real else BruteSearch(outcome.fit)
    return frontier(
        instance.catalog, instance.scenario, wanted, plan=own, search=search
    )


def assert_same_set(seed, names, *, is_real=False):
    """Assert that the exact set is that of the enumeration, to the resolution."""
    axes = axes_of(names)
    found = frontier_of(seed, Wanted(axes=names, mode="exact"), is_real=is_real)
    assert found.status == "proven"
    scale = Steps(tuple(axis.resolution for axis in axes))
    fit = instance_of(seed)[1].fit
    wanted = nondominated(scale.levels(minimised(a, axes)) for a in fit)
    got = [scale.levels(minimised(row.assessment, axes)) for row in found.rows]
    assert sorted(got) == wanted
    assert_well_formed(found, axes)


def assert_well_formed(found, axes):
    """Assert order, ends, mutual non-domination and that all rows are fit."""
    vectors = [minimised(row.assessment, axes) for row in found.rows]
    assert vectors == sorted(vectors)
    assert nondominated(vectors) == vectors
    assert [row.number for row in found.rows] == list(range(1, len(vectors) + 1))
    assert all(row.assessment.is_fit for row in found.rows)
    named = {name for row in found.rows for name in row.best_in}
    assert named == {axis.name for axis in axes}


@pytest.mark.parametrize("names", PAIRS + TRIPLES, ids="-".join)
@pytest.mark.parametrize("seed", SEEDS)
def test_every_pair_and_several_triples(seed, names):
    """The engine and the axes, with a search that looks at each build."""
    assert_same_set(seed, names)


@pytest.mark.parametrize("names", PAIRS + TRIPLES, ids="-".join)
def test_every_pair_and_several_triples_by_real_searches(names):
    """The same with the planner's program, on one instance for each set of axes."""
    number = (PAIRS + TRIPLES).index(names)
    assert_same_set(SEEDS[number % len(SEEDS)], names, is_real=True)


@pytest.mark.slow
@pytest.mark.parametrize("names", PAIRS + TRIPLES, ids="-".join)
@pytest.mark.parametrize("seed", SEEDS + SLOW_SEEDS)
def test_many_sets_by_real_searches(seed, names):
    assert_same_set(seed, names, is_real=True)


@pytest.mark.parametrize("factor", [None, 1.01, 1.1, 1.5])
@pytest.mark.parametrize("names", [TRIPLES[0], TRIPLES[3], ("purchase", "kwh")])
@pytest.mark.parametrize("seed", SEEDS)
def test_covers_keep_their_promise(seed, names, factor):
    """Every build there is is within the printed factor of a row, on every axis."""
    axes = axes_of(names)
    found = frontier_of(seed, Wanted(axes=names, factor=factor))
    assert found.status == "proven"
    assert found.factor <= (factor or 1.01) + 1e-9
    assert_covers(found, instance_of(seed)[1].fit, axes)
    vectors = [minimised(row.assessment, axes) for row in found.rows]
    assert nondominated(vectors) == vectors
    for j, axis in enumerate(axes):
        best = min(minimised(a, axes)[j] for a in instance_of(seed)[1].fit)
        assert min(v[j] for v in vectors) <= best + axis.resolution


def assert_covers(found, fit, axes):
    floors = tuple(axis.resolution for axis in axes)
    scale = Factors(floors, tuple(axis.sign for axis in axes), 2.0)
    rows = [scale.levels(minimised(row.assessment, axes)) for row in found.rows]
    for build in fit:
        level = scale.levels(minimised(build, axes))
        gap = min(max(a - b for a, b in zip(r, level, strict=True)) for r in rows)
        assert gap <= math.log(found.factor) + 1e-9


@pytest.mark.parametrize("most", [1, 2, 4])
def test_few_rows_say_how_far_they_are(most):
    """Fewer rows than would do: the factor grows and still holds."""
    names = TRIPLES[0]
    axes = axes_of(names)
    found = frontier_of(25, Wanted(axes=names, most=most))
    ends = {row.number for row in found.rows if row.best_in or row.is_plan}
    assert len(found.rows) <= max(most, len(ends))
    assert_covers(found, instance_of(25)[1].fit, axes)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_tighter_limit_gives_nothing_better(seed):
    """Each row under a tighter limit is weakly dominated by one under the looser."""
    instance, outcome, _ = instance_of(seed)
    axes = axes_of(TRIPLES[0])
    loose = frontier_of(seed, Wanted(mode="exact"))
    middle = sorted(a.cost.purchase for a in outcome.fit)[len(outcome.fit) // 2]
    limits = instance.scenario.limits.model_copy(update={"budget": middle})
    tight = instance.scenario.model_copy(update={"limits": limits})
    fit = [a for a in outcome.fit if a.cost.purchase <= middle]
    found = frontier(
        instance.catalog, tight, Wanted(mode="exact"), search=BruteSearch(fit)
    )
    scale = Steps(tuple(axis.resolution for axis in axes))
    looser = [scale.levels(minimised(r.assessment, axes)) for r in loose.rows]
    for row in found.rows:
        mine = scale.levels(minimised(row.assessment, axes))
        assert any(all(a <= b for a, b in zip(v, mine, strict=True)) for v in looser)


@pytest.mark.parametrize("seed", [25, 95])
def test_tariff_breaks_agree_with_searching_on_both_sides(seed):
    """At, below and above each break-point no build of the list costs less."""
    instance, outcome, _ = instance_of(seed)
    scenario = instance.scenario

    def cheapest(asked) -> Assessment | None:
        return plan(instance.catalog, asked).assessment

    pieces = tariff_pieces(scenario, cheapest)
    assert pieces[0].span.low == 0
    assert math.isinf(pieces[-1].span.high)
    top = 5 * mean_price(scenario.money)
    for piece in pieces:
        low, high = piece.span.low, min(piece.span.high, top)
        for where in (low, low + 1e-4, (low + high) / 2, high - 1e-4, high):
            asked = at_tariff(scenario, where)
            least = min(total(a, asked) for a in outcome.fit)
            assert total(piece.assessment, asked) <= least + 0.03


def total(found: Assessment, scenario) -> float:
    """Return a build's total cost under another scenario."""
    return assess(found.build, scenario).total_cost


@pytest.mark.parametrize("seed", [25])
def test_rows_are_cheapest_where_they_say(seed):
    """Spans of tariff and years against the evaluator under the changed scenario."""
    scenario = instance_of(seed)[0].scenario
    found = frontier_of(seed, Wanted(mode="exact"))
    builds = [row.assessment for row in found.rows]
    for row in found.rows:
        for years in range(1, 31):
            asked = over(scenario, years)
            told = total_over(row.assessment, years)
            assert told == pytest.approx(total(row.assessment, asked))
            if row.horizon and row.horizon.low <= years <= row.horizon.high:
                judged = [assess(a.build, asked) for a in builds]
                least = min(a.total_cost for a in judged if a.is_fit)
                assert told <= least + 1e-6
        if row.tariff:
            top = min(row.tariff.high, 5 * mean_price(scenario.money))
            for where in (row.tariff.low, (row.tariff.low + top) / 2, top):
                asked = at_tariff(scenario, where)
                least = min(total(a, asked) for a in builds)
                assert total(row.assessment, asked) <= least + 1e-6


def test_stopped_at_once_says_so():
    """Without time nothing is proven, and nothing is claimed."""
    found = frontier_of(25, Wanted(time_limit_s=0.0))
    assert found.status == "stopped"
    assert math.isinf(found.factor)
    assert found.n_open > 0
    assert found.rows


def test_nothing_fits():
    """An infeasible scenario has no frontier, and says what was in play."""
    instance, _, _ = instance_of(25)
    needs = instance.scenario.needs.model_copy(update={"usable_tb": 500.0})
    asked = instance.scenario.model_copy(update={"needs": needs})
    found = frontier(instance.catalog, asked)
    assert (found.status, found.rows) == ("infeasible", ())
    assert any("usable_tb" in words for words in found.in_play)
