"""What is saved is judged as it was: every finding and every figure, to the last digit."""

import tomllib
from itertools import islice
from pathlib import Path

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings

from optibox.assess import assess
from optibox.build import Label, load_build, save_build
from optibox.completion.opening import Opened, Question, open_build
from optibox.errors import InputError
from optibox.report.as_json import plain
from optibox.report.check import CheckAnswer
from optibox.report.check_facts import CheckReport
from optibox.scenario import read_scenario
from tests.support.enumerate import all_builds
from tests.support.middling import shipped
from tests.support.tiny import THEMES, Seeded, drawn
from tests.unit.completion.test_any_file import hand_builds

ROOT = Path(__file__).parents[3]
BY_HAND = sorted((ROOT / "examples" / "builds").glob("*.toml"))
NOT_SAID_AGAIN = ("assumed", "cannot", "stamp")
"""How a build came to be is told once; what is missing in it is a finding then."""
S1 = "S1"
STANDING = """
name = "Old box"
owned = true
parts = [
    { id = "chassis-tower-6b" },
    { id = "board-soldered-4s-2g5" },
    { id = "psu-atx-450" },
    { id = "mem-ddr5-so-16" },
    { id = "boot-stick-16g" },
    { id = "hdd-35-4tb-c7200", count = 3 },
]
"""
OLD_DRIVES = """
catalogs = ["invented"]
needs.usable_tb = 4
needs.failures_survived = 1
money.tariff_per_kwh = 0.3
{owned}
"""


def told(opened: Opened) -> dict:
    """Return all that a check says about a machine, as data."""
    report = CheckReport(
        name=opened.name,
        completion=opened.completion,
        currency=opened.scenario.money.currency,
        is_asked=opened.is_asked,
    )
    return plain(CheckAnswer(report=report).to_dict())


def saved(opened: Opened, to: Path) -> Path:
    """Write a checked machine as ``check --save`` does."""
    label = Label(
        stamp=opened.stamp,
        name=opened.name,
        currency=opened.scenario.money.currency,
    )
    save_build(opened.completion.build, to, label)
    return to


def see_told_again(opened: Opened, asked: Question, folder: Path) -> None:
    """See the saved machine judged as before, and saved again alike."""
    once = saved(opened, folder / "once.toml")
    again = open_build(once, asked)
    before, after = told(opened), told(again)
    for key in before:
        if key not in NOT_SAID_AGAIN:
            assert after[key] == before[key], key
    twice = saved(again, folder / "twice.toml")
    assert tomllib.loads(twice.read_text()) == tomllib.loads(once.read_text())


def holding(opened: Opened, folder: Path) -> Question:
    """Return a scenario whose owned drives, those of a machine, hold data."""
    drives = opened.completion.build.drives
    owned = "\n".join(
        f'[[owned]]\nid = "{name}"\nheld_tb = 1.0\nold_array = "tank"\ncount = 2'
        for name in sorted({d.key.removesuffix("@owned") for d in drives})
        if name in shipped().by_id and name.startswith("hdd")
    )
    path = folder / "scenario.toml"
    path.write_text(OLD_DRIVES.format(owned=owned), encoding="utf-8")
    scenario, _ = read_scenario(path)
    return Question(scenario=scenario, catalog=shipped())


NOTHING_ASKED = Question(catalog=shipped())


@pytest.mark.parametrize("path", BY_HAND, ids=lambda p: p.stem)
def test_examples_are_judged_as_before(path, tmp_path):
    opened = open_build(path, NOTHING_ASKED)
    see_told_again(opened, NOTHING_ASKED, tmp_path)
    asked = holding(opened, tmp_path)
    see_told_again(open_build(path, asked), asked, tmp_path)


def test_what_stands_there_goes_on_standing(tmp_path):
    """Nobody moves into a machine that stands, before and after it is saved."""
    path = tmp_path / "mine.toml"
    path.write_text(STANDING, encoding="utf-8")
    opened = open_build(path, NOTHING_ASKED)
    asked = holding(opened, tmp_path)
    assert asked.scenario is not None
    assert asked.scenario.owned
    once = saved(open_build(path, asked), tmp_path / "once.toml")
    assert S1 not in {f["rule"] for f in told(open_build(once, asked))["findings"]}
    # a library user who loads it is told the same
    assert S1 not in {f.rule for f in assess(load_build(once), asked.scenario).findings}
    # the same drives in a machine to be built have to be emptied first
    text = once.read_text()
    assert "\nowned = true\n" in text
    once.write_text(text.replace("\nowned = true\n", "\n", 1), encoding="utf-8")
    assert S1 in {f.rule for f in assess(load_build(once), asked.scenario).findings}


def test_name_and_currency_are_kept(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(STANDING, encoding="utf-8")
    label = Label(stamp="a stamp", name="My box", currency="CHF")
    build = open_build(path, NOTHING_ASKED).completion.build
    save_build(build, tmp_path / "once.toml", label)
    again = open_build(tmp_path / "once.toml", NOTHING_ASKED)
    assert (again.name, again.stamp) == ("My box", "a stamp")
    assert again.scenario.money.currency == "CHF"


@settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(table=hand_builds())
def test_any_parts_are_judged_as_before(tmp_path, table):
    path = tmp_path / "build.toml"
    path.write_text(tomli_w.dumps(table), encoding="utf-8")
    try:
        opened = open_build(path, NOTHING_ASKED)
    except InputError:
        return
    see_told_again(opened, NOTHING_ASKED, tmp_path)


@pytest.mark.parametrize("theme", THEMES)
def test_builds_of_every_theme_are_judged_as_before(theme, tmp_path):
    """Drawn catalogs with owned lots, held drives, packs, boxes and postage."""
    instance = drawn(Seeded(1), [theme], 20_000)
    if instance is None:
        pytest.skip("too many builds")
    some = islice(all_builds(instance.catalog, instance.scenario), 0, 400, 37)
    for build in some:
        path = tmp_path / "build.toml"
        save_build(build, path, "")
        again = load_build(path)
        assert again == build
        before, after = (assess(b, instance.scenario) for b in (build, again))
        assert after.findings == before.findings
        assert after == before
