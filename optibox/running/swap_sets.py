"""Sets of changes that could pay, for sequences over the years.

A set is left out where the promises of its changes, each in the year that suits it
best, and all the slack do not reach what the best single change is known to give. The
smaller sets on the way to one that stays are kept.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from optibox.running.swap_changes import Change, undoes
from optibox.running.swap_kit import kit_of
from optibox.running.swap_promise import promise, slack
from optibox.running.swaps import SwapList

Chosen = tuple[Change, ...]
Pieces = Counter[tuple[str, str]]


def hopes(found: SwapList, changes: Sequence[Change]) -> dict[Change, float]:
    """Return what each change could be worth at best. [currency]."""
    money = found.before.scenario.money
    alone = {swap.changes[0]: swap.net for swap in found.singles}
    return {
        change: max(
            promise(found.before, change).best_value(money),
            alone.get(change, -float("inf")),
        )
        for change in changes
    }


def sets_that_could_pay(
    found: SwapList,
    changes: Sequence[Change],
    budget: float,
    most_swaps: int,
    most_sets: int,
) -> tuple[list[Chosen], Sequence[Change]]:
    """Return sets of changes to assess, and the changes that they are made of.

    Parameters
    ----------
    found : SwapList
        The machine.
    changes : sequence of Change
        What a year's budget pays.
    budget : float
        Of a year. [currency]
    most_swaps : int
        Changes in a set at most.
    most_sets : int
        Sets at most; beyond it the least promising changes are left out.

    Returns
    -------
    list of tuple
        Each in key order.
    sequence of Change
        All of the changes given, or the most promising of them.
    """
    hoped = hopes(found, changes)
    known = [swap for swap in found.swaps if swap.money_now <= budget]
    paying = [swap for swap in known if swap.net > 0 or not found.before.is_fit]
    of_paying = {change for swap in paying for change in swap.changes}
    ranked = sorted(hoped, key=lambda c: (c not in of_paying, -hoped[c], c.key))
    nets = [0.0, *(swap.net for swap in known)]
    floor = max(nets) if found.before.is_fit else -float("inf")
    room = slack(found.before) - floor
    sure = [
        _in_order(swap.changes) for swap in paying if hoped.keys() >= {*swap.changes}
    ]
    low, high = 0, len(ranked)
    best: list[Chosen] = sure
    while low < high:
        middle = (low + high + 1) // 2
        sets = _capped(
            ranked[:middle], hoped, room, _pieces(found), most_swaps, most_sets
        )
        if sets is None:
            high = middle - 1
        else:
            low, best = middle, list(dict.fromkeys([*sure, *sets]))
    return best, ranked[:low]


def _in_order(changes: Chosen) -> Chosen:
    return tuple(sorted(changes, key=lambda c: c.key))


def _capped(
    ranked: Sequence[Change],
    hoped: Mapping[Change, float],
    room: float,
    pieces: Pieces,
    most_swaps: int,
    most_sets: int,
) -> list[Chosen] | None:
    """Return the sets with all smaller ones in them; nothing where they are too many."""
    found: dict[Chosen, None] = {}
    ranked = sorted(ranked, key=lambda c: (-hoped[c], c.key))
    for chosen in _grow(ranked, hoped, room, pieces, most_swaps):
        for size in range(1, len(chosen) + 1):
            found.update(dict.fromkeys(combinations(chosen, size)))
        if len(found) > most_sets:
            return None
    return list(found)


def _pieces(found: SwapList) -> Pieces:
    """Return how many pieces of each item there are in each role."""
    kit = kit_of(found.bench.before)
    pieces = Counter({(e.item.key, ""): e.count for e in kit.loose})
    pieces.update((p.item.key, p.role or "") for p in kit.placed)
    return pieces


def _grow(
    ranked: Sequence[Change],
    hoped: Mapping[Change, float],
    room: float,
    pieces: Pieces,
    most_swaps: int,
) -> Iterator[Chosen]:
    """Yield sets whose hopes and the room are above nothing, each in key order.

    No piece is taken out twice, nothing is put in that another change takes out, and
    nothing is put in beside what is there more than once.
    """

    def grow(chosen: Chosen, hope: float, first: int, left: Pieces) -> Iterator[Chosen]:
        if chosen:
            yield _in_order(chosen)
        if len(chosen) == most_swaps:
            return
        for at in range(first, len(ranked)):
            change = ranked[at]
            if hope + hoped[change] + room <= 0.0 and hoped[change] <= 0.0:
                return  # those that follow promise less
            now = _taken(left, chosen, change)
            if now is not None:
                more = (*chosen, change)
                yield from grow(more, hope + hoped[change], at, now)

    yield from grow((), 0.0, 0, pieces)


def _taken(left: Pieces, chosen: Chosen, change: Change) -> Pieces | None:
    """Return the pieces left after a change, or nothing where it does not go with."""
    if any(undoes(change, other) for other in chosen):
        return None
    if change.out is None:
        return None if change in chosen else left
    place = (change.out.key, change.role or "")
    if left[place] < change.n_out:
        return None
    now = left.copy()
    now[place] -= change.n_out
    return now
