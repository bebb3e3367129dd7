"""A search that prunes too much: what the neighbourhood and the flat program make of it."""

import pytest

from optibox.criteria import AIMS
from optibox.guard import guarded, neighbours
from optibox.model.tree import Tree
from optibox.scenario import read_scenario
from optibox.search import plan as search
from optibox.search.held import is_better_by
from tests.support.middling import middling
from tests.support.source import ROOT

TOTAL = AIMS["total cost"]


def without_item(monkeypatch, key: str) -> None:
    """Have the search leave out one item, as a bound that is too high would."""
    kept = Tree.items_for

    def fewer(tree, leaf, ceiling):
        found = kept(tree, leaf, ceiling)
        return {
            r: tuple(i for i in items if i.key != key) for r, items in found.items()
        }

    monkeypatch.setattr(Tree, "items_for", fewer)


def corrupted(monkeypatch, seed: int, kind: str):
    """Return the true plan and that of a search which may not take one of its parts."""
    drawn = middling(seed)
    true = search.plan(drawn.catalog, drawn.scenario)
    (entry, *_) = [e for e in true.assessment.build.items if e.item.part.kind == kind]
    with monkeypatch.context() as patch:
        without_item(patch, entry.item.key)
        wrong = search._search(drawn.catalog, drawn.scenario, None, None)
    return drawn, true, wrong


def test_a_pruned_optimum_loses_the_word_proven(monkeypatch):
    """What one exchange can put right is put right, by the flat program and proven."""
    seen = {"caught": 0, "missed": 0}
    for seed, kind in ((0, "power supply"), (0, "chassis"), (2, "power supply")):
        drawn, true, wrong = corrupted(monkeypatch, seed, kind)
        worse = wrong.assessment.total_cost - true.assessment.total_cost
        if worse < 0.1:
            continue
        assert wrong.status == "optimal", "the corruption is told as proven"
        told = search.held(wrong, drawn.catalog, guard_s=60, left_s=120)
        if told.proof.guard.better is None:
            seen["missed"] += 1
            continue
        seen["caught"] += 1
        assert told.assessment.total_cost < wrong.assessment.total_cost - 0.02
        if told.status == "optimal":
            near = pytest.approx(true.assessment.total_cost, abs=0.02)
            assert told.assessment.total_cost == near
    assert seen["caught"] >= 2, seen


def test_without_time_for_the_flat_program_nothing_is_proven(monkeypatch):
    drawn, _, wrong = corrupted(monkeypatch, 0, "chassis")
    told = search.held(wrong, drawn.catalog, guard_s=60, left_s=0)
    assert told.status == "feasible"
    assert told.proof.gap > 0


def test_operation_is_tried_in_full_whatever_the_time():
    drawn = middling(0)
    found = search._search(drawn.catalog, drawn.scenario, None, None).assessment
    beside = neighbours(found, drawn.catalog)
    operation = [n for n in beside if n.kind == "operation"]
    assert len(operation) >= len(drawn.scenario.choices.timeouts_min)
    seen = guarded(found, drawn.catalog, lambda *_: False, time_s=0.0)
    assert seen.n_tried == len(operation)
    assert seen.n_neighbours == len(beside) > len(operation)
    promises = [n.promise for n in beside[len(operation) :]]
    assert promises == sorted(promises, reverse=True)


def test_every_part_that_is_cheaper_is_a_neighbour():
    """Counted by hand from the catalog: supplies below the price of the one chosen."""
    drawn = middling(0)
    found = search._search(drawn.catalog, drawn.scenario, None, None).assessment
    told = {n.what for n in neighbours(found, drawn.catalog)}
    for entry in found.build.items:
        old = entry.item.part
        for new in drawn.catalog.of(type(old)):
            if new.price.mid / new.pack < old.price.mid / old.pack - 1e-9:
                if entry.item.is_owned or new.stock == 0:
                    continue
                assert f"{entry.count} {entry.item.key} for {new.id}" in told


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["five-lines", "upgrade", "ingest-heavy", "wiring-a", "wiring-b"]
)
def test_no_build_beside_an_example_is_better(name):
    """All of the neighbourhood, however long it takes."""
    scenario, catalog = read_scenario(ROOT / "examples" / f"{name}.toml")
    assert_holds(catalog, scenario)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
def test_no_build_beside_a_seeded_answer_is_better(seed):
    drawn = middling(seed)
    assert_holds(drawn.catalog, drawn.scenario)


def assert_holds(catalog, scenario) -> None:
    found = search._search(catalog, scenario, None, None)
    if found.assessment is None:
        return
    aim = AIMS[found.aim]
    seen = guarded(
        found.assessment,
        catalog,
        lambda one, other: is_better_by(aim, one, other),
        time_s=1e9,
    )
    assert seen.better is None, seen.what
    assert seen.n_tried == seen.n_neighbours > 0
