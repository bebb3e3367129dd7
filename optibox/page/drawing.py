"""The wiring as a drawing: every drive from its bay to the processor, to no scale.

Read from the build alone: the processor stands on the left, then board, cards, cables
and bays; power leads follow below. Each link carries its planning rate and how much of it is in use.
"""

from collections.abc import Iterator

from optibox.assess import Assessment
from optibox.build import BOARD, SlotUse
from optibox.machine.view import CHIPSET
from optibox.page.drawing_bays import draw_bays
from optibox.page.drawing_power import draw_power
from optibox.page.loads import Load, link_loads, network_load
from optibox.page.shapes import Shape, shape
from optibox.page.sheet import (
    BOARD_COLUMN,
    CARD_COLUMN,
    CPU_COLUMN,
    GAP,
    HEAD,
    ROW,
    TOP,
    WIDTH,
    Block,
    Sheet,
    box,
    curve,
    load_bar,
    text,
)
from optibox.report.text import cut
from optibox.report.wiring_map import WiringRow, wiring_rows
from optibox.report.words import clean, counted

_SLOT_H = 62.0
_LINE_H = 42.0


def drawing(found: Assessment) -> Shape:
    """Return the wiring of a machine as a drawing."""
    sheet, rows = Sheet(), wiring_rows(found)
    left = _draw_hosts(sheet, found, rows)
    right = draw_bays(sheet, found, rows)
    height = draw_power(sheet, found, max(left, right)) + 6
    words = f"Wiring of {counted(len(rows), 'drive')}; in words below"
    return shape(
        "svg",
        {
            "viewBox": f"0 0 {WIDTH:g} {height:g}",
            "role": "img",
            "aria-label": words,
            "class": "wiring",
        },
        *(shape("g", {}, *layer) for layer in (sheet.back, sheet.links, sheet.front)),
    )


def _draw_hosts(sheet: Sheet, found: Assessment, rows: tuple[WiringRow, ...]) -> float:
    """Draw processor, board and cards; return the lowest edge."""
    machine = found.machine
    x, width = BOARD_COLUMN
    feeds: list[tuple[float, bool]] = []
    y = _draw_ports(sheet, found, rows, feeds)
    for use in machine.build.slots:
        slot = machine.slots.get(use.slot)
        if slot is not None:
            feeds.append((y + _SLOT_H / 2, slot.uplink == CHIPSET))
        y = _draw_slot(sheet, found, rows, use, y) + GAP
    y = _draw_lines(sheet, found, rows, feeds, y)
    board = Block(x=x, y=TOP, width=width, height=y + 2 - TOP)
    name = clean(machine.board.name) if machine.board else "no board"
    sheet.back.append(box(board, "board"))
    sheet.front += [
        text(x + 12, TOP + 19, "board", "kind"),
        text(x + 12, TOP + 35, cut(name, 32), "small"),
    ]
    return max(board.bottom, _draw_processor(sheet, feeds, board, link_loads(found)))


def _draw_ports(
    sheet: Sheet,
    found: Assessment,
    rows: tuple[WiringRow, ...],
    feeds: list[tuple[float, bool]],
) -> float:
    """Draw the board's ports in use; return the edge below them."""
    board, y = found.machine.board, TOP + HEAD
    used = sorted((r for r in rows if r.host == BOARD), key=_place)
    if not used:
        return y
    on_chipset = board is not None and board.sata_uplink == CHIPSET
    feeds.append((y + ROW * len(used) / 2, on_chipset))
    for row in used:
        _draw_port(sheet, row, sum(BOARD_COLUMN), y)
        y += ROW
    return y + GAP


def _place(row: WiringRow) -> tuple[int, int]:
    return row.connector, row.port


def _draw_port(sheet: Sheet, row: WiringRow, edge: float, y: float) -> None:
    sheet.ports[row.host, row.connector, row.port] = (edge, y + ROW / 2)
    plug = {"x": edge - 9, "y": y + 6, "width": 9.0, "height": 12.0}
    sheet.front.append(shape("rect", {**plug, "class": "plug"}))
    words = f"SATA {row.connector}" if row.host == BOARD else f"port {row.connector}"
    if row.port_words.startswith("lane"):
        words = f"plug {row.connector}, lane {row.port}"
    sheet.front.append(text(edge - 17, y + 16, words, "small", "end"))


