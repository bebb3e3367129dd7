"""The right half of the drawing: the case with its bays, and the cables to them."""

from collections.abc import Iterator, Sequence

from optibox.assess import Assessment
from optibox.page.loads import drive_load
from optibox.page.shapes import shape
from optibox.page.sheet import (
    BAY_COLUMN,
    CARD_COLUMN,
    HEAD,
    TOP,
    Block,
    Sheet,
    box,
    curve,
    text,
)
from optibox.report.quantity import number
from optibox.report.text import cut
from optibox.report.wiring_map import WiringRow
from optibox.report.words import clean

BAY_H, FREE_H = 46.0, 16.0
_INSET = 48.0
"""From the column's edge to a drive: room for the bay's name. [px]"""
_KNOT = 34.0
"""From the multi-lane end of a cable to where its legs meet. [px]"""

PAST_CARDS = sum(CARD_COLUMN) + 6
"""Cables from the board run level up to here, above all cards. [px]"""

Point = tuple[float, float]


def draw_bays(sheet: Sheet, found: Assessment, rows: Sequence[WiringRow]) -> float:
    """Draw the case, its bays and the cables; return the lowest edge."""
    chassis = found.machine.chassis
    x, width = BAY_COLUMN
    wired = {row.bay: row for row in rows if row.bay}
    names = dict.fromkeys([*_bays(found), *wired])
    y, ends = TOP + HEAD, dict[str, Point]()
    for bay in names:
        row = wired.get(bay)
        if row is None:
            y = _draw_free(sheet, bay, y)
        else:
            ends[row.drive] = (x + _INSET, y + (BAY_H - 6) / 2)
            y = _draw_drive(sheet, found, row, y)
    for row in rows:
        if row.host and not row.bay:
            ends[row.drive] = (x + _INSET, y + (BAY_H - 6) / 2)
            y = _draw_drive(sheet, found, row, y)
    case = Block(x=x - 8, y=TOP, width=width + 14, height=y + 6 - TOP)
    sheet.back.append(box(case, "case"))
    name = clean(chassis.name) if chassis else "no case"
    sheet.front += [
        text(x + 4, TOP + 19, "case", "kind"),
        text(x + 4, TOP + 35, cut(name, 38), "small"),
    ]
    _draw_cables(sheet, rows, ends)
    return case.bottom


def _bays(found: Assessment) -> Iterator[str]:
    chassis = found.machine.chassis
    if chassis is not None:
        for size, count in (("3.5", chassis.bays_35), ("2.5", chassis.bays_25)):
            yield from (f"{size}-{n}" for n in range(1, count + 1))


def _draw_free(sheet: Sheet, bay: str, y: float) -> float:
    x, width = BAY_COLUMN
    block = Block(x=x + _INSET, y=y, width=width - _INSET, height=FREE_H - 5)
    sheet.front.append(box(block, "free"))
    sheet.front.append(text(x + _INSET - 8, y + 10, bay, "faint", "end"))
    return y + FREE_H


def _draw_drive(sheet: Sheet, found: Assessment, row: WiringRow, y: float) -> float:
    x, width = BAY_COLUMN
    block = Block(x=x + _INSET, y=y, width=width - _INSET, height=BAY_H - 6)
    load = drive_load(found, row.drive)
    sheet.front += [
        text(x + _INSET - 8, y + 24, row.bay, "bay", "end"),
        box(block, f"drive {row.role}"),
        text(block.x + 12, y + 16, row.drive, "name"),
        text(block.x + 12, y + 32, cut(row.label, 32), "small"),
    ]
    if load is not None:
        words = f"{number(load.used_mb_s)} of {number(load.budget_mb_s)} MB/s"
        edge = block.x + block.width - 10
        sheet.front.append(text(edge, y + 16, words, "tiny", "end"))
    return y + BAY_H


def _draw_cables(
    sheet: Sheet, rows: Sequence[WiringRow], ends: dict[str, Point]
) -> None:
    """Draw each cable from its ports to its drives; the legs of one cable meet."""
    pieces: dict[str, list[WiringRow]] = {}
    for row in rows:
        if row.drive in ends and (row.host, row.connector, row.port) in sheet.ports:
            pieces.setdefault(row.cable or row.drive, []).append(row)
    for name, legs in pieces.items():
        pairs = [
            (sheet.ports[row.host, row.connector, row.port], ends[row.drive])
            for row in legs
        ]
        knot = _knot(legs[0], pairs)
        if knot is None:
            sheet.links += [curve(*pair, "cable", PAST_CARDS) for pair in pairs]
            continue
        for start, end in pairs:
            sheet.links.append(curve(start, knot, "cable", PAST_CARDS))
            sheet.links.append(curve(knot, end, "cable"))
        place = {"cx": knot[0], "cy": knot[1], "r": 4.5}
        sheet.front.append(shape("circle", {**place, "class": "knot"}))
        sheet.front.append(text(knot[0], knot[1] - 9, clean(name), "over", "middle"))


def _knot(leg: WiringRow, pairs: Sequence[tuple[Point, Point]]) -> Point | None:
    """Return where the legs of a multi-lane cable meet: near its multi-lane end.

    A reverse breakout has it at the backplane, the others at the controller.
    """
    if not leg.leg:
        return None
    starts, ends = zip(*pairs, strict=True)
    if "at backplane" in leg.cable_words.partition(",")[0]:
        return (BAY_COLUMN[0] - _KNOT, sum(y for _, y in ends) / len(ends))
    return (
        max(starts[0][0], PAST_CARDS) + _KNOT,
        sum(y for _, y in starts) / len(starts),
    )
