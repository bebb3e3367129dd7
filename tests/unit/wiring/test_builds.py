"""The power tree of a build: recorded, saved, read back, completed, put into words."""

import tomllib
from dataclasses import replace

import pytest
import tomli_w

from optibox.assess import assess
from optibox.build import PowerFeed, load_build, save_build
from optibox.catalog.platform import PowerLead
from optibox.completion.opening import Question, open_build
from optibox.errors import BuildError
from optibox.machine import machine_of
from optibox.report.wiring_map import power_rows, power_sentence, wiring_rows
from optibox.wiring import completed, tree_of
from tests.unit.rules.bench import Bench

TAP = (PowerLead, {"takes_plug": "sata", "fan_out": 2, "carries_3v3": True})
CLEAN = (
    PowerLead,
    {"takes_plug": "sata", "fan_out": 1, "carries_3v3": False, "is_moulded": "no"},
)


def judged(**parts):
    return Bench(parts=parts).judged()


def told(found):
    return {row.drive: row.power for row in wiring_rows(found)}


def test_drives_name_lead_plug_and_adapter():
    """One lead of two plugs: a splitter takes one of them."""
    found = judged(supply={"leads": "sata 2"}, tap=TAP)
    words = told(found)
    behind = [name for name, text in words.items() if "power-1 (tap)" in text]
    assert len(behind) == 2
    assert words[behind[0]].endswith("on SATA power plug 1 of lead 1")
    (bare,) = [n for n in ("data-1", "data-2", "parity-1") if n not in behind]
    assert words[bare] == "SATA power plug 2 of lead 1"
    assert power_sentence(found) == (
        "3 drives on 1 power lead through 1 adapter; the fullest, plug 1 of lead 1, "
        "carries 4.0 of 4.5 A"
    )


def test_a_held_drive_hangs_on_the_plug_without_3v3():
    found = judged(
        **{"hdd-b": {"has_power_disable": "yes"}}, supply={"leads": "sata 3"}, tap=CLEAN
    )
    assert "power-1 (tap)" in told(found)["data-2"]
    assert not {e.rule for e in found.errors} & {"C8", "C10"}


def test_a_backplane_names_its_inlets():
    found = judged(
        case={"backplane_connector": "sata", "backplane_power": "peripheral 2"},
        supply={"leads": "sata 2 | peripheral 3"},
    )
    text = told(found)["data-1"]
    assert text == "through the backplane, on plugs 1 and 2 of lead 2"


def test_without_plugs_the_sentence_says_so():
    found = judged(supply={"leads": "peripheral 1"})
    assert power_sentence(found) == "3 drives on 0 power leads; 3 without a plug"
    without = replace(
        found.build, items=tuple(e for e in found.build.items if e.item.key != "supply")
    )
    assert power_sentence(assess(without, found.scenario)).endswith("without a plug")


def whole(**parts):
    found = judged(**parts)
    return completed(found.build, found.scenario), found.scenario


def test_a_saved_build_keeps_its_tree(tmp_path):
    build, _ = whole(supply={"leads": "sata 2"}, tap=TAP)
    assert build.power
    save_build(build, tmp_path / "b.toml", "test")
    assert load_build(tmp_path / "b.toml").power == build.power


def test_an_old_saved_build_is_completed_on_reading(tmp_path):
    build, _ = whole(supply={"leads": "sata 2"}, tap=TAP)
    path = tmp_path / "old.toml"
    save_build(replace(build, power=()), path, "test")
    assert "[[power]]" not in path.read_text()
    opened = open_build(path, Question())
    assert opened.completion.build.power == build.power


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"load": "data-9"}, "drive"),
        ({"source": "power-7"}, "adapter"),
        ({"key": "tapp", "load": "power-1"}, "item"),
    ],
)
def test_names_of_the_tree_lead_somewhere(tmp_path, change, word):
    build, _ = whole(supply={"leads": "sata 2"}, tap=TAP)
    path = tmp_path / "b.toml"
    save_build(build, path, "test")
    table = tomllib.loads(path.read_text())
    table["power"][-1] |= change
    path.write_text(tomli_w.dumps(table))
    with pytest.raises(BuildError) as caught:
        load_build(path)
    assert any(f"is the name of no {word}" in str(f) for f in caught.value.faults)


@pytest.mark.parametrize(
    ("feeds", "words"),
    [
        ([("data-1", "lead-1", 1), ("data-2", "lead-1", 1)], "feeds two things"),
        ([("data-1", "lead-1", 9)], "which has 4"),
        ([("nobody", "lead-1", 1)], "which wants none"),
        ([("data-1", "lead-7", 1)], "no SATA power plug"),
        ([("data-1", "lead-1", 1), ("data-1", "lead-1", 2)], "hangs on 2 plugs"),
    ],
)
def test_a_tree_that_is_told_wrong_is_an_error(feeds, words):
    build, scenario = whole()
    power = tuple(PowerFeed(load=a, source=b, plug=n) for a, b, n in feeds)
    found = assess(replace(build, power=power), scenario)
    assert any(words in e.evidence for e in found.errors if e.rule == "C8")


def test_rows_of_plugs_add_up():
    found = judged(supply={"leads": "sata 2"}, tap=TAP)
    rows = {row.load: row for row in power_rows(found)}
    assert rows["power-1"].on_12v_at_start_a == pytest.approx(4.0)
    assert rows["power-1"].on_12v_at_work_a == pytest.approx(0.8)
    assert rows["power-1"].on_5v_a == pytest.approx(1.0)
    assert rows["power-1"].most_a == pytest.approx(4.5)
    tree = tree_of(machine_of(found.build, found.scenario))
    assert tree.on_lead(tree.leads[0]).at_start_12v_a == pytest.approx(6.0)
