"""The second opinion: it certifies what is so, refutes what is not, and is never empty."""

from dataclasses import replace

import pytest

from optibox.certify import certificate as module
from optibox.certify.certificate import certify, shared_names
from optibox.certify.fixed import priced
from optibox.certify.program import flat_program
from optibox.certify.rounds import flat_optimum
from optibox.certify.solvers import SOLVERS, UnsettledError, by_highs
from optibox.criteria import AIMS
from optibox.model.tree import Tree
from optibox.search import plan as search
from tests.oracle.test_guard import without_item
from tests.oracle.test_optimum import instance_of, with_aim
from tests.support.middling import middling
from tests.support.upgrades import four_mixed

TINY_SEEDS = (0, 4, 12)


def solved(flat):
    return by_highs(flat, 60.0)


def assert_certified(catalog, scenario):
    found = search.plan(catalog, scenario)
    told = certify(found.assessment, catalog, scenario, time_s=100)
    assert told.verdict == "certified", told.why
    assert told.n_settled == told.n_entries > 0
    assert told.priced <= found.assessment.total_cost + 0.01
    # a bound, and no empty one
    assert told.priced > 0.9 * found.assessment.total_cost


def test_cbc_certifies_a_plan():
    """Some fifty parts of the shipped catalog."""
    drawn = middling(2)
    assert_certified(drawn.catalog, drawn.scenario)


@pytest.mark.slow
def test_cbc_certifies_a_plan_with_drives_that_hold_data():
    assert_certified(*four_mixed())


def test_a_search_that_prunes_too_much_is_refuted(monkeypatch):
    """A part of the optimum is kept from the search, as by a bound that is too high."""
    drawn = middling(0)
    true = search.plan(drawn.catalog, drawn.scenario)
    (key,) = [
        e.item.key for e in true.assessment.build.items if e.item.part.kind == "chassis"
    ]
    with monkeypatch.context() as patch:
        without_item(patch, key)
        wrong = search._search(drawn.catalog, drawn.scenario, None, None)
    assert wrong.status == "optimal"
    assert wrong.assessment.total_cost > true.assessment.total_cost + 0.1
    told = certify(wrong.assessment, drawn.catalog, drawn.scenario, time_s=100)
    assert told.verdict == "counter-example"
    assert told.better.is_fit
    assert told.better.total_cost < wrong.assessment.total_cost - 0.02


def test_a_search_that_finds_nothing_where_something_is_is_refuted(monkeypatch):
    drawn = middling(0)
    with monkeypatch.context() as patch:
        patch.setattr(Tree, "families", lambda *_: [])
        wrong = search.plan(drawn.catalog, drawn.scenario)
    assert wrong.status == "infeasible"
    told = certify(None, drawn.catalog, drawn.scenario, time_s=100)
    assert told.verdict == "counter-example"
    assert told.better.is_fit


def test_that_nothing_fits_is_certified():
    """More data than the most drives of the largest size hold."""
    drawn = middling(2)
    needs = drawn.scenario.needs.model_copy(update={"usable_tb": 900.0})
    scenario = drawn.scenario.model_copy(update={"needs": needs})
    assert search.plan(drawn.catalog, scenario).status == "infeasible"
    told = certify(None, drawn.catalog, scenario, time_s=60)
    assert (told.verdict, told.value) == ("certified", None)


def test_a_program_that_does_not_hold_the_answer_certifies_nothing(monkeypatch):
    """One row too many, and the certificate would be an empty one."""
    drawn = middling(2)
    found = search.plan(drawn.catalog, drawn.scenario)

    def too_strict(*args):
        flat = flat_program(*args)
        flat.row("wrong", dict(flat.chosen(flat.menu.choices[0])), "<=", -1.0)
        return flat

    monkeypatch.setattr("optibox.certify.fixed.flat_program", too_strict)
    told = certify(found.assessment, drawn.catalog, drawn.scenario, time_s=60)
    assert told.verdict == "void"
    assert "does not fit" in told.why


def test_a_program_that_prices_too_high_certifies_nothing(monkeypatch):
    drawn = middling(2)
    found = search.plan(drawn.catalog, drawn.scenario)

    def too_dear(*args):
        flat = flat_program(*args)
        flat.aim = {**flat.aim, "one": 50.0}
        return flat

    with monkeypatch.context() as patch:
        patch.setattr("optibox.certify.fixed.flat_program", too_dear)
        told = certify(found.assessment, drawn.catalog, drawn.scenario, time_s=60)
    assert told.verdict == "void"
    assert "evaluator" in told.why
    # where only the rounds see it, they tell
    monkeypatch.setattr(module, "flat_program", too_dear)
    worse = replace(
        found.assessment,
        cost=replace(found.assessment.cost, energy=found.assessment.cost.energy + 90),
    )
    told = certify(worse, drawn.catalog, drawn.scenario, time_s=60)
    assert told.verdict == "void"
    assert "asks more than the evaluator" in told.why


@pytest.mark.parametrize("name", sorted(SOLVERS))
def test_a_solver_that_comes_to_no_end_settles_nothing(monkeypatch, name):
    def gives_up(*_):
        raise UnsettledError

    drawn = middling(2)
    found = search.plan(drawn.catalog, drawn.scenario)
    real, calls = SOLVERS[name], []

    def first_only(flat, left):
        calls.append(left)
        return real(flat, left) if len(calls) == 1 else gives_up()

    monkeypatch.setitem(SOLVERS, name, first_only)
    told = certify(
        found.assessment, drawn.catalog, drawn.scenario, time_s=60, solver=name
    )
    assert (told.verdict, told.n_settled) == ("not settled", 0)


@pytest.mark.parametrize("seed", TINY_SEEDS)
def test_every_fit_build_is_in_the_program_at_no_more_than_its_cost(seed):
    """Builds of the enumeration, spread over all of them, one after the other."""
    instance, outcome = instance_of(seed)
    step = max(1, len(outcome.fit) // 4)
    for found in outcome.fit[::step]:
        for aim in ("total cost", "purchase", "annual energy"):
            asked = with_aim(instance.scenario, aim)
            price = priced(found, instance.catalog, asked, aim, solved)
            assert price is not None
            assert price <= AIMS[aim].value_of(found) + AIMS[aim].tolerance


@pytest.mark.parametrize("seed", TINY_SEEDS)
def test_no_machine_of_the_rounds_is_asked_more_for_than_it_costs(seed):
    instance, _ = instance_of(seed)
    assert not flat_optimum(instance.catalog, instance.scenario).overpriced


def test_what_is_shared_is_told():
    """No function of the planner's own is among it, and the evaluator is."""
    names = shared_names()
    assert "optibox.assess.assess" in names
    assert "optibox.physics.operation.operating_year" in names
    own = ("optibox.model", "optibox.search", "optibox.completion")
    assert not [name for name in names if name.startswith(own)]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20, 32))
def test_cbc_certifies_many_plans(seed):
    """A plan that cannot be certified in time is at least not refuted."""
    drawn = middling(seed)
    found = search.plan(drawn.catalog, drawn.scenario)
    told = certify(found.assessment, drawn.catalog, drawn.scenario, time_s=60)
    assert told.verdict in ("certified", "not settled"), told.why
