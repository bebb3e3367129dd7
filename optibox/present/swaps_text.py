"""The swap list as text: whether to change anything, then each change in figures."""

import math
from collections.abc import Iterable, Iterator, Sequence

from optibox.assess import Assessment
from optibox.present.swaps_words import same_place, swap_words
from optibox.present.text import Line
from optibox.present.words import (
    counted,
    exact_money,
    money,
    number,
    pad,
    pad_left,
    rate,
    watts,
    wrapped,
)
from optibox.running.swap_payback import PaybackRange
from optibox.running.swap_sequence import SwapSequence
from optibox.running.swaps import MINOR_UNIT, Swap, SwapList

SHOWN = 8
"""Swaps that the page shows, beside doing nothing."""

Row = tuple[Swap | None, PaybackRange | None]
_HEAD = ("net", "pay now", "a year", "payback, years", "asleep", "spinning")
_WIDTHS = (9, 9, 8, 21, 15, 15)
_INDENT = "     "


def swaps_verdict(found: SwapList, currency: str) -> str:
    """Return whether anything is worth changing, and what."""
    best, years = found.best, found.before.scenario.money.years
    if best is None and not found.before.is_fit:
        errors = "; ".join(f.evidence for f in found.before.errors[:2])
        return (
            "Does not meet all needs, and no change of one part or pair of changes "
            f"mends it: {errors}."
        )
    if best is None:
        return f"Nothing worth changing: {_runner_up(found, currency)}."
    paid = best.money_now
    pay = f"pay {money(paid, currency)} now" if paid >= MINOR_UNIT else "nothing to pay"
    what = swap_words(best.changes)
    if not found.before.is_fit:
        errors = "; ".join(f.evidence for f in found.before.errors[:2])
        return (
            f"Has to change: as it is, {errors}. Cheapest change that mends it: {what} "
            f"({pay}, running cost {_by(-best.saving_per_year, currency)} a year)."
        )
    return (
        f"Worth changing: {what}: {pay}, saves {money(best.saving_per_year, currency)} "
        f"a year, {money(best.net, currency)} over {counted(years, 'year')} after its "
        "price."
    )


def _by(amount: float, currency: str) -> str:
    way = "up by" if amount >= 0 else "down by"
    return f"{way} {money(abs(amount), currency)}"


def _runner_up(found: SwapList, currency: str) -> str:
    if not found.swaps:
        return "no other part of the catalog fits in alone"
    years = found.before.scenario.money.years
    first = found.swaps[0]
    lost = money(-first.net, currency)
    return (
        f"the best of {counted(len(found.swaps), 'possible change')} "
        f"({swap_words(first.changes)}) costs {lost} more than it saves over "
        f"{counted(years, 'year')}"
    )


def chosen(found: SwapList, shown: int | None) -> list[Swap]:
    """Return the swaps to show: those that make something better, or all of them.

    Of swaps in the same place the best one stands for all; a pair that is worth less
    than one of its changes alone is left out.
    """
    if shown is None:
        return list(found.swaps)
    alone = {swap.changes[0]: swap.net for swap in found.singles}
    best: dict[tuple[object, ...], Swap] = {}
    for swap in found.swaps:
        parts = [alone.get(change, -math.inf) for change in swap.changes]
        is_outdone = len(parts) > 1 and max(parts) >= swap.net
        if betters(swap) and not is_outdone:
            best.setdefault(same_place(swap), swap)
    return list(best.values())[:shown]


def betters(swap: Swap) -> bool:
    """Return whether a swap makes anything better: cost, watts, a rate, or fitness."""
    before, after = swap.before, swap.after
    names = ("read_mb_s", "write_mb_s", "ingest_mb_s")
    faster = any(
        getattr(after.rates, name) >= getattr(before.rates, name) + 0.5
        for name in names
    )
    saves = swap.net >= MINOR_UNIT or swap.saving_per_year >= MINOR_UNIT
    return saves or faster or not before.is_fit


def swap_lines(
    found: SwapList,
    rows: Sequence[tuple[Swap, PaybackRange]],
    currency: str,
    width: int,
) -> Iterator[Line]:
    """Yield the list: a head, then two lines for each swap, best first.

    Parameters
    ----------
    found : SwapList
        All swaps.
    rows : sequence of tuple
        Those to show, with their paybacks.
    currency : str
        Of all money.
    width : int
        Columns of a line.
    """
    yield Line(f"Changes, best first [{currency}; W at the wall]", "strong")
    yield Line((_INDENT + _cells(_HEAD)).rstrip())
    with_idle: list[Row] = [*rows]
    at = sum(swap.net >= MINOR_UNIT for swap, _ in rows) if found.before.is_fit else 0
    with_idle.insert(at if found.before.is_fit else len(rows), (None, None))
    for place, (swap, payback) in enumerate(with_idle, 1):
        if swap is None or payback is None:
            yield from map(Line, _idle_lines(place, found, width))
        else:
            yield from map(Line, _swap_rows(place, swap, payback, width))
    yield from map(Line, _rest(found, rows, width))


