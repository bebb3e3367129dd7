"""Each family of rows is at work in the instances that the oracle solves, and counted.

Three grades: a row of the family is in a program; it is tight in a program's optimum; a
program's optimum is another one without it.
"""

from collections import Counter, defaultdict
from copy import deepcopy
from functools import cache

import pytest

from optibox.model.solver import Outcome, Program
from optibox.model.tree import Tree
from optibox.search import plan as search
from tests.oracle.test_optimum import (
    ROUTINE_SEEDS,
    TIME_LIMIT_S,
    instance_of,
)
from tests.unit.test_formulation_table import plain_names, table

NEAR = 1e-6
SEEDS = (*ROUTINE_SEEDS, *range(200, 230))
NOT_DRAWN = {"management_there"}
"""No theme asks for remote management; the table names its own test."""
NEVER_TIGHT = NOT_DRAWN
TRIED = 40
"""Programs that a family may be left out of until an optimum changes."""


@cache
def names() -> frozenset[str]:
    """Row names of the contributor's table."""
    return frozenset(n for name in table() for n in plain_names(name))


class Recorder:
    """Looks over the solver's shoulder."""

    def __init__(self) -> None:
        self.there: dict[str, set[int]] = defaultdict(set)
        self.tight: dict[str, set[int]] = defaultdict(set)
        self.programs: list[tuple[Program, float]] = []
        self.seed = 0

    def watch(self, monkeypatch, *, keeps: bool = False) -> None:
        """Count rows in every program that is solved from now on."""
        solve = Program.solve

        def watched(program, *arguments):
            found = solve(program, *arguments)
            self.look(program, found.values)
            proven = found.outcome in (Outcome.OPTIMAL, Outcome.INFEASIBLE)
            if keeps and proven:
                self.programs.append((deepcopy(program), found.objective))
            return found

        monkeypatch.setattr(Program, "solve", watched)

    def look(self, program, values: dict[str, float]) -> None:
        for label, (row, _) in program.rows.items():
            name = label.partition(":")[0]
            self.there[name].add(self.seed)
            if values and row.terms:
                left = sum(f * values[n] for n, f in row.terms.items())
                if abs(left + row.constant) <= NEAR:
                    self.tight[name].add(self.seed)


def run(recorder: Recorder, monkeypatch, seeds) -> None:
    """Plan the oracle's instances, with no part left out by bounds."""
    monkeypatch.setitem(Tree.__init__.__kwdefaults__, "prunes", False)
    for seed in seeds:
        recorder.seed = seed
        instance, _ = instance_of(seed)
        search.plan(instance.catalog, instance.scenario, time_limit_s=TIME_LIMIT_S)


def told(found: dict[str, set[int]]) -> dict[str, int]:
    """Return the instances of each family, rarest first."""
    counts = Counter({name: len(found.get(name, ())) for name in names()})
    return dict(sorted(counts.items(), key=lambda pair: pair[1]))


@pytest.mark.slow
def test_every_family_is_in_the_oracle(monkeypatch):
    """Each row of the table stands in programs of the oracle and is tight in one."""
    recorder = Recorder()
    recorder.watch(monkeypatch)
    run(recorder, monkeypatch, SEEDS)
    there, tight = told(recorder.there), told(recorder.tight)
    assert {n for n, count in there.items() if not count} <= NOT_DRAWN, there
    assert {n for n, count in tight.items() if not count} <= NEVER_TIGHT, tight


def without(program: Program, name: str) -> Program:
    """Return a program without the rows of a family."""
    other = deepcopy(program)
    other.rows = {
        label: row
        for label, row in program.rows.items()
        if label.partition(":")[0] != name
    }
    return other


def changes(program: Program, objective: float, name: str) -> bool:
    """Return whether a program's optimum is another one without a family."""
    found = without(program, name).solve(10.0)
    if found.outcome is Outcome.INFEASIBLE:
        return False
    return not found.objective >= objective - 1e-4


@pytest.mark.slow
def test_every_family_decides_something(monkeypatch):
    """Left out, each family changes the optimum of some program of the oracle."""
    recorder = Recorder()
    with monkeypatch.context() as patch:
        recorder.watch(patch, keeps=True)
        run(recorder, patch, SEEDS)
    idle = set()
    for name in names() - NOT_DRAWN:
        mine = [
            (program, objective)
            for program, objective in recorder.programs
            if any(label.partition(":")[0] == name for label in program.rows)
        ]
        step = max(1, len(mine) // TRIED)
        if not any(changes(p, o, name) for p, o in mine[::step][:TRIED]):
            idle.add(name)
    assert idle <= REDUNDANT, sorted(idle - REDUNDANT)


REDUNDANT: set[str] = set()
"""Families that only tighten the program: others say the same in whole numbers."""
