"""The wiring as a drawing: every drive from its bay to the processor, to no scale.

Read from the build alone: the processor stands on the left, then board, cards, cables
and bays. Each link carries its planning rate and how much of it is in use.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from optibox.assess import Assessment
from optibox.build import BOARD
from optibox.machine.view import CHIPSET
from optibox.page.loads import Load, drive_load, link_loads
from optibox.page.shapes import Shape, shape
from optibox.present.wiring_map import WiringRow, wiring_rows
from optibox.present.words import clean, cut, number

WIDTH = 1000.0
_CPU = (8.0, 112.0)
_BOARD = (196.0, 200.0)
_CARD = (440.0, 168.0)
_BAY = (752.0, 240.0)
"""Left edge and width of each column. [px]"""
_TOP = 34.0
_ROW, _HEAD, _GAP = 24.0, 40.0, 12.0
_BAY_H, _FREE_H = 46.0, 18.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A part of the drawing with its place."""

    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Sheet:
    """What is drawn so far: links below, blocks above."""

    links: list[Shape] = field(default_factory=list)
    blocks: list[Shape] = field(default_factory=list)
    ports: dict[tuple[str, int, int], tuple[float, float]] = field(default_factory=dict)
    """Where the cable of a host's port starts."""


def drawing(found: Assessment) -> Shape:
    """Return the wiring of a machine as a drawing."""
    sheet, rows = Sheet(), wiring_rows(found)
    left = _hosts(sheet, found, rows)
    right = _bays(sheet, found, rows)
    height = max(left, right) + 12
    words = f"Wiring: {len(rows)} drives and boot media; in words below"
    return shape(
        "svg",
        {
            "viewBox": f"0 0 {WIDTH:g} {height:g}",
            "role": "img",
            "aria-label": words,
            "class": "wiring",
        },
        shape("g", {"class": "links"}, *sheet.links),
        shape("g", {"class": "blocks"}, *sheet.blocks),
    )


def _text(x: float, y: float, words: str, kind: str = "", end: str = "") -> Shape:
    attributes: dict[str, str | float] = {"x": x, "y": y}
    if kind:
        attributes["class"] = kind
    if end:
        attributes["text-anchor"] = end
    return shape("text", attributes, words)


def _box(block: Block, kind: str) -> Shape:
    return shape(
        "rect",
        {
            "x": block.x,
            "y": block.y,
            "width": block.width,
            "height": block.height,
            "rx": 5.0,
            "class": kind,
        },
    )


def _load_bar(x: float, y: float, width: float, load: Load) -> Iterator[Shape]:
    """Yield a bar that shows the share of a link in use."""
    kind = "load full" if load.share > 0.9 else "load"
    size = {"x": x, "y": y, "height": 4.0, "rx": 2.0}
    yield shape("rect", {**size, "width": width, "class": "load-room"})
    used = max(2.0, width * min(1.0, load.share))
    yield shape("rect", {**size, "width": used, "class": kind})


def _curve(start: tuple[float, float], end: tuple[float, float], kind: str) -> Shape:
    (x1, y1), (x2, y2) = start, end
    middle = (x1 + x2) / 2
    points = (x1, y1, middle, y1, middle, y2, x2, y2)
    a, b, c, d, e, f, g, h = (f"{round(p, 1):g}" for p in points)
    path = f"M{a} {b}C{c} {d} {e} {f} {g} {h}"
    return shape("path", {"d": path, "class": kind})


def _hosts(sheet: Sheet, found: Assessment, rows: tuple[WiringRow, ...]) -> float:
    """Draw processor, board and cards; return the lowest edge."""
    machine, loads = found.machine, link_loads(found)
    x, width = _BOARD
    y = _TOP + _HEAD
    feeds: list[tuple[float, bool]] = []
    board_rows = [row for row in rows if row.host == BOARD]
    if board_rows:
        y = _board_ports(sheet, board_rows, y)
        on_chipset = machine.board is not None and machine.board.sata_uplink == CHIPSET
        feeds.append((y - _ROW * len(board_rows) / 2, on_chipset))
        y += _GAP
    for use in machine.build.slots:
        slot = machine.slots.get(use.slot)
        y, middle = _slot(sheet, found, rows, use.name, y)
        if slot is not None:
            feeds.append((middle, slot.uplink == "chipset"))
        y += _GAP
    for row in rows:
        if not row.host and not row.slot:
            y = _line(sheet, y, clean(row.drive), row.port_words)
    port = machine.network
    if port is not None and port.name == BOARD:
        y = _line(sheet, y, "network", f"port {port.gbit_s:g} Gb/s")
        feeds.append((y - _ROW / 2, CHIPSET in port.path))
    board = Block(x=x, y=_TOP, width=width, height=y + 8 - _TOP)
    name = clean(machine.board.name) if machine.board else "no board"
    sheet.blocks[:0] = [
        _box(board, "board"),
        _text(x + 12, _TOP + 18, "board", "kind"),
        _text(x + 12, _TOP + 33, cut(name, 30), "small"),
    ]
    return max(board.y + board.height, _processor(sheet, feeds, board, loads))


