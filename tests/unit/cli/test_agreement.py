"""One machine through every command: a figure that two of them show is one figure.

The catalog is a handful of rows of the shipped one, so that every search is real and
quick. What a command prints is taken from its JSON; a page's from the data in it.
"""

import csv
import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from optibox import assess, load_build, plan, read_scenario
from optibox.cli import app
from optibox.report.described import described
from tests.support.source import ROOT
from tests.unit.page.test_data import opened

SHIPPED = ROOT / "catalogs" / "invented"
KEPT = frozenset(
    (
        "chassis-mini-4b",
        "board-soldered-6s-2g5",
        "psu-atx-300-lean",
        "ref-supply-400",
        "mem-ddr5-so-8",
        "boot-stick-16g",
        "cable-sata-05",
        "cable-rev-8087-06",
        "lead-cat5e-3m",
        "lead-cat6-3m",
        "hdd-35-4tb-c5400",
        "hdd-35-6tb-c5400",
        "ssd-sata-500",
        "plead-sata-1to2",
        "plead-per-to-sata-crimped",
        "adapter-25-35",
    )
)
SCENARIO = """\
name = "One machine"
catalogs = ["few"]
needs.usable_tb = 9
needs.failures_survived = 1
needs.read_mb_s = 80
needs.ingest_mb_s = 180
needs.burst_gb = 60
needs.other_end_gbit_s = 2.5
usage.ingest_gb_per_day = 40
money.tariff_per_kwh = 0.31
money.tariff_growth = 0.03
money.discount = 0.02
money.years = 6
money.resale_fraction = 0.1
money.carbon_g_per_kwh = 300
money.terms = ["purchase", "energy", "wear", "cache wear", "replacements", "resale"]
choices.timeouts_min = [10, 30]
choices.layouts = ["independent"]
limits.array_drives = 4

[[money.bands]]
from_hour = 22
to_hour = 6
price_per_kwh = 0.19

[[owned]]
id = "hdd-35-4tb-c5400"
count = 2
starts = 2000
hours = 9000
holds_data = false
"""


def few_parts(folder: Path) -> None:
    """Write a catalog of a few rows of the shipped one."""
    folder.mkdir()
    head = (SHIPPED / "catalog.toml").read_text(encoding="utf-8")
    (folder / "catalog.toml").write_text(head, encoding="utf-8")
    for path in SHIPPED.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            first, *rows = csv.reader(file)
        kept = [row for row in rows if row[0] in KEPT]
        if kept:
            with (folder / path.name).open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows([first, *kept])


def run(*arguments: object) -> str:
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    assert done.exit_code in (0, 3, 4), done.output
    return done.stdout


@pytest.fixture(scope="module")
def said(tmp_path_factory) -> dict:
    """Return what each command says of the best machine and of a slower twin."""
    folder = tmp_path_factory.mktemp("one-machine")
    few_parts(folder / "few")
    asked, build = folder / "asked.toml", folder / "build.toml"
    asked.write_text(SCENARIO, encoding="utf-8")
    json_of = ("--format", "json")
    told = {"plan": run("plan", asked, "--save", build, *json_of)}
    twin = folder / "twin.toml"
    text = build.read_text(encoding="utf-8")
    twin.write_text(text.replace("timeout_min = 10.0", "timeout_min = 30.0"))
    held = ("--scenario", asked)
    told["check"] = run("check", build, *held, *json_of)
    told["twin"] = run("check", twin, *held, *json_of)
    told["compare"] = run("compare", build, twin, *held, "--no-replan", *json_of)
    told["watt"] = run("watt", asked, "--build", build, *json_of)
    told["spindown"] = run("spindown", asked, "--build", build, *json_of)
    told["frontier"] = run("frontier", asked, "--time-limit", 20, *json_of)
    told["explain"] = run("explain", asked, *json_of)
    found = {name: json.loads(text) for name, text in told.items()}
    page = folder / "page.html"
    run("page", asked, "--single", "-o", page)
    data = re.search(
        r'<script type="application/json" id="data">(.*?)</script>', page.read_text()
    )
    found["page"] = opened(json.loads(data[1]))
    scenario, catalog = read_scenario(asked)
    found["library"] = plan(catalog, scenario).assessment
    found["loaded"] = assess(load_build(build), scenario)
    return found


