"""The command frontier from end to end, on the small catalog that ``new`` writes."""

import csv
import itertools
import json
from io import StringIO

import pytest
from typer.testing import CliRunner

from optibox.assess import assess
from optibox.build import load_build
from optibox.cli import app
from optibox.scenario import read_scenario

PNG_HEAD = b"\x89PNG\r\n\x1a\n"
"""Source: ISO/IEC 15948, PNG signature (from memory)."""


@pytest.fixture(scope="module")
def scenario(tmp_path_factory):
    folder = tmp_path_factory.mktemp("small") / "my"
    done = CliRunner().invoke(app, ["new", str(folder)])
    assert done.exit_code == 0
    return str(folder / "scenario.toml")


def answer(*words, code=0):
    done = CliRunner().invoke(app, ["frontier", *words])
    assert done.exit_code == code, done.stderr
    return done


@pytest.fixture(scope="module")
def told(scenario, tmp_path_factory):
    """The exact set of purchase and energy, with everything that can be written."""
    folder = tmp_path_factory.mktemp("told")
    words = ["--axes", "purchase,kwh", "--exact", "--format", "json"]
    words += ["--save", "2", str(folder / "row.toml")]
    words += ["--picture", str(folder / "rows.png"), "--break-points"]
    done = answer(scenario, *words)
    return json.loads(done.stdout), folder


def test_json_holds_rows_and_proof(told):
    table, _ = told
    assert (table["status"], table["mode"], table["factor"]) == ("proven", "exact", 1.0)
    assert [axis["key"] for axis in table["axes"]] == [
        "purchase_price",
        "energy_kwh_per_year",
    ]
    rows = table["rows"]
    assert [row["number"] for row in rows] == list(range(1, len(rows) + 1))
    assert rows == sorted(rows, key=lambda row: row["purchase_price"])
    energies = [row["energy_kwh_per_year"] for row in rows]
    assert energies == sorted(energies, reverse=True)
    assert rows[0]["best_in"] == ["purchase"]
    assert rows[-1]["best_in"] == ["kwh"]
    assert rows[1]["against"][0]["row"] == 1
    gain = rows[1]["against"][0]["gains"]["kwh"]
    assert gain == pytest.approx(energies[0] - energies[1], abs=1e-5)
    assert "less" in rows[1]["why"]


def test_pieces_join_without_gaps(told):
    pieces = told[0]["tariffs"]
    assert pieces[0]["from_per_kwh"] == 0
    assert pieces[-1]["to_per_kwh"] is None
    for left, right in itertools.pairwise(pieces):
        assert left["to_per_kwh"] == right["from_per_kwh"]


def test_a_saved_row_is_the_row(told, scenario):
    table, folder = told
    asked, _ = read_scenario(scenario)
    found = assess(load_build(folder / "row.toml"), asked)
    assert found.is_fit
    assert round(found.cost.purchase, 2) == table["rows"][1]["purchase_price"]
    assert found.year.kwh == pytest.approx(
        table["rows"][1]["energy_kwh_per_year"], abs=1e-5
    )


def test_picture_is_a_png(told):
    data = (told[1] / "rows.png").read_bytes()
    assert data.startswith(PNG_HEAD)
    assert len(data) > 10_000


def test_table_marks_the_plan_and_names_what_is_hidden(scenario, tmp_path):
    picture = tmp_path / "rows.svg"
    words = (scenario, "--axes", "purchase,running", "--picture", str(picture))
    done = answer(*words)
    assert "Proven: every machine is within" in done.stdout
    assert "the plan's own" in done.stdout
    assert "least to buy" in done.stdout
    assert "least to run" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100
    text = picture.read_text()
    assert text.startswith("<?xml")
    assert "Purchase [" in text
    again = tmp_path / "again.svg"
    answer(*words[:-1], str(again))
    assert again.read_text() == text


def test_csv_has_a_row_for_each_machine(scenario):
    done = answer(scenario, "--axes", "purchase,kwh", "--format", "csv")
    lines = done.stdout.splitlines()
    assert lines[0].startswith("#")
    rows = list(csv.DictReader(StringIO("\n".join(lines[1:]))))
    assert [row["number"] for row in rows] == [str(n + 1) for n in range(len(rows))]
    assert {"purchase_price", "energy_kwh_per_year", "machine", "why"} <= set(rows[0])


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (["--axes", "purchase,wats"], "is no axis"),
        (["--axes", "purchase"], "two or three different axes"),
        (["--axes", "kwh,kwh"], "two or three different axes"),
        (["--cover", "1%", "--exact"], "stands beside --exact"),
        (["--cover", "much"], "is not within 0.1% and 100%"),
        (["--resolution", "kwh=1"], "is none of the axes asked for"),
        (["--resolution", "purchase=-1"], "is not an axis with a positive step"),
        (["--picture", "rows.bmp"], "does not end in .png or .svg"),
    ],
)
def test_faults_of_options(scenario, words, wanted):
    done = answer(scenario, *words, code=2)
    assert wanted in done.stderr
    assert done.stdout == ""


def test_all_faults_come_together(scenario):
    done = answer(scenario, "--axes", "purchase,wats", "--cover", "0", code=2)
    assert "wats" in done.stderr
    assert "--cover" in done.stderr


def test_a_row_that_is_not_there(scenario, tmp_path):
    path = tmp_path / "row.toml"
    done = answer(scenario, "--axes", "purchase,kwh", "--save", "99", str(path), code=2)
    assert "is no row" in done.stderr
    assert not path.exists()


def test_nothing_fits(scenario):
    done = answer(scenario, "--set", "needs.usable_tb=900", code=3)
    assert "No machine of this catalog" in done.stdout
    assert "needs.usable_tb = 900" in done.stdout


def test_no_time_ends_with_code_4(scenario):
    done = answer(scenario, "--time-limit", "0.1", code=4)
    assert "Stopped" in done.stdout


def test_second_thoughts_of_a_plan(scenario):
    """Each bought line of the order list has a price, or stays at any price."""
    words = ["plan", scenario, "--second-thoughts", "--format", "json"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0
    table = json.loads(done.stdout)
    thoughts = table["second_thoughts"]
    bought = {row["id"] for row in table["order"] if row["to_buy"]}
    assert {row["id"] for row in thoughts["walk_away"]} == bought
    assert all(
        row["walk_away_price"] is None or row["walk_away_price"] >= row["price"] - 0.01
        for row in thoughts["walk_away"]
    )
    assert thoughts["nearest"]["extra_price"] >= 0
