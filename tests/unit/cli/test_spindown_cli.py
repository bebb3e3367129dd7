"""optibox spindown: verdict first, forms, faults, exit codes."""

import csv
import io
import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from optibox.build import save_build
from optibox.cli import app
from optibox.running import policy_plan
from optibox.running.policy import Policy, run_under
from optibox.search.result import Plan, Proof
from tests.support.source import ROOT
from tests.unit.present.machines import invented, reference_build

SCENARIO = """\
needs.usable_tb = 10
needs.failures_survived = 1
needs.read_mb_s = 100
needs.other_end_medium = "sfp+"
money.tariff_per_kwh = 0.30
"""
LOG = "time,drive\n" + "\n".join(f"{n * 5000},data-{n % 3 + 1}" for n in range(800))
COUNTERS = """\
time,drive,starts,power_on_h,meter_kwh
2026-01-01,data-1,100,5000,
2026-01-01,,,,300
2026-05-01,data-1,260,7880,
2026-05-01,,,,420
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "scenario.toml").write_text(SCENARIO)
    (tmp_path / "log.csv").write_text(LOG)
    (tmp_path / "counters.csv").write_text(COUNTERS)
    build = reference_build(invented())
    save_build(build, tmp_path / "build.toml", "test")
    never = replace(build, operation=replace(build.operation, timeout_min=None))
    save_build(never, tmp_path / "never.toml", "test")
    return tmp_path


def run(folder, *arguments, build="build.toml"):
    words = ["spindown", str(folder / "scenario.toml")]
    if build:
        words += ["--build", str(folder / build)]
    return CliRunner().invoke(app, [*words, *arguments])


def test_first_line_says_whether_to_change_anything(folder):
    never = run(folder, build="never.toml")
    assert never.exit_code == 0
    assert never.stdout.startswith("Worth changing: drives stop after ")
    assert "never" in never.stdout.split("\n\n")[0]
    table = json.loads(run(folder, "--format", "json", build="never.toml").stdout)
    assert table["is_worth_changing"] is True


def test_the_best_policy_is_left_alone(folder):
    table = json.loads(run(folder, "--format", "json").stdout)
    best = next(policy for policy in table["policies"] if policy["is_best"])
    policy = Policy(
        **{key: best[key] for key in ("timeout_min", "write_mode", "cache")}
    )
    save_build(
        run_under(reference_build(invented()), policy), folder / "best.toml", "test"
    )
    found = run(folder, build="best.toml")
    assert found.stdout.startswith("Nothing worth changing: ")
    again = json.loads(run(folder, "--format", "json", build="best.toml").stdout)
    assert again["is_worth_changing"] is False
    assert again["saving_price_per_year"] == 0


def test_whole_answer_has_its_sections(folder):
    files = (
        "--log",
        str(folder / "log.csv"),
        "--counters",
        str(folder / "counters.csv"),
    )
    found = run(folder, *files)
    assert found.exit_code == 0, found.output
    for title in (
        "By the counters",
        "By the log",
        "Energy and wear by policy",
        "Each drive by itself",
        "What a sleep must last to pay",
        "Hours of flush and check",
        "Machine off when nobody needs answers",
    ):
        assert title in found.stdout
    assert "answers at any time" in " ".join(found.stdout.split())
    assert max(map(len, found.stdout.splitlines())) <= 112


def test_off_hours_by_setting(folder):
    hours = ("--set", "off_hours.from_hour=23", "--set", "off_hours.to_hour=7")
    found = run(folder, *hours)
    assert "Off 56 h of the week's 168" in " ".join(found.stdout.split())


def test_json_has_every_figure(folder):
    files = (
        "--log",
        str(folder / "log.csv"),
        "--counters",
        str(folder / "counters.csv"),
    )
    table = json.loads(run(folder, "--format", "json", *files).stdout)
    assert len(table["policies"]) == 60
    row = table["policies"][0]
    assert {
        "data_spinning_h_per_day", "parity_wakes_per_year", "start_stop_used_fraction",
        "load_unload_used_fraction", "kwh_per_year", "energy_price_per_year",
        "wear_price_per_year", "waited_h_per_year", "longest_wait_s", "total_price",
    } <= row.keys()  # fmt: skip
    assert table["log"]["rows"] == 800
    assert table["counters"]["counted"]["days"] == 120
    assert table["off_hours"]["fault"]
    assert sum(p["is_present"] for p in table["policies"]) == 1


def test_csv_has_a_row_for_each_policy(folder):
    found = run(folder, "--format", "csv", "-o", str(folder / "out.csv"))
    assert found.stdout == ""
    head, text = (folder / "out.csv").read_text().split("\n", 1)
    assert head == "# optibox format 1"
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 60
    assert {row["currency"] for row in rows} == {"EUR"}
    assert [row["is_best"] for row in rows].count("yes") == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--log", "none.csv"), "does not exist"),
        (("--counters", "none.csv"), "does not exist"),
        (("--set", "off_hours.from_hour=22"), "off_hours"),
    ],
)
def test_faults_end_in_messages(folder, arguments, words):
    found = run(folder, *arguments)
    assert found.exit_code == 2
    assert words in found.stderr
    assert "Traceback" not in found.output


def test_a_log_wants_a_build(folder):
    found = run(folder, "--log", str(folder / "log.csv"), build="")
    assert found.exit_code == 2
    assert "--save" in found.stderr


@pytest.mark.parametrize(("status", "code"), [("infeasible", 3), ("unknown", 3)])
def test_no_machine_under_any_policy(folder, monkeypatch, status, code):
    proof = Proof(
        bound=0, value=0, n_entries=0, n_bounded=0, n_solves=0, seconds=0, solver=""
    )
    answer = Plan(status=status, aim="total cost", proof=proof)
    monkeypatch.setattr(policy_plan, "plan", lambda *_, **__: answer)
    found = run(folder, build="")
    assert found.exit_code == code
    assert found.stdout.startswith("No machine meets all needs")


def test_time_that_is_up_is_told(folder, monkeypatch):
    clock = iter(range(0, 10_000, 50))
    slow = SimpleNamespace(monotonic=lambda: float(next(clock)))
    monkeypatch.setattr(policy_plan, "time", slow)
    found = run(folder, "--time-limit", "10", build="")
    assert found.exit_code == 4
    assert "not tried in the time given" in found.stdout


def test_example_of_the_readme(monkeypatch):
    monkeypatch.chdir(ROOT)
    block = (ROOT / "README.md").read_text().split("```console\n$ optibox spindown ")[1]
    command, shown = block.split("```")[0].split("\n", 1)
    found = CliRunner().invoke(app, ["spindown", *command.split()])
    assert found.exit_code == 0
    assert found.stdout.split("\n\n")[0].split() == shown.split()
    counters = ("--counters", "examples/logs/counters.csv")
    whole = CliRunner().invoke(app, ["spindown", *command.split(), *counters])
    assert "By the counters" in whole.stdout
