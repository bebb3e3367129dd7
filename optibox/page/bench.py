"""The way to the bench: one step at a time, each with the cautions it needs."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass

from optibox.assess import Assessment
from optibox.present.cautions import cautions_for
from optibox.present.order import STEPS, OrderRow, order_list
from optibox.present.sections import card_words
from optibox.present.words import capital, rate, watts
from optibox.present.wiring_map import WiringRow, card_rows, power_rows, wiring_rows

_FIT = ("case and power", "board", "cards", "drives")
_WIRE = ("data cables", "power to the drives", "network")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: what to do, and what to keep in mind."""

    phase: str
    """Fit, wire, measure or copy."""
    title: str
    lines: tuple[str, ...]
    """Each can be ticked."""
    cautions: tuple[str, ...] = ()
    """Keys of cautions."""


def bench_steps(found: Assessment) -> list[dict[str, object]]:
    """Return the steps from the box to the first copy, in order."""
    return [asdict(step) for step in _steps(found) if step.lines]


def _steps(found: Assessment) -> Iterator[Step]:
    rows = order_list(found)
    for name in _FIT:
        lines = tuple(_part_lines(found, rows, name))
        yield _step("Fit", capital(name), lines, name)
    for row in wiring_rows(found):
        if row.cable or row.host:
            steps = ("data cables",) if row.leg else ()
            yield _step("Wire", _drive_title(row), tuple(_wire(row)), *steps)
    leads = tuple(_power_lines(found, rows))
    yield _step("Wire", "Power to the drives", leads, "power to the drives")
    network = tuple(_words(row) for row in rows if row.step == "network")
    yield _step("Wire", "Network", network, "network")
    yield from _measuring(found)
    yield from _copying(found)


def _step(phase: str, title: str, lines: tuple[str, ...], *steps: str) -> Step:
    keys = dict.fromkeys(c.key for step in steps for c in cautions_for(step))
    return Step(phase=phase, title=title, lines=lines, cautions=tuple(keys))


def _words(row: OrderRow) -> str:
    return f"{row.count} x {row.label}" if row.count > 1 else row.label


def _part_lines(
    found: Assessment, rows: tuple[OrderRow, ...], step: str
) -> Iterator[str]:
    if step == "drives":
        for drive in wiring_rows(found):
            if drive.bay:
                where = f"bay {drive.bay}"
                frame = f", in adapter {drive.adapter_id}" if drive.adapter_id else ""
                label = f"label {drive.drive} and its serial number"
                yield f"{drive.label} into {where}{frame}; {label}"
            elif drive.slot:
                yield f"{drive.label} into {drive.port_words}"
        return
    if step == "cards":
        for card in card_rows(found):
            yield card_words(card)
        return
    yield from (_words(row) for row in rows if row.step == step)


def _drive_title(row: WiringRow) -> str:
    bay = f", bay {row.bay}" if row.bay else ""
    return f"{row.drive}{bay}"


def _wire(row: WiringRow) -> Iterator[str]:
    if row.cable:
        yield f"Take {row.cable} [{row.cable_id}]: {row.cable_words}"
    yield f"Host end: {row.port_words}"
    far = row.leg or (f"the drive in bay {row.bay}" if row.bay else "the drive")
    yield f"Drive end: {far}"


def _power_lines(found: Assessment, rows: tuple[OrderRow, ...]) -> Iterator[str]:
    yield from (_words(row) for row in rows if row.kind == "power lead")
    for drive in wiring_rows(found):
        if drive.bay:
            yield f"{drive.drive}, bay {drive.bay}: {drive.power}"
    for power in power_rows(found):
        if power.wanted:
            yield f"{power.plug} plugs: {power.wanted} wanted, {power.given} there"


def _measuring(found: Assessment) -> Iterator[Step]:
    wall = found.wall
    yield _step(
        "Measure",
        "At the wall",
        (
            "Same outlet, same meter; 15 minutes after boot, a mean over 10 minutes",
            f"All drives asleep: {watts(wall.asleep_w)} expected",
            f"Drives spinning: {watts(wall.spinning_w)} expected",
            f"While writing: {watts(wall.writing_w)} expected",
            "All drives asleep once more: the same as at first",
        ),
        "figures",
    )
    fill = found.scenario.needs.fill_fraction
    ram = found.machine.memory_gib
    yield _step(
        "Measure",
        "Rates",
        (
            f"A test file larger than {2 * ram:g} GiB: a smaller one measures memory",
            f"Read: {rate(found.rates.read_mb_s)} expected with drives "
            f"{fill * 100:g} % full, more when they are empty",
            f"Write: {rate(found.rates.write_mb_s)} expected",
            f"Take in: {rate(found.rates.ingest_mb_s)} expected",
        ),
    )


def _copying(found: Assessment) -> Iterator[Step]:
    lines = [
        "Two copies of everything exist elsewhere, and both were read back",
        "Serial numbers and bays are written down",
        "Copy, then compare every file with its source",
        "Run one full check of the array before an old copy is given up",
        "Parity is not a backup: decide where the second copy lives from now on",
    ]
    owned = [d.name for d in found.machine.array if d.item.is_owned]
    if owned:
        lines.insert(
            1, f"Drives that were there already and may hold data: {', '.join(owned)}"
        )
    yield _step("Copy", "Copy safely", tuple(lines), "run", "drives")
