"""Each family of rows decides something in the instances that the oracle solves.

Counted is in how many of the oracle's instances each row of the contributor's table
stands, and in which the optimum of a program is another one without it. A family whose
loss nothing notices is one that the oracle does not test alone: these are listed.
"""

from copy import deepcopy
from functools import cache

import pytest

from optibox.model.solver import Outcome, Program, Solution
from optibox.search.plan import plan
from tests.oracle.test_optimum import ROUTINE_SEEDS, SLOW_SEEDS
from tests.support.tiny import seeded
from tests.unit.test_formulation_table import plain_names, table

PROGRAMS_EACH = 8
"""Programs looked at of one instance."""
FEW = {"cutoff", "fixed", "some_controller", "differs"}
"""Written while a leaf is settled; tests of their own hold them."""
NEVER_ALONE = {
    *("adapters_enough", "adapters_in_trays", "annual_kwh", "bays_25", "bays_35"),
    *("budget", "card_fits", "connectors_enough", "cooler_suits", "item_limit"),
    *("lanes_left", "link_touched", "links_carry", "memory_least", "memory_most"),
    *("multi_lane_bays", "multi_lane_plugs", "one_chassis", "one_cooler"),
    *("one_processor", "one_supply", "pairs_whole", "peak_limit"),
    *("peripheral_currents", "plate_fits", "processor_lanes", "rail_12v"),
    *("rail_12v_at_once", "suits_board", "total_cost", "usb_places", "wall_limits"),
}
"""Families that no program tried misses alone: other rows say the same there, or keep it
without a solution. The oracle sees them in use, but would not see one of them go."""
QUICK_SEEDS = (0, 5)


@cache
def wanted() -> frozenset[str]:
    """Row names of the table whose test is a theme, not a test of their own."""
    return frozenset(
        plain
        for name, (_, tests) in table().items()
        if not all(test.startswith("test_") for test in tests)
        for plain in plain_names(name)
    ) - frozenset(FEW)


def programs_of(seed: int, monkeypatch) -> list[Program]:
    """Return programs of an instance: every leaf, as if nothing were found in any."""
    found: list[Program] = []

    def kept(program, *_) -> Solution:
        found.append(deepcopy(program))
        return Solution(outcome=Outcome.INFEASIBLE)

    instance, _ = seeded(seed)
    with monkeypatch.context() as patch:
        patch.setattr(Program, "solve", kept)
        plan(instance.catalog, instance.scenario, time_limit_s=20)
    step = max(1, len(found) // PROGRAMS_EACH)
    return found[::step][:PROGRAMS_EACH]


def families_in(program: Program) -> set[str]:
    return {label.partition(":")[0] for label in program.rows}


def without(program: Program, name: str) -> Program:
    """Return a program without the rows of a family."""
    other = deepcopy(program)
    other.rows = {
        label: row
        for label, row in program.rows.items()
        if label.partition(":")[0] != name
    }
    return other


def value_of(program: Program) -> float | None:
    """Return a program's optimum, infinite for none; nothing where it is not proven."""
    found = program.solve(10.0)
    if found.outcome is Outcome.INFEASIBLE:
        return float("inf")
    return found.objective if found.outcome is Outcome.OPTIMAL else None


def decided_by(program: Program, names: set[str]) -> set[str]:
    """Return the families without which a program's optimum is better."""
    whole = value_of(program)
    found = set()
    for name in names & families_in(program):
        less = value_of(without(program, name)) if whole is not None else None
        if less is not None and less < whole - 1e-4:
            found.add(name)
    return found


def count(seeds, monkeypatch) -> tuple[dict[str, int], dict[str, int]]:
    """Return in how many instances each family stands, and the first it decides."""
    there = dict.fromkeys(wanted(), 0)
    first: dict[str, int] = {}
    for seed in seeds:
        programs = programs_of(seed, monkeypatch)
        for name in set().union(*map(families_in, programs)) & set(there):
            there[name] += 1
        for program in programs:
            for name in decided_by(program, set(there) - set(first)):
                first[name] = seed
        if len(first) == len(there):
            break
    return there, first


def test_families_are_counted(monkeypatch):
    """A handful of instances has most families; the slow test asks for all."""
    there, first = count(QUICK_SEEDS, monkeypatch)
    assert sum(n > 0 for n in there.values()) >= 0.4 * len(there), there
    assert len(first) >= 0.1 * len(there), first


@pytest.mark.slow
def test_every_family_decides_something(monkeypatch):
    """Routine instances first, then those of the long oracle."""
    there, first = count((*ROUTINE_SEEDS, *SLOW_SEEDS), monkeypatch)
    assert {name for name, n in there.items() if not n} == set(), there
    assert set(there) - set(first) <= NEVER_ALONE, sorted(set(there) - set(first))
