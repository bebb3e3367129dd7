"""A move of data as text: what to do, what is where, what each step destroys."""

from collections.abc import Iterable, Iterator

from optibox.migration import ELSEWHERE, Action, Disk, Places, Route, Step, Task
from optibox.migration.records import Move
from optibox.present.cautions import cautions_for
from optibox.present.order_text import MARGIN
from optibox.present.words import wrapped
from optibox.report.words import and_list, capital, clean, counted
from optibox.rules import Finding
from optibox.rules.reach import reach_findings
from optibox.units import BYTES_PER_TB

_LAYOUTS = {
    "independent": "independent drives",
    "striped": "a stripe",
    "pairs": "mirrored pairs",
    "striped pairs": "a stripe of mirrored pairs",
}


TITLE = "Moving the data"


def summary(route: Route) -> str:
    """Return in a sentence whether there is a safe order, and what it takes."""
    if route.shortage is None:
        return f"Safe order: {_effort(route)}."
    if route.steps:
        return f"No safe order yet. With what is missing: {_effort(route)}."
    return "No safe order."


def _effort(route: Route) -> str:
    again = ""
    if route.twice_b:
        again = f", {tb(route.twice_b)} of them a second time for want of room"
    return (
        f"{counted(len(route.steps), 'step')}, {tb(route.copied_b)} copied{again}; "
        "no order copies less"
    )


def migration_page(route: Route, width: int) -> list[str]:
    """Return the whole answer about a move of data."""
    if not route.is_needed:
        text = (
            "Nothing to move: no drive of this build holds data. Fit, make the array, "
            "then copy your files onto it."
        )
        idle = f" {capital(_idle(route))}." if _idle(route) else ""
        return wrapped(text + idle, width)
    cautions = [c for step in ("drives", "run") for c in cautions_for(step)]
    texts = dict.fromkeys(c.text for c in cautions if c.key in _CAUTIONS)
    warned = [x for text in texts for x in wrapped(text, width, f"{MARGIN}! ")]
    return [
        TITLE,
        *migration_lines(route, width, reach_findings(route)),
        *warned,
    ]


_CAUTIONS = ("labels", "copies", "platters", "backup", "wipe")


def migration_lines(route: Route, width: int, findings: Iterable[Finding]) -> list[str]:
    """Return findings, drives and steps of a move as lines of a width."""
    lines = wrapped(summary(route), width, MARGIN)
    for finding in findings:
        mark = "" if finding.severity == "information" else f"{finding.severity}: "
        fix = f"; {finding.fix}" if finding.fix else ""
        text = f"{mark}{capital(finding.evidence)}{fix} [{finding.rule}]"
        lines += wrapped(text, width, MARGIN, MARGIN * 2)
    lines += wrapped(f"Drives: {'; '.join(_drives(route))}.", width, MARGIN, MARGIN * 2)
    digits = len(str(len(route.steps)))
    for step in route.steps:
        first = f"{MARGIN}{step.number:>{digits}}. "
        lines += wrapped(step_text(route.task, step), width, first)
        lines += wrapped(state_text(step), width, " " * len(first))
    return lines


def tb(amount_b: int) -> str:
    """Return bytes in TB.

    Examples
    --------
    >>> tb(3_920_000_000_000)
    '3.92 TB'
    """
    return f"{amount_b / BYTES_PER_TB:.2f} TB"


def _drives(route: Route) -> Iterator[str]:
    """Yield each drive of the move with what it holds."""
    sources = {name for source in route.task.sources for name in source.disks}
    lent = {n for s in route.steps if s.action.kind == "lend" for n in s.action.disks}
    for disk in route.task.disks:
        if disk.is_built or disk.name in sources | lent:
            yield f"{disk.name} {clean(disk.label)} ({', '.join(_facts(disk))})"
    if _idle(route):
        yield _idle(route)


def _idle(route: Route) -> str:
    """Return the drives that hold data and are not reused, in words."""
    sources = {name for source in route.task.sources for name in source.disks}
    left = [
        d.name
        for d in route.task.disks
        if not d.is_built and d.held_b and d.name not in sources
    ]
    return f"not reused and left as they are: {and_list(left)}" if left else ""


def _facts(disk: Disk) -> Iterator[str]:
    where = {
        "new": "new",
        "here": "in this machine",
        "loose": "loose",
        "remote": "in another machine",
    }
    yield where[disk.where]
    if disk.held_b:
        full = ", counted full" if disk.is_counted_full else ""
        yield f"holds {tb(disk.held_b)}{full}"
        if disk.has_copy:
            yield "second copy elsewhere"
        if disk.old_array:
            yield f"of the old array {clean(disk.old_array)}"
    elif disk.where != "new":
        yield "empty"


