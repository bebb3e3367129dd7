"""Nothing that is owned is taken for empty, forgotten or given up for another's sake.

Every case is a way in which the only copy of something could have been erased.
"""

import json
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from optibox.build import save_build
from optibox.build.items import OWNED_SUFFIX
from optibox.cli import app
from optibox.errors import ScenarioError
from optibox.migration import BORROWED, route_of, solve
from optibox.migration import task_of as task_of_build
from optibox.report.migration import step_text
from optibox.rules.reach import reach_findings
from optibox.scenario import OwnedPart, read_scenario
from tests.unit.migration.moves import task_of, walk
from tests.unit.migration.test_task import HARD, owned_build

OLD = {"old_array": "tank"}


def of_kind(route, kind):
    return [s for s in route.steps if s.action.kind == kind]


def half_of_an_array():
    """Return a build with one half of an old array; the other half lies beside it."""
    build, asked = owned_build(count=1, held_tb=2, old_array="tank")
    other = asked.owned[0].model_copy(
        update={"id": "other-half", "count": 1, "sits_in": "another machine"}
    )
    mine = asked.owned[0].model_copy(update={"sits_in": "another machine"})
    asked = asked.model_copy(update={"owned": (mine, other)})
    items = tuple(
        replace(e, item=replace(e.item, owned=mine)) if e.item.owned else e
        for e in build.items
    )
    return replace(build, items=items), asked


def test_a_saved_build_knows_the_members_of_an_old_array_that_it_does_not_use(tmp_path):
    build, asked = half_of_an_array()
    path = tmp_path / "build.toml"
    save_build(build, path, "test", asked)
    done = CliRunner().invoke(app, ["migrate", str(path)])
    assert done.exit_code == 0, done.output
    assert "4.00 TB copied" in done.stdout
    assert "other-half" in done.stdout


def test_a_build_that_does_not_know_the_other_members_is_refused(tmp_path):
    build, _ = half_of_an_array()
    path = tmp_path / "build.toml"
    save_build(build, path, "test")
    done = CliRunner().invoke(app, ["migrate", str(path)])
    assert done.exit_code == 3
    assert "array_members" in " ".join(done.stdout.split())
    assert "Re-initialise" not in done.stdout


def test_a_drive_named_by_hand_is_the_one_that_the_scenario_owns(tmp_path):
    scenario = tmp_path / "scenario.toml"
    scenario.write_text(
        """
        needs.usable_tb = 3
        needs.failures_survived = 0
        money.tariff_per_kwh = 0.3
        [[owned]]
        id = "hdd-35-4tb-c5400"
        held_tb = 2
        """
    )
    hand = tmp_path / "hand.toml"
    hand.write_text(
        """
        [[parts]]
        id = "hdd-35-4tb-c5400"
        count = 2
        role = "data"
        """
    )
    done = CliRunner().invoke(
        app, ["migrate", str(hand), "--scenario", str(scenario), "--format", "json"]
    )
    drives = json.loads(done.stdout)["drives"]
    held = {d["name"]: d["held_b"] for d in drives}
    assert sorted(d["is_bought"] for d in drives if d["role"] == "data") == [
        False,
        True,
    ]
    assert 2 * 10**12 in held.values()


def test_redundancy_of_an_old_array_in_use_is_no_empty_drive():
    """Were its empty member lent, the array could not miss one while it is read."""
    tank = {**OLD, "where": "loose"}
    task = task_of([(4, 4), (4, 0)], [(4, 0)], [(8, 3, tank), (8, 0, tank)], bays=3)
    lent = {n for s in solve(task).steps for n in s.action.disks}
    assert not {n for n in lent if n.startswith("old ")}
    free = task_of([(4, 4), (4, 4)], (), [(8, 3, tank), (8, 0, tank)])
    assert not solve(free).is_safe
    alone = task_of([(4, 4), (4, 4)], (), [(8, 0)])
    assert solve(alone).is_safe


