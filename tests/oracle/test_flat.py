"""The planner against the flat program: one program for the whole catalog.

The flat program knows neither the planner's menu nor its bounds or pruning; both are
judged by the evaluator. On tiny catalogs it is held against the enumeration as well.
"""

import pulp
import pytest

from optibox.certify.program import flat_program, write_mps
from optibox.certify.rounds import flat_optimum
from optibox.certify.solvers import by_highs
from optibox.search.plan import plan
from tests.oracle.test_optimum import TOLERANCES, instance_of, with_aim
from tests.support.enumerate import AIMS, RATES
from tests.support.middling import middling

MINIMISED = tuple(aim for aim in AIMS if aim not in RATES)
TINY_SEEDS = (0, 4, 12, 18)
MIDDLING_SEEDS = (0, 2, 7, 13)
SLOW_SEEDS = range(60)
SLOW_AIMS = ("total cost", "purchase", "asleep watts")
LARGE_SEEDS = range(100, 120)
LARGE = 1.4
"""Share of the usual numbers of parts: about eighty."""
TIME_LIMIT_S = 240.0


def assert_agrees(catalog, scenario, aim: str, *, proven: bool = True) -> None:
    """Assert that planner and flat program find the same value, both proven.

    Where the flat program does not end in time, its bound and its best build must
    still stand on their sides of the planner's value.
    """
    scenario = with_aim(scenario, aim)
    flat = flat_optimum(catalog, scenario, aim, time_limit_s=TIME_LIMIT_S)
    found = plan(catalog, scenario, time_limit_s=TIME_LIMIT_S)
    assert flat.is_proven or not proven, f"flat program open after {flat.n_rounds}"
    if found.assessment is None:
        assert found.status == "infeasible"
        assert flat.best is None, f"{flat.value:.4f} by the flat program"
        return
    value, near = AIMS[aim](found.assessment), TOLERANCES[aim]
    assert flat.bound <= value + near, "the flat program is bounded too high"
    assert flat.value >= value - near, "the flat program knows a better build"
    if flat.is_proven:
        assert flat.value == pytest.approx(value, abs=near)


@pytest.mark.parametrize("seed", TINY_SEEDS)
def test_flat_program_finds_the_best_of_all_builds(seed):
    """Each aim that is minimised, against every build there is."""
    instance, outcome = instance_of(seed)
    for aim in MINIMISED:
        flat = flat_optimum(instance.catalog, instance.scenario, aim, time_limit_s=60)
        best = outcome.best(aim)
        assert flat.is_proven
        assert (flat.best is None) == (best is None)
        if best is not None:
            assert flat.value == pytest.approx(best[0], abs=TOLERANCES[aim])


@pytest.mark.parametrize("seed", MIDDLING_SEEDS)
def test_planner_and_flat_program_agree(seed):
    """Some fifty parts of the shipped catalog."""
    drawn = middling(seed)
    assert 30 <= len(drawn.catalog.parts) <= 80
    assert_agrees(drawn.catalog, drawn.scenario, "total cost")


@pytest.mark.slow
@pytest.mark.parametrize("aim", SLOW_AIMS)
@pytest.mark.parametrize("seed", SLOW_SEEDS)
def test_planner_and_flat_program_agree_on_many(seed, aim):
    """The same with more draws and aims."""
    drawn = middling(seed)
    assert_agrees(drawn.catalog, drawn.scenario, aim, proven=False)


@pytest.mark.slow
@pytest.mark.parametrize("seed", LARGE_SEEDS)
def test_planner_and_flat_program_agree_on_large_ones(seed):
    """Some eighty parts."""
    drawn = middling(seed, LARGE)
    assert_agrees(drawn.catalog, drawn.scenario, "total cost", proven=False)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 160))
def test_flat_program_on_many_tiny_catalogs(seed):
    """More seeds against the enumeration."""
    test_flat_program_finds_the_best_of_all_builds(seed)


def test_mps_file_is_the_flat_program(tmp_path):
    """Read back by PuLP and solved by HiGHS, the file has the program's optimum."""
    drawn = middling(0)
    path = tmp_path / "flat.mps"
    flat = write_mps(drawn.catalog, drawn.scenario, path)
    own = by_highs(flat_program(drawn.catalog, drawn.scenario), None)
    _, problem = pulp.LpProblem.fromMPS(str(path))
    problem.solve(pulp.HiGHS(msg=False, gapRel=0.0, threads=1))
    assert problem.sol_status == pulp.LpSolutionOptimal
    assert pulp.value(problem.objective) == pytest.approx(own.objective, abs=1e-3)
    # a lower bound of what the planner finds, and not a far one
    value = plan(drawn.catalog, drawn.scenario).assessment.total_cost
    assert 0.97 * value < own.objective <= value
    assert flat.n_columns > 100
