"""The way to the bench: one step at a time, each with the cautions it needs."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from optibox.assess import Assessment
from optibox.report.cautions import cautions_for
from optibox.report.order import OrderRow, order_list
from optibox.report.plan import card_words
from optibox.report.wiring_map import (
    WiringRow,
    card_rows,
    power_rows,
    power_sentence,
    wiring_rows,
)
from optibox.report.words import capital

_FIT = ("case and power", "board", "cards", "drives")


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


def bench_steps(
    found: Assessment, order: dict[str, list[Any]], move: dict[str, Any] | None
) -> list[dict[str, object]]:
    """Return the steps from the box to the first copy, in order.

    Parameters
    ----------
    found : Assessment
        The machine.
    order : dict
        What and how to measure, as ``beside.measuring`` has it.
    move : dict, optional
        How data move, as ``beside.moving`` has it.
    """
    steps = (*_building(found), *_measuring(order), *_copying(move))
    return [asdict(step) for step in steps if step.lines]


def _building(found: Assessment) -> Iterator[Step]:
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
    bays = {row.drive: f", bay {row.bay}" for row in wiring_rows(found) if row.bay}
    for power in power_rows(found):
        what = f"adapter {power.load} ({power.label})" if power.part_id else power.load
        inlet = what.replace("backplane-", "inlet ") + " of the backplane"
        what = inlet if what.startswith("backplane-") else what
        yield f"{what}{bays.get(power.load, '')}: {power.words}"
    if rows:
        yield capital(power_sentence(found))


def _measuring(order: dict[str, list[Any]]) -> Iterator[Step]:
    """Yield what comes before measuring, the wall, the rates."""
    yield _step("Measure", "Before measuring", tuple(order["before"]), "figures")
    wall = tuple(f"{what}: {watts} expected" for what, watts in order["readings"])
    yield _step("Measure", "At the wall", wall)
    rates = tuple(f"{what}: {rate} expected" for what, rate in order["transfers"])
    yield _step("Measure", "Rates", (*order["rates"], *rates))


def _copying(move: dict[str, Any] | None) -> Iterator[Step]:
    """Yield the moves of data one by one, or what holds for every copy."""
    for number, (text, state) in enumerate(move["steps"] if move else (), 1):
        title = f"Move {number} of {len(move['steps'] if move else ())}"
        yield _step("Copy", title, (text, f"Then: {state}"), "run", "drives")
    left = tuple(move["left_over"]) if move else ()
    title = "Copy safely" if not move else "In the end"
    yield _step("Copy", title, (*left, *COPYING), "run")


COPYING = (
    "Two copies of everything exist elsewhere, and both were read back",
    "Copy, then compare every file with its source",
    "Run one full check of the array before an old copy is given up",
    "Parity is not a backup: decide where the second copy lives from now on",
)
"""What holds for every first copy onto a new array; common practice, no source."""
