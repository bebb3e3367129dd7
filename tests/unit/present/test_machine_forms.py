"""JSON and CSV: everything, equal to the evaluator's figures, readable elsewhere."""

import csv
import io
import json
import math
from dataclasses import replace

import pytest

from optibox.report import as_csv as csv_form
from optibox.report import as_json as json_form
from optibox.report.answer import Report
from optibox.report.figures import figure_groups, spin_up_wait_s
from optibox.report.order import order_list, postage_of
from optibox.report.order_words import COLUMNS
from optibox.report.plan import PlanAnswer
from optibox.search.result import Plan, Proof
from optibox.units import tb_to_tib
from tests.unit.present.machines import invented, large, plan_of, reference


def as_json(report):
    return json_form.as_json(PlanAnswer(report=report).to_dict())


def as_csv(report):
    return csv_form.as_csv(PlanAnswer(report=report).document().data)


@pytest.fixture(scope="module")
def reports():
    catalog = invented()
    return [
        Report(plan=plan_of(found), scenario=found.scenario, catalog=catalog)
        for found in (reference(catalog), large(catalog))
    ]


def strict(text):
    def refuse(name):
        raise AssertionError(name)

    return json.loads(text, parse_constant=refuse)


def test_json_has_what_is_documented(reports):
    for report in reports:
        table = strict(as_json(report))
        assert table["status"] == "optimal"
        assert table["gap"] == 0
        assert {"parts", "wiring", "operation"} <= table["build"].keys()
        for part in table["build"]["parts"]:
            assert {"id", "kind", "count", "owned"} <= part.keys()
        assert table["findings"][0].keys() == {"rule", "severity", "evidence", "fix"}
        documented = PlanAnswer.to_dict.__doc__
        assert all(f"``{key}``" in documented for key in table if key != "scenario")


def test_json_figures_equal_the_assessment(reports):
    for report in reports:
        found, figures = report.assessment, strict(as_json(report))["figures"]
        expected = {
            "usable_tb": found.capacity.usable_tb,
            "usable_tib": tb_to_tib(found.capacity.usable_tb),
            "printed_tb": found.capacity.printed_tb,
            "read_mb_s": found.rates.read_mb_s,
            "write_mb_s": found.rates.write_mb_s,
            "ingest_mb_s": found.rates.ingest_mb_s,
            "read_at_0_percent_mb_s": found.chains(0.0)[0].rate_mb_s,
            "write_at_90_percent_mb_s": found.chains(0.9)[1].rate_mb_s,
            "asleep_w": found.wall.asleep_w,
            "peak_w": found.wall.peak_w,
            "energy_kwh_per_year": found.year.kwh,
            "rebuild_h": found.rebuild_h,
            "check_h": found.year.transfers.check_h,
            "data_wakes_per_year": found.year.operating.data.wakes,
        }
        assert {k: figures[k] for k in expected} == pytest.approx(expected, abs=1e-6)
        sums = {
            "purchase_price": found.cost.purchase,
            "energy_price": found.cost.energy,
            "total_price": found.total_cost,
            "running_price_per_year": found.running_cost_per_year,
        }
        assert {k: figures[k] for k in sums} == pytest.approx(sums, abs=0.005)


def test_cost_terms_add_up_to_the_total(reports):
    for report in reports:
        figures = strict(as_json(report))["figures"]
        terms = [t.replace(" ", "_") for t in report.scenario.money.terms]
        total = sum(figures[f"{term}_price"] for term in terms)
        assert total == pytest.approx(figures["total_price"], abs=0.03)


def test_every_figure_key_ends_in_a_unit(reports):
    units = ["tb", "tib", "mb_s", "h", "s", "w", "per_year", "fraction", "price"]
    units.append("years")
    for report in reports:
        for key in strict(as_json(report))["figures"]:
            assert any(key.endswith(f"_{unit}") for unit in units), key


def test_figure_keys_are_unique(reports):
    for report in reports:
        groups = figure_groups(report.assessment, "EUR")
        keys = [figure.key for group in groups for figure in group.figures]
        assert len(keys) == len(set(keys))


def test_hours_of_the_year_add_up(reports):
    """A year is 8760 h: the convention of the published appliance-energy formulas."""
    for report in reports:
        states = strict(as_json(report))["year"]
        assert sum(state["hours"] for state in states) == pytest.approx(8760, abs=0.01)


def test_json_is_the_same_every_time(reports):
    assert as_json(reports[0]) == as_json(reports[0])


def test_money_is_rounded_to_cents(reports):
    for report in reports:
        for row in strict(as_json(report))["order"]:
            assert row["price"] == round(row["price"], 2)


def test_json_of_no_build_is_valid(reports):
    proof = Proof(
        bound=math.inf,
        value=math.inf,
        n_entries=1,
        n_bounded=0,
        n_solves=1,
        seconds=0.1,
        solver="s",
    )
    plan = Plan(status="infeasible", aim="total cost", proof=proof, in_play=("a",))
    report = replace(reports[0], plan=plan)
    table = strict(as_json(report))
    assert (table["build"], table["gap"], table["in_play"]) == (None, None, ["a"])
    assert as_csv(report).count("\n") == 2


def test_csv_is_the_order_list_and_adds_up(reports):
    for report in reports:
        first, _, rest = as_csv(report).partition("\n")
        assert first == "# optibox format 1"
        rows = list(csv.DictReader(io.StringIO(rest)))
        found = report.assessment
        n_postage = len(postage_of(found.build))
        assert len(rows) == len(order_list(found)) + n_postage
        assert set(COLUMNS) <= rows[0].keys()
        total = sum(float(row["price"]) for row in rows)
        assert total == pytest.approx(found.cost.purchase, abs=0.005 * len(rows))


def test_csv_carries_columns_of_ones_own(reports):
    report = reports[0]
    found = report.assessment
    entry = found.build.items[0]
    part = entry.item.part.model_copy(
        update={"extras": {"x_shelf": "B3"}, "seller": "a, b", "order_code": "7\n8"}
    )
    items = (
        replace(entry, item=replace(entry.item, part=part)),
        *found.build.items[1:],
    )
    machine = replace(found.machine, build=replace(found.build, items=items))
    changed = replace(report.plan, assessment=replace(found, machine=machine))
    _, _, rest = as_csv(replace(report, plan=changed)).partition("\n")
    row = next(csv.DictReader(io.StringIO(rest)))
    assert (row["x_shelf"], row["seller"], row["order_code"]) == ("B3", "a, b", "7\n8")


def test_first_access_waits_for_one_spin_up(reports):
    """Independent drives wake alone: the wait is one drive's spin-up."""
    found = reports[0].assessment
    assert spin_up_wait_s(found) == found.machine.array[0].part.spin_up_s.mid
