"""Rows of figures with a head of two lines, numbers to the right."""

from collections.abc import Iterator, Sequence

from optibox.present.words import pad, pad_left, width_of

Cells = Sequence[str]
GAP = "  "
NOTHING = "-"


def table_lines(
    head: tuple[Cells, Cells],
    blocks: Sequence[tuple[str, Sequence[Cells]]],
    width: int = 120,
    spared: Sequence[int] = (),
) -> Iterator[str]:
    """Yield a table: a head, then blocks of rows, each with its name above.

    The first column stands to the left, the last one runs on, all others stand to
    the right. Columns in which no row says anything are left out. In the upper head
    a word spans the next column where that one is blank there.

    Parameters
    ----------
    head : tuple of two rows
        Upper and lower words of each column.
    blocks : sequence of tuple
        Name and rows of each block.
    width : int
        Columns of a line.
    spared : sequence of int
        Columns to leave out, the first one first, while the table is too wide.
    """
    every = [row for _, rows in blocks for row in rows]
    kept = [
        i
        for i in range(len(head[1]))
        if i == 0 or any(row[i] not in ("", NOTHING) for row in every)
    ]
    for column in spared:
        if column in kept and sum(_widths(head, every, kept)) > width - len(GAP):
            kept.remove(column)
    upper = [head[0][i] for i in kept]
    widths = [w - len(GAP) for w in _widths(head, every, kept)]
    yield _upper(upper, widths)
    yield _line([head[1][i] for i in kept], widths)
    for name, rows in blocks:
        if name:
            yield f"{GAP}{name}"
        yield from (_line([row[i] for i in kept], widths) for row in rows)


def _widths(
    head: tuple[Cells, Cells], rows: Sequence[Cells], kept: Sequence[int]
) -> list[int]:
    """Return the room of each column with its gap, wide enough for the upper head."""
    upper = [head[0][i] for i in kept]
    widths = [
        len(GAP) + max(width_of(row[i]) for row in (head[1], *rows)) for i in kept
    ]
    for k, word in enumerate(upper):
        room = widths[k] + (widths[k + 1] if _spans(upper, k) else 0) - len(GAP)
        widths[k] += max(0, width_of(word) - room)
    return widths


def _line(cells: Cells, widths: Sequence[int]) -> str:
    last = len(cells) - 1
    shown = [
        pad(cell, width) if k in (0, last) else pad_left(cell, width)
        for k, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return f"{GAP}{GAP.join(shown)}".rstrip()


def _upper(cells: Cells, widths: Sequence[int]) -> str:
    text, start = GAP, len(GAP)
    for k, (cell, width) in enumerate(zip(cells, widths, strict=True)):
        is_spanning = _spans(cells, k)
        room = width + (len(GAP) + widths[k + 1] if is_spanning else 0)
        if cell:
            left = k in (0, len(cells) - 1)
            text = pad(text, start) + (pad if left else pad_left)(cell, room)
        start += width + len(GAP)
    return text.rstrip()


def _spans(upper: Cells, k: int) -> bool:
    """Return whether a word of the upper head reaches over the next column."""
    return bool(upper[k]) and k + 2 < len(upper) and upper[k + 1] == ""
