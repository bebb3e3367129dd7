"""The command line on catalogs: answers, messages, exit codes, start-up."""

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

import optibox.cli
from optibox.catalog.read import read_catalog
from optibox.cli import app, exit_code, main
from optibox.cli.starter import ANSWERS, starter_files
from optibox.errors import (
    CatalogError,
    Fault,
    InputError,
    InternalError,
    SolverLimitError,
)
from optibox.scenario import Scenario

ROOT = Path(__file__).parents[3]
HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\ninvented = true\n'


@pytest.fixture
def folder(tmp_path):
    root = tmp_path / "mine"
    root.mkdir()
    (root / "catalog.toml").write_text(HEAD)
    (root / "hard-drive.csv").write_text(
        "id,class,tb,price,price_date\nd1,3.5in 5400,4,85,2020-01-31\n"
    )
    return root


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


def process(*words, cwd=ROOT, **more):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    return subprocess.run(
        [sys.executable, *words],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_check_says_what_a_catalog_holds(folder):
    result = run("catalog", "check", folder)
    assert result.exit_code == 0
    assert "nothing here can be ordered" in result.stdout
    assert "1 parts of 1 kinds without faults" in result.stdout
    assert "the catalog holds no board" in result.stderr
    assert "1 prices are older than 180 days" in result.stderr


def test_faults_go_to_stderr_with_exit_code_2(folder):
    (folder / "hard-drive.csv").write_text("id,class,tb,price\nd1,3.5in 540,4000,85\n")
    result = run("catalog", "check", folder)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        f"{folder}/hard-drive.csv, line 2, class: '3.5in 540' is no class of the kind "
        "'hard drive'. Did you mean '3.5in 5400'?\n"
        f"{folder}/hard-drive.csv, line 2, tb: '4000' is outside the believable range; "
        "expected 0.001 to 100 TB. Give it in TB, without the unit's letters.\n"
    )


def test_an_unknown_catalog():
    result = run("catalog", "check", "nowhere")
    assert result.exit_code == 2
    assert "shipped catalog" in result.stderr


@pytest.mark.parametrize("form", ["table", "csv", "json"])
def test_show(folder, form):
    result = run("catalog", "show", folder, "--kind", "hard drive", "--format", form)
    assert result.exit_code == 0
    assert "d1" in result.stdout
    assert "nothing here can be ordered" in result.stdout
    if form == "json":
        assert json.loads(result.stdout)["parts"][0]["id"] == "d1"


def test_show_of_all_kinds_and_of_an_unknown_one(folder):
    assert "hard drive\n" in run("catalog", "show", folder).stdout
    result = run("catalog", "show", folder, "--kind", "hard drve")
    assert result.exit_code == 2
    assert "Did you mean 'hard drive'?" in result.stderr


def test_add_writes_a_row(folder):
    result = run(
        "catalog", "add", folder, "hard drive", "id=d2", "class=3.5in 5400", "tb=8",
        "price=150", "recording=conventional",
    )  # fmt: skip
    assert result.exit_code == 0
    assert result.stdout.startswith("d2 added to")
    assert read_catalog([folder]).by_id["d2"].recording == "conventional"


@pytest.mark.parametrize("cell", ["id", "=3", "id=d1"])
def test_add_refuses(folder, cell):
    before = (folder / "hard-drive.csv").read_text()
    result = run("catalog", "add", folder, "hard drive", cell, "tb=8", "price=5")
    assert (result.exit_code, result.stdout) == (2, "")
    assert (folder / "hard-drive.csv").read_text() == before


def test_columns_and_template():
    result = run("catalog", "columns", "hard drive")
    assert "* tb: number, 0.001 to 100 TB" in result.stdout
    assert "Printed capacity" in result.stdout
    for form in ("csv", "json"):
        every = run("catalog", "columns", "--format", form)
        assert every.exit_code == 0
        assert "backplane_connector" in every.stdout
    blank = run("catalog", "template", "hard drive")
    assert blank.stdout.endswith("\nid,class,tb,recording,price\n")
    assert run("catalog", "template", "bord").exit_code == 2


def test_new_writes_a_folder_that_reads(tmp_path):
    target = tmp_path / "server"
    result = run("new", target)
    assert result.exit_code == 0
    found = {str(p.relative_to(target)) for p in target.rglob("*") if p.is_file()}
    assert found == set(starter_files())
    catalog = read_catalog([target / "catalog"])
    assert len(catalog.parts) >= 14
    assert catalog.is_invented
    assert [p.name for p in tmp_path.iterdir()] == ["server"]


