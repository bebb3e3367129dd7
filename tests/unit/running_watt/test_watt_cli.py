"""The commands watt and sensitivity on the starter that `optibox new` writes."""

import csv
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from optibox.assess import assess
from optibox.build import load_build
from optibox.cli import app
from optibox.scenario import read_scenario

DEAR = ["--set", "money.tariff_per_kwh=0.6"]


def run(*words: object):
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Path:
    """Return a folder with a scenario, a catalog and a machine with a lossy supply."""
    folder = tmp_path_factory.mktemp("starter") / "server"
    assert run("new", folder).exit_code == 0
    supplies = folder / "catalog" / "power-supply.csv"
    text = supplies.read_text()
    columns = text.splitlines()[1].split(",")
    row = {
        "id": "psu-lossy",
        "class": "small modern",
        "form": "atx",
        "rated_w": "300",
        "leads": "sata 3 | sata 3 | peripheral 2",
        "price": "5",
        "loss_fixed_w": "9",
    }
    columns.append("loss_fixed_w")
    lines = text.splitlines()
    lines[1] += ",loss_fixed_w"
    lines[2:] = [line + "," for line in lines[2:]]
    lines.append(",".join(row.get(name, "") for name in columns))
    supplies.write_text("\n".join(lines) + "\n")
    found = run(
        *("plan", folder / "scenario.toml", "--save", folder / "mine.toml"),
        *("--set", 'insist=["psu-lossy"]'),
    )
    assert found.exit_code == 0, found.output
    return folder


def asked(place: Path, command: str, *more: object):
    where = (place / "scenario.toml", "--build", place / "mine.toml")
    return run(command, *where, *DEAR, *more)


def test_first_line_says_what_is_worth_changing(place) -> None:
    found = asked(place, "watt")
    assert found.exit_code == 0, found.output
    first = found.stdout.splitlines()[0]
    assert first.startswith("Worth changing: power supply: psu-lossy -> psu-300: pay ")
    assert "One watt at the parts costs" in found.stdout
    assert "do nothing" in found.stdout


def test_first_line_says_that_nothing_is(place) -> None:
    found = run(
        *("watt", place / "scenario.toml", "--build", place / "mine.toml"),
        *("--set", "money.tariff_per_kwh=0.02"),
    )
    lines = found.stdout.splitlines()
    assert lines[0].startswith("Nothing worth changing")
    (first,) = (n for n, line in enumerate(lines) if line.startswith("  1."))
    assert lines[first + 1].strip() == "do nothing"


def test_json_figures_are_the_assessments_of_the_saved_machine(place, tmp_path) -> None:
    path = tmp_path / "after.toml"
    found = asked(place, "watt", "--format", "json", "--save", path, "--change", 1)
    table = json.loads(found.stdout)
    swap = table["swaps"][0]
    scenario, _ = read_scenario(place / "scenario.toml", ["money.tariff_per_kwh=0.6"])
    after = assess(load_build(path), scenario)
    assert after.is_fit
    assert swap["money_now"] == round(after.cost.purchase, 2)
    assert swap["after"]["total_cost"] == round(after.total_cost, 2)
    assert swap["after"]["asleep_w"] == pytest.approx(after.wall.asleep_w, abs=1e-5)
    assert table["present"]["total_cost"] - after.total_cost == pytest.approx(
        swap["net"], abs=0.011
    )
    assert table["worth_changing"] is True
    assert len(table["watt"]) == 6
    nets = [entry["net"] for entry in table["swaps"]]
    assert nets == sorted(nets, reverse=True)


def test_csv_has_doing_nothing_in_its_place(place) -> None:
    found = asked(place, "watt", "--format", "csv")
    rows = list(csv.DictReader(found.stdout.splitlines()[1:]))
    nets = [float(row["net"]) for row in rows]
    assert nets == sorted(nets, reverse=True)
    assert [float(r["net"]) for r in rows if r["changes"] == "do nothing"] == [0.0]


def test_sequence_and_prices_of_needs(place) -> None:
    found = asked(place, "watt", "--yearly-budget", 60, "--marginal")
    assert found.exit_code == 0, found.output
    assert "Best sequence under 60 EUR a year" in found.stdout
    assert "  now, 48 EUR: power supply: psu-lossy -> psu-300" in found.stdout
    assert "What one more of each need costs" in found.stdout
    assert "failures survived" in found.stdout


def test_sensitivity_tells_where_the_change_stops_to_pay(place, tmp_path) -> None:
    """48 EUR for a supply that saves S a year per tariff: the flip is where both meet."""
    picture = tmp_path / "flips.svg"
    wide = ("--input", "tariff", "--spread", "tariff=0.95", "--picture", picture)
    found = asked(place, "sensitivity", *wide, "--format", "json")
    assert found.exit_code == 0, found.output
    table = json.loads(found.stdout)
    (effect,) = table["inputs"]
    assert effect["stretches"][0]["machine"] == "B"
    assert table["machines"]["B"] == "do nothing"
    flip = effect["flips"][0]["position"]
    tariff = 0.6 * (1 + 0.95 * flip)
    at_flip = asked(
        place, "watt", "--format", "json", "--set", f"money.tariff_per_kwh={tariff}"
    )
    best = json.loads(at_flip.stdout)["swaps"][0]
    assert best["net"] == pytest.approx(0.0, abs=0.011)
    text = picture.read_text()
    assert text.startswith("<?xml")
    assert "EUR/kWh" in text


def test_sensitivity_of_the_catalog_and_the_robust_pick(place) -> None:
    found = run(
        *("sensitivity", place / "scenario.toml", "--input", "tariff"),
        *("--corner", "tariff=high", "--corner", "tariff=low,prices=high"),
    )
    assert found.exit_code == 0, found.output
    assert "What each input does by itself" in found.stdout
    assert "Robust pick: " in found.stdout
    words = " ".join(found.stdout.split())
    assert "No machine of the catalog does better than" in words


@pytest.mark.parametrize(
    ("command", "more", "words"),
    [
        ("watt", ["--change", "999", "--save", "x.toml"], "is no change; there are"),
        ("watt", ["--build", "nowhere.toml"], "nowhere.toml: does not exist"),
        ("sensitivity", ["--input", "tarif"], "Did you mean 'tariff'?"),
        ("sensitivity", ["--spread", "tariff=3"], "is no share from 0 to 0.95"),
        ("sensitivity", ["--corner", "tariff=up"], "there are low, mid, high"),
        ("sensitivity", ["--picture", "x.jpg"], "does not end in .png or .svg"),
    ],
)
def test_wrong_words_end_in_a_message(place, command, more, words) -> None:
    found = asked(place, command, *more)
    assert found.exit_code == 2
    assert words in found.stderr
    assert "Traceback" not in found.output
