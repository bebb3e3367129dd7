"""Conflicts, relaxations and prices of tiny catalogs against every build there is.

The enumeration judges all builds by the evaluator alone; it knows no search. Values are
held by bisection over it, on both sides.
"""

from functools import lru_cache

import pytest

from optibox.catalog.platform import Board
from optibox.catalog.storage import HardDrive
from optibox.criteria import AIMS
from optibox.explain import Bill, Refusal, explain
from optibox.explain.price import SAME_IN_TOLERANCES
from optibox.explain.requirements import requirements_of, without_all
from optibox.scenario import Scenario
from tests.support.enumerate import outcome_of
from tests.support.parts import catalog_of, make, plain_parts
from tests.support.tiny import Instance, seeded

PRICED = (0, 2)
SLOW_REFUSED, SLOW_PRICED = (14, 19, 29), (5, 8, 11, 24)


@lru_cache(maxsize=64)
def explained(seed):
    instance, _ = seeded(seed)
    return instance, explain(instance.catalog, instance.scenario)


OUTCOMES: dict = {}


def every_fit(instance, scenario) -> list:
    """Return every fit build of the catalog, by trying all of them."""
    key = (id(instance), scenario.model_dump_json())
    if key not in OUTCOMES:
        OUTCOMES[key] = outcome_of(instance.catalog, scenario).fit
    return OUTCOMES[key]


def fits(instance, scenario) -> bool:
    return bool(every_fit(instance, scenario))


def check_refusal(instance, found):
    assert isinstance(found, Refusal)
    asked, catalog = instance.scenario, instance.catalog
    requirements = requirements_of(asked, catalog)
    assert not fits(instance, asked)
    if not found.has_any:
        assert not fits(instance, without_all(asked, requirements))
        assert found.gaps
        return
    for number, conflict in enumerate(found.conflicts):
        assert conflict.is_irreducible
        earlier = [m for c in found.conflicts[:number] for m in c.members]
        others = [r for r in requirements if r not in (*conflict.members, *earlier)]
        alone = without_all(asked, tuple(others + earlier))
        assert not fits(instance, alone)
        for member in conflict.members:
            assert fits(instance, member.without(alone))
    members = tuple(m for c in found.conflicts for m in c.members)
    assert fits(instance, without_all(asked, members))
    for relaxation in found.relaxations:
        check_relaxation(instance, asked, found, relaxation)


def check_relaxation(instance, asked, found, relaxation):
    member = relaxation.requirement
    mine = next(c for c in found.conflicts if member in c.members)
    others = [m for c in found.conflicts if c is not mine for m in c.members]
    asked = without_all(asked, tuple(others))
    assert relaxation.is_proven
    assert relaxation.is_enough == fits(instance, member.without(asked))
    if relaxation.value is None or not relaxation.is_enough:
        return
    assert fits(instance, member.eased(asked, relaxation.value))
    assert not fits(instance, member.eased(asked, member.tightened(relaxation.value)))
    assert relaxation.value == pytest.approx(
        bisected(instance, asked, member), abs=1.01 * member.criterion.step
    )


def bisected(instance, asked, member) -> float:
    """Return the value next to the one asked for at which a build exists."""
    every = every_fit(instance, member.without(asked))
    measures = [member.criterion.value_of(found) for found in every]
    return max(measures) if member.is_need else min(measures)


def check_bill(instance, found):
    assert isinstance(found, Bill)
    assert not found.open
    asked, catalog = instance.scenario, instance.catalog
    aim = AIMS[asked.choices.aim]
    same = SAME_IN_TOLERANCES * aim.tolerance
    best = min(aim.sign * aim.value_of(f) for f in outcome_of(catalog, asked).fit)
    stated = [r for r in requirements_of(asked, catalog) if not r.is_default]
    assert {p.requirement.key for p in found.prices} == {r.key for r in stated}
    for price in found.prices:
        eased = price.requirement.without(asked)
        if price.requirement.key in ("choices.timeouts_min", "choices.layouts"):
            continue  # far more builds than can be tried
        least = min(aim.sign * aim.value_of(f) for f in outcome_of(catalog, eased).fit)
        assert price.cost == pytest.approx(best - least, abs=same)


ONE_WAY = {
    "layouts": ("independent",),
    "caches": ("none",),
    "timeouts_min": (30,),
    "allow_never": False,
}
HAND_MADE = {
    "a budget": ({"usable_tb": 7, "failures_survived": 1}, {"budget": 450}, {}),
    "watts": ({"usable_tb": 7, "failures_survived": 1}, {"asleep_w": 12}, {}),
    "energy": ({"usable_tb": 7}, {"annual_kwh": 60}, {}),
    "total": ({"usable_tb": 10}, {"total_cost": 500}, {}),
    "spinning": ({"usable_tb": 7, "failures_survived": 1}, {"spinning_w": 20}, {}),
    "a ban": ({"usable_tb": 10}, {"array_drives": 2}, {"ban": ("hdd-8",)}),
    "writing": ({"usable_tb": 3, "write_mb_s": 120, "failures_survived": 1}, {}, {}),
    "two": ({"usable_tb": 3, "read_mb_s": 150}, {"asleep_w": 9}, {}),
    "watts or money": ({"usable_tb": 10}, {"asleep_w": 15, "budget": 520}, {}),
}


@lru_cache(maxsize=64)
def hand_made(name):
    """Return a refused question to a catalog of two drives and two boards."""
    needs, limits, rest = HAND_MADE[name]
    parts = plain_parts()
    parts["hdd-8"] = make(HardDrive, "hdd-8", tb=8, price=170, idle_w=5)
    parts["thrifty"] = make(Board, "thrifty", price=190, idle_w=5, active_w=9)
    limits = {"array_drives": 3, **limits}
    asked = {"needs": needs, "limits": limits, "choices": ONE_WAY, **rest}
    scenario = Scenario.model_validate({**asked, "money": {"tariff_per_kwh": 0.3}})
    instance = Instance(catalog_of(parts.values()), scenario, (name,), 0)
    return instance, explain(instance.catalog, scenario)


ROUTINE = ("a ban",)


@pytest.mark.parametrize("name", ROUTINE)
def test_refusals(name):
    check_refusal(*hand_made(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in HAND_MADE if name not in ROUTINE])
def test_refusals_of_more_kinds(name):
    check_refusal(*hand_made(name))


@pytest.mark.parametrize("seed", PRICED)
def test_prices(seed):
    check_bill(*explained(seed))


@pytest.mark.slow
@pytest.mark.parametrize("seed", SLOW_REFUSED)
def test_more_refusals(seed):
    check_refusal(*explained(seed))


@pytest.mark.slow
@pytest.mark.parametrize("seed", SLOW_PRICED)
def test_more_prices(seed):
    check_bill(*explained(seed))
