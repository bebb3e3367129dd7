"""The sheet that the wiring is drawn on: columns, layers, and the simplest shapes."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from optibox.page.loads import Load
from optibox.page.shapes import Shape, shape

WIDTH = 1000.0
CPU_COLUMN = (2.0, 118.0)
BOARD_COLUMN = (192.0, 206.0)
CARD_COLUMN = (436.0, 172.0)
BAY_COLUMN = (742.0, 250.0)
"""Left edge and width of each column. [px]"""
TOP = 2.0
ROW, HEAD, GAP = 24.0, 44.0, 12.0
FULL = 0.9
"""Share from which a link counts as full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A part of the drawing with its place. [px]."""

    x: float
    y: float
    width: float
    height: float

    @property
    def bottom(self) -> float:
        """Return the lower edge."""
        return self.y + self.height


@dataclass(slots=True)
class Sheet:
    """What is drawn so far: backgrounds, links over them, everything else on top."""

    back: list[Shape] = field(default_factory=list)
    links: list[Shape] = field(default_factory=list)
    front: list[Shape] = field(default_factory=list)
    ports: dict[tuple[str, int, int], tuple[float, float]] = field(default_factory=dict)
    """Where the cable at a host's connector and port starts."""


def text(x: float, y: float, words: str, kind: str, end: str = "") -> Shape:
    """Return a line of text; ``end`` says which point of it stands at ``x``."""
    attributes: dict[str, str | float] = {"x": x, "y": y, "class": kind}
    if end:
        attributes["text-anchor"] = end
    return shape("text", attributes, words)


def box(block: Block, kind: str) -> Shape:
    """Return a rounded rectangle."""
    place = {"x": block.x, "y": block.y, "width": block.width, "height": block.height}
    return shape("rect", {**place, "rx": 5.0, "class": kind})


def load_bar(x: float, y: float, width: float, load: Load) -> Iterator[Shape]:
    """Yield a bar that shows the share of a link in use."""
    place = {"x": x, "y": y, "height": 4.0, "rx": 2.0}
    used = max(2.0, width * min(1.0, load.share))
    kind = "load full" if load.share > FULL else "load"
    yield shape("rect", {**place, "width": width, "class": "load-room"})
    yield shape("rect", {**place, "width": used, "class": kind})


def curve(
    start: tuple[float, float],
    end: tuple[float, float],
    kind: str,
    level_to: float = 0.0,
) -> Shape:
    """Return a line that leaves and arrives level, and stays level up to some x."""
    (x0, y1), (x2, y2) = start, end
    x1 = max(x0, level_to)
    middle = (x1 + x2) / 2
    points = (x1, y1, middle, y1, middle, y2, x2, y2)
    a, b, c, d, e, f, g, h = (f"{round(p, 1):g}" for p in points)
    lead = f"M{round(x0, 1):g} {b}H{a}" if x1 > x0 else f"M{a} {b}"
    return shape("path", {"d": f"{lead}C{c} {d} {e} {f} {g} {h}", "class": kind})
