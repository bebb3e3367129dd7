"""Machines side by side: payback by hand, prices then and now, planning again."""

import json
from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.build import ItemCount, load_build, save_build
from optibox.catalog.columns import Figure
from optibox.completion.opening import Opened, Question, open_build
from optibox.report.as_csv import as_csv
from optibox.report.as_json import as_json
from optibox.report.compare import CompareReport
from optibox.report.comparison import LEVELS, at_prices, compare, payback, repriced
from optibox.report.text import as_text
from optibox.scenario import read_scenario
from optibox.search.plan import plan
from tests.support.parts import catalog_of
from tests.support.source import ROOT
from tests.support.tiny import THEMES, Seeded, drawn, supplies
from tests.unit.present.machines import (
    invented,
    plan_of,
    reference_build,
    scenario,
)
from tests.unit.rules.bench import Bench


@pytest.fixture(scope="module")
def catalog():
    return invented()


def dearer(catalog, share):
    """Return a catalog in which everything costs a share more."""

    def more(part):
        price = part.price.mid * (1 + share)
        return part.model_copy(update={"price": Figure(price, price, price)})

    return replace_parts(catalog, [more(part) for part in catalog.parts])


def replace_parts(catalog, parts):
    return replace(catalog, parts=tuple(parts))


@pytest.fixture
def saved(catalog, tmp_path):
    path = tmp_path / "old.toml"
    save_build(reference_build(catalog), path, "")
    asked = Question(scenario=scenario(), catalog=catalog)
    return open_build(path, asked)


def test_payback_is_price_over_yearly_saving():
    """A supply that loses 7 W less all year: 61.32 kWh at 0.30 are 18.40 a year."""
    old = Bench(parts={"supply": {"loss_fixed_w": 10}}).judged()
    new = Bench(parts={"supply": {"loss_fixed_w": 3, "price": 60}}).judged()
    found = payback("new", old, new)
    assert found.kwh_saved == pytest.approx(7 * 8.76)
    assert found.saved_per_year["mid"] == pytest.approx(7 * 8.76 * 0.3)
    assert found.more_to_buy == pytest.approx(20)
    assert found.years("mid", 60) == pytest.approx(60 / 18.396, rel=1e-4)


def test_payback_at_low_and_high_figures():
    """Loss of 10 W [8..12] against 3 W [3..3], price 60 [50..80]."""
    old = Bench(parts={"supply": {"loss_fixed_w": "10 [8..12]"}}).judged()
    new = Bench(parts={"supply": {"loss_fixed_w": 3, "price": "60 [50..80]"}}).judged()
    found = payback("new", old, new)
    yearly = {level: found.saved_per_year[level] for level in LEVELS}
    assert yearly["low"] == pytest.approx(5 * 8.76 * 0.3)
    assert yearly["high"] == pytest.approx(9 * 8.76 * 0.3)
    total = new.cost.purchase
    assert found.price_share["low"] == pytest.approx((total - 10) / total)
    assert found.price_share["high"] == pytest.approx((total + 20) / total)


def test_what_costs_more_to_run_never_pays_back():
    old = Bench().judged()
    new = Bench(parts={"supply": {"loss_fixed_w": 9}}).judged()
    found = payback("new", old, new)
    assert found.years("mid", 10) is None


def test_prices_then_and_now_part_by_part(saved, catalog):
    now = repriced(saved, dearer(catalog, 0.1), None)
    assert now.now == pytest.approx(now.then * 1.1)
    purchase = saved.completion.assessment.cost.purchase
    assert now.then == pytest.approx(purchase - _postage(saved))
    assert all(row.now == pytest.approx(row.then * 1.1) for row in now.rows)


def _postage(opened: Opened) -> float:
    build = opened.completion.build
    sellers = {build.item(key).part.seller for key in build.bought()} - {""}
    fees = dict(build.postage)
    return sum(fees.get(seller, 0.0) for seller in sellers)


