"""Leads that hang on each other, and parts that differ in price and watts alone.

Against every build judged by the evaluator alone.
"""

from functools import lru_cache

import pytest

from optibox.model.ground import Ground
from optibox.scenario import Scenario
from tests.oracle.test_optimum import assert_agrees
from tests.oracle.test_pruning import assert_same
from tests.support.late_themes import alike, deep_leads, hanging_leads, late_instance
from tests.support.tiny import ROUTINE

THEMES = {theme.__name__: theme for theme in (hanging_leads, deep_leads, alike)}
SEEDS = (*range(16), 133, 161)
"""The last two: drives that an adapter puts on a backplane, one that draws nothing."""


@lru_cache(maxsize=64)
def instance_of(name: str, seed: int):
    return late_instance(seed, THEMES[name], ROUTINE)


@pytest.mark.parametrize("name", THEMES)
@pytest.mark.parametrize("seed", SEEDS)
def test_cheapest_build_is_found(seed, name):
    assert_agrees(*instance_of(name, seed), "total cost")


@pytest.mark.parametrize("name", THEMES)
@pytest.mark.parametrize("aim", ["purchase", "annual energy", "asleep watts"])
@pytest.mark.parametrize("seed", SEEDS[::5])
def test_other_aims_are_reached(seed, aim, name):
    assert_agrees(*instance_of(name, seed), aim)


@pytest.mark.parametrize("name", THEMES)
@pytest.mark.parametrize("seed", SEEDS[::5])
def test_pruning_changes_nothing(monkeypatch, seed, name):
    instance, _ = instance_of(name, seed)
    assert_same(monkeypatch, instance.catalog, instance.scenario, "total cost")


def test_plugs_decide_in_many_instances():
    """Else the tests above say nothing of leads."""
    rules = [instance_of("hanging_leads", seed)[1].binding() for seed in SEEDS]
    assert sum("C8" in rule for rule in rules) > len(SEEDS) / 4


def test_currents_decide_in_many_instances():
    """Else the tests above say nothing of what plugs carry."""
    rules = [instance_of("deep_leads", seed)[1].binding() for seed in SEEDS]
    assert sum("C9" in rule for rule in rules) > len(SEEDS) / 4
    unfit = [instance_of("deep_leads", seed)[1].unfit for seed in (*SEEDS, 503, 504)]
    assert sum(any("C10" in rule for rule in found) for found in unfit) > 2


def beaten_in(catalog, scenario: Scenario) -> frozenset[str]:
    return Ground(catalog=catalog, scenario=scenario).offers.beaten


def test_some_twins_are_beaten_and_some_are_not():
    """A twin that is dearer for fewer watts stays; one in limited number stays."""
    n_twins = n_beaten = 0
    for seed in SEEDS:
        instance, _ = instance_of("alike", seed)
        twins = [
            p for p in instance.catalog.parts if p.id[-2] == "-" and p.id != "hdd-4"
        ]
        beaten = beaten_in(instance.catalog, instance.scenario)
        n_twins, n_beaten = n_twins + len(twins), n_beaten + len(beaten)
        for part in twins:
            if part.stock is not None:
                assert part.id not in beaten
    assert 5 < n_beaten < n_twins


@pytest.mark.parametrize("kept", ["insist", "spares"])
def test_what_is_asked_for_by_name_is_never_beaten(kept):
    for seed in SEEDS:
        instance, _ = instance_of("alike", seed)
        for key in sorted(beaten_in(instance.catalog, instance.scenario)):
            wish = key if kept == "insist" else {"id": key, "count": 1}
            values = instance.scenario.model_dump() | {kept: (wish,)}
            asked = Scenario.model_validate(values)
            assert key not in beaten_in(instance.catalog, asked)
