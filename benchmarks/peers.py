"""The same question as one flat program, given to general-purpose solvers.

``python -m benchmarks.peers write CASE MPS`` writes the program of a scenario,
``python -m benchmarks.peers SOLVER MPS LIMIT`` solves one, and
``python -m benchmarks.peers textbook CASE LIMIT`` walks a two-objective frontier of it by
the augmented epsilon-constraint method (G. Mavrotas, Applied Mathematics and Computation
213(2), 2009): payoff table, a grid as fine as the resolution, one program a grid point.
"""

import json
import math
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchmarks.cases import case

THREADS = 1
GAP = 1e-6
MODEST = 1e-3
"""Weight of the slack in the augmented objective."""


def highs(mps: str, limit_s: float) -> dict[str, Any]:
    """Solve by HiGHS."""
    import highspy

    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", THREADS)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", GAP)
    solver.setOptionValue("time_limit", limit_s)
    solver.readModel(mps)
    solver.run()
    is_proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return {"proven": is_proven, "value": solver.getInfo().objective_function_value}


def cbc(mps: str, limit_s: float) -> dict[str, Any]:
    """Solve by the CBC that PuLP brings along."""
    import pulp

    _, problem = pulp.LpProblem.fromMPS(mps)
    problem.solve(
        pulp.PULP_CBC_CMD(
            msg=False, gapRel=0.0, gapAbs=GAP, threads=THREADS, timeLimit=limit_s
        )
    )
    is_proven = problem.sol_status == pulp.LpSolutionOptimal
    return {"proven": is_proven, "value": pulp.value(problem.objective)}


def scip(mps: str, limit_s: float) -> dict[str, Any]:
    """Solve by SCIP."""
    import pyscipopt

    model = pyscipopt.Model()
    model.hideOutput()
    model.setParam("limits/time", limit_s)
    model.setParam("limits/gap", 0.0)
    model.setParam("limits/absgap", GAP)
    model.readProblem(mps)
    model.optimize()
    is_proven = model.getStatus() in ("optimal", "gaplimit")
    return {
        "proven": is_proven,
        "value": model.getObjVal() if model.getNSols() else None,
    }


def cp_sat(mps: str, limit_s: float) -> dict[str, Any]:
    """Solve by CP-SAT, which scales continuous columns to whole numbers."""
    from ortools.linear_solver.python import model_builder

    model = model_builder.Model()
    if not model.import_from_mps_file(mps):
        return {"proven": False, "value": None, "note": "does not read the file"}
    solver = model_builder.Solver("sat")
    solver.set_time_limit_in_seconds(limit_s)
    solver.set_solver_specific_parameters(f"num_workers:{THREADS}")
    status = solver.solve(model)
    is_proven = status == model_builder.SolveStatus.OPTIMAL
    has_value = status in (
        model_builder.SolveStatus.OPTIMAL,
        model_builder.SolveStatus.FEASIBLE,
    )
    return {
        "proven": is_proven,
        "value": solver.objective_value if has_value else None,
        "note": "" if has_value else str(status),
    }


SOLVERS: dict[str, Callable[[str, float], dict[str, Any]]] = {
    "highs": highs,
    "cbc": cbc,
    "scip": scip,
    "cp-sat": cp_sat,
}


def write(file: str, mps: str) -> dict[str, Any]:
    """Write the flat program of a scenario as an MPS file."""
    from optibox.certify.program import write_mps

    scenario, catalog = case(file)
    flat = write_mps(catalog, scenario, Path(mps))
    return {"columns": len(flat.columns), "rows": len(flat.rows)}


def textbook(file: str, limit_s: float) -> dict[str, Any]:
    """Walk the frontier of purchase and running cost on the flat program.

    The running cost is minimised under a budget that falls in steps of the resolution;
    a step that a known point covers is skipped, as later editions of the method do.
    """
    from optibox.certify.program import flat_program

    scenario, catalog = case(file)
    # with one year's worth of each year the objective is the running cost, times years
    terms = ("energy", "wear", "cache wear")
    money = scenario.money.model_copy(update={"terms": terms})
    running = scenario.model_copy(update={"money": money})
    started = time.perf_counter()
    walk = _Walk(flat_program(catalog, running), started + limit_s)
    walk.go(step=1.0)
    return {
        "seconds": time.perf_counter() - started,
        "proven": walk.is_done,
        "programs": walk.n_solved,
        "points": len(walk.points),
        "share": walk.share(),
    }


class _Walk:
    """The method at work on one flat program."""

    def __init__(self, flat: Any, deadline: float) -> None:
        self.flat, self.deadline = flat, deadline
        self.pay, self.run = dict(flat.pay), dict(flat.aim)
        self.points: list[tuple[float, float]] = []
        self.n_solved = 0
        self.low = self.high = self.budget = math.nan
        self.is_done = False

    def go(self, step: float) -> None:
        """Payoff table, then the grid from its dear end to its cheap one."""
        cheapest = self.solved(self.pay, None)
        thriftiest = self.solved(self.run, None)
        if cheapest is None or thriftiest is None:
            return
        self.low, self.high = cheapest[0], thriftiest[0]
        self.budget = self.high
        while self.budget >= self.low - 1e-6:
            point = self.solved(self.run, self.budget)
            if point is None:
                return
            self.points.append(point)
            self.budget = min(self.budget, point[0]) - step
        self.is_done = True

    def share(self) -> float:
        """Return how much of the grid was walked."""
        if math.isnan(self.budget) or self.high <= self.low:
            return float(self.is_done)
        return min(
            1.0, (self.high - max(self.budget, self.low)) / (self.high - self.low)
        )

    def solved(
        self, aim: dict[str, float], budget: float | None
    ) -> tuple[float, float] | None:
        """Return purchase and running cost of one optimum, or nothing in time."""
        from optibox.certify.solvers import by_highs

        left = self.deadline - time.perf_counter()
        if left <= 0:
            return None
        kept, rows = self.flat.aim, list(self.flat.rows)
        self.flat.aim = dict(aim)
        if budget is not None:
            # a little of the purchase in the objective: no weakly efficient points
            for name, price in self.pay.items():
                self.flat.aim[name] = self.flat.aim.get(name, 0.0) + MODEST * price
            self.flat.row("budget", dict(self.pay), "<=", budget + 1e-6)
        try:
            answer = by_highs(self.flat, left)
        except TimeoutError:
            return None
        finally:
            self.flat.aim = kept
            self.flat.rows[:] = rows
        self.n_solved += 1
        if answer is None:
            return None
        values = answer.values
        return tuple(  # type: ignore[return-value]
            sum(f * values[n] for n, f in row.items()) for row in (self.pay, self.run)
        )


def _quietly(work: Callable[[], dict[str, Any]]) -> None:
    """Print what work returns, and nothing that solvers print."""
    out = os.dup(1)
    os.dup2(2, 1)
    try:
        started = time.perf_counter()
        found = {"seconds": 0.0, **work()}
        found["seconds"] = found["seconds"] or time.perf_counter() - started
    except ImportError as error:
        found = {"proven": False, "note": f"not installed: {error.name}"}
    os.dup2(out, 1)
    sys.stdout.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    what, *rest = sys.argv[1:]
    if what == "write":
        _quietly(lambda: write(rest[0], rest[1]))
    elif what == "textbook":
        _quietly(lambda: textbook(rest[0], float(rest[1])))
    else:
        _quietly(lambda: SOLVERS[what](rest[0], float(rest[1])))
