"""From a build and a scenario to the task: who holds what, where, with which room."""

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from optibox.assess import assess
from optibox.build import save_build
from optibox.build.items import OWNED_SUFFIX
from optibox.catalog.storage import nominal_sectors
from optibox.cli import app
from optibox.errors import ScenarioError
from optibox.migration import held_b, route_of, task_of
from optibox.report.migration import MigrationReport
from optibox.report.text import as_text
from optibox.rules.reach import reach_findings
from optibox.scenario import OwnedPart, as_it_stands, read_scenario
from tests.unit.present.machines import (
    invented,
    large_build,
    reference_build,
    scenario,
)

HARD = "ref-hdd-4tb-c5400"
# 4 TB by the counting rule of the trade, less the 2 % that the file system keeps
ROOM = int(nominal_sectors(4000) * 512 * 0.98)


def owned_build(count=2, **history):
    """Return the reference machine with some of its four drives owned, in it already."""
    catalog = invented()
    build = reference_build(catalog)
    owned = OwnedPart(id=HARD, part=catalog.by_id[HARD], count=count, **history)
    key = HARD + OWNED_SUFFIX
    items = []
    for entry in build.items:
        if entry.item.key == HARD:
            mine = replace(entry.item, key=key, owned=owned, limit=count)
            items += [replace(entry, count=4 - count)] if count < 4 else []
            items.append(replace(entry, item=mine, count=count))
        else:
            items.append(entry)
    array = [d.name for d in build.drives if d.key == HARD]
    mine = set(array[:count])
    drives = tuple(replace(d, key=key) if d.name in mine else d for d in build.drives)
    asked = scenario(owned=(owned.model_dump() | {"part": owned.part},))
    return replace(build, items=tuple(items), drives=drives), asked


def test_an_owned_drive_of_which_nothing_is_said_is_full():
    task = task_of(*owned_build())
    held = {d.name: d.held_b for d in task.built}
    assert held["data-1"] == held["data-2"] == ROOM
    assert held["data-3"] == held["parity-1"] == 0
    assert all(d.is_counted_full for d in task.built if d.held_b)


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        ({}, 4_000),
        ({"holds_data": True}, 4_000),
        ({"holds_data": False}, 0),
        ({"held_tb": 0.0}, 0),
        ({"held_tb": 1e-9}, 1000),
        ({"held_tb": 9}, 9 * 10**12),  # never clipped to what a file system holds
    ],
)
def test_held_bytes(history, expected):
    assert held_b(OwnedPart(id="x", **history), 4_000) == expected


def test_unit_rooms_are_those_of_the_layouts():
    build, asked = owned_build()
    units = task_of(build, asked).units
    assert [u.name for u in units] == ["data-1", "data-2", "data-3"]
    assert {u.room_b for u in units} == {ROOM}
    pairs = replace(
        build.operation, layout="pairs", n_parity=0, write_mode="plain", cache="mirror"
    )
    drives = tuple(
        replace(d, role="data") if d.role == "parity" else d for d in build.drives
    )
    units = task_of(replace(build, operation=pairs, drives=drives), asked).units
    assert {u.groups for u in units} == {
        (("data-1", "data-3"),),
        (("data-2", "parity-1"),),
    }
    stripe = replace(pairs, layout="striped", n_parity=1)
    (unit,) = task_of(replace(build, operation=stripe, drives=drives), asked).units
    assert unit.room_b == pytest.approx(3 * ROOM, abs=3)
    mirror = replace(pairs, layout="striped pairs")
    (unit,) = task_of(replace(build, operation=mirror, drives=drives), asked).units
    assert unit.room_b == 2 * ROOM
    assert len(unit.groups) == 2


def test_places_are_bays_and_ports_without_those_of_the_boot_medium():
    task = task_of(*owned_build())
    # four bays of 3.5 and two of 2.5 inch; two cards of two ports; four on the board
    assert (task.places.bays_35, task.places.bays_25) == (4, 2)
    left = task.places.left(task.built)
    assert (left.bays_35, left.bays_25) == (0, 0)


def test_the_reference_move_is_safe_and_said_in_words():
    build, asked = owned_build()
    route = route_of(build, asked)
    assert route.is_safe
    # two full drives; one empty data drive takes the first, and so on: each file once
    assert route.copied_b == 2 * ROOM
    page = as_text(MigrationReport(route=route).document())
    assert "Safe order: " in page
    assert "Re-initialise data-1. Destroys its 3.92 TB; files of data-1 are on" in page
    assert all(len(line) <= 100 for line in page.splitlines())
    (finding,) = reach_findings(route)
    assert (finding.rule, finding.severity) == ("S3", "information")


