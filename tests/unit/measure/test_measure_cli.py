"""optibox sheet and optibox reconcile: forms, files, exit codes, the way back to a plan."""

import csv
import io
import json
import re
import tomllib
import xml.etree.ElementTree as ET
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from typer.testing import CliRunner

import optibox.measure.replan
from optibox.assess import assess
from optibox.build import load_build, save_build
from optibox.cli import app
from optibox.measure.read import readings_of
from optibox.measure.records import Meter
from optibox.scenario import read_scenario
from optibox.search.result import Plan, Proof
from tests.unit.measure.machines import LOSSLESS, build, parts

ROOT = Path(__file__).parents[3]
EXAMPLE = ROOT / "examples" / "measured"
MADE = [str(EXAMPLE / "build.toml"), str(EXAMPLE / "readings.csv")]
ASKED = ["--scenario", str(EXAMPLE / "scenario.toml")]
SVG = "{http://www.w3.org/2000/svg}"


def run(*arguments, code=0):
    done = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert done.exit_code == code, done.output
    return done


@cache
def sheet(*arguments):
    return run("sheet", MADE[0], *arguments).stdout


@cache
def reconciled(*arguments):
    return run("reconcile", *MADE, *arguments).stdout


@pytest.fixture
def machine(tmp_path):
    path = tmp_path / "build.toml"
    save_build(build(parts(supply=LOSSLESS)), path, "invented")
    return path


def test_sheet_has_cautions_before_its_first_box():
    text = sheet()
    cautions = text.index("array assembly disabled and all drives")
    assert cautions < text.index("[_______]")
    assert "read-only" in text
    assert "Parity is not a backup" in text
    assert "qualified people come first" in " ".join(text.split())
    assert "(assumed)" in text, "nobody was there to be asked for the meter"


def test_sheet_says_beforehand_what_a_reading_tells():
    text = " ".join(sheet("--resolution", 0.1, "--repeatability", 0.5).split())
    assert (
        "repeats within 0.5 W. The difference of two readings is then known to +-1.4 W"
        in text
    )
    assert "known to +-" in text
    assert "by this to +-" in text


def test_sheet_for_an_hour_fits_into_it():
    table = json.loads(sheet("--hour", "--format", "json"))
    assert table["minutes"]["power"] <= table["minutes"]["asked"] == 60


def test_sheet_serves_what_is_to_be_decided():
    text = " ".join(sheet(*ASKED).split())
    assert "possible changes turn on watts" in text
    assert "open: keep 2 x Two SATA ports" in text
    assert "settled: stop drives after" in text
    assert "no decision can change any more" in text


def test_filled_in_sheet_is_a_readings_file(tmp_path):
    rows = list(
        csv.DictReader(
            line
            for line in sheet("--format", "csv", "--minutes", 500).splitlines()
            if not line.startswith("#")
        )
    )
    for row in rows:
        if row["state"]:
            row["watts"] = row["x_expected"]
        elif row["operation"]:
            row["mb_s"] = row["x_expected"]
        else:
            row["starts"] = "1200"
    path = tmp_path / "filled.csv"
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    table = json.loads(run("reconcile", MADE[0], path, "--format", "json").stdout)
    assert table["n_blank"] == 0
    assert all(f["agrees"] for f in table["power"]["figures"])
    assert {t["verdict"] for t in table["transfers"]} == {"as planned"}
    assert len(table["counters"]) >= 4


