"""The formulation table of the contributor's guide against the source and the programs."""

import re
from collections import defaultdict
from dataclasses import replace
from functools import cache

import pulp
import pytest

from optibox.build import items_of
from optibox.catalog.attachment import Cable, Controller, DisplayCard, Riser
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.criteria import Weights
from optibox.model import settle
from optibox.model.aims import Ceiling
from optibox.model.draft import Berth, Draft
from optibox.model.settle import Tally
from optibox.model.solver import Expression, Outcome, Program, Solution, total
from optibox.model.tree import Tree
from optibox.scenario import Scenario
from optibox.search.best import Question, best
from optibox.search.plan import plan
from optibox.search.result import Plan
from tests.support.held import held_drives
from tests.support.late_themes import deep_leads, hanging_leads
from tests.support.parts import catalog_of, make, plain_parts
from tests.support.source import ROOT, rows_of, trees
from tests.support.tiny import THEMES, Seeded, drawn, loosened

EVERY = "every theme"
ALL = (*THEMES, held_drives, hanging_leads, deep_leads)
SEEDS = range(6)
MOST_BUILDS = 20_000


@cache
def table() -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Return functions and tests by row name."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    body = text.split("| Row | Inequality |")[1].split("\n\n")[0]
    found = {}
    for line in body.splitlines()[2:]:
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        assert len(cells) == 5, line
        name = re.fullmatch(r"`([^`]+)`", cells[0])[1]
        assert name not in found, f"{name} stands twice"
        assert cells[1], name
        assert cells[2], name
        tests = tuple(test.strip() for test in cells[4].split(","))
        found[name] = (tuple(re.findall(r"`([^`]+)`", cells[3])), tests)
    return found


def source_rows() -> dict[str, set[str]]:
    """Return the functions that write each row, by row name."""
    found = defaultdict(set)
    for path, tree in trees("optibox/model"):
        if path.name != "solver.py":
            for name, function in rows_of(tree):
                found[name].add(f"{path.stem}.{function}")
    return found


def test_rows_of_table_and_source_are_the_same():
    assert set(table()) == set(source_rows())


def test_functions_of_table_and_source_are_the_same():
    wrong = {}
    for name, functions in source_rows().items():
        outer = {f for f in functions if f != "rows_parts.ban"}
        told = {f for f in table()[name][0] if f != "rows_parts.ban"}
        if outer != told:
            wrong[name] = (sorted(outer), sorted(told))
    assert not wrong


def written(theme, monkeypatch) -> set[str]:
    """Return the names of rows in all programs of a theme's catalogs.

    Programs are formulated for every leaf and called infeasible, so that the search
    goes through all of them; limits that bind nothing bring in their rows. No item is
    left out: the bounds know what many rows forbid.
    """
    names = set()
    require = Program.require

    def recording(program, name, left, sense, right) -> None:
        before = len(program.rows)
        require(program, name, left, sense, right)
        if len(program.rows) > before:
            names.add(name)

    monkeypatch.setattr(Program, "require", recording)
    monkeypatch.setattr(Tree, "items_for", lambda tree, *_: dict(tree.offers.by_kind))
    monkeypatch.setattr(
        Program, "solve", lambda *_: Solution(outcome=Outcome.INFEASIBLE)
    )
    for seed in SEEDS:
        instance = drawn(Seeded(seed), [theme], MOST_BUILDS)
        if instance is not None and instance.n_builds:
            plan(instance.catalog, with_limits(loosened(instance.scenario, 0.6)))
    return names


def with_limits(scenario: Scenario) -> Scenario:
    limits = {
        "budget": 90_000.0,
        "asleep_w": 900.0,
        "peak_w": 1_900.0,
        "total_cost": 900_000.0,
        "annual_kwh": 40_000.0,
    }
    wide = scenario.limits.model_copy(update=limits)
    return scenario.model_copy(update={"limits": wide})


def plain_names(name: str) -> set[str]:
    """Return a table's row name, with every role where it stands for roles."""
    if "{role}" not in name:
        return {name}
    return {name.replace("{role}", role) for role in ("data", "parity")}


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.__name__)
def test_rows_are_in_the_programs_of_their_themes(theme, monkeypatch):
    names = written(theme, monkeypatch)
    told = {
        plain
        for row, (_, tests) in table().items()
        if theme.__name__ in tests or EVERY in tests
        for plain in plain_names(row)
    }
    assert told - names == set()


def test_tests_of_the_table_exist():
    known = {theme.__name__ for theme in ALL} | {EVERY, *globals()}
    told = {test for _, tests in table().values() for test in tests}
    assert told - known == set()


def small_program() -> tuple[Draft, Expression, Expression]:
    """Return a draft with a count of 0 to 2 and a binary, to be minimised together."""
    draft = Draft(entry=None, board=None, items={}, spares={}, postage={})
    count = draft.program.variable("n a", 2.0)
    one = draft.program.variable("p b", 1.0)
    draft.program.objective = total([(count, 1.0), (one, 10.0)])
    return draft, count, one