def _cells(cells: Iterable[str]) -> str:
    return "".join(pad_left(c, w) for c, w in zip(cells, _WIDTHS, strict=True))


def _idle_lines(place: int, found: SwapList, width: int) -> Iterator[str]:
    wall = found.before.wall
    cells = ("0.00", "0.00", "0.00", "", watts(wall.asleep_w), watts(wall.spinning_w))
    yield pad(f"{place:3}.", len(_INDENT)) + _cells(cells)
    words = "do nothing" if found.before.is_fit else "do nothing: needs are not met"
    yield from wrapped(words, width, _INDENT)


def _swap_rows(
    place: int, swap: Swap, payback: PaybackRange, width: int
) -> Iterator[str]:
    before, after = swap.before.wall, swap.after.wall
    cells = (
        exact_money(swap.net),
        exact_money(swap.money_now),
        exact_money(swap.saving_per_year),
        payback_words(payback),
        _moved(before.asleep_w, after.asleep_w),
        _moved(before.spinning_w, after.spinning_w),
    )
    yield pad(f"{place:3}.", len(_INDENT)) + _cells(cells)
    text = swap_words(swap.changes)
    if swap.sum_of_parts is not None:
        alone = exact_money(swap.sum_of_parts)
        text += f"; one by one the two would be worth {alone}"
    elif len(swap.changes) > 1:
        text += "; only together"
    text += rates_words(swap.before, swap.after)
    yield from wrapped(text, width, _INDENT, _INDENT + "  ")


def payback_words(payback: PaybackRange) -> str:
    """Return a payback with all inputs low, as given and high.

    Examples
    --------
    >>> payback_words(PaybackRange(low=4.0, mid=3.0, high=2.25))
    '4.0 / 3.0 / 2.2'
    """
    values = (payback.low, payback.mid, payback.high)
    if all(value == 0 for value in values):
        return "at once"
    if all(math.isinf(value) for value in values):
        return "never"
    return " / ".join(_years(value) for value in values)


def _years(value: float) -> str:
    if math.isinf(value) or value >= 100:
        return "never" if math.isinf(value) else ">100"
    return number(value, 1)


def _moved(before: float, after: float) -> str:
    old, new = number(before, 1), number(after, 1)
    return new if old == new else f"{old} to {new}"


def rates_words(before: Assessment, after: Assessment) -> str:
    """Return which rates change, from what to what; nothing where none does."""
    names = (
        ("reads", "read_mb_s"),
        ("writes", "write_mb_s"),
        ("takes in", "ingest_mb_s"),
    )
    words = []
    for word, name in names:
        old, new = getattr(before.rates, name), getattr(after.rates, name)
        if abs(old - new) >= 0.5:
            words.append(f"{word} {rate(new)} instead of {number(old)}")
    return f"; {', '.join(words)}" if words else ""


def _rest(
    found: SwapList, rows: Sequence[tuple[Swap, PaybackRange]], width: int
) -> Iterator[str]:
    left = len(found.swaps) - len(rows)
    paid = (
        "Its parts count as paid (--not-bought: not yet)."
        if found.is_in_hand
        else "None of its parts is bought yet: one that is left out saves its price."
    )
    text = (
        f"Tried: {found.n_changes} changes of one part, of which "
        f"{len(found.singles)} keep the machine valid, and "
        f"{counted(found.n_pairs, 'pair')}; {found.n_hopeless} more pairs cannot pay "
        "by their own figures."
    )
    if found.n_left:
        text += f" {found.n_left} pairs that might pay were not tried (--all-pairs)."
    if left > 0:
        text += f" Not shown: {left} that do less in the same place or better nothing (--all)."
    text += (
        " Net is over the scenario's years after the price; paybacks are simple, with "
        "all inputs low / as given / high. What comes out is counted as worth nothing; "
        f"the machine runs as before (spindown looks at that). {paid}"
    )
    yield from wrapped(text, width)


def sequence_lines(found: SwapSequence, currency: str, width: int) -> Iterator[Line]:
    """Yield what to change in which year under a yearly budget."""
    budget = money(found.budget_per_year, currency)
    yield Line(f"Best sequence under {budget} a year", "strong")
    if not found.steps:
        text = "No change within the budget saves more than it costs."
    else:
        text = f"Worth {money(found.net, currency)} over the years, today's value."
    yield from map(Line, wrapped(text, width))
    for step in found.steps:
        when = "now" if step.year == 1 else f"start of year {step.year}"
        words = f"{when}, {money(step.price, currency)}: {swap_words(step.changes)}"
        yield from map(Line, wrapped(words, width, "  ", "    "))
    scope = (
        "all changes of one part that the budget pays"
        if found.is_over_all
        else f"the {found.n_changes} most promising of {found.n_changes_in_all} changes "
        "that the budget pays"
    )
    text = f"Exact over {scope}; {found.n_sets} sets of up to four assessed."
    yield from map(Line, wrapped(text, width))
