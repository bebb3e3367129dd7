"""Help with names: the nearest known one, or the list of what is known."""

import difflib
from collections.abc import Iterable

_SHOWN = 12


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a sentence that helps a person to the name they meant.

    Examples
    --------
    >>> nearest("bord", ["board", "cable"])
    "Did you mean 'board'?"
    >>> nearest("zzz", ["board", "cable"])
    'Known: board, cable.'
    """
    names = list(dict.fromkeys(known))
    lower = {name.lower(): name for name in reversed(names)}
    close = difflib.get_close_matches(word.lower(), lower, n=1, cutoff=0.6)
    if close:
        return f"Did you mean '{lower[close[0]]}'?"
    return f"Known: {listed(names)}." if names else "None is known."


def listed(names: Iterable[str]) -> str:
    """Return names as a list for a sentence, cut where it grows too long."""
    every = list(names)
    more = f" and {len(every) - _SHOWN} more" if len(every) > _SHOWN else ""
    return ", ".join(every[:_SHOWN]) + more
