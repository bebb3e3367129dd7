"""The only place that speaks to the solver: rows in, outcome and values out."""

import math
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import TYPE_CHECKING, Any

import highspy
import numpy as np

if TYPE_CHECKING:
    from pulp import LpAffineExpression, LpProblem

SOLVER_NAME = "HiGHS"
INTEGRALITY = 1e-5
ABSOLUTE_GAP = 1e-6


_INFINITE = highspy.kHighsInf
_SETTLED = (
    highspy.HighsModelStatus.kOptimal,
    highspy.HighsModelStatus.kInfeasible,
    highspy.HighsModelStatus.kTimeLimit,
    highspy.HighsModelStatus.kInterrupt,
)
"""Ends that mean what they say. All others are asked again: presolve may end in
*infeasible or unbounded*, or in *solve error* where what it undid breaks a row."""
_WITHOUT_ENUMERATION = 1 << 16
"""Presolve's listing of all points of a row, the seventeenth rule by HiGHS' numbers:
with it some programs of equal owned drives end in *solve error* (1.15.1)."""
_FEASIBLE = 2
"""HiGHS' number for a solution that keeps all rows."""
_OPTIONS: dict[str, bool | int | float | str] = {
    "output_flag": False,
    "mip_rel_gap": 0.0,
    "mip_abs_gap": ABSOLUTE_GAP,
    "threads": 1,
    "mip_feasibility_tolerance": 1e-7,
    "random_seed": 1,
    "presolve_rule_off": _WITHOUT_ENUMERATION,
    "mip_allow_restart": False,
    "mip_detect_symmetry": False,
    "mip_heuristic_effort": 0.01,
    "mip_heuristic_run_feasibility_jump": False,
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_root_reduced_cost": False,
}
"""Most programs only confirm that nothing is below a ceiling: searching for solutions
and restarting cost a third of the time there (measured on the shipped examples)."""


class Outcome(Enum):
    """What a solve came to."""

    OPTIMAL = auto()
    """Proven within the gaps asked for."""
    FEASIBLE = auto()
    """A solution, stopped before the proof."""
    INFEASIBLE = auto()
    """Proven that there is none."""
    UNKNOWN = auto()
    """Stopped without a solution."""
    UNSOLVED = auto()
    """No solver came to an end, though there was time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Outcome, objective and values by variable name."""

    outcome: Outcome
    objective: float = math.inf
    bound: float = -math.inf
    values: dict[str, float] = field(default_factory=dict)

    def value(self, expression: "Expression") -> float:
        """Return the number that an expression takes."""
        return expression.constant + sum(
            factor * self.values[name] for name, factor in expression.terms.items()
        )

    def count(self, expression: "Expression") -> int:
        """Return the whole number that an expression takes.

        Raises
        ------
        ArithmeticError
            If it is further from a whole number than the solver's tolerance.
        """
        value = self.value(expression)
        whole = round(value)
        if abs(value - whole) > 1000 * INTEGRALITY:
            msg = f"{value} is not whole"
            raise ArithmeticError(msg)
        return whole


class Expression:
    """A linear expression; small, since thousands are added up per program."""

    __slots__ = ("constant", "terms")

    def __init__(
        self, terms: dict[str, float] | None = None, constant: float = 0.0
    ) -> None:
        self.terms = terms if terms is not None else {}
        self.constant = constant

    def plus(self, other: "Expression | float", factor: float = 1.0) -> "Expression":
        """Add ``factor * other`` in place and return the expression."""
        if isinstance(other, Expression):
            for name, value in other.terms.items():
                self.terms[name] = self.terms.get(name, 0.0) + factor * value
            self.constant += factor * other.constant
        else:
            self.constant += factor * other
        return self

    def copy(self) -> "Expression":
        """Return a copy that can be added to."""
        return Expression(dict(self.terms), self.constant)


