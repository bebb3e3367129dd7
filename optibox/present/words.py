"""Texts within widths: padding, cutting, line breaks."""

import unicodedata
from collections.abc import Iterable

CUT_MARK = "..."


def width_of(text: str) -> int:
    r"""Return the columns that a text takes on a terminal.

    Examples
    --------
    >>> width_of("bay 1"), width_of("\u7b71")
    (5, 2)
    """
    return sum(map(_columns, text))


def _columns(char: str) -> int:
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def cut(text: str, width: int) -> str:
    """Return a text cut to a width, the cut marked.

    Examples
    --------
    >>> cut("a long label", 8)
    'a lon...'
    """
    if width_of(text) <= width:
        return text
    kept = ""
    for char in text:
        if width_of(kept + char) > max(0, width - len(CUT_MARK)):
            break
        kept += char
    return (kept.rstrip() + CUT_MARK)[: max(0, width)]


def pad(text: str, width: int) -> str:
    """Return a text filled with spaces to a width."""
    return text + " " * max(0, width - width_of(text))


def pad_left(text: str, width: int) -> str:
    """Return a text moved to the right end of a width."""
    return " " * max(0, width - width_of(text)) + text


def wrapped(
    text: str, width: int, first: str = "", rest: str | None = None
) -> list[str]:
    """Return a text as lines of a width; words longer than a line are broken.

    Parameters
    ----------
    text : str
        The text; runs of spaces count as one.
    width : int
        Columns of a line, indents included.
    first, rest : str
        What the first line and the others begin with; spaces as wide as ``first``
        unless said.

    Examples
    --------
    >>> wrapped("one two three", 9, "- ")
    ['- one two', '  three']
    """
    rest = " " * width_of(first) if rest is None else rest
    lines, line, is_empty = [], first, True
    room = max(1, width - max(width_of(first), width_of(rest)))
    for word in _pieces(text, room):
        gap = "" if is_empty else " "
        if not is_empty and width_of(line + gap + word) > width:
            lines.append(line)
            line, gap = rest, ""
        line += gap + word
        is_empty = False
    return [*lines, line]


def _pieces(text: str, room: int) -> Iterable[str]:
    for word in text.split():
        left = word
        while width_of(left) > room:
            head = next(
                left[:n] for n in range(len(left), 0, -1) if width_of(left[:n]) <= room
            )
            yield head
            left = left[len(head) :]
        if left:
            yield left
