"""A document as text: wrapped to a width, styled where a terminal shows it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import groupby

from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.constrain import Constrain
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from optibox.report.document import (
    Block,
    Column,
    Document,
    Facts,
    Item,
    Items,
    Note,
    Phrases,
    Row,
    Section,
    Table,
    Tone,
    Value,
    words_of,
)
from optibox.report.words import clean

NARROWEST, WIDEST = 60, 120
PIPED_WIDTH = 100
MARGIN = 2
GAP = 2
LABEL_SHARE = 0.4
"""Share of a line that the names of facts may take."""
FIT_SHARE = 0.5
"""Share of the free width that phrases get before other columns do."""
LONGEST_WORD = 20
"""Longest word for which a column of words is kept wide enough."""
_ENDLESS = 1000
"""Width of the paper: tables that cannot be narrower stand out instead of breaking."""

_STYLES: dict[Tone, str] = {"plain": "", "strong": "bold", "caution": "yellow"}


def as_text(
    document: Document, width: int = PIPED_WIDTH, *, is_colored: bool = False
) -> str:
    """Return a document as text.

    Parameters
    ----------
    document : Document
        What to tell.
    width : int
        Columns of a line, held between 60 and 120.
    is_colored : bool
        With the styles of a terminal.
    """
    return _printed(_document(document, within(width)), is_colored=is_colored)


def within(width: int) -> int:
    """Return the width of the text that a terminal of a width gets."""
    return min(WIDEST, max(NARROWEST, width))


def wrapped(text: str, width: int) -> list[str]:
    """Return a text as lines of a width; words longer than a line are broken.

    Examples
    --------
    >>> wrapped("one two three", 9)
    ['one two', 'three']
    """
    lines = Text(clean(text)).wrap(_MEASURE, max(1, width), overflow="fold")
    return [line.plain.rstrip() for line in lines] or [""]


def cut(text: str, width: int) -> str:
    """Return a text cut to a width, the cut marked.

    Examples
    --------
    >>> cut("a long label", 8)
    'a lon...'
    """
    if cell_len(text) <= width:
        return text
    kept = Text(text)
    kept.truncate(max(0, width - 3))
    return (kept.plain.rstrip() + "...")[: max(0, width)]


def fitting(phrases: Sequence[str], width: int) -> str:
    """Return as many phrases as fit, the first one cut where it must be.

    Examples
    --------
    >>> fitting(["2 native ports", "passes drives through"], 20)
    '2 native ports'
    """
    text = cut(phrases[0], width) if phrases else ""
    for phrase in phrases[1:]:
        longer = f"{text}, {phrase}"
        if cell_len(longer) > width:
            break
        text = longer
    return text


def _printed(pieces: Iterator[RenderableType], *, is_colored: bool) -> str:
    out = StringIO()
    console = Console(
        file=out,
        width=_ENDLESS,
        force_terminal=is_colored,
        color_system="standard" if is_colored else None,
        no_color=False,
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
    )
    for piece in pieces:
        console.print(piece)
    return "".join(f"{line.rstrip()}\n" for line in out.getvalue().splitlines())


_MEASURE = Console(file=StringIO(), width=WIDEST, color_system=None)
"""What wrapping asks for tabulators and width; nothing is printed with it."""


def _document(document: Document, width: int) -> Iterator[RenderableType]:
    for text in document.verdict:
        yield _lines(text, width, tone="strong")
    for part in document.lead:
        if isinstance(part, Section):
            yield from _section(part, width)
        else:
            yield from _block(part, width, 0)
    for section in document.sections:
        yield ""
        yield from _section(section, width)
    if document.end:
        yield ""
    for block in document.end:
        yield from _block(block, width, 0)


def _section(section: Section, width: int) -> Iterator[RenderableType]:
    yield _lines(section.title, width, tone="strong")
    for block in section.blocks:
        yield from _block(block, width, MARGIN)


def _text(text: str, tone: Tone = "plain") -> Text:
    return Text(clean(text), style=_STYLES[tone], overflow="fold")


def _lines(
    text: str, width: int, margin: int = 0, tone: Tone = "plain"
) -> RenderableType:
    """Return a paragraph within a width, its margin included."""
    return Constrain(Padding(_text(text, tone), (0, 0, 0, margin), expand=False), width)


def _block(block: Block, width: int, margin: int) -> Iterator[RenderableType]:
    match block:
        case Note():
            if block.text:
                yield _lines(block.text, width, margin, block.tone)
        case Items():
            for item in block.items:
                yield from _item(item, width, margin)
        case Facts():
            yield _facts(block, width, margin)
        case Table():
            yield from _table(block, width, margin)


def _item(item: Item, width: int, margin: int) -> Iterator[RenderableType]:
    """Yield a statement with its mark, or with a hanging indent where it has none."""
    lead = f"{item.mark} " if item.mark else ""
    hang = cell_len(lead) or MARGIN
    for number, line in enumerate(wrapped(item.text, width - margin - hang)):
        indent = " " * margin + (" " * hang if number else lead)
        yield Text(indent + line, style=_STYLES[item.tone])
    for detail in item.details:
        yield _lines(detail, width, margin + (hang if lead else 2 * hang))


def _facts(block: Facts, width: int, margin: int) -> RenderableType:
    names = max((cell_len(clean(name)) for name, _ in block.facts), default=0)
    names = min(names, int(width * LABEL_SHARE))
    tone = block.tone
    rows = [[_text(x, tone), _text(words_of(y), tone)] for x, y in block.facts]
    room = width - margin - names - GAP
    return _grid(rows, [_Place(names), _Place(room)], margin)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the cells of one column stand."""

    width: int
    is_right: bool = False


