"""optibox check, compare and rules: forms, files, exit codes, messages."""

import csv
import io
import json

import pytest
from typer.testing import CliRunner

import optibox.search.plan
from optibox.assess import assess
from optibox.build import load_build, save_build
from optibox.cli import app
from tests.support.source import ROOT
from tests.unit.present.machines import plan_of
from tests.unit.rules.bench import Bench

BY_HAND = str(ROOT / "examples/builds/by-hand.toml")
WISH = str(ROOT / "examples/builds/wish-list.toml")
UPGRADE = str(ROOT / "examples/upgrade.toml")
SCENARIO = """\
needs.usable_tb = 4
needs.failures_survived = 1
needs.read_mb_s = 90
needs.other_end_gbit_s = 1
money.tariff_per_kwh = 0.30
usage.ingest_gb_per_day = 5
"""


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments])


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    path = tmp_path_factory.mktemp("builds") / "saved.toml"
    bench = Bench(parts={"board": {"has_hot_plug": False}}, spares=())
    save_build(bench.build(), path, "catalog of a test")
    return path


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "scenario.toml"
    path.write_text(SCENARIO)
    return path


def test_check_of_a_hand_written_file():
    done = run("check", BY_HAND)
    assert done.exit_code == 3
    assert done.stderr == ""
    for words in (
        "does not work as described",
        "would be",
        "nothing hangs on it",
        "[A4]",
        "no cable is listed",
        "Assumed, because the file leaves it open",
        "Risk of losing data",
        "Parity is not a backup",
    ):
        assert words in done.stdout, words


def test_check_of_a_saved_file_with_and_without_scenario(saved, scenario):
    bare = run("check", saved)
    assert bare.exit_code == 0
    assert "No scenario given" in bare.stdout
    assert "Assumed, because" not in bare.stdout
    asked = run("check", saved, "--scenario", scenario)
    assert asked.exit_code == 0
    assert "works and meets every need and limit" in " ".join(asked.stdout.split())
    short = run("check", saved, "--scenario", scenario, "--set", "needs.usable_tb=30")
    assert short.exit_code == 3
    assert "[A11]" in short.stdout


def test_a_missing_wire_of_a_saved_build_is_an_error(saved, tmp_path):
    text = saved.read_text()
    start = text.index("[[wiring]]")
    cut = text[:start] + text[text.index("[[wiring]]", start + 1) :]
    path = tmp_path / "cut.toml"
    path.write_text(cut)
    done = run("check", path, "--section", "errors")
    assert done.exit_code == 3
    assert "is on no port [C1]" in done.stdout
    assert "wiring the same parts in another way" in done.stdout


def test_json_and_csv(saved):
    table = json.loads(run("check", saved, "--format", "json").stdout)
    assert table["fit"] is True
    assert {"chains", "power", "currents", "settings", "risk"} <= table.keys()
    text = run("check", saved, "--format", "csv").stdout
    rows = list(csv.DictReader(io.StringIO(text.split("\n", 1)[1])))
    assert len(rows) == len(table["findings"])


def test_the_whole_build_can_be_saved_and_checks_the_same(tmp_path):
    whole = tmp_path / "whole.toml"
    first = run("check", WISH, "--save", whole, "--format", "csv")
    again = run("check", whole, "--format", "csv")
    assert load_build(whole).drives

    def told(text):
        rows = csv.DictReader(io.StringIO(text.split("\n", 1)[1]))
        return [(row["rule"], row["evidence"]) for row in rows]

    assert told(again.stdout) == told(first.stdout)


def test_output_goes_to_a_file(saved, tmp_path):
    path = tmp_path / "answer.txt"
    done = run("check", saved, "-o", path)
    assert done.stdout == ""
    assert "Currents of a start" in path.read_text()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check", "nowhere.toml"], "does not exist"),
        (["check", BY_HAND, "--section", "erors"], "Did you mean 'errors'"),
        (["check", BY_HAND, "--set", "needs.usable_tb=3"], "none is given"),
        (["check", BY_HAND, "--catalog", "nothing"], "neither"),
        (["check", UPGRADE], "is not a key"),
        (["compare", BY_HAND, "nowhere.toml"], "does not exist"),
        (["rules", "Z9"], "no rule"),
    ],
)
def test_faults_are_told_on_stderr_with_exit_code_2(arguments, words):
    done = run(*arguments)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


def test_compare_puts_differences_first(saved):
    done = run("compare", BY_HAND, saved)
    assert done.exit_code == 0
    text = done.stdout
    assert text.index("Different") < text.index("Parts that differ")
    assert text.index("Parts that differ") < text.index("\nAlike")
    assert "a year" in text
    assert "at the prices of today" in text
    assert "--scenario" in text


def test_compare_with_itself_finds_no_difference(saved):
    table = json.loads(run("compare", saved, saved, "--format", "json").stdout)
    assert not any(row["differs"] for row in table["rows"])
    assert table["parts"] == []
    assert table["names"] == ["saved.toml (1)", "saved.toml (2)"]


def test_rules_lists_all_or_some():
    done = run("rules")
    assert done.exit_code == 0
    assert "C3 Cables" in done.stdout
    assert len(json.loads(run("rules", "P", "--format", "json").stdout)) == 8
    assert run("rules", "c3", "--format", "csv").stdout.count("\n") == 3


def test_help_names_sections_and_exit_codes():
    for command in ("check", "compare", "rules"):
        done = run(command, "--help")
        assert done.exit_code == 0
    assert "currents" in run("check", "--help").stdout


def test_the_example_of_the_readme_is_what_the_command_prints():
    """Lines between dots stand in the answer, in their order."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.split("$ optibox check examples")[1].split("```")[0]
    command, *shown = block.splitlines()
    answer = run("check", WISH, *command.split()[1:])
    said = " ".join(answer.stdout.split())
    pieces = [" ".join(p.split()) for p in "\n".join(shown).split("...") if p.strip()]
    assert len(pieces) == 3
    places = [said.find(piece) for piece in pieces]
    assert -1 not in places
    assert places == sorted(places)


def test_compare_plans_saved_builds_again_under_a_scenario(
    saved, scenario, monkeypatch
):
    """The search is stood in for by a machine that costs 12 less to buy."""
    cheaper = Bench(
        parts={"board": {"has_hot_plug": False}, "case": {"price": 38}}, spares=()
    )
    asked = []

    def search(*arguments, time_limit_s=None):
        asked.append(time_limit_s)
        return plan_of(assess(cheaper.build(), arguments[1]))

    monkeypatch.setattr(optibox.search.plan, "plan", search)
    text = run("compare", saved, "--scenario", scenario, "--time-limit", "7").stdout
    words = " ".join(text.split())
    assert "planning again saves 12 EUR as long as nothing is bought" in words
    assert asked == [7.0]
    run("compare", saved, "--scenario", scenario, "--no-replan")
    assert asked == [7.0]


def test_catalogs_told_win_over_those_of_the_file(tmp_path):
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "catalog.toml").write_text('format = 1\nname = "mine"\ncurrency = "X"\n')
    (folder / "memory.csv").write_text("id,class,gib,price\nm,ddr4 dimm,8,20\n")
    done = run("check", BY_HAND, "--catalog", folder)
    assert done.exit_code == 2
    assert "chassis-tower-6b" in done.stderr
