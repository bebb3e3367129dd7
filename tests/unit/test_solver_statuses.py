"""What a solver's odd ends come to: asked again, by another solver, or told as they are."""

from typing import ClassVar

import highspy
import pytest

from optibox.model import solver
from optibox.model.solver import Expression, Outcome, Program
from optibox.report.answer import Report
from optibox.report.verdict import NOT_FOUND, verdict
from optibox.search.plan import plan
from tests.support.upgrades import four_mixed, upgrade

STATUS = highspy.HighsModelStatus


def knapsack() -> Program:
    """Return: most of 5a + 4b + 3c within 2a + 3b + c <= 5, all at most 1; a, c: 8."""
    program = Program()
    worth = {"a": 5.0, "b": 4.0, "c": 3.0}
    for name in worth:
        program.variable(name, 1.0)
    row = Expression({"a": 2.0, "b": 3.0, "c": 1.0})
    program.require("weight", row, "<=", 5.0)
    program.objective = Expression({n: -w for n, w in worth.items()})
    return program


class Odd(highspy.Highs):
    """A HiGHS whose runs end in given statuses, one after the other."""

    ends: ClassVar[tuple] = ()
    presolves: ClassVar[list] = []

    def run(self):
        super().run()
        self.presolves.append(self.getOptionValue("presolve")[1])

    def getModelStatus(self):  # noqa: N802 - the name that HiGHS gives it
        seen = len(self.presolves)
        if seen and seen <= len(self.ends):
            return self.ends[seen - 1] or super().getModelStatus()
        return super().getModelStatus()


@pytest.fixture
def odd(monkeypatch):
    """Return what makes the solver's first runs end oddly."""

    def make(*ends):
        kind = type("Odd", (Odd,), {"ends": ends, "presolves": []})
        monkeypatch.setattr(solver.highspy, "Highs", kind)
        return kind

    return make


ODD_ENDS = (
    STATUS.kSolveError,
    STATUS.kUnboundedOrInfeasible,
    STATUS.kUnknown,
    STATUS.kPresolveError,
    STATUS.kNotset,
)


@pytest.mark.parametrize("end", ODD_ENDS)
def test_an_odd_end_is_asked_again_without_presolve(odd, end):
    kind = odd(end, None)
    found = knapsack().solve()
    assert (found.outcome, round(found.objective, 6)) == (Outcome.OPTIMAL, -9.0)
    assert kind.presolves == ["choose", "off"]


@pytest.mark.parametrize("end", ODD_ENDS)
def test_two_odd_ends_are_asked_of_another_solver(odd, end):
    odd(end, end)
    found = knapsack().solve()
    assert (found.outcome, round(found.objective, 6)) == (Outcome.OPTIMAL, -9.0)
    program = knapsack()
    program.require("much", Expression({"a": 1.0, "b": 1.0}), ">=", 3.0)
    odd(end, end)
    assert program.solve().outcome is Outcome.INFEASIBLE


def test_where_all_give_up_it_is_not_told_as_a_time_out(odd, monkeypatch):
    monkeypatch.setattr(
        Program, "solve_by_cbc", lambda *_: solver.Solution(outcome=Outcome.UNSOLVED)
    )
    odd(*[STATUS.kSolveError] * 100_000)
    catalog, scenario = four_mixed()
    few = {"timeouts_min": (), "layouts": ("pairs",), "caches": ("none",)}
    choices = scenario.choices.model_copy(update=few)
    scenario = scenario.model_copy(update={"choices": choices})
    found = plan(catalog, scenario)
    assert found.status == "unknown"
    assert found.proof.n_unsolved > 0
    (said,) = verdict(Report(plan=found, scenario=scenario, catalog=catalog))
    assert said != NOT_FOUND
    assert "solvers came to no end on" in said


def test_four_mixed_owned_drives_are_planned():
    """With HiGHS as it comes, presolve hands back a solution that breaks two rows."""
    catalog, scenario = four_mixed()
    found = plan(catalog, scenario)
    assert found.status == "optimal"
    assert found.proof.n_unsolved == 0


def test_that_presolve_rule_is_why(monkeypatch):
    """The rule that is switched off is still at fault; with it the ladder is needed."""
    options = {**solver._OPTIONS, "presolve_rule_off": 0}
    monkeypatch.setattr(solver, "_OPTIONS", options)
    test_four_mixed_owned_drives_are_planned()


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 200, 50))
def test_no_upgrade_with_many_owned_drives_ends_unsolved(first):
    for seed in range(first, first + 50):
        catalog, scenario = upgrade(seed)
        found = plan(catalog, scenario, time_limit_s=5)
        assert found.proof.n_unsolved == 0, seed
        assert found.status != "unknown" or found.proof.seconds > 4.9, seed