def test_all_drives_full_is_an_error_with_what_to_do():
    build, asked = owned_build(count=4)
    route = route_of(build, asked)
    error = reach_findings(route)[0]
    assert (error.rule, error.severity) == ("S1", "error")
    assert "3.93 TB more than the new array" in error.evidence
    build, asked = owned_build(count=4, held_tb=2)
    error, once, *_ = reach_findings(route_of(build, asked))
    assert "first borrow or buy an empty drive of 2.00 TB or more" in error.fix
    assert "a dock or another machine" in error.fix
    assert (once.rule, once.severity) == ("S2", "warning")


def test_the_evaluator_refuses_what_cannot_be_reached_unless_it_stands():
    build, asked = owned_build(count=4, held_tb=2)
    assert [e.rule for e in assess(build, asked).errors] == ["S1"]
    assert assess(build, as_it_stands(asked)).is_fit
    build, asked = owned_build()
    assert assess(build, asked).is_fit


def test_an_old_array_that_does_not_fit_beside_the_new_drives():
    """Four bays, four new drives, two drives of an old array that is read with them."""
    build, asked = owned_build(old_array="old", held_tb=1)
    more = asked.owned[0].model_copy(update={"count": 4})
    crowded = asked.model_copy(update={"owned": (more,)})
    assert "not all drives of an old array find a bay" in (
        assess(build, crowded).errors[0].evidence
    )
    away = more.model_copy(update={"sits_in": "another machine"})
    assert assess(build, asked.model_copy(update={"owned": (away,)})).is_fit


def test_scenario_history_replaces_that_of_the_build():
    build, asked = owned_build()
    empty = asked.owned[0].model_copy(update={"holds_data": False})
    newer = asked.model_copy(update={"owned": (empty,)})
    assert route_of(build, asked).is_needed
    assert not route_of(build, newer).is_needed


def test_drives_not_used_and_spares_lie_beside():
    build, asked = owned_build(held_tb=1)
    more = asked.owned[0].model_copy(update={"count": 3})
    task = task_of(build, asked.model_copy(update={"owned": (more,)}))
    (beside,) = [d for d in task.disks if not d.is_built]
    assert (beside.name, beside.held_b) == (HARD, 10**12)
    spares = [
        d for d in task_of(large_build(invented()), asked).disks if not d.is_built
    ]
    assert any(d.name.startswith("spare ") and not d.held_b for d in spares)


@pytest.mark.parametrize("form", ["table", "json", "csv"])
def test_command_migrate(tmp_path, form):
    build, _ = owned_build()
    path = tmp_path / "build.toml"
    save_build(build, path, "test")
    done = CliRunner().invoke(app, ["migrate", str(path), "--format", form])
    assert done.exit_code == 0, done.output
    assert "data-1" in done.stdout
    unsafe, _ = owned_build(count=4)
    save_build(unsafe, path, "test")
    done = CliRunner().invoke(app, ["migrate", str(path), "--format", form])
    assert done.exit_code == 3


def test_command_migrate_with_nothing_to_move(tmp_path):
    path = tmp_path / "build.toml"
    save_build(reference_build(invented()), path, "test")
    done = CliRunner().invoke(app, ["migrate", str(path)])
    assert done.exit_code == 0
    assert "Nothing to move" in done.stdout


def test_contradicting_history_is_refused():
    with pytest.raises(ValueError, match="holds_data says that there is nothing"):
        OwnedPart(id="x", holds_data=False, held_tb=2)


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        ('id = "hdd-35-4tb-c5400"\nheld_tb = 5', "more than one piece holds (4 TB)"),
        ('id = "chassis-tower-6b"\nheld_tb = 1', "which holds no data"),
        ('id = "hdd-35-4tb-c5400"\nsits_in = "attic"', "sits_in"),
    ],
)
def test_what_cannot_be_held_is_refused_at_its_line(tmp_path, lines, problem):
    path = tmp_path / "scenario.toml"
    head = "needs.usable_tb = 4\nmoney.tariff_per_kwh = 0.3\n[[owned]]\n"
    path.write_text(head + lines)
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path)
    (fault,) = caught.value.faults
    assert fault.line == 5
    assert problem in str(fault)
