"""What is filled in, what is told, and what cannot be."""

from dataclasses import replace
from pathlib import Path

import pytest

from optibox.assess import assess
from optibox.build.sketch import sketch_of
from optibox.completion import complete, plain_scenario
from optibox.completion.opening import Question, open_build
from optibox.scenario import read_scenario
from tests.support.source import ROOT

BASE = """
[[parts]]
id = "board-soldered-6s-2g5"
[[parts]]
id = "mem-ddr5-so-16"
[[parts]]
id = "boot-usb-module-16g"
"""


def opened(tmp_path, text, **question):
    path = Path(tmp_path / "build.toml")
    path.write_text(BASE + text, encoding="utf-8")
    return open_build(path, Question(**question))


def rules(found, severity="error"):
    return {f.rule for f in found.findings if f.severity == severity}


def part(name, count=1, more=""):
    return f'[[parts]]\nid = "{name}"\ncount = {count}\n{more}\n'


TOWER = part("chassis-tower-6b") + part("psu-atx-450-no3v3")


def test_cables_and_lead_are_assumed_where_none_is_listed(tmp_path):
    one = opened(tmp_path, TOWER + part("hdd-35-4tb-c5400", 3))
    assert rules(one.completion.assessment) == set()
    told = "\n".join(one.completion.assumed)
    assert "3 x SATA data cable 30 cm [cable-sata-03]: no cable is listed" in told
    assert "no network lead is listed" in told
    assert one.completion.cannot == ()


def test_a_listed_cable_means_that_the_list_is_complete(tmp_path):
    text = TOWER + part("hdd-35-4tb-c5400", 3) + part("cable-sata-05", 2)
    one = opened(tmp_path, text)
    assert rules(one.completion.assessment) == {"C3"}
    assert any("a single SATA cable" in text for text in one.completion.cannot)


def test_the_wrong_breakout_is_put_in_so_that_it_can_be_told(tmp_path):
    """Forward breakouts bought for a backplane: common practice, no source."""
    text = part("chassis-2u-8b-8087") + part("psu-1u-400") + part("lead-cat6-3m")
    text += part("hdd-35-4tb-c5400", 4) + part("cable-fwd-8087-05")
    one = opened(tmp_path, text)
    assert "C3" in rules(one.completion.assessment)
    assert any("forward" in f.evidence for f in one.completion.assessment.errors)
    assert any("reverse breakout" in text for text in one.completion.cannot)


def test_drives_beyond_the_ports_are_named(tmp_path):
    text = part("chassis-tower-8b") + part("psu-atx-450-no3v3")
    one = opened(tmp_path, text + part("hdd-35-4tb-c5400", 8))
    (words,) = one.completion.cannot
    assert "no port is left (6 on the board)" in words
    assert len([f for f in one.completion.assessment.errors if f.rule == "C1"]) == 2


def test_drives_beyond_the_bays_are_named(tmp_path):
    text = part("chassis-mini-2b") + part("psu-atx-300-lean")
    one = opened(tmp_path, text + part("hdd-35-4tb-c5400", 3))
    assert any("no bay of 3.5 inch is left (2 in" in w for w in one.completion.cannot)
    assert "F2" in rules(one.completion.assessment)


def test_a_card_too_many_is_named(tmp_path):
    one = opened(tmp_path, TOWER + part("hdd-35-4tb-c5400", 2) + part("nic-1g-x1", 3))
    assert any("no slot of the board is left" in w for w in one.completion.cannot)


def test_the_largest_drive_becomes_parity(tmp_path):
    text = TOWER + part("hdd-35-4tb-c5400", 2) + part("hdd-35-6tb-c5400")
    build = opened(tmp_path, text).completion.build
    assert [(d.key, d.role) for d in build.drives if d.role == "parity"] == [
        ("hdd-35-6tb-c5400", "parity")
    ]


def test_told_roles_decide_the_layout(tmp_path):
    role = 'role = "data"'
    text = TOWER + part("hdd-35-4tb-c5400", 3, role)
    plan = opened(tmp_path, text).completion.build.operation
    assert plan.layout in ("independent", "striped")
    text += part("hdd-35-6tb-c5400", 2, 'role = "parity"')
    plan = opened(tmp_path, text).completion.build.operation
    assert (plan.layout, plan.n_parity) == ("independent", 2)


def test_solid_state_drives_become_boot_device_or_cache(tmp_path):
    path = tmp_path / "build.toml"
    base = BASE.replace('id = "boot-usb-module-16g"', 'id = "ssd-sata-120"')
    text = base + TOWER + part("hdd-35-4tb-c5400", 2) + part("ssd-sata-500", 2)
    path.write_text(text, encoding="utf-8")
    build = open_build(path, Question()).completion.build
    roles = {d.key: d.role for d in build.drives}
    assert roles["ssd-sata-120"] == "boot"
    assert roles["ssd-sata-500"] == "cache"
    assert build.operation.cache == "mirror"


