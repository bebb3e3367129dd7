"""Nearest other builds and walk-away prices against every build of tiny catalogs."""

import math
from functools import lru_cache

import pytest

from optibox.assess import assess
from optibox.catalog.columns import Figure
from optibox.frontier.second import SMALL_KINDS, repriced, second_thoughts
from optibox.search.plan import plan
from tests.support.tiny import seeded

SEEDS = (4, 25, 95)
SLOW_SEEDS = (46, 56, 90)
INSTANCES = [*SEEDS, *(pytest.param(s, marks=pytest.mark.slow) for s in SLOW_SEEDS)]


@lru_cache(maxsize=16)
def thoughts_of(seed):
    instance, outcome = seeded(seed)
    found = plan(instance.catalog, instance.scenario)
    best = found.assessment
    return (
        instance,
        outcome,
        best,
        second_thoughts(instance.catalog, instance.scenario, best),
    )


def keys(found):
    return {entry.item.key for entry in found.build.items}


def at_price(found, part, price, scenario):
    build = repriced(found.build, part, Figure(price, price, price))
    return assess(build, scenario).total_cost


@pytest.mark.parametrize("seed", INSTANCES)
def test_nearest_build_with_other_parts(seed):
    """No build of the list that lacks a main part of the plan's costs less."""
    _, outcome, best, second = thoughts_of(seed)
    assert second.is_proven
    main = {e.item.key for e in best.build.items if e.item.part.kind not in SMALL_KINDS}
    others = [a.total_cost for a in outcome.fit if main - keys(a)]
    if not others:
        assert second.nearest is None
        return
    extra = min(others) - best.total_cost
    assert second.nearest.extra == pytest.approx(extra, abs=0.02)
    assert second.nearest.without not in keys(second.nearest.assessment)
    assert second.nearest.doubt >= 0


@pytest.mark.parametrize("seed", INSTANCES)
def test_walk_away_prices_agree_with_all_builds_on_both_sides(seed):
    """Just below the price the plan is the cheapest of the list; just above it is not."""
    instance, outcome, best, second = thoughts_of(seed)
    scenario = instance.scenario
    assert {line.key for line in second.walk_aways} == set(best.build.bought())
    for line in second.walk_aways:
        price = line.walk_price
        if math.isinf(price):
            price = line.price * 50 + 50
            assert (
                at_price(best, line.key, price, scenario)
                <= cheapest(outcome, line.key, price, scenario) + 0.02
            )
            continue
        own = at_price(best, line.key, price, scenario)
        assert own == pytest.approx(
            cheapest(outcome, line.key, price, scenario), abs=0.03
        )
        step = 1.0
        above = at_price(best, line.key, price + step, scenario)
        assert above > cheapest(outcome, line.key, price + step, scenario) - 1e-6
        below = max(line.price, price - step)
        own = at_price(best, line.key, below, scenario)
        assert own <= cheapest(outcome, line.key, below, scenario) + 0.03


def cheapest(outcome, part, price, scenario):
    return min(at_price(a, part, price, scenario) for a in outcome.fit)