def test_a_drive_with_pending_sectors_is_never_the_only_place():
    weak = task_of([(8, 8), (8, 8)], beside=[(8, 0, {"is_failing": True})])
    route = solve(weak)
    assert not route.is_safe
    assert BORROWED in {d.name for d in route.task.disks}
    parity = {"is_failing": True}
    assert not solve(task_of([(8, 8), (4, 0)], [(8, 0, parity)])).is_safe


def test_pending_drives_are_read_before_the_others():
    data = [(8, 0), (8, 4), (8, 4, {"is_failing": True})]
    first = of_kind(solve(task_of(data)), "copy")[0]
    assert first.action.moves[0][0] == "data-3"


def test_what_lies_on_an_unused_drive_with_pending_sectors_is_named():
    build, asked = owned_build(count=2, held_tb=1)
    tired = asked.owned[0].model_copy(
        update={"id": "tired", "count": 1, "pending_sectors": 3, "held_tb": None}
    )
    asked = asked.model_copy(update={"owned": (*asked.owned, tired)})
    findings = {f.rule: f for f in reach_findings(route_of(build, asked))}
    assert "tired has pending sectors: copy this one first" in findings["S4"].evidence


def test_more_than_a_file_system_holds_is_not_cut_off():
    """7.99 TB on an 8 TB drive: a file system that keeps 2 % has room for 7.84."""
    route = solve(task_of([(784, 799), (784, 0)]))
    assert route.held_b == 799
    alone = solve(task_of([(784, 799)], [(784, 0)]))
    assert alone.shortage.homeless_b == 15


@pytest.mark.parametrize(
    ("history", "words"),
    [
        ({"holds_data": True, "held_tb": 0.0}, "says that there is something"),
        ({"array_role": "parity", "held_tb": 1.0}, "a parity drive holds no files"),
        ({"serials": ("1", "2")}, "for 1 of them"),
    ],
)
def test_contradictions_are_refused(history, words):
    with pytest.raises(ValueError, match=words):
        OwnedPart(id="x", **history)


HEAD = "needs.usable_tb = 4\nmoney.tariff_per_kwh = 0.3\n"
DRIVE = '[[owned]]\nid = "hdd-35-4tb-c5400"\n'


