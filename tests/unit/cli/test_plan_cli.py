"""optibox plan: forms, files, exit codes, nothing on stdout but the answer."""

import csv
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import optibox.search.plan
from optibox.assess import assess
from optibox.build import load_build
from optibox.build.records import Belongings
from optibox.cli import app
from optibox.cli.options import Format
from optibox.cli.plan import report_of
from optibox.cli.run import give
from optibox.report.order import order_list
from optibox.report.plan import PlanAnswer
from optibox.search.result import Plan
from tests.unit.present.machines import plan_of, reference_build

ROOT = Path(__file__).parents[3]
SCENARIO = """\
needs.usable_tb = 10
needs.failures_survived = 1
needs.read_mb_s = 100
needs.other_end_medium = "sfp+"
money.tariff_per_kwh = 0.30
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "scenario.toml"
    path.write_text(SCENARIO)
    return path


@pytest.fixture
def asked(monkeypatch):
    """Put a machine wired by hand in place of the search; note what it was asked."""
    seen = {"status": "optimal"}

    def search(catalog, scenario, *, time_limit_s=None, on_progress=None):
        seen.update(catalog=catalog, scenario=scenario, limit=time_limit_s)
        seen["progress"] = on_progress
        found = assess(reference_build(catalog), scenario)
        plan = plan_of(found, status=seen["status"], bound=seen.get("bound"))
        if seen["status"] in ("infeasible", "unknown"):
            return Plan(
                status=plan.status,
                aim="total cost",
                proof=plan.proof,
                in_play=("needs.usable_tb = 10.0",),
            )
        return plan

    monkeypatch.setattr(optibox.search.plan, "plan", search)
    return seen


def run(*words):
    return CliRunner().invoke(app, ["plan", *map(str, words)])


def test_text_is_plain_when_piped_and_100_wide(file, asked):
    result = run(file)
    assert result.exit_code == 0
    assert "\x1b" not in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 100
    assert result.stdout.startswith("Proven cheapest")
    assert result.stderr == ""
    assert asked["progress"] is None


def test_settings_catalogs_aim_and_limit_reach_the_search(file, asked):
    result = run(
        file, "--set", "needs.usable_tb=9", "--set", "money.years=7",
        "--catalog", "invented", "--aim", "asleep-watts", "--time-limit", "2.5",
    )  # fmt: skip
    assert result.exit_code == 0
    scenario = asked["scenario"]
    assert (scenario.needs.usable_tb, scenario.money.years) == (9, 7)
    assert scenario.choices.aim == "asleep watts"
    assert asked["limit"] == 2.5
    assert asked["catalog"].name == "Invented parts"


@pytest.mark.parametrize(
    ("status", "code"),
    [("optimal", 0), ("infeasible", 3), ("feasible", 4), ("unknown", 4)],
)
def test_exit_codes(file, asked, status, code):
    asked["status"] = status
    result = run(file)
    assert result.exit_code == code
    assert ("needs.usable_tb = 10.0" in result.stdout) == (
        status in ("infeasible", "unknown")
    )
    assert ("Order" in result.stdout) == (status in ("optimal", "feasible"))


def test_unproven_answer_tells_its_gap(file, asked):
    asked.update(status="feasible", bound=1000.0)
    table = json.loads(run(file, "--format", "json").stdout)
    value = table["proof"]["value"]
    assert table["status"] == "feasible"
    assert table["gap"] == pytest.approx((value - 1000.0) / value, abs=1e-6)


def test_json_and_csv_are_the_whole_stdout(file, asked):
    table = json.loads(run(file, "--format", "json").stdout)
    found = assess(reference_build(asked["catalog"]), asked["scenario"])
    assert table["figures"]["asleep_w"] == pytest.approx(found.wall.asleep_w, abs=1e-6)
    assert table["assumptions"][0]["key"] == "usage.ingest_gb_per_day"
    text = run(file, "--format", "csv").stdout
    rows = list(csv.DictReader(io.StringIO(text.split("\n", 1)[1])))
    assert [row["id"] for row in rows] == [row.id for row in order_list(found)]


@pytest.mark.usefixtures("asked")
def test_sections_are_chosen_by_name(file):
    text = run(file, "--section", "wiring, figures").stdout
    assert "\nWiring\n" in text
    assert "\nFigures\n" in text
    assert "\nCautions\n" not in text
    full = run(file, "--all").stdout
    assert all(f"\n{t}\n" in full for t in ("Wiring", "Figures", "Slack", "Cautions"))


def test_unknown_section_is_refused_before_any_search(file, asked):
    result = run(file, "--section", "wirring,figures,cauti")
    assert result.exit_code == 2
    assert "wirring" in result.stderr
    assert "wiring" in result.stderr
    assert "cauti" in result.stderr
    assert "catalog" not in asked


def test_answer_and_build_go_to_files(file, asked, tmp_path):
    answer, build = tmp_path / "answer.json", tmp_path / "build.toml"
    result = run(file, "--format", "json", "-o", answer, "--save", build)
    assert (result.exit_code, result.stdout) == (0, "")
    assert json.loads(answer.read_text())["status"] == "optimal"
    loaded = load_build(build)
    # what lies beside it is known once it is saved: nothing
    assert loaded.belongings == Belongings()
    assert replace(loaded, belongings=None) == reference_build(asked["catalog"])
    assert "nothing here can be ordered" in build.read_text()
    assert {p.name for p in tmp_path.iterdir()} == {
        "scenario.toml",
        "answer.json",
        "build.toml",
    }


@pytest.mark.usefixtures("asked")
@pytest.mark.parametrize("option", ["-o", "--save"])
def test_unwritable_files_are_one_message(file, tmp_path, option):
    result = run(file, option, tmp_path / "missing" / "x")
    assert result.exit_code == 2
    assert "does not exist" in result.stderr
    assert "Traceback" not in result.stderr


def test_no_build_is_saved_where_there_is_none(file, asked, tmp_path):
    asked["status"] = "infeasible"
    target = tmp_path / "build.toml"
    result = run(file, "--save", target)
    assert result.exit_code == 3
    assert not target.exists()
    assert "is not written" in result.stderr


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("needs.usable_tb = 10\n", "money"),
        (SCENARIO + "needs.usable = 4\n", "usable"),
        ("not toml", "not valid TOML"),
    ],
)
def test_bad_scenarios_are_refused(tmp_path, text, words):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    result = run(path)
    assert result.exit_code == 2
    assert words in result.stderr
    assert result.stdout == ""


@pytest.mark.usefixtures("asked")
def test_bad_options_are_refused(file):
    for words in (
        ["--set", "needs.usable_tb"],
        ["--catalog", "no-such-catalog"],
        ["--aim", "beauty"],
        ["--time-limit", "0"],
        ["--format", "pdf"],
    ):
        result = run(file, *words)
        assert result.exit_code == 2, words
        assert result.stdout == ""


def test_missing_scenario_is_refused(tmp_path):
    result = run(tmp_path / "none.toml")
    assert result.exit_code == 2
    assert "does not exist" in result.stderr


def test_help_names_exit_codes_and_is_light():
    code = (
        "import sys; from optibox.cli import app\n"
        "try: app(['plan', '--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'pulp', 'highspy', 'numpy', 'rich', 'optibox.report'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr.strip() == "[]"
    flat = re.sub(r"\s+", " ", done.stdout)
    assert "3 no machine meets all needs within all limits" in flat


@pytest.mark.parametrize("no_color", [False, True])
def test_terminal_gets_its_width_and_style(file, asked, monkeypatch, no_color):
    """On a terminal lines are as wide as it is; NO_COLOR leaves plain text."""

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    written = Terminal()
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("TERM", "xterm")
    if no_color:
        monkeypatch.setenv("NO_COLOR", "1")
    else:
        monkeypatch.delenv("NO_COLOR", raising=False)
    asked_plan = run(file)
    assert asked_plan.exit_code == 0
    report = report_of(
        plan_of(assess(reference_build(asked["catalog"]), asked["scenario"])),
        asked["scenario"],
        asked["catalog"],
        [],
    )
    monkeypatch.setattr(sys, "stdout", written)
    give(PlanAnswer(report=report, sections=("cautions",)), Format.table, None)
    text = written.getvalue()
    assert ("\x1b[" in text) != no_color
    plain = re.sub(r"\x1b\[[0-9;]*m", "", text)
    assert max(map(len, plain.splitlines())) <= 80