def test_new_overwrites_nothing(tmp_path):
    result = run("new", tmp_path)
    assert (result.exit_code, list(tmp_path.iterdir())) == (2, [])
    (tmp_path / "file").write_text("mine")
    assert run("new", tmp_path / "file").exit_code == 2
    assert (tmp_path / "file").read_text() == "mine"
    assert run("new", tmp_path / "none" / "deep").exit_code == 2
    assert run("new", tmp_path / "file" / "deep").exit_code == 2


def test_the_scenario_of_a_new_folder_is_five_answers():
    text = starter_files()["scenario.toml"]
    lines = [
        line
        for line in text.splitlines()
        if line and not line.startswith(("#", "[", "format"))
    ]
    assert len(lines) == len(ANSWERS) == 5
    scenario = Scenario(**tomllib.loads(text))
    assert scenario.needs.usable_tb == 6
    assert scenario.catalogs == ("catalog",)


def test_the_commented_keys_are_all_keys_with_their_defaults():
    text = starter_files()["scenario.toml"].partition("# Parts that are there")[0]
    text = re.sub(r"(?ms)^#\[\[.*?^$", "", text)
    lines = [
        line.removeprefix("#")
        for line in text.splitlines()
        if not line.startswith("# ") and not line.endswith("=")
    ]
    assert Scenario(**tomllib.loads("\n".join(lines))) == Scenario(
        **tomllib.loads(text)
    )
    for name, section in Scenario.model_fields.items():
        assert name in text or name in ("owned", "spares")
        for key in getattr(section.annotation, "model_fields", {}):
            assert key == "bands" or f"{key} =" in text


def test_every_written_file_carries_the_format_version():
    for name, text in starter_files().items():
        if name.endswith(".csv"):
            assert text.startswith("# optibox format 1\n")
        else:
            assert tomllib.loads(text)["format"] == 1


def test_exit_codes():
    assert exit_code(InputError([])) == 2
    assert exit_code(CatalogError([])) == 2
    assert exit_code(SolverLimitError()) == 4
    assert exit_code(InternalError()) == 1


def _command_that_raises(monkeypatch, error):
    def fails(_):
        raise error

    monkeypatch.setattr("optibox.cli.catalog._read", fails)
    monkeypatch.setattr(sys, "argv", ["optibox", "catalog", "check", "x"])
    with pytest.raises(SystemExit) as caught:
        main()
    return caught.value.code


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (
            InputError([Fault(path="a", problem="is bad", remedy="Mend it.")]),
            2,
            "a: is",
        ),
        (SolverLimitError("no time"), 4, "no time"),
        (InternalError("two answers"), 1, "two answers"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (ZeroDivisionError("by\nzero"), 1, "ZeroDivisionError: by zero"),
    ],
)
def test_errors_end_in_one_line(monkeypatch, capsys, error, code, words):
    monkeypatch.delenv("OPTIBOX_DEBUG", raising=False)
    assert _command_that_raises(monkeypatch, error) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1


def test_debugging_shows_where(monkeypatch):
    monkeypatch.setenv("OPTIBOX_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        _raise_through(monkeypatch, ZeroDivisionError())


def _raise_through(monkeypatch, error):
    def fails(_):
        raise error

    monkeypatch.setattr("optibox.cli.catalog._read", fails)
    monkeypatch.setattr(sys, "argv", ["optibox", "catalog", "check", "x"])
    main()


def test_usage_errors_are_bad_input():
    assert run("catalog", "show", "x", "--format", "xml").exit_code == 2
    assert run("nonsense").exit_code == 2


def test_version_and_module():
    result = process("-m", "optibox", "--version")
    assert result.returncode == 0
    assert result.stdout.startswith("optibox")


def test_help_is_light():
    code = (
        "import sys\nfrom optibox.cli import app\n"
        "try:\n    app(['--help'])\nexcept SystemExit as end:\n    assert end.code == 0\n"
        "heavy = {'pulp', 'highspy', 'numpy', 'pydantic', 'rich', 'tomli_w'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    result = process("-c", code)
    assert (result.returncode, result.stderr) == (0, "[]\n")
    assert "catalog" in result.stdout
    assert optibox.cli.__doc__


def test_bad_input_never_ends_in_a_traceback(tmp_path):
    (tmp_path / "catalog.toml").write_bytes(b"\xff\xfe")
    result = process("-m", "optibox", "catalog", "check", str(tmp_path))
    assert (result.returncode, result.stdout) == (2, "")
    assert "Traceback" not in result.stderr
    assert "UTF-16" in result.stderr
