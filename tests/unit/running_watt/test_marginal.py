"""Prices of needs against two plans, and against every build there is."""

import pytest

from optibox.running.marginal import MarginalPrices, bays_of, marginal_prices
from optibox.search.plan import plan
from tests.support.enumerate import best
from tests.support.tiny import Instance, seeded

SEEDS = (33, 41)
SLOW = (1, 16, 40, 56)
MINOR_UNIT = 0.01


@pytest.fixture(
    scope="module",
    params=[*SEEDS, *(pytest.param(seed, marks=pytest.mark.slow) for seed in SLOW)],
)
def case(request) -> tuple[Instance, MarginalPrices]:
    instance, outcome = seeded(request.param, 600)
    assert outcome.fit
    return instance, marginal_prices(instance.catalog, instance.scenario)


def test_each_price_is_the_difference_of_two_plans(case) -> None:
    instance, found = case
    base = plan(instance.catalog, instance.scenario)
    assert found.base.assessment.total_cost == pytest.approx(base.assessment.total_cost)
    assert len(found.prices) >= 7
    for row in found.prices:
        again = plan(instance.catalog, row.question.scenario)
        if again.assessment is None:
            assert row.price is None
            assert again.status == "infeasible"
            continue
        cost = again.assessment.total_cost - base.assessment.total_cost
        assert row.price == pytest.approx(cost, abs=1e-6)
        paid = again.assessment.cost.purchase - base.assessment.cost.purchase
        assert row.purchase == pytest.approx(paid, abs=1e-6)
        assert row.price >= -MINOR_UNIT


def test_each_price_is_that_of_the_enumeration(case) -> None:
    """The oracle tries every build, with the need where the question puts it."""
    instance, found = case
    now, _ = best(instance.catalog, instance.scenario, "total cost")
    for row in found.prices:
        then = best(instance.catalog, row.question.scenario, "total cost")
        if then is None:
            assert row.price is None
        else:
            assert row.price == pytest.approx(then[0] - now, abs=2 * MINOR_UNIT)


def test_each_question_goes_one_unit_beyond_what_is_there(case) -> None:
    _, found = case
    base = found.base.assessment
    given = {row.question.key: row.question for row in found.prices}
    assert given["needs.usable_tb"].given == base.capacity.usable_tb
    assert given["needs.usable_tb"].asked == pytest.approx(base.capacity.usable_tb + 1)
    assert given["needs.read_mb_s"].given == base.rates.read_mb_s
    assert given["limits.asleep_w"].asked == pytest.approx(base.wall.asleep_w - 1)
    assert given["chassis.bays"].given == bays_of(base.machine.chassis)
    for row in found.prices:
        if row.plan.assessment is None:
            continue
        after = row.plan.assessment
        reached = {
            "needs.usable_tb": after.capacity.usable_tb,
            "needs.read_mb_s": after.rates.read_mb_s,
            "needs.write_mb_s": after.rates.write_mb_s,
            "needs.ingest_mb_s": after.rates.ingest_mb_s,
            "needs.failures_survived": after.machine.operation.failures_survived,
            "chassis.bays": bays_of(after.machine.chassis),
            "limits.asleep_w": -after.wall.asleep_w,
            "limits.spinning_w": -after.wall.spinning_w,
        }[row.question.key]
        sign = -1 if row.question.key.startswith("limits") else 1
        assert reached >= sign * row.question.asked - 1e-6