def test_the_machine_shows_what_there_is_to_show(said):
    """A cache, parity, owned drives with a history, bands: no figure is idle."""
    figures = said["plan"]["figures"]
    assert said["plan"]["status"] == "optimal"
    assert said["plan"]["build"]["operation"]["cache"] == "mirror"
    idle = {key for key, value in figures.items() if value == 0}
    assert not idle


def test_plan_and_check_say_the_same(said):
    told, again = said["plan"], said["check"]
    same = set(told) & set(again) - {"findings", "migration"}
    assert {"figures", "build", "year", "rates", "slack", "alternatives"} <= same
    assert {"order", "postage", "unused_owned", "assumptions", "currency"} <= same
    for key in sorted(same):
        assert again[key] == told[key], key
    keys = ("rule", "severity", "evidence", "fix")
    assert [[f[k] for k in keys] for f in again["findings"]] == [
        [f[k] for k in keys] for f in told["findings"]
    ]


def test_the_library_says_what_commands_say(said):
    shown = said["plan"]
    for found in (said["library"], said["loaded"]):
        answer = json.loads(json.dumps(described(found, "EUR")))
        for key in ("figures", "build", "order", "rates", "year"):
            assert rounded(answer[key]) == rounded(shown[key]), key
        assert [f.rule for f in found.findings] == [
            f["rule"] for f in shown["findings"]
        ]
        assert found.total_cost == pytest.approx(
            shown["figures"]["total_price"], abs=0.005
        )


def rounded(value):
    """Return a value with its floats to six digits behind the point."""
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v) for v in value]
    return round(value, 2) if isinstance(value, float) else value


FIGURES = "figures"
ALSO = {
    # of one machine as another command calls it: the figure's key in plan and check
    "explain": {
        "purchase_price": "purchase_price",
        "total_price": "total_price",
        "asleep_w": "asleep_w",
        "kwh_per_year": "energy_kwh_per_year",
        "usable_tb": "usable_tb",
        "read_mb_s": "read_mb_s",
        "write_mb_s": "write_mb_s",
        "ingest_mb_s": "ingest_mb_s",
    },
    "watt": {
        "asleep_w": "asleep_w",
        "spinning_w": "spinning_w",
        "reading_w": "reading_w",
        "writing_w": "writing_w",
        "checking_w": "checking_w",
        "peak_w": "peak_w",
        "read_mb_s": "read_mb_s",
        "write_mb_s": "write_mb_s",
        "ingest_mb_s": "ingest_mb_s",
        "usable_tb": "usable_tb",
        "kwh_per_year": "energy_kwh_per_year",
    },
    "spindown": {
        "kwh_per_year": "energy_kwh_per_year",
        "energy_price_per_year": "energy_price_per_year",
        "wear_price_per_year": "wear_price_per_year",
        "data_wakes_per_year": "data_wakes_per_year",
        "parity_wakes_per_year": "parity_wakes_per_year",
        "write_mb_s": "write_mb_s",
    },
}


RUNNING_ALONE = {"spindown": {"total_price"}}
"""Totals of energy and wear over the years: the parts stay as they are."""
RUNNING = ("energy", "wear", "cache_wear")


def machine_of(said: dict, command: str) -> dict:
    """Return what a command says of the machine."""
    if command == "explain":
        return said["explain"]["machine"]
    if command == "watt":
        return said["watt"]["present"]
    (row,) = [r for r in said["spindown"]["policies"] if r["is_present"]]
    return row


@pytest.mark.parametrize("command", sorted(ALSO))
def test_other_commands_show_the_same_figures(said, command):
    shown, theirs = said["plan"][FIGURES], machine_of(said, command)
    for key, ours in ALSO[command].items():
        assert theirs[key] == pytest.approx(shown[ours], abs=0.0051), key
    # what is called alike and not named above would go unseen
    unseen = (theirs.keys() & shown.keys()) - ALSO[command].keys()
    assert unseen <= RUNNING_ALONE.get(command, set())
    for key in unseen:
        running = sum(shown[f"{term}_price"] for term in RUNNING)
        assert theirs[key] == pytest.approx(running, abs=0.0151), key