def step_text(task: Task, step: Step) -> str:
    """Return what to do in one step."""
    action, names = step.action, and_list(step.action.disks)
    if action.kind == "create":
        return f"Make the array ({_LAYOUTS[task.layout]}) of {names}."
    if action.kind in ("copy", "restore"):
        return f"{_copies(action)}."
    if action.kind == "verify":
        return f"Read the copies back and compare every file: {_targets(action.moves)}."
    if action.kind == "erase":
        return f"Re-initialise {names}. {_destroyed(step)}"
    texts = {
        "take out": f"Switch off and take {names} out; what is on it stays.",
        "read back": f"Read back the second copy of {names}, every file.",
        "fit": f"Switch off and fit {_placed(task, action)}.",
        "lend": f"Make a file system on {names}, to serve for a while.",
        "add": f"Add {names} to the array.",
        "return": f"Wipe {names} and take it out. {_destroyed(step)}",
    }
    return texts[action.kind]


def _placed(task: Task, action: Action) -> str:
    """Return drives with the bays that they go into."""
    disks = [task.disk(name) for name in action.disks]
    return and_list(f"{d.name} (bay {d.bay})" if d.bay else d.name for d in disks)


def _copies(action: Action) -> str:
    """Return copies by where they come from."""
    groups: dict[str, list[Move]] = {}
    for move in action.moves:
        start = f"{move[0]} from its second copy" if move[1] == ELSEWHERE else move[1]
        groups.setdefault(start, []).append(move)
    word = "Restore" if action.kind == "restore" else "Copy"
    parts = []
    for start, moves in groups.items():
        targets = and_list(f"{tb(n)} to {where}" for _, _, where, n in moves)
        parts.append(f"{start}: {targets}")
    return f"{word} {'; '.join(parts)}"


def _targets(moves: tuple[Move, ...]) -> str:
    found = dict.fromkeys(where for _, _, where, _ in moves)
    return and_list(found)


def _destroyed(step: Step) -> str:
    """Return what a step destroys and where else it is."""
    gone = [
        f"its {tb(n)}" if name == of else f"{tb(n)} of {of} on {name}"
        for name, of, n in step.destroys
        if n
    ]
    if not gone:
        return "Nothing is on it."
    kept = [f"files of {name} are on {_together(where)}" for name, where in step.copies]
    return f"Destroys {and_list(gone)}; {'; '.join(kept)}."


def _together(where: tuple[str, ...]) -> str:
    """Return places that hold one set of files between them, second copies beside."""
    inside = [w for w in where if w != ELSEWHERE]
    text = " with ".join(inside)
    both = [text, "its second copy elsewhere"] if ELSEWHERE in where else [text]
    return " and ".join(word for word in both if word)


def state_text(step: Step) -> str:
    """Return what there is after a step: room, redundancy, places, second copies."""
    words = []
    if step.free_b or step.survives:
        words.append(f"array {tb(step.free_b)} free, {_survives(step.survives)}")
    if step.lent_b:
        words.append(f"lent drives {tb(step.lent_b)} free")
    words.append(_left(step.left))
    if step.action.kind in ("copy", "verify", "restore"):
        words += _second_copies(step)
    if step.exposed:
        words.append(f"in one place only: {and_list(step.exposed)}")
    return f"[{'; '.join(words)}]"


def _second_copies(step: Step) -> Iterator[str]:
    """Yield where the second copy of each source is, while its first one stands."""
    starts = {move[1] for move in step.action.moves}
    read = "" if step.action.kind == "verify" else ", not read back yet"
    for name, where in step.copies:
        rest = tuple(w for w in where if w not in starts)
        yield f"copy of {name}: {_together(rest)}{read}"


def _left(left: Places) -> str:
    """Return bays and ports left."""
    bays = [
        f"{n} bay{'s' if n > 1 else ''} of {size} inch"
        for n, size in ((left.bays_35, "3.5"), (left.bays_25, "2.5"))
        if n
    ]
    ports = counted(left.ports, "port") if left.ports else "no port"
    return f"free: {', '.join(bays) or 'no bay'}, {ports}"


def _survives(count: int) -> str:
    if not count:
        return "no redundancy yet"
    return f"survives {counted(count, 'failed drive')}"
