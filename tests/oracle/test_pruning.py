"""Leaving parts out by bounds changes nothing: with and without it, the same answer."""

import pytest

from optibox.model.tree import Tree
from optibox.scenario import Scenario
from optibox.scenario.factors import Factors
from optibox.search import plan as search
from tests.oracle.test_optimum import TOLERANCES, with_aim
from tests.support.enumerate import AIMS
from tests.support.middling import middling
from tests.support.tiny import (
    Instance,
    Seeded,
    drawn,
    insisted,
    mixed_sizes,
    owned_drives,
    owned_machine,
    picky_drives,
    shop,
    small_drives,
    supplies,
    tight_limits,
)

PAIRS = (
    (owned_drives, mixed_sizes),
    (owned_machine, shop),
    (insisted, owned_drives),
    (shop, small_drives),
    (insisted, tight_limits),
    (owned_machine, supplies),
    (picky_drives, owned_drives),
)
"""Owned parts, bans and insisted parts, stock limits, limits."""
OVERRIDES = (
    {},
    {"fill_limit": 0.8, "filesystem_reserve": 0.05},
    {"read_modify_write": 0.35, "reconstruct": 0.9},
    {"wear_budget": 0.05},
    {"pcie": 0.3, "sata_6g_mb_s": 120},
    {"rail_share": 0.35},
)
MOST_BUILDS = 60_000
TIME_LIMIT_S = 60.0


def with_overrides(scenario: Scenario, overrides: dict) -> Scenario:
    return scenario.model_copy(update={"overrides": Factors.model_validate(overrides)})


def assert_same(monkeypatch, catalog, scenario: Scenario, aim: str) -> None:
    """Assert that the search ends alike when no part is left out by bounds."""
    asked = with_aim(scenario, aim)
    quick = search.plan(catalog, asked, time_limit_s=TIME_LIMIT_S)
    with monkeypatch.context() as patch:
        patch.setitem(Tree.__init__.__kwdefaults__, "prunes", False)
        whole = search.plan(catalog, asked, time_limit_s=TIME_LIMIT_S)
    assert quick.status == whole.status
    assert quick.status in ("optimal", "infeasible")
    if whole.assessment is not None:
        value_of = AIMS[aim]
        assert value_of(quick.assessment) == pytest.approx(
            value_of(whole.assessment), abs=2 * TOLERANCES[aim]
        )


def instance_of(pair: int, number: int) -> Instance:
    """Return an instance of two themes with some factors overridden."""
    instance = drawn(Seeded(1000 * pair + number), PAIRS[pair], MOST_BUILDS)
    assert instance is not None
    overrides = OVERRIDES[(pair + number) % len(OVERRIDES)]
    scenario = with_overrides(instance.scenario, overrides)
    return Instance(instance.catalog, scenario, instance.themes, instance.n_builds)


def test_the_switch_is_one(monkeypatch):
    """Without pruning more items are handed on, else the tests below say nothing."""
    seen = {True: 0, False: 0}
    items_for = Tree.items_for

    def counted(tree, leaf, ceiling):
        items = items_for(tree, leaf, ceiling)
        seen[tree.prunes] += sum(len(kind) for kind in items.values())
        return items

    monkeypatch.setattr(Tree, "items_for", counted)
    middle = middling(8)
    assert_same(monkeypatch, middle.catalog, middle.scenario, "total cost")
    assert 0 < seen[True] < seen[False]


@pytest.mark.parametrize("pair", range(len(PAIRS)))
def test_pruning_changes_nothing(monkeypatch, pair):
    """Owned parts, bans, stock limits and overrides on tiny catalogs."""
    for number in range(2):
        instance = instance_of(pair, number)
        assert_same(monkeypatch, instance.catalog, instance.scenario, "total cost")


@pytest.mark.parametrize("seed", [8, 10])
def test_pruning_changes_nothing_on_larger_catalogs(monkeypatch, seed):
    """Some fifty parts, owned drives among them."""
    middle = middling(seed)
    assert middle.scenario.owned
    assert_same(monkeypatch, middle.catalog, middle.scenario, "total cost")


@pytest.mark.slow
@pytest.mark.parametrize("aim", [a for a in AIMS if a != "annual energy"])
@pytest.mark.parametrize("pair", range(len(PAIRS)))
def test_pruning_changes_nothing_for_any_aim(monkeypatch, pair, aim):
    """The same for every aim with more draws."""
    for number in range(20):
        instance = instance_of(pair, number)
        assert_same(monkeypatch, instance.catalog, instance.scenario, aim)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(200, 240))
def test_pruning_changes_nothing_on_many_larger_catalogs(monkeypatch, seed):
    """Draws of the shipped catalog, each with some part banned and a factor changed."""
    middle = middling(seed)
    best = search.plan(middle.catalog, middle.scenario, time_limit_s=TIME_LIMIT_S)
    scenario = with_overrides(middle.scenario, OVERRIDES[seed % len(OVERRIDES)])
    if best.assessment is not None:
        # rule out a part of the answer, so that the next best is asked for
        build = best.assessment.build
        key = build.items[seed % len(build.items)].item.part.id
        scenario = scenario.model_copy(update={"ban": (key,)})
    assert_same(monkeypatch, middle.catalog, scenario, "total cost")