@pytest.mark.parametrize(
    ("lines", "field", "problem"),
    [
        (DRIVE + 'old_array = "tank"', "array_members", "is listed alone"),
        (
            DRIVE + 'old_array = "tank"\narray_members = 3\ncount = 2',
            "array_members",
            "cannot be read",
        ),
        (
            DRIVE + 'old_array = "tank"\narray_members = 1\ncount = 2',
            "array_members",
            "is less than the 2 drives",
        ),
        (DRIVE + "array_members = 3", "array_members", "belongs to no old array"),
        (DRIVE + 'second_copy_on = "cellar"', "second_copy_on", "does not say so"),
        (
            DRIVE + 'second_copy = true\nsecond_copy_on = "hdd-35-4tb-c5400"',
            "second_copy_on",
            "is the drive itself",
        ),
        (
            '[[owned]]\nkind = "hard drive"\nid = "parity-1"\nclass = "x"',
            "id",
            "reads like a role",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_its_key(tmp_path, lines, field, problem):
    path = tmp_path / "scenario.toml"
    path.write_text(HEAD + lines)
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path)
    assert any(
        fault.field.endswith(field) and problem in fault.problem
        for fault in caught.value.faults
    )


def test_an_array_that_may_miss_a_member_is_read_without_it(tmp_path):
    path = tmp_path / "scenario.toml"
    path.write_text(
        HEAD + DRIVE + 'old_array = "tank"\narray_members = 3\ncount = 2\n'
        "array_may_miss = 1"
    )
    scenario, _ = read_scenario(path)
    assert scenario.owned[0].array_members == 3


def test_drives_that_back_each_other_up_are_not_both_erased():
    build, asked = owned_build(count=2, held_tb=1, second_copy=True)
    (mine,) = asked.owned
    kept = mine.model_copy(update={"second_copy_on": "in the cellar"})
    crossed = mine.model_copy(update={"second_copy_on": HARD})
    for owned, expected in ((kept, True), (crossed, False)):
        task = task_of_build(build, asked.model_copy(update={"owned": (owned,)}))
        assert {d.has_copy for d in task.built if d.held_b} == {expected}


def test_second_copies_come_back_or_stay_and_both_is_said():
    kept = {"has_copy": True}
    away = {"has_copy": True, "comes_back": False}
    assert solve(task_of([(8, 8, kept), (4, 4, kept)])).is_safe
    # 8 and 8 do not go onto the one data drive of 8, unless one stays where it is
    assert solve(task_of([(8, 8, kept)], [(8, 8, kept)])).shortage.homeless_b == 8
    route = solve(task_of([(8, 8, kept)], [(8, 8, away)]))
    assert route.is_safe
    assert route.copied_b == 8
    walk(route.task, route.steps)
    first, last = route.exposed()["parity-1"]
    assert first < last == len(route.steps)


def test_one_copy_left_is_a_warning_without_any_redundancy_too():
    route = solve(task_of([(8, 0), (8, 8)]))
    assert route.task.survives == 0
    (erase,) = of_kind(route, "erase")
    assert route.exposed() == {"data-2": (erase.number, len(route.steps))}
    assert "S2" in {f.rule for f in reach_findings(route)}


def test_a_split_old_array_is_not_taken_for_readable():
    build, asked = owned_build(count=2, held_tb=1, old_array="tank")
    here = asked.owned[0].model_copy(update={"sits_in": "this machine"})
    there = here.model_copy(
        update={"id": "far", "count": 1, "sits_in": "another machine"}
    )
    split = asked.model_copy(update={"owned": (here, there)})
    assert "sit in two machines" in route_of(build, split).shortage.torn
    one = there.model_copy(update={"sits_in": "this machine"})
    whole = asked.model_copy(update={"owned": (here, one)})
    assert not task_of_build(build, whole).torn


def test_a_machine_that_is_taken_apart_is_not_read_over_the_network():
    build, asked = owned_build(count=2, held_tb=1, sits_in="another machine")
    assert {d.where for d in task_of_build(build, asked).built if d.held_b} == {
        "remote"
    }
    entry = next(e for e in build.items if e.item.part.kind == "board")
    owned = OwnedPart(id="their-board", part=entry.item.part, sits_in="another machine")
    mine = replace(entry.item, owned=owned, key="their-board" + OWNED_SUFFIX)
    items = tuple(replace(entry, item=mine) if e is entry else e for e in build.items)
    task = task_of_build(replace(build, items=items), asked)
    assert {d.where for d in task.built if d.held_b} == {"loose"}


def test_bought_drives_get_a_full_pass_before_anything_relies_on_them():
    build, asked = owned_build(count=2, held_tb=1)
    route = route_of(build, asked)
    (test,) = of_kind(route, "test")
    assert set(test.action.disks) == {d.name for d in route.task.built if d.is_bought}
    assert test.number < of_kind(route, "create")[0].number
    assert test.hours > 5  # 4 TB at less than 200 MB/s


def test_originals_are_erased_as_late_as_room_allows():
    data = [(8, 0), (8, 0), (8, 2), (8, 2)]
    late = [s.action.kind for s in solve(task_of(data)).steps]
    assert late.index("erase") > len(late) - 1 - late[::-1].index("verify")
    early = solve(replace(task_of(data), erases_late=False))
    kinds = [s.action.kind for s in early.steps]
    assert kinds.index("erase") < len(kinds) - 1 - kinds[::-1].index("copy")
    assert early.copied_b == 4


def test_a_step_that_destroys_says_which_drive_it_is():
    build, asked = owned_build(count=2, held_tb=1, serials=("X1AB", "X2CD"))
    route = route_of(build, asked)
    text = " ".join(step_text(route.task, s) for s in of_kind(route, "erase"))
    for fact in (f'"{HARD}"', "ends in X1AB", "ends in X2CD", "4 TB", "bay 3.5-"):
        assert fact in text
    assert "Read that back aloud from the label" in text