def _grid(
    rows: Sequence[Sequence[Text]], places: Sequence[_Place], margin: int
) -> RenderableType:
    grid = Grid.grid(padding=(0, GAP, 0, 0), pad_edge=False)
    for place in places:
        justify = "right" if place.is_right else "left"
        grid.add_column(width=place.width, justify=justify, overflow="fold")  # type: ignore[arg-type]  # one of two of rich's words
    for row in rows:
        grid.add_row(*row)
    return Padding(grid, (0, 0, 0, margin), expand=False)


def _table(table: Table, width: int, margin: int) -> Iterator[RenderableType]:
    """Yield a table: head, groups of rows under their titles, notes beneath rows."""
    if any(row.group for row in table.rows):
        margin += MARGIN
    kept = _kept(table, width - margin)
    columns = [table.columns[n] for n in kept]
    widths = _widths(table, kept, width - margin)
    places = list(map(_Place, widths, map(_is_right, columns)))
    left = (
        width - margin - sum(widths) - GAP * len(widths) if table.is_noted_beside else 0
    )
    if any(column.head for column in columns):
        yield _grid([_heads(columns)], places, margin)
    for group, rows in groupby(table.rows, key=lambda row: row.group):
        if group:
            yield _lines(group, width, margin - MARGIN)
        for is_alone, told in _runs(rows, left):
            cells = [_cells(row, table, kept, widths) for row in told]
            note = clean(told[-1].note)
            if note and not is_alone:
                cells[-1].append(_text(note))
            yield _grid(cells, [*places, _Place(cell_len(note))], margin)
            if is_alone:
                yield _lines(note, width, margin + _indent(widths))


def _runs(rows: Iterable[Row], left: int) -> Iterator[tuple[bool, list[Row]]]:
    """Yield rows up to each that has a note, and whether that is too long to stand beside."""
    told: list[Row] = []
    for row in rows:
        told.append(row)
        if row.note:
            yield cell_len(clean(row.note)) > left, told
            told = []
    if told:
        yield False, told


def _indent(widths: Sequence[int]) -> int:
    """Return the indent of a note: beneath the second column where the first is narrow."""
    return widths[0] + 2 * GAP if widths and widths[0] <= 2 * MARGIN else 2 * MARGIN


def _heads(columns: Sequence[Column]) -> list[Text]:
    """Return heads with units, all of one height, standing upon the rows."""
    heads = [_head(column).split("\n") for column in columns]
    height = max(map(len, heads))
    return [
        Text("\n".join([""] * (height - len(head)) + head), style="bold")
        for head in heads
    ]


def _head(column: Column) -> str:
    unit = column.unit.symbol if column.unit else ""
    return "\n".join(word for word in (column.head, unit) if word)


def _is_right(column: Column) -> bool:
    return column.is_right or column.unit is not None


def _word(value: Value, column: Column) -> str:
    text = words_of(value, column.unit)
    return "-" if not text and column.unit is not None else clean(text)


def _cells(
    row: Row, table: Table, kept: Sequence[int], widths: Sequence[int]
) -> list[Text]:
    cells = []
    for n, width in zip(kept, widths, strict=True):
        column, value = table.columns[n], row.cells[n]
        text = _word(value, column)
        if column.flow == "fit" and isinstance(value, Phrases):
            text = fitting([clean(x) for x in value.phrases], width)
        elif column.flow in ("cut", "fit"):
            text = cut(text, width)
        cells.append(Text(text, style=_STYLES[row.tone], overflow="fold"))
    return cells


def _kept(table: Table, width: int) -> list[int]:
    """Return the columns that are shown: those that say something and find room."""
    kept = [
        n
        for n, column in enumerate(table.columns)
        if column.is_shown
        and any(_word(row.cells[n], column) not in ("", "-") for row in table.rows)
    ]
    spared = sorted(
        (table.columns[n].spared, n) for n in kept if table.columns[n].spared
    )
    for _, n in spared:
        if sum(_least(table, k, width) + GAP for k in kept) - GAP > width:
            kept.remove(n)
    return kept


def _wanted(table: Table, n: int) -> int:
    column = table.columns[n]
    heads = [cell_len(line) for line in _head(column).split("\n")]
    return max([*heads, *(cell_len(_word(row.cells[n], column)) for row in table.rows)])


def _is_kept(column: Column) -> bool:
    return column.flow == "keep" or column.unit is not None


def _least(table: Table, n: int, free: int) -> int:
    """Return the width that a column does not go below."""
    column, wanted = table.columns[n], _wanted(table, n)
    if _is_kept(column):
        return wanted
    words = [_word(row.cells[n], column) for row in table.rows]
    if column.flow != "fit":
        longest = max(
            cell_len(word) for text in [*words, ""] for word in text.split(" ")
        )
        return min(wanted, max(column.least, min(longest, LONGEST_WORD)))
    firsts = [cell_len(text.split(",")[0]) for text in words]
    return min(max(firsts, default=0), int(free * FIT_SHARE))


def _widths(table: Table, kept: Sequence[int], width: int) -> list[int]:
    """Return widths: each column gets what it wants while later ones keep their least."""
    free = width - GAP * (len(kept) - 1)
    free -= sum(_wanted(table, n) for n in kept if _is_kept(table.columns[n]))
    widths = []
    for place, n in enumerate(kept):
        if _is_kept(table.columns[n]):
            widths.append(_wanted(table, n))
            continue
        later = [m for m in kept[place + 1 :] if not _is_kept(table.columns[m])]
        room = free - sum(_least(table, m, free) for m in later)
        widths.append(min(_wanted(table, n), max(_least(table, n, free), room)))
        free -= widths[-1]
    return widths
