"""Machines side by side: differences first, then what is alike, prices of today."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from optibox.report.comparison import (
    LEVELS,
    Comparison,
    Payback,
    PriceRow,
    Repriced,
    Row,
)
from optibox.report.document import (
    Column,
    Document,
    Note,
    Section,
    Table,
    notes,
    section,
)
from optibox.report.document import Row as Cells
from optibox.report.quantity import SAME_MONEY, money, number
from optibox.report.words import counted

MANY = 3
"""Machines from which on their columns are narrow."""


@dataclass(frozen=True, kw_only=True)
class CompareReport:
    """Machines side by side, all against the first."""

    found: Comparison

    def document(self) -> Document:
        """Return the comparison: paybacks, differences, what is alike, prices."""
        found = self.found
        different = [row for row in found.rows if row.differs]
        alike = [row for row in found.rows if not row.differs]
        return Document(
            verdict=(" against ".join(found.names),),
            lead=tuple(Note(self._payback(row)) for row in found.paybacks),
            sections=(
                *section(
                    "Different",
                    notes(_fact(row) for row in different if not row.is_number),
                    self._table(different, found.names),
                ),
                *section("Parts that differ", self._table(found.parts, found.names)),
                *section(
                    "Alike",
                    notes(_fact(row) for row in alike if not row.is_number),
                    self._table(alike, ("",)),
                ),
                *(each for one in found.repriced for each in self._repriced(one)),
            ),
            data=self._data(),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the comparison for programs."""
        return self.found.to_dict()

    def _table(self, rows: Sequence[Row], names: Sequence[str]) -> Table:
        room = 18 if len(names) < MANY else 10
        machines = (Column(head=name, is_right=True, least=room) for name in names)
        told = (
            Cells(cells=(row.label, *row.texts[: len(names)]), group=row.group)
            for row in rows
            if row.is_number
        )
        return Table(columns=(Column(), *machines), rows=tuple(told))

    def _data(self) -> Table:
        """Return a row for each figure and each differing part, as CSV has them."""
        found = self.found
        keys = ("sort", "key", "label", "differs")
        machines = [f"machine_{n}" for n in range(1, len(found.names) + 1)]
        rows = [Cells(cells=("name", "", "", "", *found.names))]
        for sort, group in (("figure", found.rows), ("part", found.parts)):
            for row in group:
                cells = (
                    text if value is None else value
                    for text, value in zip(row.texts, row.values, strict=True)
                )
                told = (sort, row.key, row.label, row.differs, *cells)
                rows.append(Cells(cells=told))
        columns = tuple(Column(key=key) for key in (*keys, *machines))
        return Table(columns=columns, rows=tuple(rows))

    def _payback(self, row: Payback) -> str:
        """Return what changing to a machine costs and saves, and when it pays back."""
        saved, currency = row.saved_per_year["mid"], self.found.currency
        return (
            f"{row.name} against {self.found.names[0]}: {number(abs(row.kwh_saved))} kWh a "
            f"year {_less(row.kwh_saved)}, {money(abs(saved), currency)} a year "
            f"{_less(saved)} in energy and wear. {self._back(row)}"
        )

    def _back(self, row: Payback) -> str:
        if row.saved_per_year["mid"] <= 0:
            return "It never pays back by its running costs."
        there = f"If the first is there already: {self._years(row, row.to_buy)}."
        if abs(row.more_to_buy - row.to_buy) < SAME_MONEY:
            return there
        if row.more_to_buy > SAME_MONEY:
            return f"{there} If neither is: {self._years(row, row.more_to_buy)}."
        less = money(-row.more_to_buy, self.found.currency)
        return f"{there} If neither is: it is {less} cheaper to buy as well."

    def _years(self, row: Payback, price: float) -> str:
        if price <= SAME_MONEY:
            return "nothing to buy, it pays at once"
        years = [row.years(level, price) for level in LEVELS]
        low, mid, high = (
            "no number of" if value is None else number(value, 1) for value in years
        )
        return (
            f"{money(price, self.found.currency)} to buy, paid back after {mid} years "
            f"({low} at low watts and prices, {high} at high ones)"
        )

    def _repriced(self, one: Repriced) -> tuple[Section, ...]:
        then, now = (money(x, self.found.currency) for x in (one.then, one.now))
        words, gap = "the same", one.now - one.then
        if abs(gap) >= SAME_MONEY:
            more = "more" if gap > 0 else "less"
            words = f"{money(abs(gap), self.found.currency)} {more}"
        return section(
            f"{one.name} at the prices of today",
            Note(f"Its parts cost {then} when saved, {now} now: {words}."),
            notes(self._moved(one.rows)),
            Note(self._replan(one)),
        )

    def _moved(self, rows: Sequence[PriceRow]) -> Iterator[str]:
        """Yield the parts whose price is another one now, or that are gone."""
        currency = self.found.currency
        for row in rows:
            if row.now is not None and abs(row.now - row.then) < SAME_MONEY:
                continue
            now = "not in the catalog any more"
            if row.now is not None:
                now = f"{money(row.now, currency)} now"
            yield (
                f"{row.count} x {row.name} [{row.part_id}]: "
                f"{money(row.then, currency)} then, {now}"
            )

    def _replan(self, one: Repriced) -> str:
        """Return whether planning again pays."""
        found, currency = self.found, self.found.currency
        if not found.is_asked:
            return "Whether planning again pays is told with --scenario."
        if one.replan is None:
            return "Planning again was not asked for."
        best, gain = one.replan.assessment, one.gain
        if best is None or gain is None:
            return "Planned again, no machine of the catalog meets the scenario."
        proof = "proven" if one.replan.status == "optimal" else "best found, not proven"
        head = f"Planned again ({proof})"
        cost, over = money(best.total_cost, currency), counted(found.years, "year")
        if not one.found.is_fit:
            return (
                f"{head}: {cost} over {over}. This build does not meet the scenario; see "
                "check."
            )
        if gain <= SAME_MONEY * 2:
            return f"{head}: nothing is cheaper over {over}; keep to it."
        return (
            f"{head}: {cost} instead of {money(one.found.total_cost, currency)} over "
            f"{over}; planning again saves {money(gain, currency)} as long as nothing is "
            "bought."
        )


def _fact(row: Row) -> str:
    """Return what is no number, the machines' words one after the other."""
    texts = [row.texts[0]] if not row.differs else row.texts
    return f"{row.label}: {'; '.join(texts)}"


def _less(saved: float) -> str:
    return "less" if saved >= 0 else "more"