def test_differs_rows():
    """Six points (0-2, 0-1); each is found once, then none is left."""
    draft, count, one = small_program()
    found = []
    while (solution := draft.program.solve()).outcome is Outcome.OPTIMAL:
        found.append((solution.count(count), solution.count(one)))
        settle._differ(draft, [(count, found[-1][0]), (one, found[-1][1])])
    assert found == [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1)]


def test_cutoff_row():
    """With 12 as the best known value, a point worth 12 is there and one of 13 is not."""
    for least, outcome in ((2.0, Outcome.OPTIMAL), (3.0, Outcome.INFEASIBLE)):
        draft, count, one = small_program()
        draft.program.columns["n a"] = (0.0, 3.0, True)
        draft.program.require("least", count, ">=", least)
        draft.program.require("there", one, "=", 1.0)
        solution = settle._solve(draft, 12.0, Tally(value_of=lambda _: 0.0))
        assert solution.outcome is outcome
        assert "cutoff" in draft.program.rows


def test_fixed_row():
    """One variable is fixed to what is known of it, one to 0 as it is not known."""
    draft, count, one = small_program()
    draft.program.objective = total([(count, -1.0), (one, -1.0)])
    case = settle._Case(None, {}, None, fixed=("n ", "p "), values={"n a": 1})
    settle._fix(draft, case)
    solution = draft.program.solve()
    assert (solution.count(count), solution.count(one)) == (1, 0)


def test_power_cut_row(monkeypatch):
    """3.0 and 1.6 A on one SATA plug are 4.6 A: plugs add up, currents do not.

    Each drive alone, and two of either kind as far as rows count, would be carried.
    """
    parts = plain_parts()
    del parts["hdd-4"]
    parts["supply"] = make(PowerSupply, "supply", leads="sata 1")
    parts["pair"] = make(PowerLead, "pair", takes_plug="sata", fan_out=2, price=4)
    for name, amps in (("heavy", 3.0), ("mid", 1.6)):
        parts[name] = make(HardDrive, name, spin_up_12v_a=amps, stock=1)
    names = []
    require = Program.require

    def recording(program, name, left, sense, right) -> None:
        names.append(name)
        require(program, name, left, sense, right)

    monkeypatch.setattr(Program, "require", recording)
    asked = {
        "needs": {"usable_tb": 7, "failures_survived": 0},
        "limits": {"array_drives": 2},
        "money": {"tariff_per_kwh": 0.3},
        "choices": {"caches": ("none",), "timeouts_min": (30,), "allow_never": False},
    }
    found = plan(catalog_of(parts.values()), Scenario.model_validate(asked))
    assert found.status == "infeasible"
    assert "power_cut" in names
    parts["mid"] = make(HardDrive, "mid", spin_up_12v_a=1.5, stock=1)
    found = plan(catalog_of(parts.values()), Scenario.model_validate(asked))
    assert found.status == "optimal"


def test_late_chosen_row(monkeypatch):
    """Three bays, three drives: an empty one of 8 TB may stand in for parity of 6 TB."""
    parts = plain_parts()
    parts["case"] = make(Chassis, "case", bays_35=3)
    old = make(HardDrive, "old", tb=6)
    parts["hdd-6"] = make(HardDrive, "hdd-6", tb=6)
    idle = make(HardDrive, "idle", tb=8)
    asked = {
        "needs": {"usable_tb": 9, "failures_survived": 1},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 3},
        "choices": {"caches": ("none",), "layouts": ("independent",)},
        "owned": [
            {"id": "old", "part": old, "count": 1},
            {
                "id": "idle",
                "part": idle,
                "holds_data": False,
                "pending_sectors": 1,
                "trust_pending": True,
            },
        ],
    }
    names = set()
    require = Program.require
    monkeypatch.setattr(
        Program,
        "require",
        lambda p, name, *rest: names.add(name) or require(p, name, *rest),
    )
    found = plan(catalog_of(parts.values()), Scenario.model_validate(asked))
    assert found.assessment is not None
    assert "late_chosen" in names


def some_machine(**needs) -> tuple[Catalog, Scenario]:
    """Return a catalog with two slots, a controller and a management card."""
    parts = plain_parts()
    parts["board"] = make(Board, "board", slots="P1 x4 gen3 cpu | P2 x4 gen3 cpu")
    parts["hba"] = make(Controller, "hba")
    parts["card"] = make(DisplayCard, "card", is_management=True)
    asked = {
        "needs": {"usable_tb": 3, "failures_survived": 0, **needs},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 1},
    }
    return catalog_of(parts.values()), Scenario.model_validate(asked)


def test_management_row():
    """Where management is asked for, a card that has it is bought though it costs."""
    catalog, scenario = some_machine(management=True)
    assert "card" in keys_of(plan(catalog, scenario))
    catalog, scenario = some_machine(management=False)
    assert "card" not in keys_of(plan(catalog, scenario))


def keys_of(found: Plan) -> set[str]:
    return {entry.item.key for entry in found.assessment.build.items}


