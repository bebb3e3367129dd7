"""When drives should sleep, with a machine chosen for each policy."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optibox.report.as_json import FORMAT
from optibox.report.document import (
    Column,
    Document,
    Item,
    Items,
    Note,
    Table,
    notes,
    section,
)
from optibox.report.policies import (
    figure_columns,
    figures,
    kind_words,
    policy_words,
    row_of,
)
from optibox.report.quantity import money, number, share
from optibox.report.spindown import details, details_dict
from optibox.report.words import counted
from optibox.running.policy import WORTH_PER_YEAR
from optibox.running.policy_plan import PlannedRow, PlannedTable
from optibox.running.spindown import Spindown

_MISSING = {
    "infeasible": "no machine meets all needs",
    "unknown": "no machine found in the time given",
}


@dataclass(frozen=True, kw_only=True)
class PlannedReport:
    """Policies, each with its machine, and what else holds for the best machine."""

    table: PlannedTable
    currency: str
    on_best: Spindown | None = None

    def document(self) -> Document:
        """Return the answer, the verdict first."""
        table, lead = self.table, list[Note]()
        if table.scenario.usage.spinning_fraction is not None:
            text = (
                "usage.spinning_fraction is taken at every timeout alike, so that "
                "timeouts differ in wakes alone: give sessions to compare them."
            )
            lead.append(Note(text, "caution"))
        years = table.scenario.money.years
        return Document(
            verdict=(self.verdict(),),
            lead=tuple(lead),
            sections=(
                *section(
                    f"The best machine under each policy over {years} years",
                    self._table([row for row in table.rows if row.row]),
                    Items(tuple(self._machines())),
                    notes(self._untold()),
                    Note(self._effort()),
                ),
                *(details(self.on_best, self.currency) if self.on_best else ()),
            ),
            data=self._table(table.rows),
        )

    def verdict(self) -> str:
        """Return which policy is best with parts to suit, and how much that matters."""
        text = self._best()
        saved = self.on_best.off_saving_per_year if self.on_best else 0.0
        if saved >= WORTH_PER_YEAR:
            gain = money(saved, self.currency)
            text += f" Switching it off in the off hours saves {gain} a year."
        return text

    def _best(self) -> str:
        table, currency, best = self.table, self.currency, self.table.best
        if best is None:
            return (
                "No machine meets all needs within all limits under any policy tried."
            )
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
        is_same = dearest.drives == best.drives
        parts = (
            "with the same drives" if is_same else f"with {dearest.drives}, best for it"
        )
        return (
            f"{head}. Policies matter: that {policy_words(dearest.policy, best.policy)}, "
            f"{parts}, costs {money(extra, currency)} a year more."
        )

    @property
    def _letters(self) -> dict[tuple[str, str], str]:
        """Return the letter of each machine by its drives and price."""
        letters: dict[tuple[str, str], str] = {}
        for row in self.table.rows:
            if row.row is not None:
                letters.setdefault(_machine(row), letter_of(len(letters)))
        return letters

    def _table(self, rows: "list[PlannedRow] | tuple[PlannedRow, ...]") -> Table:
        keys = ("purchase_price", "drives", "status", "gap", "currency")
        columns = (
            *figure_columns(self.currency),
            Column(head="machine", flow="keep"),
            *(Column(key=key, is_shown=False) for key in keys),
        )
        letters = self._letters
        told = (
            row_of(
                columns,
                _told(row) | {"currency": self.currency},
                _kind(row),
                self._mark(row, letters),
            )
            for row in rows
        )
        return Table(columns=columns, rows=tuple(told))

    def _mark(self, row: PlannedRow, letters: dict[tuple[str, str], str]) -> str:
        best = self.table.best
        marks = [letters.get(_machine(row), "")]
        marks += ["best"] if best and row.policy == best.policy else []
        marks += [f"gap {share(row.gap)}"] if row.status != "optimal" else []
        return "; ".join(marks)

    def _machines(self) -> Iterator[Item]:
        for (drives, price), letter in self._letters.items():
            paid = f"{price} {self.currency} to buy".replace("  ", " ")
            is_free = price == "0.00"
            yield Item(
                mark=f"{letter}:",
                text=f"{drives}, {'nothing to buy' if is_free else paid}",
            )

    def _untold(self) -> Iterator[str]:
        """Yield how many policies have no machine, by the reason."""
        missing: dict[str, int] = {}
        for row in self.table.rows:
            if row.row is None:
                words = _MISSING.get(row.status or "", "not tried in the time given")
                missing[words] = missing.get(words, 0) + 1
        for words, count in missing.items():
            yield f"{counted(count, 'policy', 'policies')}: {words}"

    def _effort(self) -> str:
        table = self.table
        return (
            f"{table.n_tried} of {len(table.rows)} policies searched in "
            f"{number(table.seconds, 1)} s, each for the machine of least cost over the "
            "years, purchase included; proven where no gap is shown."
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the answer for programs; units stand in the keys."""
        table = self.table
        return {
            "format": FORMAT,
            "currency": self.currency,
            "years": table.scenario.money.years,
            "seconds": table.seconds,
            "best": table.best and _told(table.best),
            "policies": [_told(row) for row in table.rows],
            "on_best": details_dict(self.on_best) if self.on_best else None,
        }


def _machine(row: PlannedRow) -> tuple[str, str]:
    return row.drives, number(row.purchase, 2)


def _told(row: PlannedRow) -> dict[str, Any]:
    blank = dict.fromkeys(column.key for column in figure_columns(""))
    return {
        **(figures(row.row) if row.row else blank),
        "timeout_min": row.policy.timeout_min,
        "write_mode": row.policy.write_mode,
        "cache": row.policy.cache,
        "purchase_price": row.purchase if row.row else None,
        "drives": row.drives,
        "status": row.status or "not tried",
        "gap": row.gap if row.row else None,
    }


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
