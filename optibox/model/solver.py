"""The only place that speaks to the solver: rows in, outcome and values out."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum, auto

import pulp

SOLVER_NAME = "HiGHS through PuLP"
INTEGRALITY = 1e-5
ABSOLUTE_GAP = 1e-6


_SMALL_PROGRAMS = {
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
        """Return the proven optimum, or what there is when the time is up."""
        if any(
            not e.terms and not _holds(e.constant, s, 0.0)
            for e, s in self.rows.values()
        ):
            return Solution(outcome=Outcome.INFEASIBLE)
        problem, variables = self._problem()
        solver = pulp.HiGHS(
            msg=False,
            gapRel=0.0,
            gapAbs=ABSOLUTE_GAP,
            threads=1,
            timeLimit=time_limit_s,
            mip_feasibility_tolerance=1e-7,
            random_seed=1,
            **_SMALL_PROGRAMS,
        )
        problem.solve(solver)
        outcome = _outcome(problem)
        if outcome not in (Outcome.OPTIMAL, Outcome.FEASIBLE):
            return Solution(outcome=outcome)
        values = {name: variable.value() or 0.0 for name, variable in variables.items()}
        info = problem.solverModel.getInfo()
        objective = self.objective.constant + sum(
            f * values[n] for n, f in self.objective.terms.items()
        )
        bound = objective
        if outcome is Outcome.FEASIBLE:
            bound = info.mip_dual_bound + self.objective.constant
        return Solution(
            outcome=outcome, objective=objective, bound=bound, values=values
        )

    def _problem(self) -> tuple[pulp.LpProblem, dict[str, pulp.LpVariable]]:
        """Return the program as PuLP sees it, with names that cannot collide."""
        problem = pulp.LpProblem("build", pulp.LpMinimize)
        variables = {}
        for index, (name, (lower, upper, is_whole)) in enumerate(self.columns.items()):
            variables[name] = problem.add_variable(
                f"x{index}",
                lower,
                upper,
                pulp.LpInteger if is_whole else pulp.LpContinuous,
            )
        problem.setObjective(_affine(self.objective, variables))
        senses = {
            "<=": pulp.LpConstraintLE,
            ">=": pulp.LpConstraintGE,
            "=": pulp.LpConstraintEQ,
        }
        for index, (expression, sense) in enumerate(self.rows.values()):
            if not expression.terms:
                continue
            row = pulp.LpConstraint(
                pulp.LpAffineExpression(
                    [(variables[n], f) for n, f in expression.terms.items()]
                ),
                senses[sense],
                f"r{index}",
                -expression.constant,
            )
            problem.addConstraint(row, f"r{index}")
        return problem, variables


def _affine(
    expression: Expression, variables: dict[str, pulp.LpVariable]
) -> pulp.LpAffineExpression:
    return pulp.LpAffineExpression(
        [(variables[name], factor) for name, factor in expression.terms.items()],
        constant=expression.constant,
    )


def _holds(value: float, sense: str, right: float) -> bool:
    slack = 1e-9 * max(1.0, abs(right))
    if sense == "<=":
        return value <= right + slack
    if sense == ">=":
        return value >= right - slack
    return abs(value - right) <= slack


def _outcome(problem: pulp.LpProblem) -> Outcome:
    """Return the outcome; ``status`` calls a time-out optimal, ``sol_status`` does not."""
    if problem.sol_status == pulp.LpSolutionOptimal:
        return Outcome.OPTIMAL
    if problem.sol_status == pulp.LpSolutionIntegerFeasible:
        return Outcome.FEASIBLE
    if problem.status == pulp.LpStatusInfeasible:
        return Outcome.INFEASIBLE
    return Outcome.UNKNOWN