def _draw_slot(
    sheet: Sheet,
    found: Assessment,
    rows: tuple[WiringRow, ...],
    use: SlotUse,
    y: float,
) -> float:
    """Draw a slot with what sits in it; return the lower edge."""
    x, width = BOARD_COLUMN
    sheet.front.append(text(x + 12, y + 19, clean(use.slot), "name"))
    link = found.machine.links.get(use.slot)
    if link is not None:
        load = link_loads(found)[use.slot]
        trained = link.words.partition(" at ")[2]
        sheet.front.append(text(x + width - 12, y + 19, trained, "small", "end"))
        sheet.front.append(text(x + 12, y + 37, load.words, "small"))
        sheet.front += load_bar(x + 12, y + 44, width - 24, load)
    bottom = _draw_card(sheet, found, rows, use, y)
    middle = y + _SLOT_H / 2
    sheet.links.append(curve((x + width, middle), (CARD_COLUMN[0], middle), "slot"))
    return bottom


def _draw_card(
    sheet: Sheet,
    found: Assessment,
    rows: tuple[WiringRow, ...],
    use: SlotUse,
    y: float,
) -> float:
    x, width = CARD_COLUMN
    part = found.machine.build.item(use.key).part
    hosted = sorted((row for row in rows if row.host == use.name), key=_place)
    card = Block(
        x=x, y=y, width=width, height=max(_SLOT_H, HEAD + ROW * len(hosted) + 4)
    )
    label = clean(part.name) or clean(part.id)
    sheet.front += [
        box(card, "card"),
        text(x + 10, y + 18, clean(use.name), "name"),
        text(x + 10, y + 34, cut(label, 26), "small"),
    ]
    port = found.machine.network
    if port is not None and port.name == use.name:
        sheet.front += _network(found, x + 10, y + 49, width - 20)
        return card.bottom
    for number, row in enumerate(hosted):
        _draw_port(sheet, row, x + width, y + HEAD + ROW * number)
    return card.bottom


def _network(found: Assessment, x: float, y: float, width: float) -> Iterator[Shape]:
    load = network_load(found)
    port = found.machine.network
    if port is not None:
        words = f"{port.gbit_s:g} Gb/s: {load.rate_words}" if load else "no lead"
        yield text(x, y, words, "small")
    if load:
        yield from load_bar(x, y + 5, width, load)


def _draw_lines(
    sheet: Sheet,
    found: Assessment,
    rows: tuple[WiringRow, ...],
    feeds: list[tuple[float, bool]],
    y: float,
) -> float:
    """Write what else is on the board: modules without a slot, the network port."""
    x, width = BOARD_COLUMN
    for row in rows:
        if not row.host and not row.slot:
            sheet.front.append(text(x + 12, y + 16, row.drive, "name"))
            words = cut(row.port_words, 24)
            sheet.front.append(text(x + width - 12, y + 16, words, "small", "end"))
            y += ROW + 2
    port = found.machine.network
    if port is not None and port.name == BOARD:
        sheet.front.append(text(x + 12, y + 16, "network", "name"))
        sheet.front += _network(found, x + 12, y + 33, width - 24)
        feeds.append((y + _LINE_H / 2, CHIPSET in port.path))
        y += _LINE_H + 2
    return y


def _draw_processor(
    sheet: Sheet, feeds: list[tuple[float, bool]], board: Block, loads: dict[str, Load]
) -> float:
    """Draw processor, chipset and what runs from them to the board's places."""
    x, width = CPU_COLUMN
    cpu = Block(x=x, y=TOP, width=width, height=64.0)
    sheet.front += [
        box(cpu, "cpu"),
        text(x + 12, TOP + 28, "processor", "name"),
        text(x + 12, TOP + 45, "and memory", "small"),
    ]
    load = loads.get(CHIPSET)
    chip = Block(x=x, y=TOP + 150, width=width, height=40.0)
    for y, is_behind in feeds:
        source = chip if is_behind and load else cpu
        start = (source.x + source.width, source.y + source.height / 2)
        sheet.links.append(curve(start, (board.x, y), "feed"))
    if load is None or not any(is_behind for _, is_behind in feeds):
        return cpu.bottom
    middle, top = x + width / 2, cpu.bottom
    path = {"d": f"M{middle:g} {top:g}V{chip.y:g}", "class": "feed"}
    tag = Block(x=x, y=top + 15, width=width, height=56.0)
    sheet.links.append(shape("path", path))
    sheet.front += [
        box(chip, "cpu"),
        text(x + 12, chip.y + 25, "chipset", "name"),
        box(tag, "tag"),
        text(middle, tag.y + 20, load.rate_and_share, "small", "middle"),
        text(middle, tag.y + 36, load.user, "small", "middle"),
        *load_bar(x + 10, tag.y + 45, width - 20, load),
    ]
    return chip.bottom
