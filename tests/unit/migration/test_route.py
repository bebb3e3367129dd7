"""Orders of steps worked out on paper: what is copied where, what is erased when.

The rules are common practice, no source: copy, read back, only then erase; a mirror is
completed after its first side holds the files; a stripe is made whole.
"""

from dataclasses import replace

import pytest

from optibox.errors import InternalError
from optibox.migration import BORROWED, Action, conditions, replay, solve
from tests.unit.migration.moves import task_of, walk


def kinds(route):
    return [step.action.kind for step in route.steps]


def test_a_drive_is_erased_after_its_copy_was_read_back():
    route = solve(task_of([(8, 0), (4, 4)], [(8, 0)]))
    assert kinds(route) == [
        *("fit", "create", "build", "copy", "verify", "erase", "add", "check")
    ]
    copy, _, erase = route.steps[3:6]
    assert copy.action.moves == (("data-2", "data-2", "data-1", 4),)
    assert copy.copies == (("data-2", ("data-2", "data-1")),)
    assert erase.destroys == (("data-2", "data-2", 4),)
    assert erase.copies == (("data-2", ("data-1",)),)
    assert route.copied_b == 4
    assert route.exposed() == {}


def test_free_room_places_and_redundancy_after_each_step():
    route = solve(task_of([(8, 0), (4, 4)], [(8, 0)], bays=4))
    assert [step.free_b for step in route.steps] == [0, 8, 8, 4, 4, 4, 8, 8]
    assert [step.left.ports for step in route.steps] == [1] * 8
    # redundancy counts once it was built, not when its drive is there
    assert [step.survives for step in route.steps] == [0, 0, 1, 1, 1, 1, 1, 1]


def test_what_finds_no_room_waits_on_the_parity_drive_and_is_copied_twice():
    # 8 units on one drive; the array has 4 free, the parity drive takes the other 4
    route = solve(task_of([(8, 8), (4, 0)], [(8, 0)]))
    assert (route.copied_b, route.twice_b) == (12, 4)
    assert kinds(route) == [
        *("fit", "create", "lend", "copy", "verify", "erase", "add"),
        *("copy", "verify", "erase", "add", "build", "check"),
    ]
    assert route.exposed() == {"data-1": (6, 11)}


def test_the_smaller_drive_first_saves_the_second_copy():
    # 3 free: the drive with 3 goes first and gives 8, into which the 8 of the other go
    route = solve(task_of([(3, 0), (8, 3), (8, 8)]))
    assert route.copied_b == 11
    erased = [s.action.disks for s in route.steps if s.action.kind == "erase"]
    assert erased == [("data-2",), ("data-3",)]


def test_without_any_free_drive_one_has_to_be_borrowed():
    task = task_of([(4, 3), (8, 5)], [(8, 0)], beside=())
    assert solve(task).is_safe  # the parity drive lends its room
    full = task_of([(4, 2), (8, 3)], [(8, 1)])
    route = solve(full)
    assert route.shortage.borrow_b == 1
    assert route.shortage.source == "parity-1"
    assert not route.shortage.needs_place
    assert BORROWED in {d.name for d in route.task.disks}
    walk(route.task, route.steps)


def test_borrowing_says_where_no_bay_is_free():
    route = solve(task_of([(4, 2), (8, 3)], [(8, 1)], bays=3))
    assert route.shortage.needs_place
    walk(route.task, route.steps)


def test_an_empty_drive_beside_the_machine_helps_where_a_bay_is_free():
    data = [(8, 8), (8, 0)]
    tight = task_of([(8, 8), (8, 8)], beside=[(8, 0)], bays=2)
    roomy = task_of([(8, 8), (8, 4)], beside=[(8, 0)], bays=3)
    assert solve(task_of(data)).is_safe
    assert solve(tight).shortage.needs_place
    assert solve(roomy).is_safe


def test_a_larger_drive_stands_in_for_the_parity_drive_until_the_end():
    # the parity drive of 6 is too small for the 8; the loose 8 takes its bay meanwhile
    task = task_of([(8, 8)], [(6, 0)], beside=[(8, 0)], bays=2)
    route = solve(task)
    assert route.is_safe
    walk(route.task, route.steps)
    fits = [s.action.disks for s in route.steps if s.action.kind == "fit"]
    assert fits == [("old 1",), ("parity-1",)]


def test_parity_is_fitted_last_where_an_old_array_needs_its_place():
    # three bays: one of the new array, two of the old one; parity comes in after them
    tank = {"old_array": "tank", "where": "loose"}
    task = task_of([(8, 0), (4, 3, tank)], [(8, 0)], [(4, 3, tank)], bays=3)
    route = solve(task)
    assert route.is_safe
    walk(route.task, route.steps)
    fits = [s.action.disks for s in route.steps if s.action.kind == "fit"]
    assert fits[-1] == ("parity-1",)
    assert [s.action.disks for s in route.steps if s.action.kind == "take out"] == [
        ("old 1",)
    ]
    tight = task_of([(8, 0), (4, 3, tank)], [(8, 0)], [(4, 3, tank)], bays=2)
    assert solve(tight).shortage.is_crowded


