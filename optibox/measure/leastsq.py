"""Weighted least squares with signs, ranks and what cannot be told apart.

Written here because it is small: the wheels that hold the same would be the largest
that a plain installation needs. Tests hold it against them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Z95 = 1.959963984540054
"""Two-sided 95 % of a normal distribution."""
_TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Columns that always occur together, in fixed ratios: one thing to a meter.

    ``ratios`` say how often each member occurs in one unit of the block. A block of
    one member is counted in its pieces, a larger one as often as it was seen whole.
    """

    members: tuple[int, ...]
    ratios: tuple[float, ...]

    @property
    def is_signed(self) -> bool:
        """Return whether the block's sum may be below zero."""
        return min(self.ratios) < 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What the rows say about each column.

    Attributes
    ----------
    values : array, shape (n,)
        Estimates with signs kept.
    free : array, shape (n,)
        Estimates without regard to signs.
    errors : array, shape (n,)
        Standard errors of the free estimates; infinite where not identified.
    covariance : array, shape (n, n)
        Of the free estimates, within what is identified.
    is_identified : array of bool, shape (n,)
        Whether the rows determine the column by itself.
    residuals : array, shape (m,)
        Rows less the free fit, in standard errors.
    leverages : array, shape (m,)
        How far each row determines its own fit, 0 to 1.
    rank : int
        Rank of the rows.
    """

    values: Array
    free: Array
    errors: Array
    covariance: Array
    is_identified: NDArray[np.bool_]
    residuals: Array
    leverages: Array
    rank: int

    @property
    def n_spare(self) -> int:
        """Return how many rows are more than the unknowns need."""
        return len(self.residuals) - self.rank

    @property
    def chi_square(self) -> float:
        """Return the sum of squared residuals, in standard errors."""
        return float(self.residuals @ self.residuals)


def blocks_of(rows: Array) -> tuple[Block, ...]:
    """Return the columns of rows, those always in one ratio joined; zeros left out.

    Examples
    --------
    >>> rows = np.array([[1.0, 2.0, 0.0], [1.0, 2.0, 3.0]])
    >>> [block.members for block in blocks_of(rows)]
    [(0, 1), (2,)]
    """
    left = [j for j in range(rows.shape[1]) if np.any(np.abs(rows[:, j]) > _TINY)]
    blocks = []
    while left:
        first = left[0]
        ratios = {j: _ratio(rows[:, first], rows[:, j]) for j in left}
        members = tuple(j for j, ratio in ratios.items() if ratio is not None)
        whole = float(np.max(np.abs(rows[:, first]))) if len(members) > 1 else 1.0
        shares = tuple((ratios[j] or 0.0) * whole for j in members)
        blocks.append(Block(members=members, ratios=shares))
        left = [j for j in left if j not in members]
    return tuple(blocks)


def _ratio(first: Array, other: Array) -> float | None:
    """Return how often one column holds another; nothing where it varies."""
    scale = float(first @ other / (first @ first))
    gap = float(np.max(np.abs(other - scale * first)))
    return scale if abs(scale) > _TINY and gap <= _TINY * max(1.0, abs(scale)) else None


def block_rows(rows: Array, blocks: tuple[Block, ...]) -> Array:
    """Return rows over blocks instead of columns."""
    found = [rows[:, b.members[0]] / b.ratios[0] for b in blocks]
    return np.array(found).T.reshape(len(rows), len(blocks))


def null_space(rows: Array) -> Array:
    """Return an orthonormal basis of what the rows cannot see, shape (k, n)."""
    if not rows.size:
        return np.eye(rows.shape[1])
    _, singular, right = np.linalg.svd(rows, full_matrices=True)
    limit = max(rows.shape) * np.finfo(float).eps * 64 * (singular[0] or 1.0)
    rank = int(np.sum(singular > limit))
    return right[rank:]


def solve(rows: Array, values: Array, errors: Array, *, signed: list[bool]) -> Solution:
    """Return the weighted least squares solution.

    Parameters
    ----------
    rows : array, shape (m, n)
        How often each column occurs in each reading.
    values, errors : array, shape (m,)
        Readings and their standard errors.
    signed : list of bool, shape (n,)
        Columns that may be below zero.
    """
    scaled, target = rows / errors[:, None], values / errors
    hidden = null_space(scaled)
    inverse = np.linalg.pinv(scaled, rcond=1e-12)
    free = inverse @ target
    covariance = inverse @ inverse.T
    seen = np.ones(rows.shape[1], bool)
    if len(hidden):
        seen = np.max(np.abs(hidden), axis=0) < 1e-7
    spread = np.sqrt(np.maximum(0.0, np.diag(covariance)))
    return Solution(
        values=nonnegative(scaled, target, signed),
        free=free,
        errors=np.where(seen, spread, np.inf),
        covariance=covariance,
        is_identified=seen,
        residuals=target - scaled @ free,
        leverages=np.clip(np.einsum("ij,ji->i", scaled, inverse), 0.0, 1.0),
        rank=rows.shape[1] - len(hidden),
    )


def nonnegative(rows: Array, values: Array, signed: list[bool]) -> Array:
    """Return the least squares solution with no column below zero but signed ones.

    References
    ----------
    .. [1] C. L. Lawson and R. J. Hanson, "Solving Least Squares Problems",
       Prentice-Hall, 1974, chapter 23 (algorithm quoted from memory).

    Examples
    --------
    >>> nonnegative(np.eye(2), np.array([1.0, -1.0]), [False, False])
    array([1., 0.])
    """
    n = rows.shape[1]
    passive = np.array(signed, bool)
    found = _least(rows, values, passive)
    for _ in range(10 * n + 10):
        slope = rows.T @ (values - rows @ found)
        limit = 1e-10 * max(1.0, float(np.max(np.abs(rows.T @ values), initial=0.0)))
        waiting = np.flatnonzero(~passive & (slope > limit))
        if not len(waiting):
            break
        passive[waiting[np.argmax(slope[waiting])]] = True
        found = _feasible(rows, values, found, passive, signed)
    return found


def _feasible(
    rows: Array,
    values: Array,
    start: Array,
    passive: NDArray[np.bool_],
    signed: list[bool],
) -> Array:
    """Return the solution of the passive columns, those that fall below zero left."""
    found = start
    kept = np.array(signed, bool)
    for _ in range(len(passive) + 1):
        trial = _least(rows, values, passive)
        low = np.flatnonzero(passive & ~kept & (trial <= 0.0))
        if not len(low):
            return trial
        gaps = found[low] - trial[low]
        steps = np.where(gaps > 0.0, found[low] / np.where(gaps > 0.0, gaps, 1.0), 0.0)
        found = found + float(np.min(steps)) * (trial - found)
        passive[low[np.argmin(steps)]] = False
        found[~passive] = 0.0
    return found


def _least(rows: Array, values: Array, passive: NDArray[np.bool_]) -> Array:
    found = np.zeros(rows.shape[1])
    if np.any(passive):
        found[passive] = np.linalg.lstsq(rows[:, passive], values, rcond=None)[0]
    return found


def tied_to(rows: Array, column: int) -> tuple[int, ...]:
    """Return the columns that cannot be told from one, itself among them.

    Two columns are tied where what the rows cannot see moves both.
    """
    hidden = null_space(rows)
    tied, grown = {column}, True
    while grown:
        touching = [v for v in hidden if any(abs(v[j]) > 1e-7 for j in tied)]
        more = {int(j) for v in touching for j in np.flatnonzero(np.abs(v) > 1e-7)}
        grown = not more <= tied
        tied |= more
    return tuple(sorted(tied))


def chi_square_95(n: int) -> float:
    """Return the value that a sum of n squares exceeds once in twenty.

    References
    ----------
    .. [1] E. B. Wilson and M. M. Hilferty, "The distribution of chi-square", PNAS 17,
       1931, 684-688 (cube-root approximation, quoted from memory).

    Examples
    --------
    >>> round(chi_square_95(5), 1)
    11.0
    """
    if n <= 0:
        return 0.0
    share = 2.0 / (9.0 * n)
    return float(n * (1.0 - share + 1.6448536 * np.sqrt(share)) ** 3)
