"""Least squares with signs, held against general-purpose libraries."""

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from optibox.measure.leastsq import (
    blocks_of,
    chi_square_95,
    nonnegative,
    null_space,
    solve,
    tied_to,
)

SEEDS = st.integers(0, 2**32 - 1)


def problem(seed, *, rows_above=3):
    """Return rows of full rank with values and errors, as a session gives them."""
    random = np.random.default_rng(seed)
    n = int(random.integers(1, 6))
    m = n + int(random.integers(0, rows_above + 1))
    rows = random.integers(0, 2, (m, n)).astype(float)
    rows[:n] += np.eye(n) * 6.0  # more than a row's other entries: never singular
    truth = random.uniform(0.0, 9.0, n)
    errors = random.uniform(0.1, 0.6, m)
    return rows, rows @ truth + errors * random.normal(size=m), errors


@given(seed=SEEDS)
def test_free_fit_is_the_weighted_fit_of_statsmodels(seed):
    rows, values, errors = problem(seed)
    found = solve(rows, values, errors, signed=[False] * rows.shape[1])
    other = sm.WLS(values, rows, weights=1.0 / errors**2).fit()
    assert found.free == pytest.approx(other.params, abs=1e-8)
    covariance = other.normalized_cov_params  # for errors that are known
    assert found.errors == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-8)
    assert found.rank == np.linalg.matrix_rank(rows)
    if found.n_spare:
        assert found.chi_square == pytest.approx(other.ssr, abs=1e-8)
        whitened = sm.OLS(values / errors, rows / errors[:, None]).fit()
        leverage = whitened.get_influence().hat_matrix_diag
        assert found.leverages == pytest.approx(leverage, abs=1e-8)


@given(seed=SEEDS)
def test_values_are_those_of_scipy_nnls(seed):
    rows, values, errors = problem(seed)
    scaled, target = rows / errors[:, None], values / errors
    mine = nonnegative(scaled, target, [False] * rows.shape[1])
    other, _ = scipy.optimize.nnls(scaled, target)
    assert mine == pytest.approx(other, abs=1e-7)


@given(seed=SEEDS)
def test_signed_columns_are_those_of_scipy_lsq_linear(seed):
    rows, values, errors = problem(seed)
    scaled, target = rows / errors[:, None], values / errors
    signed = [
        bool(x) for x in np.random.default_rng(seed).integers(0, 2, rows.shape[1])
    ]
    lower = [-np.inf if free else 0.0 for free in signed]
    mine = nonnegative(scaled, target, signed)
    other = scipy.optimize.lsq_linear(scaled, target, (lower, np.inf), method="bvls")
    assert mine == pytest.approx(other.x, abs=1e-6)


@given(seed=SEEDS)
def test_optimum_of_any_rows_meets_its_conditions(seed):
    """Karush, Kuhn and Tucker: slope zero where free, against the bound elsewhere."""
    random = np.random.default_rng(seed)
    m, n = random.integers(1, 9), random.integers(1, 7)
    rows = random.integers(-1, 3, (m, n)).astype(float)
    values = random.normal(size=m) * 3
    found = nonnegative(rows, values, [False] * n)
    slope = rows.T @ (rows @ found - values)
    assert np.all(found >= 0)
    assert np.all(slope > -1e-7)
    assert np.all(np.abs(slope[found > 1e-9]) < 1e-7)


@given(seed=SEEDS)
def test_a_column_is_identified_where_its_unit_adds_no_rank(seed):
    """Rank by numpy: a unit vector lies in the row space, or it adds a dimension."""
    random = np.random.default_rng(seed)
    m, n = random.integers(1, 7), random.integers(1, 6)
    rows = random.integers(0, 3, (m, n)).astype(float)
    found = solve(rows, np.ones(m), np.ones(m), signed=[False] * n)
    rank = np.linalg.matrix_rank(rows)
    for j in range(n):
        grown = np.linalg.matrix_rank(np.vstack([rows, np.eye(n)[j]]))
        assert bool(found.is_identified[j]) == (grown == rank)
    assert len(null_space(rows)) == n - rank


def test_columns_in_one_ratio_are_one_block():
    rows = np.array([[1.0, 2.0, 0.0, 0.0], [1.0, 2.0, 3.0, 0.0], [0.0, 0.0, 1.0, 0.0]])
    first, second = blocks_of(rows)
    assert (first.members, first.ratios) == ((0, 1), (1.0, 2.0))
    assert second.members == (2,)


def test_sum_and_parts_are_tied_where_only_sums_were_seen():
    rows = np.array([[1.0, 1.0, 0.0], [0.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    assert tied_to(rows, 0) == (0, 1, 2)
    assert tied_to(np.eye(3), 0) == (0,)


@pytest.mark.parametrize("n", [1, 2, 5, 20])
def test_chi_square_bound_is_near_that_of_scipy(n):
    assert chi_square_95(n) == pytest.approx(scipy.stats.chi2.ppf(0.95, n), rel=0.03)