def test_some_controller_row():
    """With the row a program takes a controller that it has no use for."""
    draft, count, one = small_program()
    catalog, scenario = some_machine()
    draft.items = {
        Controller: tuple(i for i in items_of(catalog, scenario) if i.key == "hba")
    }
    (board,) = catalog.of(Board)
    draft.placed = {("hba", Berth(board.slots[0], 4)): one}
    settle._some_controller(draft)
    solution = draft.program.solve()
    assert (solution.count(count), solution.count(one)) == (0, 1)


def test_slot_split_rows():
    """Two modules on a passive riser want the processor that splits the slot's lanes."""
    parts = plain_parts()
    parts["board"] = make(
        Board,
        "board",
        socket="s1",
        slots="P1 x8 gen3 cpu bifurcates",
        network_gbit_s=10.0,
    )
    parts["plain"] = make(Processor, "plain", has_graphics=True, price=20)
    parts["split"] = make(
        Processor, "split", has_graphics=True, can_bifurcate=True, price=90
    )
    parts["cooler"] = make(Cooler, "cooler")
    parts["riser"] = make(Riser, "riser", n_sockets=2, lanes=8)
    parts["nvme"] = make(
        SolidStateDrive,
        "nvme",
        interface="nvme",
        form="m2",
        module_length_mm=80,
        module_key="M",
        generation=3,
        lanes=4,
        run_5v_a=0,
    )
    catalog = catalog_of(parts.values())
    asked = {
        "needs": {"usable_tb": 3, "failures_survived": 0},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 1},
    }
    for kind, processor in (("mirror", "split"), ("single", "plain")):
        asked["choices"] = {"caches": [kind]}
        found = plan(catalog, Scenario.model_validate(asked))
        assert found.status == "optimal"
        assert processor in keys_of(found)


def test_ends_without_bay_rows():
    """A SATA boot module without a bay ends in a plain plug, not in a backplane."""
    parts = plain_parts()
    parts["case"] = make(
        Chassis, "case", backplane_connector="sff-8087", bays_35=4, bays_25=0
    )
    parts["boot"] = make(BootMedium, "boot", interface="sata", needs_bay=False)
    parts["reverse"] = make(
        Cable,
        "reverse",
        direction="reverse",
        controller_end="sata",
        drive_end="sff-8087",
        price=1,
    )
    asked = {
        "needs": {"usable_tb": 3, "failures_survived": 0},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 1},
        "choices": {"caches": ["none"], "layouts": ["independent"]},
    }
    found = plan(catalog_of(parts.values()), Scenario.model_validate(asked))
    assert found.status == "optimal"
    assert {"reverse", "cable"} <= keys_of(found)


def test_ceiling_row():
    """With running costs below those of the cheapest, another machine is found."""
    parts = plain_parts()
    parts["lean"] = make(PowerSupply, "lean", price=90, loss_fixed_w=1, loss_share=0.02)
    asked = {
        "needs": {"usable_tb": 3, "failures_survived": 0},
        "money": {"tariff_per_kwh": 0.3},
        "limits": {"array_drives": 1},
        "choices": {"caches": ["none"]},
    }
    catalog, scenario = catalog_of(parts.values()), Scenario.model_validate(asked)
    running = Weights(money_energy=1.0, wear=1.0, cache_wear=1.0, part=0.0)
    free = Question(
        scenario=scenario,
        weights=Weights(purchase=1.0, part=0.0),
        value_of=lambda found: found.cost.purchase,
    )
    cheapest = best(catalog, free).assessment
    limits = scenario.limits.model_copy(update={"budget": cheapest.cost.purchase})
    leanest = replace(
        free,
        scenario=scenario.model_copy(update={"limits": limits}),
        weights=running,
        value_of=lambda found: found.running_cost_per_year,
    )
    ceiling = Ceiling(
        weights=running,
        most=best(catalog, leanest).value - 0.5,
        value_of=lambda found: found.running_cost_per_year,
    )
    answer = best(catalog, replace(free, ceilings=(ceiling,)))
    assert answer.outcome == "best"
    assert ceiling.keeps(answer.assessment)
    assert answer.value > cheapest.cost.purchase
    assert "lean" in {e.item.key for e in answer.assessment.build.items}
    below = replace(free, cutoff=cheapest.cost.purchase)
    assert best(catalog, below).outcome == "none"


@pytest.mark.filterwarnings("ignore:PULP_CBC_CMD:DeprecationWarning")
def test_the_program_is_the_same_through_other_hands():
    """CBC, reached through PuLP, finds the same optimum of the same small program."""
    draft, count, one = small_program()
    left = total([(count, 3.0), (one, 4.0)], constant=-0.5)
    draft.program.require("enough", left, ">=", 5.0)
    ours = draft.program.solve()
    problem = draft.program.problem()
    problem.solve(pulp.PULP_CBC_CMD(msg=False))
    assert ours.objective == pytest.approx(pulp.value(problem.objective))
    assert ours.objective == pytest.approx(2.0)