def test_files_that_the_array_cannot_hold_are_said():
    route = solve(task_of([(8, 8), (4, 0)], [(8, 8)]))
    assert route.shortage.homeless_b == 4
    assert route.steps == ()


def test_a_second_copy_elsewhere_allows_to_erase_first_and_restore():
    kept = {"has_copy": True}
    route = solve(task_of([(8, 8, kept)], [(8, 0)]))
    # the parity drive could take the files for a while: that would copy them twice
    assert kinds(route)[0] == "read back"
    assert kinds(route)[-3:] == ["restore", "verify", "check"]
    assert route.copied_b == 8


def test_with_room_the_first_copy_is_used_even_where_a_second_is_elsewhere():
    route = solve(task_of([(8, 0), (8, 8, {"has_copy": True})]))
    assert "restore" not in kinds(route)
    assert route.copied_b == 8


def test_members_of_an_old_array_are_emptied_together():
    old = {"old_array": "tank"}
    task = task_of([(8, 4, old), (8, 4, old), (8, 0)])
    route = solve(task)
    copies = [s.action for s in route.steps if s.action.kind == "copy"]
    assert sum(move[3] for move in copies[0].moves) == 8
    erased = [s.action.disks for s in route.steps if s.action.kind == "erase"]
    assert erased == [("data-1", "data-2")]
    assert not solve(task_of([(8, 4, old), (8, 5, old), (8, 0)])).is_safe


def test_a_drive_in_another_machine_is_moved_once_its_files_are_copied():
    route = solve(task_of([(8, 0), (8, 6, {"where": "remote"})]))
    kind = kinds(route)
    assert kind.index("copy") < kind.index("verify")
    moved = next(s for s in route.steps if s.action.disks == ("data-2",))
    assert moved.action.kind == "fit"
    assert moved.number > kind.index("verify")


def test_pairs_take_files_with_one_side_and_are_completed_later():
    route = solve(task_of([(4, 0), (4, 4)], layout="pairs"))
    assert kinds(route) == [
        *("fit", "create", "copy", "verify", "erase", "add", "build", "check")
    ]
    assert [s.survives for s in route.steps] == [0, 0, 0, 0, 0, 0, 1, 1]
    assert route.exposed() == {"data-2": (5, 6)}


def test_a_stripe_is_made_whole():
    task = task_of([(4, 4), (4, 0), (4, 0)], layout="striped")
    assert solve(task).shortage.borrow_b == 4
    helped = task_of([(4, 4), (4, 0), (4, 0)], beside=[(4, 0)], layout="striped")
    route = solve(helped)
    assert (route.copied_b, route.twice_b) == (8, 4)
    assert kinds(route).index("create") > kinds(route).index("erase")


def test_idle_drives_leave_the_machine_where_their_bays_are_needed():
    here = {"where": "here"}
    task = task_of([(4, 0), (4, 0), (4, 4)], beside=[(2, 2, here)], bays=3)
    route = solve(task)
    assert kinds(route)[0] == "take out"
    assert route.steps[0].destroys == ()
    walk(task, route.steps)


def test_equal_drives_do_not_multiply_the_work():
    data = [(8, 5)] * 14 + [(8, 0)]
    route = solve(task_of(data, [(8, 5), (8, 0)]))
    assert route.is_safe
    assert route.copied_b == 75


@pytest.mark.parametrize(
    ("actions", "why"),
    [
        ([Action(kind="erase", disks=("data-2",))], "nowhere else"),
        ([Action(kind="add", disks=("data-2",))], "holds data"),
        ([Action(kind="fit", disks=("data-2",))], "is there already"),
        (
            [
                Action(kind="fit", disks=("data-1",)),
                Action(kind="create", disks=("data-1",)),
                Action(kind="copy", moves=(("data-2", "data-2", "data-1", 4),)),
                Action(kind="erase", disks=("data-2",)),
            ],
            "nowhere else",
        ),
        (
            [
                Action(kind="fit", disks=("data-1",)),
                Action(kind="create", disks=("data-1",)),
                Action(kind="copy", moves=(("data-2", "data-2", "data-1", 9),)),
            ],
            "is full",
        ),
        ([Action(kind="read back", disks=("data-2",))], "no second copy"),
    ],
)
def test_replay_refuses_steps_that_are_unsafe(actions, why):
    task = task_of([(8, 0), (4, 4)])
    with pytest.raises(InternalError, match=why):
        replay(task, tuple(actions))


def test_replay_refuses_an_order_that_ends_too_early():
    task = task_of([(8, 0), (4, 4)])
    actions = tuple(s.action for s in solve(task).steps)
    with pytest.raises(InternalError, match="never join"):
        replay(task, actions[:-1])


def test_replay_refuses_more_drives_than_bays():
    task = task_of([(8, 0), (4, 4)])
    actions = tuple(s.action for s in solve(task).steps)
    tight = replace(task, places=replace(task.places, bays_35=1))
    with pytest.raises(InternalError, match="no bay"):
        replay(tight, actions)


def test_conditions_in_numbers():
    first, second, last = conditions(task_of([(8, 0), (4, 4), (6, 5)], [(8, 0)]))
    assert (first.need_b, first.have_b) == (4, 16)
    assert (second.need_b, second.have_b) == (5, 16)
    assert (last.need_b, last.have_b) == (9, 18)