def _board_ports(sheet: Sheet, rows: list[WiringRow], y: float) -> float:
    x, width = _BOARD
    for row in sorted(rows, key=lambda r: (r.connector, r.port)):
        _port(sheet, (BOARD, row.connector, row.port), row, x + width, y)
        y += _ROW
    return y


def _port(
    sheet: Sheet, key: tuple[str, int, int], row: WiringRow, edge: float, y: float
) -> None:
    sheet.ports[key] = (edge, y + _ROW / 2)
    sheet.blocks.append(
        shape(
            "rect",
            {"x": edge - 9, "y": y + 6, "width": 9.0, "height": 12.0, "class": "plug"},
        )
    )
    words = f"SATA {row.connector}" if row.host == BOARD else f"port {row.connector}"
    if row.port_words.startswith("lane"):
        words = f"plug {row.connector}, lane {row.port}"
    sheet.blocks.append(_text(edge - 16, y + 16, words, "small", "end"))


def _line(sheet: Sheet, y: float, title: str, words: str) -> float:
    """Write one line into the board."""
    x, width = _BOARD
    sheet.blocks.append(_text(x + 12, y + 16, title, "name"))
    sheet.blocks.append(_text(x + width - 12, y + 16, cut(words, 22), "small", "end"))
    return y + _ROW


def _slot(
    sheet: Sheet, found: Assessment, rows: tuple[WiringRow, ...], name: str, y: float
) -> tuple[float, float]:
    """Draw a slot and what sits in it; return the lower edge and its middle."""
    machine = found.machine
    use = next(use for use in machine.build.slots if use.name == name)
    x, width = _BOARD
    hosted = [row for row in rows if row.host == name]
    height = max(58.0, _HEAD + _ROW * len(hosted) + 4)
    middle = y + 29
    part = machine.build.item(use.key).part
    link = machine.links.get(use.slot)
    sheet.blocks.append(_text(x + 12, y + 18, clean(use.slot), "name"))
    if link is not None:
        load = link_loads(found).get(use.slot, Load(budget_mb_s=link.budget_mb_s))
        trained = link.words.partition(" at ")[2]
        sheet.blocks.append(_text(x + width - 12, y + 18, trained, "small", "end"))
        sheet.blocks.append(_text(x + 12, y + 36, load.words, "small"))
        sheet.blocks += _load_bar(x + 12, y + 43, width - 24, load)
    card = Block(x=_CARD[0], y=y, width=_CARD[1], height=height)
    sheet.links.append(_curve((x + width, middle), (card.x, middle), "slot"))
    sheet.blocks.append(_box(card, "card"))
    sheet.blocks.append(_text(card.x + 10, y + 17, clean(name), "name"))
    label = clean(part.name) or clean(part.id)
    sheet.blocks.append(_text(card.x + 10, y + 33, cut(label, 25), "small"))
    top = y + _HEAD
    for row in sorted(hosted, key=lambda r: (r.connector, r.port)):
        key = (row.host, row.connector, row.port)
        _port(sheet, key, row, card.x + card.width, top)
        top += _ROW
    port = machine.network
    if port is not None and port.name == name:
        words = f"network port {port.gbit_s:g} Gb/s"
        sheet.blocks.append(_text(card.x + 10, y + 49, words, "small"))
    return y + height, middle


def _processor(
    sheet: Sheet, feeds: list[tuple[float, bool]], board: Block, loads: dict[str, Load]
) -> float:
    """Draw processor, chipset and what runs from them to the board's places."""
    x, width = _CPU
    cpu = Block(x=x, y=_TOP, width=width, height=64.0)
    sheet.blocks += [
        _box(cpu, "cpu"),
        _text(x + 12, _TOP + 18, "processor", "kind"),
        _text(x + 12, _TOP + 36, "and memory", "small"),
    ]
    lowest = cpu.y + cpu.height
    load = loads.get(CHIPSET)
    chip = Block(x=x, y=_TOP + 138, width=width, height=40.0)
    for y, is_behind in feeds:
        source = chip if is_behind and load else cpu
        start = (source.x + source.width, source.y + source.height / 2)
        sheet.links.append(_curve(start, (board.x, y), "feed"))
    if load is None or not any(is_behind for _, is_behind in feeds):
        return lowest
    middle = x + width / 2
    sheet.links.append(
        shape(
            "path",
            {"d": f"M{middle:g} {lowest:g}V{chip.y:g}", "class": "feed"},
        )
    )
    sheet.blocks += [
        _box(chip, "cpu"),
        _text(x + 12, chip.y + 24, "chipset", "kind"),
        _box(Block(x=x, y=lowest + 15, width=width, height=44.0), "tag"),
        _text(middle, lowest + 31, load.rate_words, "small", "middle"),
        _text(middle, lowest + 45, load.share_words, "small", "middle"),
        *_load_bar(x + 8, lowest + 51, width - 16, load),
    ]
    return chip.y + chip.height