def test_a_part_that_is_gone_keeps_its_price_and_is_told(saved, catalog):
    left = [part for part in catalog.parts if part.id != "ref-board"]
    now = repriced(saved, replace_parts(catalog, left), None)
    assert [row.part_id for row in now.gone] == ["ref-board"]
    assert now.now == pytest.approx(now.then)
    text = text_of(compare([saved], "EUR", [now]))
    assert "not in the catalog any more" in text


def test_old_rows_stay_old_but_for_their_prices(saved, catalog):
    build = saved.completion.build
    again = at_prices(build, dearer(catalog, 1.0))
    for before, after in zip(build.items, again.items, strict=True):
        assert isinstance(after, ItemCount)
        same = after.item.part.model_copy(
            update={"price": before.item.part.price, "seller": before.item.part.seller}
        )
        assert same == before.item.part


def text_of(found, width=100):
    return " ".join(as_text(CompareReport(found=found).document(), width).split())


def test_planning_again_pays_where_something_is_cheaper(saved, catalog):
    found = saved.completion.assessment
    cheaper = assess(at_prices(found.build, dearer(catalog, -0.5)), saved.scenario)
    again = repriced(saved, catalog, plan_of(cheaper))
    assert again.gain == pytest.approx(found.total_cost - cheaper.total_cost)
    text = text_of(compare([saved], "EUR", [again]))
    assert "planning again saves" in text or "does not meet the scenario" in text


def test_a_plan_of_today_is_not_worth_planning_again(tmp_path):
    instance = drawn(Seeded(3), [supplies], 3_000)
    best = plan(instance.catalog, instance.scenario)
    path = tmp_path / "plan.toml"
    save_build(best.assessment.build, path, "")
    asked = Question(scenario=instance.scenario, catalog=instance.catalog)
    one = open_build(path, asked)
    again = repriced(one, instance.catalog, best)
    assert abs(again.gain) < 0.01
    assert "keep to it" in text_of(compare([one], "", [again]))


def test_no_line_is_wider_than_asked(saved):
    found = compare([saved, saved, saved], "EUR")
    for width in (60, 80, 120):
        lines = as_text(CompareReport(found=found).document(), width).splitlines()
        assert max(map(len, lines)) <= width


def test_json_and_csv_have_a_column_for_each_machine(saved):
    found = compare([saved, saved], "EUR")
    table = json.loads(as_json(found.to_dict()))
    assert all(len(row["values"]) == 2 for row in table["rows"])
    head = as_csv(CompareReport(found=found).document().data).splitlines()[1]
    assert head.endswith("machine_1,machine_2")


def test_saved_builds_of_plans_check_clean_of_errors(tmp_path):
    """What the planner proposes has no error by any rule, saved and read back."""
    for seed, theme in enumerate(THEMES[:6]):
        instance = drawn(Seeded(seed), [theme], 400)
        if instance is None:
            continue
        found = plan(instance.catalog, instance.scenario, time_limit_s=20)
        if found.assessment is None:
            continue
        path = tmp_path / f"plan-{seed}.toml"
        save_build(found.assessment.build, path, "")
        assert load_build(path) == found.assessment.build
        one = open_build(
            path, Question(scenario=instance.scenario, catalog=instance.catalog)
        )
        assert one.completion.assessment.errors == ()


def test_catalog_of_nothing_prices_nothing(saved):
    now = repriced(saved, catalog_of([]), None)
    assert len(now.gone) == len(now.rows)


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["five-lines", "ingest-heavy", "upgrade", "wiring-a", "wiring-b"]
)
def test_plans_of_the_shipped_examples_check_clean_of_errors(name, tmp_path):
    asked, catalog = read_scenario(ROOT / f"examples/{name}.toml")
    found = plan(catalog, asked)
    path = tmp_path / "plan.toml"
    save_build(found.assessment.build, path, "")
    one = open_build(path, Question(scenario=asked, catalog=catalog))
    assert one.completion.assessment.errors == ()
