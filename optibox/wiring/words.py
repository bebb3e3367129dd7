"""Places on the power tree in words."""

import re
from collections.abc import Iterable

from optibox.build import BOARD
from optibox.wiring.loads import Giver
from optibox.wiring.tree import Edge, PowerTree

PLUG_WORDS = {"sata": "SATA power", "peripheral": "4-pin"}
_IN_FULL = 3


def giver_words(giver: Giver) -> str:
    """Return what offers plugs, in words: ``lead 2``, ``the board``, ``power-1``."""
    if giver.name == BOARD:
        return "the board's drive lead"
    return giver.name.replace("lead-", "lead ") if giver.takes is None else giver.name


def plug_name(edge: Edge) -> str:
    """Return a plug in words.

    Examples: ``plug 2 of lead 1``, ``plug 1 of power-3``.
    """
    return f"plug {edge.feed.plug} of {giver_words(edge.path[-1])}"


def way_to(edge: Edge) -> str:
    """Return the givers from the lead to a plug: ``lead 1, power-1, power-3``."""
    return ", ".join(giver_words(giver) for giver in edge.path)


def power_words(tree: PowerTree, drive: str) -> str:
    """Return which plug feeds a drive, through which adapters, in words.

    Examples: ``SATA power plug 2 of lead 1``; ``plug 1 of power-2 (splitter ...) on
    SATA power plug 1 of lead 1``; ``through the backplane, on plugs 1 and 2 of lead 3``.
    """
    edges = tree.feeding(drive)
    if not edges:
        return "no power plug"
    if edges[0].feed.load == drive:
        return edge_words(tree, edges[0])
    plugs: dict[str, list[str]] = {}
    for edge in edges:
        plugs.setdefault(giver_words(edge.path[-1]), []).append(str(edge.feed.plug))
    fed = [
        f"plug{'' if len(numbers) == 1 else 's'} {' and '.join(numbers)} of {giver}"
        for giver, numbers in plugs.items()
    ]
    return f"through the backplane, on {' and '.join(fed)}"


def power_short(tree: PowerTree, drive: str) -> str:
    """Return which plug feeds a drive in few words.

    Examples: ``lead 1 plug 2``; ``lead 1 plug 1, power-2 plug 1``; ``backplane``.
    """
    edges = tree.feeding(drive)
    if not edges:
        return "no plug"
    if edges[0].feed.load != drive:
        return "backplane"
    path = edges[0].path
    plugs = [tree.edge_by_load[giver.name].feed.plug for giver in path[1:]]
    plugs.append(edges[0].feed.plug)
    return ", ".join(
        f"{giver_words(giver)} plug {plug}"
        for giver, plug in zip(path, plugs, strict=True)
    )


def edge_words(tree: PowerTree, edge: Edge) -> str:
    """Return a plug with all that lies between it and the supply."""
    words, up = list[str](), edge
    while True:
        giver = up.path[-1]
        plug = f"{PLUG_WORDS[giver.gives]} plug {up.feed.plug} of {giver_words(giver)}"
        if giver.takes is None:
            words.append(plug)
            return " on ".join(words)
        words.append(f"{plug} ({giver.label})")
        up = tree.edge_by_load[giver.name]


def several(names: Iterable[str]) -> str:
    """Return names in one phrase, runs of numbers shortened.

    Examples
    --------
    >>> several(["data-1", "data-2", "data-3", "data-4", "parity-1"])
    'data-1 to data-4 and parity-1'
    """
    runs: list[list[str]] = []
    for name in names:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    words = list[str]()
    for run in runs:
        words += [f"{run[0]} to {run[-1]}"] if len(run) >= _IN_FULL else run
    if len(words) > 1:
        return f"{', '.join(words[:-1])} and {words[-1]}"
    return words[0] if words else "nothing"


def _follows(name: str, other: str) -> bool:
    one, two = (re.fullmatch(r"(.*-)(\d+)", text) for text in (name, other))
    if one is None or two is None:
        return False
    return one[1] == two[1] and int(two[2]) == int(one[2]) + 1