def test_frontier_and_page_show_the_plan(said):
    shown = said["plan"][FIGURES]
    (row,) = [r for r in said["frontier"]["rows"] if r["is_plan"]]
    assert said["frontier"]["plan_row"] == row["number"]
    common = row.keys() & shown.keys()
    assert {"purchase_price", "total_price", "asleep_w", "read_mb_s"} <= common
    for key in common:
        assert row[key] == pytest.approx(shown[key], abs=0.0051), key
    assert row["operation"].items() <= said["plan"]["build"]["operation"].items()
    (page,) = said["page"]["rows"]
    assert rounded(page[FIGURES]) == rounded(shown)
    assert page["rates"] == said["plan"]["rates"]
    counts = {p["id"]: p["count"] for p in said["plan"]["build"]["parts"]}
    assert {p["id"]: p["count"] for p in row["parts"]} == counts
    assert said["explain"]["machine"]["parts"].keys() == {
        p["id"] + ("@owned" if p["owned"] else "")
        for p in said["plan"]["build"]["parts"]
    }


def test_compare_shows_both_as_check_does(said):
    seen = 0
    for row in said["compare"]["rows"]:
        for at, name in enumerate(("check", "twin")):
            figures = said[name][FIGURES]
            if row["key"] in figures and row["values"][at] is not None:
                seen += 1
                assert row["values"][at] == pytest.approx(
                    figures[row["key"]], abs=0.0051
                ), row["key"]
        if row["key"] in ("errors", "warnings"):
            assert row["values"] == [
                said["check"][row["key"]],
                said["twin"][row["key"]],
            ]
    assert seen > 70
    (payback,) = said["compare"]["paybacks"]
    kwh = [said[n][FIGURES]["energy_kwh_per_year"] for n in ("check", "twin")]
    assert payback["kwh_saved_per_year"] == pytest.approx(kwh[0] - kwh[1], abs=1e-4)
    running = [said[n][FIGURES]["running_price_per_year"] for n in ("check", "twin")]
    assert payback["saved_price_per_year"]["mid"] == pytest.approx(
        running[0] - running[1], abs=0.011
    )


def test_other_timeouts_cost_what_all_say_they_cost(said):
    """Plan, check, spin-down and a check of the twin itself."""
    (other,) = [a for a in said["plan"]["alternatives"] if a["words"] == "30 min"]
    present = machine_of(said, "spindown")
    (row,) = [
        r
        for r in said["spindown"]["policies"]
        if r["timeout_min"] == 30
        and (r["write_mode"], r["cache"]) == (present["write_mode"], present["cache"])
    ]
    more = said["twin"][FIGURES]["total_price"] - said["plan"][FIGURES]["total_price"]
    assert other["cost_difference"] == pytest.approx(more, abs=0.011)
    assert other["kwh"] == pytest.approx(row["kwh_per_year"], abs=1e-5)
    assert other["kwh"] == said["twin"][FIGURES]["energy_kwh_per_year"]
    assert other["asleep_w"] == said["twin"][FIGURES]["asleep_w"]
    assert other["write_mb_s"] == row["write_mb_s"]


def test_parts_of_the_year_add_up(said):
    figures, year = said["plan"][FIGURES], said["plan"]["year"]
    assert sum(s["hours"] for s in year) == pytest.approx(8760.0, abs=1e-4)
    assert sum(s["kwh"] for s in year) == pytest.approx(
        figures["energy_kwh_per_year"], abs=1e-5
    )
    assert sum(s["price"] for s in year) == pytest.approx(
        figures["energy_price_per_year"], abs=0.02
    )
    wall = said["check"]["power"]["wall"]
    for state in ("asleep", "spinning", "reading", "writing", "checking"):
        mid = wall[f"{state}_w"]["mid"]
        assert mid == pytest.approx(figures[f"{state}_w"], abs=1.5e-6), state
    rates = {
        f"{chain['operation'].replace(' ', '_')}_mb_s": chain["rate_mb_s"]
        for chain in said["check"]["chains"]
    }
    assert {"read_mb_s", "write_mb_s", "degraded_read_mb_s"} <= rates.keys()
    for key in rates.keys() & figures.keys():
        assert rates[key] == pytest.approx(figures[key], abs=1e-5), key
    rebuild = said["check"]["risk"]["rebuild_h"]
    assert rebuild == pytest.approx(figures["rebuild_h"], abs=1e-5)


def test_the_order_list_costs_the_purchase(said):
    figures = said["plan"][FIGURES]
    price = sum(row["price"] for row in said["plan"]["order"])
    price += sum(entry["price"] for entry in said["plan"]["postage"])
    assert price == pytest.approx(figures["purchase_price"], abs=0.005)
    (now,) = [r for r in said["compare"]["repriced"] if r["name"] == "build.toml"]
    assert now["then_price"] == now["now_price"]
    assert now["now_price"] == pytest.approx(figures["purchase_price"], abs=0.005)
    assert now["total_price_now"] == figures["total_price"]