def test_all_that_is_told_is_kept(tmp_path):
    text = (
        TOWER
        + part("hdd-35-4tb-c5400", 3, 'role = "data"')
        + """
[[wiring]]
drives = ["data-1", "data-2"]
host = "board"
port = [6, 5]
bay = ["3.5-6", "3.5-5"]
[operation]
layout = "independent"
n_parity = 0
timeout_min = "never"
checks_per_year = 12
"""
    )
    build = opened(tmp_path, text).completion.build
    by_drive = {w.drive: w for w in build.connections}
    assert (by_drive["data-1"].connector, by_drive["data-1"].bay) == (6, "3.5-6")
    assert (by_drive["data-2"].connector, by_drive["data-2"].bay) == (5, "3.5-5")
    assert by_drive["data-3"].connector not in (5, 6)
    assert by_drive["data-3"].bay not in ("3.5-5", "3.5-6")
    assert build.operation.timeout_min is None
    assert build.operation.checks_per_year == 12


def test_the_cheapest_timeout_and_mode_are_taken(tmp_path):
    one = opened(tmp_path, TOWER + part("hdd-35-4tb-c5400", 4))
    found = one.completion.assessment
    for minutes in one.scenario.choices.timeouts_min:
        for mode in ("read-modify-write", "reconstruct"):
            plan = replace(found.build.operation, timeout_min=minutes, write_mode=mode)
            other = assess(replace(found.build, operation=plan), one.scenario)
            if not other.errors:
                assert found.total_cost <= other.total_cost + 0.01


def test_sixteen_trays_on_two_adapters_are_wired_without_fault(tmp_path):
    text = part("chassis-3u-16b-8643") + part("psu-atx-750")
    text += part("board-w-atx-10s-1g") + part("hba-8i-gen3-lean", 2)
    text += part("hdd-35-4tb-c5400", 16)
    path = tmp_path / "build.toml"
    path.write_text(text, encoding="utf-8")
    found = open_build(path, Question()).completion.assessment
    assert {"C1", "C2", "C3", "C4", "F2"} & rules(found) == set()
    pieces = {w.cable for w in found.build.connections}
    assert len(pieces) == 4, "four backplane connectors, one straight cable each"


def test_a_complete_sketch_comes_back_as_it_is(tmp_path):
    first = opened(tmp_path, TOWER + part("hdd-35-4tb-c5400", 3))
    build = first.completion.build
    again = complete(sketch_of(build), first.scenario).build
    assert again == build


@pytest.mark.parametrize("name", ["by-hand", "wish-list"])
def test_shipped_examples_open(name):
    scenario, catalog = read_scenario(ROOT / "examples/upgrade.toml")
    path = ROOT / f"examples/builds/{name}.toml"
    for asked in (Question(), Question(scenario=scenario, catalog=catalog)):
        one = open_build(path, asked)
        assert one.is_by_hand
        assert one.completion.assessment.findings


def test_the_plain_scenario_takes_the_machines_own_network(tmp_path):
    one = opened(tmp_path, TOWER + part("hdd-35-4tb-c5400", 2) + part("nic-10g-sfp-x4"))
    needs = plain_scenario(one.sketch).needs
    assert (needs.other_end_gbit_s, needs.other_end_medium) == (10, "sfp+")
    assert needs.failures_survived == 0


def test_the_drives_of_a_told_breakout_go_behind_one_connector(tmp_path):
    """Which ports and bays is open, not that one piece serves one connector."""
    text = part("chassis-2u-8b-8087") + part("psu-1u-400")
    text += part("hdd-35-4tb-c5400", 5, 'role = "data"') + part("cable-rev-8087-06", 2)
    text += """
[[wiring]]
drives = ["data-4", "data-5"]
cable = "cable-rev-8087-06"
[[wiring]]
drives = ["data-1", "data-2", "data-3"]
cable = "cable-rev-8087-06"
[operation]
n_parity = 0
"""
    found = opened(tmp_path, text).completion.assessment
    assert rules(found) <= {"C9"}
    behind = {}
    for wire in found.build.connections:
        number = (int(wire.bay.split("-")[1]) - 1) // 4
        behind.setdefault(wire.cable, set()).add(number)
    assert [len(numbers) for numbers in behind.values()] == [1, 1]
    assert len(set.union(*behind.values())) == 2


def test_a_told_wrong_breakout_stays_and_is_told(tmp_path):
    text = part("chassis-2u-8b-8087") + part("psu-1u-400")
    text += part("hdd-35-4tb-c5400", 3, 'role = "data"') + part("cable-fwd-8087-05")
    text += """
[[wiring]]
drives = ["data-1", "data-2", "data-3"]
host = "board"
cable = "cable-fwd-8087-05"
[operation]
n_parity = 0
"""
    found = opened(tmp_path, text).completion.assessment
    assert "C3" in rules(found)
    assert len([f for f in found.errors if f.rule == "C3"]) == 1
