"""Whether a build can be reached without losing what owned drives hold.

These findings are told by plan, check and migrate. They are not in the register: the
planner has no row for them, and would exclude what they refuse one by one.
"""

from collections.abc import Iterator

from optibox.migration import Route, Shortage
from optibox.rules.register import Finding, error, information, warning
from optibox.units import BYTES_PER_TB

SAFE_ORDER, ONE_PLACE, COUNTED_FULL = "S1", "S2", "S3"


def reach_findings(route: Route) -> tuple[Finding, ...]:
    """Return what a move of data has to say: errors first.

    Parameters
    ----------
    route : Route
        The order of steps to a build, or what it lacks.
    """
    return tuple(_findings(route))


def _findings(route: Route) -> Iterator[Finding]:
    if route.shortage is not None:
        yield _refused(route, route.shortage)
    exposed = route.exposed()
    if exposed:
        amount = sum(s.held_b for s in route.task.sources if s.name in exposed)
        first = min(start for start, _ in exposed.values())
        last = max(end for _, end in exposed.values())
        yield warning(
            ONE_PLACE,
            f"from step {first} to step {last} files of {_names(exposed)} are in one "
            "place without redundancy: one failed drive would lose them",
            f"a second copy of {tb(amount)} elsewhere, read back, closes the gap",
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


def _refused(route: Route, shortage: Shortage) -> Finding:
    if shortage.homeless_b:
        return error(
            SAFE_ORDER,
            f"no safe order: reused drives hold {tb(route.held_b)}, "
            f"{tb(shortage.homeless_b)} more than the new array",
            "state what they really hold (held_tb), buy a larger drive, leave a held "
            "drive out, or copy it elsewhere and say second_copy = true",
        )
    source, lack = shortage.source, tb(shortage.borrow_b)
    place = " (in a dock or another machine: no bay or port is free)"
    return error(
        SAFE_ORDER,
        f"no safe order: {source} holds {tb(shortage.source_b)} has to be erased, and "
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
