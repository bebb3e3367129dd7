"""optibox page: the file, what it says, exit codes; searches are replaced."""

import json
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from typer.testing import CliRunner

import optibox.frontier.compute
import optibox.search.plan
from optibox.assess import assess
from optibox.cli import app
from optibox.page.rows import frontier_of, with_plan
from optibox.search.result import Plan
from tests.unit.page.subjects import asked, machines, without_cache
from tests.unit.present.machines import plan_of, reference_build

SCENARIO = """\
name = "Told by a file"
needs.usable_tb = 10
needs.read_mb_s = 100
needs.other_end_medium = "sfp+"
money.tariff_per_kwh = 0.30
"""


def data_of(text: str) -> dict:
    """Return the data of a page as they stand in it."""
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text)
    return json.loads(found[1])


@pytest.fixture
def searched(monkeypatch):
    """Put machines wired by hand in place of both searches."""
    seen = {"status": "proven"}

    def alone(catalog, scenario, **_):
        seen["single"] = True
        return plan_of(assess(reference_build(catalog), scenario))

    def front(catalog, scenario, wanted, **_):
        seen["wanted"], seen["scenario"] = wanted, scenario
        plan = plan_of(assess(reference_build(catalog), scenario))
        if seen["status"] == "infeasible":
            plan = Plan(status="infeasible", aim="total cost", proof=plan.proof)
            return replace(frontier_of(plan), status="infeasible", plan=plan)
        other = assess(without_cache(), scenario)
        return replace(frontier_of(plan, [other]), status=seen["status"], factor=1.05)

    monkeypatch.setattr(optibox.search.plan, "plan", alone)
    monkeypatch.setattr(optibox.frontier.compute, "frontier", front)
    return seen


@pytest.fixture
def run(tmp_path):
    (tmp_path / "scenario.toml").write_text(SCENARIO)

    def call(*more):
        target = tmp_path / "page.html"
        words = ["page", str(tmp_path / "scenario.toml"), "-o", str(target), *more]
        return CliRunner().invoke(app, words), target

    return call


@pytest.mark.usefixtures("searched")
def test_a_page_is_written_and_named(run):
    done, target = run()
    assert done.exit_code == 0, done.output
    assert re.fullmatch(
        r"\S+page\.html: 2 machines, \d+ kB; open it in a browser\n", done.stdout
    )
    text = target.read_text(encoding="utf-8")
    assert text.startswith("<!DOCTYPE html>")
    assert "<h1>Told by a file</h1>" in text
    assert len(data_of(text)["value"]["rows"]) == 2
    assert "within 5.0 % of a row" in text


def test_settings_reach_the_search_and_the_command_on_the_page(searched, run):
    done, target = run(
        "--set", "money.years=7", "--aim", "total-cost", "--axes", "purchase,asleep"
    )
    assert done.exit_code == 0, done.output
    assert searched["scenario"].money.years == 7
    assert searched["wanted"].axes == ("purchase", "asleep")
    command = data_of(target.read_text(encoding="utf-8"))["value"]["command"]
    assert command.endswith("scenario.toml --set money.years=7 --aim total-cost")


def test_a_single_machine_needs_no_frontier(searched, run):
    done, target = run("--single")
    assert done.exit_code == 0, done.output
    assert searched["single"]
    assert "wanted" not in searched
    assert "1 machine," in done.stdout
    assert len(data_of(target.read_text(encoding="utf-8"))["value"]["rows"]) == 1


def test_what_is_not_proven_ends_in_4(searched, run):
    searched["status"] = "stopped"
    done, target = run()
    assert done.exit_code == 4
    assert target.exists()


def test_without_a_machine_there_is_no_page(searched, run):
    searched["status"] = "infeasible"
    done, target = run()
    assert done.exit_code == 3
    assert not target.exists()
    assert done.stdout == ""
    assert "No machine of this catalog" in done.stderr
    assert "No page is written" in done.stderr


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--axes", "purchase,speed"), "is no axis"),
        (("--set", "needs.usable=3"), "usable_tb"),
    ],
)
@pytest.mark.usefixtures("searched")
def test_wrong_input_ends_in_2_and_writes_nothing(run, more, words):
    done, target = run(*more)
    assert done.exit_code == 2
    assert words in done.stderr
    assert not target.exists()


def test_a_target_that_cannot_be_is_told_before_the_search(searched, run, tmp_path):
    done, _ = run("-o", str(tmp_path / "no" / "page.html"))
    assert done.exit_code == 2
    assert "does not exist" in done.stderr
    done, _ = run("-o", str(tmp_path))
    assert done.exit_code == 2
    assert "is a folder" in done.stderr
    assert "wanted" not in searched


def test_a_plan_that_a_short_cover_leaves_out_comes_last():
    found, other = machines(asked())[0], machines(asked())[3]
    front = frontier_of(plan_of(found), [other])
    rows = tuple(row for row in front.rows if not row.is_plan)
    cover = replace(front, rows=rows, plan_number=None)
    whole = with_plan(cover)
    assert whole.rows[-1].is_plan
    assert whole.plan_number == whole.rows[-1].number
    assert len({row.number for row in whole.rows}) == len(whole.rows)
    assert with_plan(whole) is whole


def test_help_does_not_load_the_template_engine():
    code = (
        "import sys; from optibox.cli import app; "
        "bad = {'jinja2', 'pulp', 'numpy'} & set(sys.modules); assert not bad, bad"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
