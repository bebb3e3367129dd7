"""Words without numbers of a unit: cleaning, counting, listing."""

import unicodedata
from collections.abc import Iterable

_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def clean(text: str) -> str:
    r"""Return text on one line without control, formatting and private characters.

    Catalog texts may hold anything; none of it may steer a terminal.

    Examples
    --------
    >>> clean("two\nlines and \x1b[31mred")
    'two lines and [31mred'
    """
    if text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()
    shown = (" " if c.isspace() else c for c in text)
    kept = (c for c in shown if unicodedata.category(c) not in _UNSHOWN)
    return " ".join("".join(kept).split())


def counted(count: int, singular: str, plural: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> counted(1, "drive"), counted(3, "drive")
    ('1 drive', '3 drives')
    """
    return f"{count} {singular if count == 1 else plural or singular + 's'}"


def pieces(name: str, count: int) -> str:
    """Return a name with its count, where there is more than one.

    Examples
    --------
    >>> pieces("drive", 2), pieces("drive", 1)
    ('2 x drive', 'drive')
    """
    return name if count == 1 else f"{count} x {name}"


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
