"""The flat program given to a solver: CBC or HiGHS.

CP-SAT is none of them: it scales continuous columns to whole numbers and called programs
infeasible of which both others found the same optimum.
"""

import math
import warnings
from collections.abc import Callable

import pulp

from optibox.certify.columns import Flat
from optibox.certify.program import GAP, Solved, problem_of


class UnsettledError(TimeoutError):
    """A solver came back with neither an optimum nor a proof that there is none."""


def by_cbc(flat: Flat, time_limit_s: float | None) -> Solved | None:
    """Return the optimum by the CBC that PuLP brings along, nothing where none is.

    Raises
    ------
    UnsettledError
        If neither is proven in time.
    """
    with warnings.catch_warnings():
        # PuLP 4 will not bring CBC along; below 4 it does
        warnings.simplefilter("ignore", DeprecationWarning)
        command = pulp.PULP_CBC_CMD(
            msg=False, gapRel=0.0, gapAbs=GAP, threads=1, timeLimit=time_limit_s
        )
    return _by_pulp(flat, command)


def by_highs(flat: Flat, time_limit_s: float | None) -> Solved | None:
    """Return the optimum by HiGHS, nothing where there is none.

    Raises
    ------
    UnsettledError
        If neither is proven in time.
    """
    command = pulp.HiGHS(
        msg=False,
        gapRel=0.0,
        gapAbs=GAP,
        threads=1,
        timeLimit=time_limit_s,
        random_seed=1,
        mip_feasibility_tolerance=1e-7,
    )
    return _by_pulp(flat, command)


def _by_pulp(flat: Flat, command: pulp.LpSolver) -> Solved | None:
    problem, columns = problem_of(flat)
    try:
        problem.solve(command)
    except pulp.PulpSolverError as error:
        raise UnsettledError(str(error)) from error
    if problem.sol_status == pulp.LpSolutionOptimal:
        return _solved(flat, {n: v.value() or 0.0 for n, v in columns.items()})
    if problem.status == pulp.LpStatusInfeasible:
        return None
    msg = f"flat program not settled: {pulp.LpStatus[problem.status]}"
    raise UnsettledError(msg)


def _solved(flat: Flat, values: dict[str, float]) -> Solved:
    value = math.fsum(f * values[n] for n, f in flat.aim.items())
    return Solved(is_proven=True, objective=value, values=values)


Solver = Callable[[Flat, float | None], Solved | None]
SOLVERS: dict[str, Solver] = {"cbc": by_cbc, "highs": by_highs}
NAMES = {
    "cbc": "CBC, by way of PuLP",
    "highs": "HiGHS (the planner's own)",
}