def _bays(sheet: Sheet, found: Assessment, rows: tuple[WiringRow, ...]) -> float:
    """Draw the case with its bays, and the cables to them; return the lowest edge."""
    chassis = found.machine.chassis
    x, width = _BAY
    wired = {row.bay: row for row in rows if row.bay}
    names = [
        f"{size}-{n}"
        for size, count in _bay_counts(found)
        for n in range(1, count + 1)
    ]
    names += [bay for bay in wired if bay not in names]
    y = _TOP + _HEAD
    places: dict[str, float] = {}
    for bay in names:
        row = wired.get(bay)
        places[bay] = y + _BAY_H / 2 - 2
        y = _empty(sheet, bay, y) if row is None else _drive(sheet, found, row, y)
    loose = [row for row in rows if row.host and not row.bay]
    for row in loose:
        places[row.drive] = y + _BAY_H / 2 - 2
        y = _drive(sheet, found, row, y)
    case = Block(x=x - 12, y=_TOP, width=width + 20, height=y + 6 - _TOP)
    name = clean(chassis.name) if chassis else "no case"
    sheet.blocks[:0] = [
        _box(case, "case"),
        _text(x, _TOP + 18, "case", "kind"),
        _text(x, _TOP + 33, cut(name, 36), "small"),
    ]
    _cables(sheet, rows, places)
    return case.y + case.height


def _bay_counts(found: Assessment) -> Iterator[tuple[str, int]]:
    chassis = found.machine.chassis
    if chassis is not None:
        yield "3.5", chassis.bays_35
        yield "2.5", chassis.bays_25


def _empty(sheet: Sheet, bay: str, y: float) -> float:
    x, width = _BAY
    block = Block(x=x + 44, y=y, width=width - 44, height=_FREE_H - 4)
    sheet.blocks.append(_box(block, "free"))
    sheet.blocks.append(_text(x + 36, y + 11, clean(bay), "faint", "end"))
    return y + _FREE_H


def _drive(sheet: Sheet, found: Assessment, row: WiringRow, y: float) -> float:
    x, width = _BAY
    block = Block(x=x + 44, y=y, width=width - 44, height=_BAY_H - 6)
    load = drive_load(found, row.drive)
    behind = " behind" if row.is_on_backplane else ""
    sheet.blocks.append(_text(x + 36, y + 24, row.bay, "name", "end"))
    sheet.blocks.append(_box(block, f"drive {row.role}{behind}"))
    sheet.blocks.append(_text(block.x + 12, y + 16, row.drive, "name"))
    sheet.blocks.append(_text(block.x + 12, y + 31, cut(row.label, 31), "small"))
    if load is not None:
        words = f"{number(load.used_mb_s)} of {number(load.budget_mb_s)} MB/s"
        right = block.x + block.width - 10
        sheet.blocks.append(_text(right, y + 15, words, "tiny", "end"))
    return y + _BAY_H


def _cables(
    sheet: Sheet, rows: tuple[WiringRow, ...], places: dict[str, float]
) -> None:
    """Draw each cable from its ports to its bays; the legs of one cable meet."""
    pieces: dict[str, list[WiringRow]] = {}
    for row in rows:
        if row.host and row.cable:
            pieces.setdefault(row.cable, []).append(row)
    for name, legs in pieces.items():
        starts = [sheet.ports[r.host, r.connector, r.port] for r in legs
                  if (r.host, r.connector, r.port) in sheet.ports]  # fmt: skip
        ends = [(_BAY[0] - 2, places[r.bay or r.drive]) for r in legs]
        if len(starts) != len(ends):
            continue
        knot = _knot(legs, starts, ends)
        if knot is None:
            sheet.links += [
                _curve(a, (b[0] + 46, b[1]), "cable")
                for a, b in zip(starts, ends, strict=True)
            ]
            continue
        sheet.links += [_curve(start, knot, "cable") for start in starts]
        sheet.links += [_curve(knot, (e[0] + 46, e[1]), "cable") for e in ends]
        sheet.blocks.append(
            shape("circle", {"cx": knot[0], "cy": knot[1], "r": 4.0, "class": "knot"})
        )
        sheet.blocks.append(_text(knot[0], knot[1] - 9, clean(name), "tiny", "middle"))


def _knot(
    legs: list[WiringRow],
    starts: list[tuple[float, float]],
    ends: list[tuple[float, float]],
) -> tuple[float, float] | None:
    """Return where the legs of a multi-lane cable meet: at its multi-lane end."""
    words = legs[0].cable_words
    if "plain SATA" in words or not words:
        return None
    is_reverse = words.startswith(("SFF",)) and "at backplane" in words.split(",")[0]
    if is_reverse:
        middle = sum(y for _, y in ends) / len(ends)
        return (_BAY[0] - 34, middle)
    middle = sum(y for _, y in starts) / len(starts)
    return (starts[0][0] + 34, middle)
