"""Questions that share their bounds against the same questions asked alone."""

import math
from itertools import pairwise, product

import pytest

from optibox.frontier.searched import BestSearch
from optibox.frontier.storage import Ask
from optibox.model.ground import Ground
from optibox.model.rate_steps import RateSteps
from optibox.rules.demands import misses
from optibox.scenario import read_scenario
from tests.support.source import ROOT
from tests.support.tiny import seeded

WEIGHTS = ({"purchase": 1.0}, {"running": 1.0}, {"purchase": 0.25, "running": 1.0})
NEEDS = ({}, {"ingest": 90.0}, {"write": 60.0}, {"read": 110.0}, {"ingest": 108.0})
SEEDS = range(0, 40, 3)


def answers(search, scenario, asks) -> list[tuple[str, float]]:
    """Return outcome and value of each question."""
    found = []
    for weights, limits in asks:
        ask = Ask(weights=weights, limits=limits)
        answer = search().best(scenario, ask)
        value = math.inf
        if answer.assessment is not None:
            best = answer.assessment
            terms = {
                "purchase": best.cost.purchase,
                "running": best.running_cost_per_year,
            }
            value = sum(w * terms[name] for name, w in weights.items())
        found.append((answer.outcome, value))
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_shared_bounds_change_no_answer(seed):
    """One search keeps its bounds from question to question, the other starts anew."""
    instance, _ = seeded(seed)
    asks = [(w, n) for n, w in product(NEEDS, WEIGHTS)]
    one = BestSearch(instance.catalog)
    shared = answers(lambda: one, instance.scenario, asks)
    alone = answers(lambda: BestSearch(instance.catalog), instance.scenario, asks)
    for mine, theirs, ask in zip(shared, alone, asks, strict=True):
        assert mine[0] == theirs[0], ask
        assert mine[1] == pytest.approx(theirs[1], abs=0.03), ask


def test_steps_carry_what_the_rates_between_them_carry():
    """A rate counts as the next one that a link or a processor on offer carries."""
    scenario, catalog = read_scenario(ROOT / "examples" / "five-lines.toml")
    offers = Ground(catalog=catalog, scenario=scenario).offers
    steps = offers.shared(RateSteps)
    rates = steps._rates
    assert len(rates) > 5
    for low, high in pairwise(rates):
        between = (low + high) / 2
        assert steps.up(between) == high
        assert steps.up(high) == high
        assert all(misses(r, between) == misses(r, high) for r in rates)
    assert steps.up(0.0) == 0.0
    assert math.isinf(steps.up(2 * rates[-1]))
