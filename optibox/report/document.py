"""What an answer is made of, whatever form it takes.

A command builds one `Document`; `text`, `as_html` and `as_csv` walk it. Records here hold
values and plain words: no widths, no padding, no markup. Texts of catalogs go in as they
are; renderers clean them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from optibox.report.quantity import COUNT, Quantity, Unit

Tone = Literal["plain", "strong", "caution"]
Flow = Literal["keep", "wrap", "cut", "fit"]


@dataclass(frozen=True, slots=True)
class Worded:
    """A value that is told in words of its own, such as no timeout as 'never'."""

    value: str | float | None
    words: str

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True)
class Blank:
    """A box to fill in by hand."""

    unit: str = ""

    def __str__(self) -> str:
        return f"[_______] {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Phrases:
    """Phrases of which a narrow place shows as many as fit, the first ones first."""

    phrases: tuple[str, ...]

    def __str__(self) -> str:
        return ", ".join(self.phrases)


Value = str | int | float | None | Quantity | Worded | Blank | Phrases
"""What a cell or a fact may hold; true and false are numbers of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table.

    A column with a unit holds bare numbers, its head names the unit. What has a ``key``
    is a column of the CSV; what is not ``is_shown`` stands there alone.
    """

    head: str = ""
    key: str = ""
    unit: Unit | None = None
    flow: Flow = "wrap"
    """What happens to words that are too wide: kept, wrapped, cut, or as much as fits;
    numbers are always kept."""
    least: int = 10
    """Letters that wrapped or cut words have room for at least."""
    is_right: bool = False
    """Cells stand to the right; those with a unit always do."""
    spared: int = 0
    """Order in which narrow terminals go without columns, from 1; 0 = never."""
    is_shown: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row; ``note`` stands beneath it, ``group`` is the title of rows alike."""

    cells: tuple[Value, ...]
    note: str = ""
    group: str = ""
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under typed columns; ``is_noted_beside`` puts notes into the row that fit."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    is_noted_beside: bool = False

    def column(self, key: str) -> tuple[Value, ...]:
        """Return the cells of the column with a key."""
        at = [column.key for column in self.columns].index(key)
        return tuple(row.cells[at] for row in self.rows)


@dataclass(frozen=True, slots=True)
class Note:
    """A paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One statement of a list, such as a step, with what stands beneath it."""

    text: str
    mark: str = ""
    details: tuple[str, ...] = ()
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Items:
    """A list of statements."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with their values, aligned."""

    facts: tuple[tuple[str, Value], ...]
    tone: Tone = "plain"


Block = Note | Items | Facts | Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Blocks under a title; ``key`` is the name by which it is asked for."""

    title: str
    blocks: tuple[Block, ...]
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """An answer: the verdict, what stands right beneath it, sections.

    ``data`` is the table that the CSV consists of; tables of sections may be the same.
    """

    verdict: tuple[str, ...]
    lead: "tuple[Block | Section, ...]" = ()
    """What belongs to the verdict, without a blank line between."""
    sections: tuple[Section, ...] = ()
    end: tuple[Block, ...] = ()
    data: Table | None = None
    data_notes: tuple[str, ...] = ()
    """Remarks at the head of the CSV."""
    title: str = ""
    """Name of a page; the verdict where there is none."""


def section(title: str, *blocks: Block | None, key: str = "") -> tuple[Section, ...]:
    """Return a section of the blocks that say anything; nothing where none does."""
    told = tuple(block for block in blocks if block is not None and not is_empty(block))
    return (Section(title=title, blocks=told, key=key),) if told else ()


def is_empty(block: Block) -> bool:
    """Return whether a block says nothing."""
    match block:
        case Note():
            return not block.text
        case Items():
            return not block.items
        case Facts():
            return not block.facts
        case Table():
            return not block.rows


def notes(texts: Iterable[str], tone: Tone = "plain") -> Items:
    """Return sentences as a list of statements."""
    return Items(tuple(Item(text=text, tone=tone) for text in texts if text))


def cautions(texts: Iterable[str]) -> Items:
    """Return cautions, marked so that they are seen without colour."""
    return Items(tuple(Item(text=x, mark="!", tone="caution") for x in texts))


def steps(texts: Sequence[str]) -> Items:
    """Return statements with their numbers."""
    digits = len(str(len(texts)))
    marked = (Item(text=x, mark=f"{n:>{digits}}.") for n, x in enumerate(texts, 1))
    return Items(tuple(marked))


def words_of(value: Value, unit: Unit | None = None) -> str:
    """Return a value as it is read by people; columns with a unit give their unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return "" if value is None else str(value)
    if unit is not None:
        return unit.number(value)
    return f"{value:g}" if isinstance(value, float) else COUNT.number(value)
