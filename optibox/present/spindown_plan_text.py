"""Policies with a machine for each, as text."""

from collections.abc import Iterator, Sequence

from optibox.present.spindown_table import table_lines
from optibox.present.spindown_text import HEAD as POLICY_HEAD
from optibox.present.spindown_text import (
    OVERHANG,
    SPARED,
    detail_lines,
    figure_cells,
)
from optibox.present.spindown_words import kind_words, policy_words
from optibox.present.text import PIPED_WIDTH, Line
from optibox.present.words import counted, money, number, share, wrapped
from optibox.running.policy import WORTH_PER_YEAR
from optibox.running.policy_plan import PlannedRow, PlannedTable
from optibox.running.spindown import Spindown

Cells = Sequence[str]
HEAD: tuple[Cells, Cells] = ((*POLICY_HEAD[0][:-1], "machine"), POLICY_HEAD[1])
_WORDS = {
    "infeasible": "no machine meets all needs",
    "unknown": "no machine found in the time given",
}


def planned_lines(
    table: PlannedTable,
    currency: str,
    width: int = PIPED_WIDTH,
    on_best: Spindown | None = None,
) -> list[Line]:
    """Return the whole answer as lines, the verdict first.

    Parameters
    ----------
    table : PlannedTable
        Policies, each with its machine.
    currency : str
        Of all money.
    width : int
        Columns of a line; tables may need some more.
    on_best : Spindown, optional
        What else holds for the best machine.
    """
    text = planned_verdict(table, currency)
    saved = on_best.off_saving_per_year if on_best else 0.0
    if saved >= WORTH_PER_YEAR:
        text += (
            f" Switching it off in the off hours saves {money(saved, currency)} a year."
        )
    lines = [Line(line, "strong") for line in wrapped(text, width)]
    if table.scenario.usage.spinning_fraction is not None:
        text = (
            "usage.spinning_fraction is taken at every timeout alike, so that timeouts "
            "differ in wakes alone: give sessions to compare them."
        )
        lines += [Line(line, "caution") for line in wrapped(text, width)]
    years = table.scenario.money.years
    title = f"The best machine under each policy [{currency}, {years} years]"
    lines += [Line(""), Line(title, "strong")]
    lines += [Line(text) for text in _rows(table, width)]
    lines += [Line(text) for text in wrapped(_effort(table), width)]
    return lines + (detail_lines(on_best, currency, width) if on_best else [])


def planned_verdict(table: PlannedTable, currency: str) -> str:
    """Return which policy is best with parts to suit, and how much that matters."""
    best = table.best
    if best is None:
        return "No machine meets all needs within all limits under any policy tried."
    years = table.scenario.money.years
    others = [r for r in table.rows if r.row and r.policy != best.policy]
    head = (
        f"Best: {policy_words(best.policy)}, with {best.drives} "
        f"({money(best.total, currency)} over {years} years)"
    )
    if not others:
        return f"{head}; no other policy was tried or possible."
    alike = [r for r in others if kind_words(r.policy) == kind_words(best.policy)]
    dearest = max(alike or others, key=lambda row: row.total)
    extra = (dearest.total - best.total) / years
    if extra < WORTH_PER_YEAR:
        return (
            f"{head}. Policies hardly matter: with parts to suit, the dearest costs "
            f"{money(extra, currency)} a year more."
        )
    return f"{head}. {_dearest(best, dearest, extra, currency)}"


def _dearest(best: PlannedRow, dearest: PlannedRow, extra: float, currency: str) -> str:
    parts = (
        "with the same drives"
        if dearest.drives == best.drives
        else f"with {dearest.drives}, best for it"
    )
    return (
        f"Policies matter: that {policy_words(dearest.policy, best.policy)}, {parts}, "
        f"costs {money(extra, currency)} a year more."
    )


def _rows(table: PlannedTable, width: int) -> Iterator[str]:
    """Yield the table, the machines that it names by letters, and what is missing."""
    letters: dict[tuple[str, str], str] = {}
    blocks: dict[str, list[Cells]] = {}
    missing: dict[str, int] = {}
    for row in table.rows:
        if row.row is None:
            words = _WORDS.get(row.status or "", "not tried in the time given")
            missing[words] = missing.get(words, 0) + 1
            continue
        key = (row.drives, number(row.purchase, 2))
        letter = letters.setdefault(key, letter_of(len(letters)))
        cells = (*figure_cells(row.row), "; ".join([letter, *_marks(table, row)]))
        blocks.setdefault(_kind(row), []).append(cells)
    if blocks:
        yield from table_lines(HEAD, list(blocks.items()), width + OVERHANG, SPARED)
    for (drives, price), letter in letters.items():
        paid = f"{price} to buy" if price != "0.00" else "nothing to buy"
        text = f"{drives}, {paid}"
        yield from wrapped(text, width, f"  {letter}: ")
    for words, count in missing.items():
        yield f"  {counted(count, 'policy', 'policies')}: {words}"


def letter_of(index: int) -> str:
    """Return the letter of a machine: A to Z, then AA and so on.

    Examples
    --------
    >>> letter_of(0), letter_of(25), letter_of(26)
    ('A', 'Z', 'AA')
    """
    more, place = divmod(index, 26)
    return (letter_of(more - 1) if more else "") + chr(ord("A") + place)


def _kind(row: PlannedRow) -> str:
    kind = kind_words(row.policy)
    if row.policy.write_mode == "plain":
        return f"no parity by itself (stripes, pairs, single drives), {kind}"
    return kind


def _marks(table: PlannedTable, row: PlannedRow) -> list[str]:
    marks = ["best"] if table.best and row.policy == table.best.policy else []
    if row.status != "optimal":
        marks.append(f"gap {share(row.gap)}")
    return marks


def _effort(table: PlannedTable) -> str:
    tried = f"{table.n_tried} of {len(table.rows)} policies searched"
    return (
        f"{tried} in {number(table.seconds, 1)} s, each for the machine of least cost "
        "over the years, purchase included; proven where no gap is shown."
    )
