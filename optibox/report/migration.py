"""A move of data as text: what to do, what is where, what each step destroys."""

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from optibox.migration import ELSEWHERE, Action, Disk, Places, Route, Step, Task
from optibox.migration.records import Move
from optibox.report.as_json import FORMAT
from optibox.report.cautions import cautions_for
from optibox.report.document import (
    Block,
    Column,
    Document,
    Item,
    Items,
    Note,
    Row,
    Table,
    cautions,
    notes,
    section,
)
from optibox.report.settle import finding_text
from optibox.report.words import and_list, capital, counted
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


@dataclass(frozen=True, kw_only=True)
class MigrationReport:
    """How to reach a build when its drives hold data."""

    route: Route

    def document(self) -> Document:
        """Return every step with what it destroys, cautions at the end."""
        route = self.route
        if not route.is_needed:
            text = (
                "Nothing to move: no drive of this build holds data. Fit, make the array, "
                "then copy your files onto it."
            )
            idle = f" {capital(_idle(route))}." if _idle(route) else ""
            return Document(verdict=(text + idle,), data=self._data())
        told = [c for step in ("drives", "run") for c in cautions_for(step)]
        texts = dict.fromkeys(c.text for c in told if c.key in _CAUTIONS)
        blocks = migration_blocks(route, reach_findings(route))
        return Document(
            verdict=(),
            lead=section(TITLE, *blocks, cautions(texts)),
            data=self._data(),
            title=TITLE,
        )

    def _data(self) -> Table:
        """Return the steps, one a row."""
        keys = ["number", "kind", "drives", "array_free_b", "lent_free_b"]
        keys += [
            "bays_35_free",
            "bays_25_free",
            "ports_free",
            "failures_survived",
            "hours",
            "done",
            "text",
        ]
        steps = [_step_dict(self.route, step) for step in self.route.steps]
        rows = (x | {"drives": "; ".join(x["drives"]), "done": ""} for x in steps)
        return Table(
            columns=tuple(Column(key=key) for key in keys),
            rows=tuple(Row(cells=tuple(row[key] for key in keys)) for row in rows),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the move for programs."""
        return {"format": FORMAT, **migration_dict(self.route)}


_CAUTIONS = ("labels", "copies", "platters", "backup", "wipe")


def migration_blocks(route: Route, findings: Iterable[Finding]) -> tuple[Block, ...]:
    """Return findings, drives and steps of a move."""
    told = (
        ("" if f.severity == "information" else f"{f.severity}: ") + finding_text(f)
        for f in findings
    )
    digits = len(str(len(route.steps)))
    steps = (
        Item(
            mark=f"[ ] {step.number:>{digits}}.",
            text=step_text(route.task, step),
            details=(state_text(step),),
        )
        for step in route.steps
    )
    return (
        Note(summary(route)),
        notes([*told, f"Drives: {'; '.join(_drives(route))}."]),
        Items(tuple(steps)),
        notes(left_over(route)),
    )


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
    facts = [f'"{disk.owner_id}"'] if disk.owner_id else []
    if disk.serial:
        facts.append(f"serial number ends in {disk.serial}")
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


def migration_dict(route: Route) -> dict[str, Any]:
    """Return a move of data for programs: bytes as whole numbers, ``_b`` in each key.

    Keys: ``needed`` (whether reused drives hold data), ``safe``, ``copied_b``,
    ``copied_again_b`` (for want of room), ``shortage`` (null where safe), ``drives``,
    ``findings`` and ``steps``.
    """
    return {
        "needed": route.is_needed,
        "safe": route.is_safe,
        "held_b": route.held_b,
        "copied_b": route.copied_b,
        "copied_again_b": route.twice_b,
        "hours": round(route.hours, 2),
        "left_over": list(left_over(route)),
        "shortage": route.shortage and asdict(route.shortage),
        "drives": [asdict(disk) for disk in route.task.disks],
        "findings": [asdict(finding) for finding in reach_findings(route)],
        "steps": [_step_dict(route, step) for step in route.steps],
    }


def _step_dict(route: Route, step: Step) -> dict[str, Any]:
    return {
        "number": step.number,
        "kind": step.action.kind,
        "drives": list(step.action.disks),
        "copies": [
            {"files_of": of, "from": start, "to": where, "amount_b": n}
            for of, start, where, n in step.action.moves
        ],
        "text": step_text(route.task, step),
        "destroys": [
            {"drive": name, "files_of": of, "amount_b": n}
            for name, of, n in step.destroys
        ],
        "files": [{"files_of": name, "on": list(where)} for name, where in step.copies],
        "array_free_b": step.free_b,
        "lent_free_b": step.lent_b,
        "bays_35_free": step.left.bays_35,
        "bays_25_free": step.left.bays_25,
        "ports_free": step.left.ports,
        "failures_survived": step.survives,
        "hours": round(step.hours, 2),
        "in_one_place_only": list(step.exposed),
    }


def _drives(route: Route) -> Iterator[str]:
    """Yield each drive of the move with what it holds."""
    sources = {name for source in route.task.sources for name in source.disks}
    lent = {n for s in route.steps if s.action.kind == "lend" for n in s.action.disks}
    for disk in route.task.disks:
        if disk.is_built or disk.name in sources | lent:
            facts = ", ".join(_facts(disk, lent))
            yield f"{called(disk)} {disk.label} ({facts})"
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
            where_copy = f" on {disk.copy_on}" if disk.copy_on else " elsewhere"
            yield f"second copy{where_copy}"
            if not disk.comes_back:
                yield "not brought back"
        if disk.old_array:
            yield f"of the old array {disk.old_array}"
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