class _Page(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.links, self.open = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [v for k, v in attrs if k in ("src", "href")]
        if tag not in ("meta",):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_page_is_one_whole_file_made_for_paper():
    text = sheet("--format", "html")
    page = _Page()
    page.feed(text)
    assert not page.open, "every tag is closed"
    assert not page.links, "nothing is fetched"
    assert "script" not in page.tags
    assert "size: A4" in text
    assert text.index("array assembly disabled") < text.index("<table")
    steps = len(json.loads(sheet("--format", "json"))["power"])
    assert text.count('<span class="box">') >= steps


def test_page_escapes_what_a_catalog_may_hold(tmp_path):
    path = tmp_path / "build.toml"
    save_build(build(parts(board={"label": "<script>alert(1)</script>"})), path, "")
    text = run("sheet", path, "--format", "html").stdout
    assert "<script" not in text
    assert "&lt;script&gt;" in text


def test_reconcile_tells_the_whole_story():
    text = " ".join(reconciled(*ASKED).split())
    for words in (
        "Meter against plan",
        "the same asleep and spinning: it is not in the drives",
        "W per drive at the wall",
        "not split",
        "refused: 5 GB without a sync fit into 8 GiB of memory",
        "less together than alone",
        "every such link trained one generation lower, 425 MB/s",
        "Leans the other way now, not settled: swap 2 x Two SATA ports",
        "Open, planned the other way: swap 2 x Two SATA ports",
        "38 errors on its data link",
        "qualified people come first",
    ):
        assert words in text


def test_json_has_numbers_where_text_has_words():
    table = json.loads(reconciled(*ASKED, "--format", "json"))
    assert table["currency"] == "EUR"
    found = {
        (f["members"][0]["key"], f["members"][0]["aspect"]): f
        for f in table["power"]["figures"]
        if not f["together"]
    }
    controller = found["ref-controller-2p", "idle"]
    assert controller["low_w"] < 2.9 < controller["high_w"], "the truth of the example"
    assert not controller["agrees"]
    drive = found["ref-hdd-4tb-c5400", "idle"]
    assert drive["low_w"] < 4.7 < drive["high_w"]
    assert any(d["turned"] for d in table["decisions"])


def test_csv_has_a_row_for_each_figure():
    text = reconciled("--format", "csv")
    rows = list(csv.DictReader(io.StringIO(text.partition("\n")[2])))
    assert {row["unit"] for row in rows} == {"W", "MB/s", ""}
    for row in rows:
        assert (row["value"] == "") == (row["is_identified"] == "no")


def test_picture_is_valid_and_has_a_dot_for_each_reading(tmp_path):
    path = tmp_path / "picture.svg"
    reconciled("--picture", path)
    root = ET.parse(path).getroot()
    assert root.tag == f"{SVG}svg"
    table = json.loads(reconciled("--format", "json"))
    known = [f for f in table["power"]["figures"] if f["identified"]]
    moved = [t for t in table["transfers"] if t["verdict"] != "refused"]
    dots = [c for c in root.iter(f"{SVG}circle") if c.get("fill") == "#003f7f"]
    assert len(dots) == 1 + len(table["power"]["readings"]) + len(known) + len(moved)
    for element in root.iter():
        for name in ("cx", "x", "x1", "x2"):
            if element.get(name):
                assert 0 <= float(element.get(name)) <= float(root.get("width"))


def test_picture_in_another_form_is_refused_before_any_work(tmp_path):
    done = run("reconcile", *MADE, "--picture", tmp_path / "picture.png", code=2)
    assert "is no SVG file" in done.stderr
    assert "Name it picture.svg" in done.stderr
    assert not list(tmp_path.iterdir())


def test_saved_figures_reach_the_next_plan(tmp_path):
    """Through the scenario's own reader: low, mid, high, and where they are from."""
    path = tmp_path / "measured.toml"
    reconciled(*ASKED, "--save", path)
    scenario, catalog = read_scenario(EXAMPLE / "scenario.toml", [f'measured="{path}"'])
    figure = catalog.by_id["ref-controller-2p"].idle_w
    assert figure.source == "measured"
    assert figure.low < 2.9 < figure.high
    owned = next(p for p in scenario.owned if p.id == "ref-hdd-4tb-c5400")
    assert owned.part.standby_w.source == "measured"
    assert scenario.overrides.read_modify_write.source == "measured"
    text = path.read_text()
    assert "# Only seen together, not saved: " in text
    assert set(tomllib.loads(text)) == {"format", "note", "factors", "parts"}
    assert "ref-nic-10g-old" not in tomllib.loads(text)["parts"], "never told apart"


def test_rest_is_saved_on_request_and_marked(tmp_path):
    path = tmp_path / "measured.toml"
    reconciled("--save", path, "--with-catalog")
    lines = path.read_text().splitlines()
    board = lines.index('[parts."ref-board"]')
    assert re.fullmatch(r'idle_w = "[^"]+"  # with catalog', lines[board + 1])
    read_scenario(EXAMPLE / "scenario.toml", [f'measured="{path}"'])


def test_replan_compares_the_scenario_with_and_without(monkeypatch):
    """The search is replaced: the machine that is there, judged by the evaluator."""
    asked = []

    def plan(catalog, scenario):
        asked.append(catalog)
        found = assess(load_build(MADE[0]), scenario)
        proof = Proof(
            bound=0,
            value=0,
            n_entries=1,
            n_bounded=0,
            n_solves=1,
            seconds=0,
            solver="none",
        )
        return Plan(status="optimal", aim="total cost", assessment=found, proof=proof)

    monkeypatch.setattr(optibox.measure.replan, "plan", plan)
    text = reconciled(*ASKED, "--replan")
    assert "The same parts." in text
    before, after = (c.by_id["ref-controller-2p"].idle_w for c in asked)
    assert (before.source, after.source) == ("invented", "measured")


def test_replan_needs_a_scenario():
    done = run("reconcile", *MADE, "--replan", code=2)
    assert "needs a scenario" in done.stderr


def test_faults_of_readings_come_one_a_line_and_end_in_two(machine, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("removed,state,watts\nhd,spinning,48\n,slepping,40\n,spinning,x\n")
    done = run("reconcile", machine, path, code=2)
    assert done.stdout == ""
    lines = done.stderr.strip().splitlines()
    assert [line.removeprefix(f"{path}, ").split(":")[0] for line in lines] == [
        "line 2, removed",
        "line 3, state",
        "line 4, watts",
    ]


def test_wide_and_narrow_terminals_get_whole_lines():
    for line in reconciled(*ASKED).splitlines():
        assert len(line) <= 100, line
    for line in sheet(*ASKED).splitlines():
        assert len(line) <= 100, line


def test_example_is_what_the_readings_file_says():
    found = readings_of(
        MADE[1], Path(MADE[1]).read_text(), load_build(MADE[0]), Meter()
    )
    assert not found.faults
    assert (len(found.power), len(found.transfers), len(found.counters)) == (11, 8, 1)


def test_output_in_the_readme_is_what_the_command_prints():
    """Lines between dots stand together; the pieces follow each other."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (shown,) = re.findall(r"^\$ optibox reconcile (.*?)\n```$", text, re.M | re.DOTALL)
    command, _, body = shown.partition("\n")
    assert command.split()[:2] == [
        f"examples/measured/{x}" for x in ("build.toml", "readings.csv")
    ]
    told = reconciled(*ASKED)
    place = 0
    for piece in filter(None, (p.strip("\n") for p in body.split("...\n"))):
        place = told.index(piece.removesuffix("\n..."), place)


def test_a_scenario_that_names_figures_already_is_refused(tmp_path):
    path = tmp_path / "scenario.toml"
    text = (EXAMPLE / "scenario.toml").read_text()
    path.write_text(text.replace("format = 1", 'format = 1\nmeasured = "m.toml"'))
    reconciled("--save", tmp_path / "m.toml")
    run("reconcile", *MADE, "--scenario", path)
    done = run("reconcile", *MADE, "--scenario", path, "--replan", code=2)
    assert "names measured figures already" in done.stderr


def test_replan_names_what_the_scenario_does_not_know(monkeypatch, tmp_path):
    others = iter((load_build(MADE[0]), build()))

    def plan(_catalog, scenario):
        proof = Proof(
            bound=0,
            value=0,
            n_entries=1,
            n_bounded=0,
            n_solves=1,
            seconds=0,
            solver="none",
        )
        found = assess(next(others), scenario)
        return Plan(status="optimal", aim="total cost", assessment=found, proof=proof)

    monkeypatch.setattr(optibox.measure.replan, "plan", plan)
    path = tmp_path / "other.toml"
    save_build(build(parts(supply=LOSSLESS)), path, "")
    readings = tmp_path / "r.csv"
    readings.write_text("removed,state,watts\n,spinning,48\nnet,spinning,44\n")
    done = run("reconcile", path, readings, *ASKED, "--replan").stdout
    text = " ".join(done.split())
    assert re.search(r"Out: .*1 x ref-board\b.*In: 1 x board\b", text)
    assert "unknown to the scenario (list them under [[owned]]): net." in text


def test_nothing_in_a_build_can_steer_a_terminal(tmp_path):
    evil = "red \x1b[31m\nand more"
    names = {key: {"label": evil} for key in ("board", "net", "hdd", "ssd", "ctl")}
    path, readings = tmp_path / "build.toml", tmp_path / "r.csv"
    save_build(build(parts(supply=LOSSLESS, **names)), path, "")
    readings.write_text(
        "removed,state,watts,operation,size_gb,mb_s,way,synced\n"
        ",spinning,48\nnet,spinning,44\nhdd | ssd,spinning,30\n"
        ",,,ingest,20,200,network,yes\n"
    )
    for told in (
        run("sheet", path).stdout,
        run("sheet", path, *ASKED).stdout,
        run("reconcile", path, readings).stdout,
        run("reconcile", path, readings, *ASKED).stdout,
    ):
        assert "red" in told
        assert "\x1b" not in told
