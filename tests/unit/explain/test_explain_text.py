"""Explanations in words, as JSON and CSV, from the command line."""

import json

import pytest
from typer.testing import CliRunner

from optibox.cli import app
from optibox.explain import explain
from optibox.report.as_csv import as_csv
from optibox.report.explain import Explanation, explanation_dict
from optibox.report.text import as_text
from tests.support.parts import catalog_of, plain_parts
from tests.unit.explain.test_asker import asked

SMALL = """\
needs.usable_tb = 6
needs.failures_survived = 1
limits.array_drives = 2
money.tariff_per_kwh = 0.3
choices.layouts = ["independent"]
choices.caches = ["none"]
choices.timeouts_min = [30]
catalogs = ["catalog"]
"""


def text_of(found, width=100) -> str:
    return as_text(document_of(found), width)


def document_of(found):
    return Explanation(found=found, currency="EUR", years=5).document()


def csv_of(found) -> list[str]:
    return as_csv(document_of(found).data).splitlines()[1:]


@pytest.fixture(scope="module")
def catalog():
    return catalog_of(plain_parts().values())


@pytest.fixture(scope="module")
def refused(catalog):
    return explain(catalog, asked(needs={"usable_tb": 7}, limits={"asleep_w": 10}))


@pytest.fixture(scope="module")
def priced(catalog):
    scenario = asked(needs={"usable_tb": 3, "failures_survived": 1})
    return explain(catalog, scenario)


def test_a_limit_that_nothing_keeps_is_said_to_be_alone(refused):
    text = text_of(refused)
    assert "Asleep at most 10 W cannot be had, whatever else is asked for." in text
    assert "limits.asleep_w  at least " in text
    assert "instead of 10 W: 2 drives, 7.45 TB" in text


def test_the_price_of_surviving_a_failure_is_said(priced):
    text = text_of(priced)
    assert "What requirements cost (over 5 years), each by itself" in text
    assert "1 failed drive survived [needs.failures_survived]" in text
    assert "Costs nothing: " in text


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_asked(refused, priced, width):
    for found in (refused, priced):
        assert max(map(len, text_of(found, width).splitlines())) <= width


def test_forms_for_programs(refused, priced):
    table = json.loads(json.dumps(explanation_dict(refused), allow_nan=False))
    (conflict,) = table["conflicts"]
    assert [m["key"] for m in conflict["members"]] == ["limits.asleep_w"]
    (relaxation,) = table["relaxations"]
    assert relaxation["proven"]
    assert relaxation["machine"]["asleep_w"] <= relaxation["value"]
    assert "\n".join(csv_of(refused)).startswith("key,asked,enough,value,proven\n")
    prices = explanation_dict(priced)["prices"]
    assert prices[0]["cost"] == max(p["cost"] for p in prices)
    assert "\n".join(csv_of(priced)).startswith("key,asked,cost\n")


def test_commands_on_the_starter_catalog(tmp_path):
    runner = CliRunner()
    folder = tmp_path / "mine"
    assert runner.invoke(app, ["new", str(folder)]).exit_code == 0
    path = folder / "small.toml"
    path.write_text(SMALL)
    done = runner.invoke(app, ["explain", str(path), "--set", "needs.usable_tb=9"])
    assert done.exit_code == 3, done.output
    assert "cannot be had together" in done.stdout
    told = runner.invoke(app, ["plan", str(path), "--set", "needs.usable_tb=9"])
    assert told.exit_code == 3
    assert "What nearly does" in told.stdout
    done = runner.invoke(app, ["explain", str(path), "--format", "json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["aim"] == "total cost"
    late = runner.invoke(app, ["explain", str(path), "--time-limit", "0.1"])
    assert late.exit_code in (0, 4)