def total(
    terms: Iterable[tuple[Expression, float]], constant: float = 0.0
) -> Expression:
    """Return the sum of factors times expressions."""
    result = Expression(constant=constant)
    for expression, factor in terms:
        result.plus(expression, factor)
    return result


class Program:
    """Variables, rows and objective of one mixed-integer program."""

    def __init__(self) -> None:
        self.columns: dict[str, tuple[float, float | None, bool]] = {}
        self.rows: dict[str, tuple[Expression, str]] = {}
        self.objective = Expression()
        self._n_rows = 0

    def variable(
        self, name: str, upper: float | None, *, is_whole: bool = True
    ) -> Expression:
        """Add a variable of at least 0 and return it as an expression."""
        if name in self.columns:
            msg = f"variable {name} is there already"
            raise ValueError(msg)
        self.columns[name] = (0.0, upper, is_whole)
        return Expression({name: 1.0})

    def require(self, name: str, left: Expression, sense: str, right: float) -> None:
        """Add the row ``left sense right``, sense being <=, >= or =.

        A row without variables is kept only if it is false: it then makes the program
        infeasible, as it should.
        """
        if not left.terms and _holds(left.constant, sense, right):
            return
        self._n_rows += 1
        self.rows[f"{name}:{self._n_rows}"] = (left.copy().plus(-right), sense)

    def solve(self, time_limit_s: float | None = None) -> Solution:
        """Return the proven optimum, or what there is when the time is up.

        Where HiGHS comes to no end it is asked again without presolve, then CBC is.
        """
        if any(
            not e.terms and not _holds(e.constant, s, 0.0)
            for e, s in self.rows.values()
        ):
            return Solution(outcome=Outcome.INFEASIBLE)
        solver = _solver(time_limit_s)
        solver.passModel(self._model())
        solver.run()
        if solver.getModelStatus() not in _SETTLED:
            solver.clearSolver()
            solver.setOptionValue("presolve", "off")
            solver.run()
        if solver.getModelStatus() not in _SETTLED:
            return self.solve_by_cbc(time_limit_s)
        outcome = _outcome(solver)
        if outcome not in (Outcome.OPTIMAL, Outcome.FEASIBLE):
            return Solution(outcome=outcome)
        found = solver.getSolution().col_value
        values = dict(zip(self.columns, found, strict=True))
        objective = self.objective.constant + sum(
            f * values[n] for n, f in self.objective.terms.items()
        )
        bound = objective
        if outcome is Outcome.FEASIBLE:
            bound = solver.getInfo().mip_dual_bound
        return Solution(
            outcome=outcome, objective=objective, bound=bound, values=values
        )

    def solve_by_cbc(self, time_limit_s: float | None = None) -> Solution:
        """Return what the solver that PuLP brings along says of the program."""
        pulp = _pulp()
        problem = self.problem()
        options = {"msg": False, "gapRel": 0.0, "gapAbs": ABSOLUTE_GAP, "threads": 1}
        with warnings.catch_warnings():
            # PuLP 4 will not bring CBC along; below 4 it does
            warnings.simplefilter("ignore", DeprecationWarning)
            command = pulp.PULP_CBC_CMD(timeLimit=time_limit_s, **options)
        try:
            problem.solve(command)
        except pulp.PulpSolverError:
            return Solution(outcome=Outcome.UNSOLVED)
        if problem.status == pulp.LpStatusInfeasible:
            return Solution(outcome=Outcome.INFEASIBLE)
        if problem.sol_status != pulp.LpSolutionOptimal:
            return Solution(outcome=Outcome.UNSOLVED)
        found = problem.variablesDict()
        values = {
            name: (found[f"x{index}"].value() or 0.0) if f"x{index}" in found else 0.0
            for index, name in enumerate(self.columns)
        }
        objective = self.objective.constant + sum(
            f * values[n] for n, f in self.objective.terms.items()
        )
        return Solution(
            outcome=Outcome.OPTIMAL,
            objective=objective,
            bound=objective,
            values=values,
        )

    def _model(self) -> highspy.HighsLp:
        """Return the program as arrays: one call instead of one for each column."""
        place = {name: index for index, name in enumerate(self.columns)}
        model = highspy.HighsLp()
        model.num_col_ = len(place)
        cost = np.zeros(len(place))
        for name, factor in self.objective.terms.items():
            cost[place[name]] = factor
        model.col_cost_ = cost
        model.offset_ = self.objective.constant
        model.col_lower_ = np.array([lower for lower, _, _ in self.columns.values()])
        model.col_upper_ = np.array(
            [_INFINITE if up is None else up for _, up, _ in self.columns.values()]
        )
        model.integrality_ = [
            highspy.HighsVarType.kInteger
            if is_whole
            else highspy.HighsVarType.kContinuous
            for _, _, is_whole in self.columns.values()
        ]
        starts, index = [0], list[int]()
        value, lower, upper = list[float](), list[float](), list[float]()
        for row, sense in self.rows.values():
            if not row.terms:
                continue
            index += [place[name] for name in row.terms]
            value += row.terms.values()
            starts.append(len(index))
            lower.append(-_INFINITE if sense == "<=" else -row.constant)
            upper.append(_INFINITE if sense == ">=" else -row.constant)
        model.num_row_ = len(lower)
        model.row_lower_, model.row_upper_ = np.array(lower), np.array(upper)
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.array(starts, dtype=np.int32)
        model.a_matrix_.index_ = np.array(index, dtype=np.int32)
        model.a_matrix_.value_ = np.array(value)
        return model

    def problem(self) -> "LpProblem":
        """Return the program as a PuLP problem, for other solvers and for files.

        Variables are named by number: mangled names could collide.
        """
        pulp = _pulp()
        problem = pulp.LpProblem("build", pulp.LpMinimize)
        variables = {
            name: problem.add_variable(
                f"x{index}",
                lower,
                upper,
                pulp.LpInteger if is_whole else pulp.LpContinuous,
            )
            for index, (name, (lower, upper, is_whole)) in enumerate(
                self.columns.items()
            )
        }

        def affine(expression: Expression, constant: float) -> "LpAffineExpression":
            terms = [(variables[n], f) for n, f in expression.terms.items()]
            return pulp.LpAffineExpression(terms, constant=constant)

        problem.setObjective(affine(self.objective, self.objective.constant))
        senses = {
            "<=": pulp.LpConstraintLE,
            ">=": pulp.LpConstraintGE,
            "=": pulp.LpConstraintEQ,
        }
        for index, (row, sense) in enumerate(self.rows.values()):
            if row.terms:
                left, right = affine(row, 0.0), -row.constant
                made = pulp.LpConstraint(left, senses[sense], f"r{index}", right)
                problem.addConstraint(made, f"r{index}")
        return problem


def _pulp() -> Any:  # noqa: ANN401 - a module
    import pulp  # noqa: PLC0415 - takes its time and most runs do without

    return pulp


def _solver(time_limit_s: float | None) -> highspy.Highs:
    """Return a silent solver with the options that every solve has."""
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    options = dict(_OPTIONS)
    if time_limit_s is not None:
        options["time_limit"] = float(time_limit_s)
    for name, value in options.items():
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            msg = f"the solver knows no option {name}"
            raise ValueError(msg)
    return solver


def _holds(value: float, sense: str, right: float) -> bool:
    slack = 1e-9 * max(1.0, abs(right))
    if sense == "<=":
        return value <= right + slack
    if sense == ">=":
        return value >= right - slack
    return abs(value - right) <= slack


def _outcome(solver: highspy.Highs) -> Outcome:
    """Return the outcome; a time-out counts by whether there is a solution."""
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kOptimal:
        return Outcome.OPTIMAL
    if status == highspy.HighsModelStatus.kInfeasible:
        return Outcome.INFEASIBLE
    has_solution = solver.getInfo().primal_solution_status == _FEASIBLE
    return Outcome.FEASIBLE if has_solution else Outcome.UNKNOWN
