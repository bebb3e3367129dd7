"""The power tree as a drawing, below the data wiring: leads, adapters, what they feed."""

from optibox.assess import Assessment
from optibox.page.sheet import (
    BAY_COLUMN,
    BOARD_COLUMN,
    CPU_COLUMN,
    Block,
    Sheet,
    box,
    curve,
    text,
)
from optibox.report.quantity import number
from optibox.report.text import cut
from optibox.report.wiring_map import power_of
from optibox.report.words import clean
from optibox.wiring import Edge, PowerTree
from optibox.wiring.amperes import Amperes
from optibox.wiring.loads import Giver
from optibox.wiring.words import PLUG_WORDS, giver_words

_ADAPTERS = ((436.0, 140.0), (590.0, 140.0))
"""Left edge and width of first and second adapters. [px]"""
ROW, GAP = 19.0, 7.0
"""Height of a row, room between leads: less than in the data wiring. [px]"""
_LEAD_ROWS = 2.0
"""Rows that a lead or an adapter takes at least, for its two lines of text."""


def draw_power(sheet: Sheet, found: Assessment, y: float) -> float:
    """Draw the power tree from a height on; return the lowest edge."""
    tree = power_of(found)
    leads = [lead for lead in tree.leads if tree.below(lead)]
    if not leads:
        return y
    top, (x, width) = y + GAP, CPU_COLUMN
    supply = Block(x=x, y=top, width=width, height=48.0)
    name = clean(found.machine.supply.name) if found.machine.supply else "no supply"
    sheet.front += [
        box(supply, "cpu"),
        text(x + 12, top + 20, "power", "name"),
        text(x + 12, top + 37, cut(name, 16), "small"),
    ]
    y = top
    for lead in leads:
        middle, y = _draw_giver(sheet, tree, lead, y, tree.on_lead(lead), lead.most_a)
        start = (x + width, supply.y + supply.height / 2)
        sheet.links.append(curve(start, (BOARD_COLUMN[0], middle), "feed"))
        y += GAP
    return max(supply.bottom, y)


def _draw_giver(
    sheet: Sheet,
    tree: PowerTree,
    giver: Giver,
    y: float,
    flow: Amperes,
    most_a: float,
) -> tuple[float, float]:
    """Draw a lead or an adapter with all below it; return its middle and lower edge."""
    x, width = _column(tree, giver)
    ends, bottom = list[float](), y
    edges = [edge for edge in tree.edges if edge.path[-1] == giver]
    for edge in sorted(edges, key=lambda e: e.feed.plug):
        middle, bottom = _draw_edge(sheet, tree, edge, bottom)
        ends.append(middle)
    bottom = max(bottom, y + _LEAD_ROWS * ROW)
    block = Block(x=x, y=y + 2, width=width, height=bottom - y - 4)
    words = f"{PLUG_WORDS[giver.gives]}, " if giver.takes is None else ""
    load = f"{words}{number(flow.worst_a, 1)} of {number(most_a, 1)} A"
    sheet.front += [
        box(block, "card"),
        text(x + 10, y + 16, giver_words(giver), "name"),
        text(x + 10, y + 31, load, "small"),
    ]
    if giver.takes is not None and block.height > ROW * _LEAD_ROWS:
        label = cut(clean(giver.label), 20)
        sheet.front.append(text(x + 10, y + 45, label, "small"))
    for middle, edge in zip(
        ends, sorted(edges, key=lambda e: e.feed.plug), strict=True
    ):
        end = BAY_COLUMN[0] if edge.piece is None else _column(tree, edge.piece)[0]
        sheet.links.append(curve((x + width, middle), (end, middle), "slot"))
    return block.y + block.height / 2, bottom


def _column(tree: PowerTree, giver: Giver) -> tuple[float, float]:
    if giver.takes is None:
        return BOARD_COLUMN
    depth = len(tree.path_to(giver.name))
    return _ADAPTERS[min(depth, len(_ADAPTERS)) - 1]


def _draw_edge(
    sheet: Sheet, tree: PowerTree, edge: Edge, y: float
) -> tuple[float, float]:
    """Draw what hangs on a plug; return its middle and lower edge."""
    if edge.piece is not None:
        return _draw_giver(sheet, tree, edge.piece, y, edge.carries, edge.most_a)
    x, width = BAY_COLUMN
    block = Block(x=x, y=y + 1.5, width=width, height=ROW - 3)
    flow = edge.carries
    rail = "12 V at a start" if flow.at_start_12v_a >= flow.on_5v_a else "5 V"
    amps = f"{number(flow.worst_a, 1)} A on {rail}"
    free = "" if edge.has_3v3 else ", no 3.3 V"
    sheet.front += [
        box(block, "card"),
        text(x + 10, y + 14, clean(edge.feed.load), "name"),
        text(x + width - 10, y + 14, amps + free, "small", "end"),
    ]
    return y + ROW / 2, y + ROW
