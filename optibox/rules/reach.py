"""Whether a build can be reached without losing what owned drives hold.

That there is a safe order is a rule like any other. What an order leaves to say, and
what it takes for granted, is told with its steps by plan, check and migrate.
"""

from collections.abc import Iterator

from optibox.build.items import OWNED_SUFFIX
from optibox.machine import Machine
from optibox.migration import Route, Shortage, shortage_of, solve, task_of
from optibox.rules.context import Context
from optibox.rules.halfway import powered
from optibox.rules.register import Finding, error, information, rule, warning
from optibox.scenario import OwnedPart, Scenario
from optibox.units import BYTES_PER_TB

SAFE_ORDER, ONE_PLACE, COUNTED_FULL = "S1", "S2", "S3"
PENDING_FIRST = "S4"


@rule(
    SAFE_ORDER,
    "Drives that hold data are reached by a safe order of steps",
    "Somewhere on the way the only copy would have to be erased.",
    remedy="Borrow or buy a drive first, or copy elsewhere.",
)
def safe_order(context: Context) -> Iterator[Finding]:
    """Yield an error where what the scenario's drives hold cannot be saved first."""
    if moves_data(context.machine):
        machine = context.machine
        task = powered(task_of(machine.build, machine.scenario), context)
        shortage = shortage_of(task)
        if shortage is not None:
            yield _refused(shortage)


def route_within(context: Context, scenario: Scenario) -> Route:
    """Return the order of steps to a machine, with no more drives in it than it feeds.

    Parameters
    ----------
    context : Context
        The machine with its figures.
    scenario : Scenario
        What is owned: how much each drive holds, whether that lies elsewhere too.
    """
    return solve(powered(task_of(context.machine.build, scenario), context))


def moves_data(machine: Machine) -> bool:
    """Return whether the machine uses a drive of the scenario that may hold data."""
    if machine.build.is_standing:
        return False  # its files are on its array
    held = {o.id + OWNED_SUFFIX for o in machine.scenario.owned if _may_hold(o)}
    return bool(held) and any(
        d.key in held and d.role != "boot" for d in machine.build.drives
    )


def _may_hold(owned: OwnedPart) -> bool:
    """Return whether a piece holds data, or belongs to an old array that does."""
    return not owned.holds_nothing or bool(owned.old_array)


def reach_findings(route: Route) -> tuple[Finding, ...]:
    """Return what a move of data has to say: errors first.

    Parameters
    ----------
    route : Route
        The order of steps to a build, or what it lacks.
    """
    return tuple(_findings(route))


def told_with_steps(route: Route) -> tuple[Finding, ...]:
    """Return what a move of data has to say that is no finding of the machine."""
    return tuple(f for f in reach_findings(route) if f.rule != SAFE_ORDER)


def _findings(route: Route) -> Iterator[Finding]:
    if route.shortage is not None:
        yield _refused(route.shortage)
    exposed = route.exposed()
    if exposed:
        amount = sum(s.held_b for s in route.task.sources if s.name in exposed)
        first = min(start for start, _ in exposed.values())
        last = max(end for _, end in exposed.values())
        until = "on" if last == len(route.steps) else f"to step {last}"
        builds = [
            str(s.number)
            for s in route.steps
            if s.action.kind == "build" and first < s.number <= last + 1
        ]
        told = ""
        if builds:
            told = f" (redundancy counts from the end of step {_names(builds)})"
        yield warning(
            ONE_PLACE,
            f"from step {first} {until} files of {_names(exposed)} are in one place "
            "without redundancy: one failed drive would lose them"
            f"{told}",
            f"a second copy of {tb(amount)} elsewhere, read back, closes the gap",
        )
    failing = [
        d.name for d in route.task.disks if d.is_failing and not d.is_built and d.held_b
    ]
    if failing:
        yield warning(
            PENDING_FIRST,
            f"{_names(failing)} {'has' if len(failing) == 1 else 'have'} pending "
            "sectors: copy this one first, to a sound place, before anything else",
            "read it once from end to end, gently; do not write to it",
        )
    full = [
        d.name
        for d in route.task.built
        if d.is_counted_full and d.held_b and not d.has_copy
    ]
    if full:
        yield information(
            COUNTED_FULL,
            f"what {_names(full)} {'holds' if len(full) == 1 else 'hold'} is not "
            "stated and counts as full",
            "say held_tb, or holds_data = false, in the scenario",
        )


def _refused(shortage: Shortage) -> Finding:
    if shortage.torn:
        return error(
            SAFE_ORDER,
            f"no safe order: {shortage.torn}",
            "bring all members of the old array into one machine, list them with "
            "old_array, or leave its drives out",
        )
    if shortage.is_crowded:
        return error(
            SAFE_ORDER,
            "no safe order: not all drives of an old array find a bay, a port and power "
            "beside the new ones, and they are read together",
            "leave its drives out, or read it in another machine and say sits_in = "
            '"another machine"',
        )
    if shortage.homeless_b:
        return error(
            SAFE_ORDER,
            f"no safe order: reused drives hold {tb(shortage.source_b)}, "
            f"{tb(shortage.homeless_b)} more than the new array",
            "state what they really hold (held_tb), buy a larger drive, leave a held "
            "drive out, or leave files at their second copy (second_copy = true, "
            "bring_back = false)",
        )
    source, lack = shortage.source, tb(shortage.borrow_b)
    place = " (in a dock or another machine: no bay, port or power plug is free)"
    return error(
        SAFE_ORDER,
        f"no safe order: {source} holds {tb(shortage.source_b)} and has to be erased, but "
        f"{tb(shortage.room_b)} are free for it elsewhere",
        f"first borrow or buy an empty drive of {lack} or more"
        f"{place if shortage.needs_place else ''}, or copy {source} elsewhere, read it "
        "back and say second_copy = true",
    )


def _names(names: list[str] | dict[str, tuple[int, int]]) -> str:
    shown = list(names)
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def tb(amount_b: int) -> str:
    """Return bytes in TB, rounded up: what is too small by a little does not help.

    Examples
    --------
    >>> tb(3_920_000_000_001)
    '3.93 TB'
    """
    hundredths = -(-amount_b * 100 // BYTES_PER_TB)
    return f"{hundredths / 100:.2f} TB"
