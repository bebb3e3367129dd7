"""The order of a move against an exhaustive walk through all states, and a replay."""

from hypothesis import given, settings

from optibox.migration import conditions, replay, solve
from tests.unit.migration.moves import least_copied, task_of, tasks, walk


@given(task=tasks())
@settings(deadline=None)
def test_no_order_copies_less_and_a_missing_one_is_missing(task):
    route, least = solve(task), least_copied(task)
    assert route.is_safe == (least is not None)
    if route.is_needed and route.is_safe:
        assert route.copied_b == least


@given(task=tasks())
@settings(deadline=None)
def test_what_is_borrowed_is_enough_and_a_little_less_is_not(task):
    route = solve(task)
    if route.is_safe:
        return
    lack, homeless = route.shortage.borrow_b, route.shortage.homeless_b
    if homeless:
        need = sum(d.held_b for d in task.built)  # second copies come back too
        assert need > sum(u.room_b for u in task.units)
        return
    assert least_copied(task, borrowed=lack) is not None
    assert least_copied(task, borrowed=lack - 1) is None


@given(task=tasks(most=5))
@settings(deadline=None)
def test_steps_lose_nothing_by_a_replay_that_knows_single_files(task):
    route = solve(task)
    if not route.steps:
        assert not route.is_needed or route.shortage.homeless_b
        return
    assert replay(route.task, tuple(s.action for s in route.steps)) == route.steps
    walk(route.task, route.steps)


@given(task=tasks(most=6))
@settings(deadline=None)
def test_the_conditions_say_the_same_without_a_search(task):
    is_safe, holds = solve(task).is_safe, all(c.holds for c in conditions(task))
    if task.layout == "pairs" and len({d.room_b for d in task.built}) > 1:
        assert holds or not is_safe  # of unequal pairs they are necessary
    else:
        assert is_safe == holds


@given(task=tasks(most=5))
@settings(deadline=None)
def test_more_room_never_hurts(task):
    wider = task_of(
        [(d.room_b, d.held_b, {"has_copy": d.has_copy}) for d in _of(task, "data")],
        [(d.room_b, d.held_b, {"has_copy": d.has_copy}) for d in _of(task, "parity")],
        [(d.room_b, 0) for d in _of(task, "beside")] + [(6, 0)],
        task.layout,
    )
    before, after = solve(task), solve(wider)
    if before.is_safe:
        assert after.is_safe
        assert after.copied_b <= before.copied_b


def _of(task, role):
    return [d for d in task.disks if d.role == role]
