"""Numbers and names as text: rounding, units, widths, line breaks."""

import math
import unicodedata
from collections.abc import Iterable

from optibox.units import tb_to_tib

CUT_MARK = "..."
CENTS_BELOW = 20.0
"""Sums from which cents are left out of running text. [currency]"""
ALMOST_NEVER_H = 8760.0
"""Hours from which a transfer is said not to end: a whole year."""


def clean(text: str) -> str:
    r"""Return text on one line without control, formatting and private characters.

    Catalog texts may hold anything; none of it may steer a terminal.

    Examples
    --------
    >>> clean("two\nlines and \x1b[31mred")
    'two lines and [31mred'
    """
    shown = (" " if c.isspace() else c for c in text)
    kept = (c for c in shown if unicodedata.category(c) not in _UNSHOWN)
    return " ".join("".join(kept).split())


_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


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


def number(value: float, digits: int = 0) -> str:
    """Return a number with so many decimals; from 10 000 on in groups of three.

    Examples
    --------
    >>> number(1234.56, 1), number(43210.2), number(-0.01)
    ('1234.6', '43 210', '0')
    """
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return "unlimited" if value > 0 else "none"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    if abs(value) >= 10_000:
        text = f"{float(text):,.{digits}f}".replace(",", " ")
    return text


def money(value: float, currency: str) -> str:
    """Return money: cents where they matter, and only where there are any.

    Examples
    --------
    >>> money(758.8, "EUR"), money(4.6, "EUR"), money(3, "EUR")
    ('759 EUR', '4.60 EUR', '3 EUR')
    """
    has_cents = abs(value) < CENTS_BELOW and round(value * 100) % 100 != 0
    return f"{number(value, 2 if has_cents else 0)} {currency}".rstrip()


def exact_money(value: float) -> str:
    """Return money to the cent, without its currency."""
    return number(value, 2)


def watts(value: float) -> str:
    """Return watts with one decimal."""
    return f"{number(value, 1)} W"


def rate(value_mb_s: float) -> str:
    """Return a rate in whole MB/s."""
    return f"{number(value_mb_s)} MB/s"


def terabytes(value_tb: float) -> str:
    """Return a capacity in TB to three digits.

    Examples
    --------
    >>> terabytes(11.174), terabytes(0.5), terabytes(123.4)
    ('11.2 TB', '0.50 TB', '123 TB')
    """
    return f"{number(value_tb, _decimals(value_tb))} TB"


def both_capacities(value_tb: float) -> str:
    """Return a capacity in TB and in TiB.

    Examples
    --------
    >>> both_capacities(11.174)
    '11.2 TB (10.2 TiB)'
    """
    tib = tb_to_tib(value_tb)
    return f"{terabytes(value_tb)} ({number(tib, _decimals(tib))} TiB)"


def _decimals(value: float) -> int:
    return 0 if abs(value) >= 99.95 else 1 if abs(value) >= 9.995 else 2


def hours(value_h: float) -> str:
    """Return a time in minutes, hours or days, whichever reads best.

    Examples
    --------
    >>> hours(0.25), hours(7.44), hours(31.2), hours(80), hours(0)
    ('15 min', '7.4 h', '31 h', '3.3 days', '0 min')
    """
    if math.isnan(value_h) or value_h >= ALMOST_NEVER_H:
        return "never ends"
    if value_h < 0.995:
        minutes = value_h * 60
        return f"{number(minutes, 1 if 0 < minutes < 9.95 else 0)} min"
    if value_h < 9.95:
        return f"{number(value_h, 1)} h"
    return (
        f"{number(value_h)} h" if value_h < 71.5 else f"{number(value_h / 24, 1)} days"
    )


def share(fraction: float) -> str:
    """Return a share as per cent; small ones keep a decimal.

    Examples
    --------
    >>> share(0.283), share(0.0042), share(0)
    ('28 %', '0.4 %', '0 %')
    """
    percent = fraction * 100
    return f"{number(percent, 1 if 0 < abs(percent) < 9.95 else 0)} %"


def counted(count: int, singular: str, plural: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> counted(1, "drive"), counted(3, "drive")
    ('1 drive', '3 drives')
    """
    return f"{count} {singular if count == 1 else plural or singular + 's'}"


def and_list(words: Iterable[str]) -> str:
    """Return words in a row with 'and' before the last.

    Examples
    --------
    >>> and_list(["a", "b", "c"])
    'a, b and c'
    """
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def capital(text: str) -> str:
    """Return a text that begins with a capital letter; names with digits stay.

    Examples
    --------
    >>> capital("no boot device"), capital("data-1 is on no port")
    ('No boot device', 'data-1 is on no port')
    """
    first = text.split(" ", 1)[0]
    is_name = any(char.isdigit() for char in first)
    return text if is_name else text[:1].upper() + text[1:]
