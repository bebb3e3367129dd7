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
    hours = f" About {hours_words(route.hours)} in all" if route.hours >= 1 else ""
    return (
        f"{counted(len(route.steps), 'step')}, {tb(route.copied_b)} copied{again}; "
        f"no order copies less.{hours}"
    ).rstrip(".")


def hours_words(hours: float) -> str:
    """Return how long something takes: days of round-the-clock work from two on.

    Examples
    --------
    >>> hours_words(0.25), hours_words(9.6), hours_words(60)
    ('15 min', '10 h', '60 h (2.5 days day and night)')
    """
    if hours < 1:
        return f"{max(5, round(hours * 12) * 5)} min"
    words = f"{hours:.0f} h"
    return f"{words} ({hours / 24:.1f} days day and night)" if hours >= 48 else words


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
        first = f"{MARGIN}[ ] {step.number:>{digits}}. "
        lines += wrapped(step_text(route.task, step), width, first)
        lines += wrapped(state_text(step), width, " " * len(first))
    for text in left_over(route):
        lines += wrapped(text, width, MARGIN, MARGIN * 2)
    return lines


def left_over(route: Route) -> tuple[str, ...]:
    """Return what lies about when all steps are done: stale copies, drives without use."""
    if not route.steps:
        return ()
    sources = {s.name: s for s in route.task.sources}
    stale = [
        route.task.disk(n)
        for s in sources.values()
        for n in s.disks
        if not route.task.disk(n).is_built and route.task.disk(n).held_b
    ]
    stale += [
        route.task.disk(n)
        for step in route.steps
        if step.action.kind == "return"
        for n in step.action.disks
    ]
    found = []
    if stale:
        names = and_list(called(disk) for disk in stale)
        found.append(
            f"Left over with copies that grow stale: {names}. Keep them until the full "
            "check is done and a backup exists, then wipe them: erase the whole drive "
            "before it leaves the house."
        )
    away = and_list(s.name for s in sources.values() if s.stays_away)
    if away:
        found.append(f"Not brought back, and in one place only from then on: {away}.")
    return tuple(found)


def called(disk: Disk) -> str:
    """Return a drive by its role and by what its owner calls it.

    What its owner calls it stands in quotes, so that no id passes for a role.
    """
    facts = [f'"{clean(disk.owner_id)}"'] if disk.owner_id else []
    if disk.serial:
        facts.append(f"serial number ends in {clean(disk.serial)}")
    known = [x for x in facts if x.strip('"') != disk.name]
    return f"{disk.name} ({', '.join(known)})" if known else disk.name


def label_words(disk: Disk) -> str:
    """Return all by which hands tell a drive from another."""
    facts = [called(disk)]
    if disk.tb:
        facts.append(f"{disk.tb:g} TB")
    if disk.bay:
        facts.append(f"bay {disk.bay}")
    return ", ".join(facts)


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
            yield f"{called(disk)} {clean(disk.label)} ({', '.join(_facts(disk, lent))})"
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


def _facts(disk: Disk, lent: set[str]) -> Iterator[str]:
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
            where_copy = f" on {clean(disk.copy_on)}" if disk.copy_on else " elsewhere"
            yield f"second copy{where_copy}"
            if not disk.comes_back:
                yield "not brought back"
        if disk.old_array:
            yield f"of the old array {clean(disk.old_array)}"
    elif disk.where != "new":
        yield "of an old array, no files" if disk.old_array else "empty"
    if disk.is_built:
        yield f"in the end {disk.role}{f' in bay {disk.bay}' if disk.bay else ''}"
    elif disk.name in lent:
        yield "serves for a while, taken out in the end"
    else:
        yield "taken out in the end"


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
        which = "; ".join(label_words(task.disk(name)) for name in action.disks)
        return (
            f"Re-initialise {names}. {_destroyed(step)} Which one: {which}. Read that "
            "back aloud from the label before you confirm."
        )
    texts = {
        "take out": f"Switch off and take {named(task, action)} out; what is on it stays.",
        "seat": f"Switch off and see that each drive stands in its bay: "
        f"{_placed(task, action)}.",
        "test": f"Write and read every sector of {names} once, and look at its error "
        "counters, before anything relies on it.",
        "build": f"Build the redundancy on {names} and wait for its end: only then does "
        "it count.",
        "check": "Check the whole array once: read every drive and compare.",
        "read back": f"Read back the second copy of {names}, every file.",
        "fit": f"Switch off and fit {_placed(task, action)}.",
        "lend": f"Make a file system on {names}, to serve for a while.",
        "add": f"Add {names} to the array.",
        "return": f"Switch off and take {named(task, action)} out; the copies on it "
        "grow stale.",
    }
    return texts[action.kind]


def named(task: Task, action: Action) -> str:
    """Return the drives of a step as their owner knows them."""
    return and_list(called(task.disk(name)) for name in action.disks)


def _placed(task: Task, action: Action) -> str:
    """Return drives with the bays that they go into."""
    disks = [task.disk(name) for name in action.disks]
    return and_list(
        f"{called(d)} into bay {d.bay}" if d.bay else called(d) for d in disks
    )


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
    words = [f"about {hours_words(step.hours)}"] if step.hours else []
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
