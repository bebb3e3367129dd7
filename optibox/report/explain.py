"""Why nothing fits and what nearly does; or what each requirement costs."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from optibox.assess import Assessment
from optibox.criteria import AIMS, CRITERIA
from optibox.explain import (
    Bill,
    Combination,
    Conflict,
    Effort,
    Gap,
    Price,
    Refusal,
    Relaxation,
    Requirement,
)
from optibox.migration import Shortage
from optibox.report.as_json import FORMAT, cents
from optibox.report.document import (
    Column,
    Document,
    Facts,
    Note,
    Row,
    Section,
    Table,
    notes,
    section,
)
from optibox.report.machines import in_figures
from optibox.report.quantity import Quantity, cents_of, money, number
from optibox.report.words import and_list, capital, counted
from optibox.rules.reach import tb

NO_BUILD = "No machine of this catalog meets all needs within all limits."
NOT_FOUND = "No machine was found in the time given; one may exist."

_BY_KEY = {c.scenario_key: c for c in CRITERIA if c.need or c.limit}
_SUMS = ("total cost", "purchase")
_AIMS = {
    "annual energy": "kWh a year",
    "asleep watts": "W asleep",
    "ingest": "MB/s taken in",
    "read": "MB/s read",
}


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """Why there is no machine, or what the requirements of one cost."""

    found: Refusal | Bill
    currency: str
    years: int
    """Years that costs count."""

    def document(self) -> Document:
        """Return the explanation, the verdict first."""
        found = self.found
        end = Note(_effort(found.effort))
        if isinstance(found, Bill):
            return _Bill(found, self.currency, self.years).document(end)
        lead, sections = refusal_parts(found, self.currency)
        return Document(
            verdict=(NO_BUILD,),
            lead=lead,
            sections=sections,
            end=(end,),
            data=_easings(found),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the explanation for programs."""
        found = explanation_dict(self.found)
        return {"format": FORMAT, "currency": self.currency, **found}


def refusal_parts(
    found: Refusal, currency: str
) -> tuple[tuple[Note, ...], tuple[Section, ...]]:
    """Return why nothing fits: what stands beneath the verdict, and sections."""
    lead = ""
    if found.has_any is False and not found.conflicts:
        lead = "This catalog makes no machine at all, whatever is asked."
    elif found.has_any is None and not found.conflicts:
        lead = "Which requirements conflict was not found in time."
    why = [*map(_conflict, found.conflicts), *_gaps(found.gaps)]
    eased = [r for r in found.relaxations if r.is_enough is not None]
    told = found.relaxations if eased else ()
    facts = Facts(tuple((r.requirement.key, _eased(r, currency)) for r in told))
    return (Note(lead),), (
        *section("Why", notes(why)),
        *section(
            "What nearly does",
            facts,
            Note(_enough(found) if eased else ""),
            Note(_together(found, currency)),
        ),
    )


def _conflict(conflict: Conflict) -> str:
    words = [m.words for m in conflict.members]
    if len(words) == 1:
        return f"{capital(words[0])} cannot be had, whatever else is asked for."
    proof = "without any one of them there is a machine"
    if not conflict.is_irreducible:
        proof = "not all of them may be needed for that: the time was over"
    return f"{capital(and_list(words))} cannot be had together; {proof}."


def _gaps(gaps: tuple[Gap, ...]) -> Iterator[str]:
    causes = [gap.words for gap in gaps if gap.would_help]
    named = [gap.words for gap in gaps if gap.would_help is None]
    for words in causes:
        yield f"A gap in the catalog is a cause: {words}; with one there is a machine."
    if named and not causes:
        yield f"Not in the catalog: {'; '.join(named)}."


def _enough(found: Refusal) -> str:
    if all(r.is_enough is False for r in found.relaxations):
        return "No single one is enough."
    many = len(found.conflicts) > 1
    return "One of each conflict has to give way." if many else ""


def _value(requirement: Requirement, value: float, currency: str) -> str:
    """Return a value of a requirement with its unit, no idle zeros behind it."""
    criterion = _BY_KEY.get(requirement.key)
    if criterion is None:
        return number(value)
    if criterion.is_money:
        digits = 0 if float(value).is_integer() else 2
        return f"{number(value, digits)} {currency}".rstrip()
    digits = 2 if criterion.step < 1 and criterion.need else criterion.decimals
    text = number(value, digits)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {criterion.unit.split('/year')[0]}".rstrip()


def _eased(relaxation: Relaxation, currency: str) -> str:
    """Return what one requirement would have to be."""
    asked = relaxation.requirement
    if relaxation.is_enough is None:
        return "not found out in time"
    if not relaxation.is_enough:
        return "to drop it is not enough"
    if relaxation.value is None or asked.value is None:
        return f"{_without(relaxation.lack)}{_machine(relaxation.found, currency)}"
    what = _value(asked, relaxation.value, currency)
    if relaxation.is_proven:
        most = "at most" if asked.is_need else "at least"
        most = "" if asked.key == "needs.failures_survived" else f"{most} "
        text = f"{most}{what} instead of {_value(asked, asked.value, currency)}"
    else:
        bound = relaxation.bound and _value(asked, relaxation.bound, currency)
        rest = f"less than {bound} is not" if bound else "perhaps better"
        text = f"{what} is possible, {rest} (the time was over)"
    return text + _machine(relaxation.found, currency)


def _without(lack: Shortage | None) -> str:
    """Return what it takes to do without a wish that is no number."""
    if lack is None:
        return "without it"
    if lack.borrow_b:
        return f"with an empty drive of {tb(lack.borrow_b)} or more borrowed first"
    return "with a second copy of what its drives hold elsewhere, read back"


def _machine(found: Assessment | None, currency: str) -> str:
    """Return the machine that a relaxation leads to."""
    return "" if found is None else f": {in_figures(found, currency)}"


def _together(found: Refusal, currency: str) -> str:
    """Return all requirements eased at once, where that says more than each alone."""
    together = found.combination
    if together is None:
        return ""
    parts = _changed(together, currency)
    if len(parts) <= any(relaxation.is_enough for relaxation in found.relaxations):
        return ""
    share = number((together.factor - 1) * 100, 1)
    least = "the least that does" if together.is_proven else "possibly less would do"
    many = f", each by {share} % at most, {least}" if together.factor > 1 else ""
    machine = _machine(together.found, currency)
    return f"All together{many}: {', '.join(parts)}{machine}."


def _changed(found: Combination, currency: str) -> list[str]:
    parts = []
    for asked, value in found.values:
        new, old = (_value(asked, x, currency) for x in (value, asked.value or 0.0))
        if new != old:
            parts.append(f"{asked.key} {new} instead of {old}")
    return parts + [f"without {r.words}" for r in found.dropped]


def _easings(found: Refusal) -> Table:
    """Return one requirement a row, as CSV has them."""
    keys = ("key", "asked", "enough", "value", "proven")
    rows = (
        (r.requirement.key, r.requirement.value, r.is_enough, r.value, r.is_proven)
        for r in found.relaxations
    )
    return Table(
        columns=tuple(Column(key=key) for key in keys),
        rows=tuple(Row(cells=cells) for cells in rows),
    )


@dataclass(frozen=True, slots=True)
class _Bill:
    """What the requirements of a scenario cost."""

    found: Bill
    currency: str
    years: int

    @property
    def _over(self) -> str:
        if self.found.aim == "total cost":
            return f"over {counted(self.years, 'year')}"
        return "to buy" if self.found.aim == "purchase" else _AIMS[self.found.aim]

    def document(self, end: Note) -> Document:
        found, currency = self.found, self.currency
        if found.aim in _SUMS:
            aim = f"{money(found.value, currency)} {self._over}"
        else:
            aim = f"{number(found.value, 1)} {_AIMS[found.aim]}"
        free = [p for p in found.prices if p.cost <= 0 and not p.most]
        dear = [p for p in found.prices if p not in free]
        ends = (
            ("Costs nothing", [p.requirement for p in free]),
            ("Not found out in time", [*found.open]),
        )
        return Document(
            verdict=(f"The best machine: {aim}, {in_figures(found.found, currency)}.",),
            sections=section(
                f"What requirements cost ({self._over}), each by itself",
                self._prices(dear),
                *(
                    Note(f"{head}: {'; '.join(r.words for r in told)}." if told else "")
                    for head, told in ends
                ),
            ),
            end=(end,),
            data=self._data(),
        )

    def _prices(self, prices: list[Price]) -> Table:
        unit = cents_of(self.currency)
        if self.found.aim not in _SUMS:
            unit = cents_of(AIMS[self.found.aim].unit.split("/year")[0])
        rows = []
        for price in prices:
            asked = price.requirement
            text = f"{capital(asked.words)} [{asked.key}]"
            if price.most:
                most = number(price.most, 2)
                text += f"; at least that, at most {most} (time was over)"
            rows.append(Row(cells=(Quantity(price.cost, unit), text)))
        columns = (Column(is_right=True, flow="keep"), Column())
        return Table(columns=columns, rows=tuple(rows))

    def _data(self) -> Table:
        rows = ((p.requirement, p.cost) for p in self.found.prices)
        return Table(
            columns=tuple(Column(key=key) for key in ("key", "asked", "cost")),
            rows=tuple(Row(cells=(r.key, r.value, cost)) for r, cost in rows),
        )


def _effort(effort: Effort) -> str:
    known = ""
    if effort.n_known:
        known = f", {effort.n_known} questions answered by machines known"
    end = "" if effort.is_complete else "; the time was over before all was answered"
    searches = counted(effort.n_searches, "search", "searches")
    return f"{searches}{known}, in {effort.seconds:.1f} s{end}."


def explanation_dict(found: Refusal | Bill) -> dict[str, Any]:
    """Return an explanation for programs.

    Keys of a refusal: ``conflicts`` (``members``, ``irreducible``), ``relaxations``
    (``key``, ``enough`` yes, no or null = not found out, ``asked``, ``value`` in the
    key's own unit, ``proven``, ``bound``, ``machine``), ``together``, ``gaps``. Of a
    bill: ``value`` of the ``aim``, ``prices`` (``key``, ``cost`` in the aim's unit) and
    ``open``. Both: ``effort``.
    """
    table: dict[str, Any] = {"effort": asdict(found.effort)}
    return table | (
        _bill_dict(found) if isinstance(found, Bill) else _refusal_dict(found)
    )


def _refusal_dict(found: Refusal) -> dict[str, Any]:
    together = found.combination
    return {
        "any_machine": found.has_any,
        "conflicts": [
            {
                "members": [*map(_requirement_dict, c.members)],
                "irreducible": c.is_irreducible,
            }
            for c in found.conflicts
        ],
        "relaxations": [
            {
                **_requirement_dict(r.requirement),
                "enough": r.is_enough,
                "value": r.value,
                "proven": r.is_proven,
                "bound": r.bound,
                "machine": _machine_dict(r.found),
                "borrow_b": r.lack.borrow_b if r.lack else None,
            }
            for r in found.relaxations
        ],
        "together": together
        and {
            "factor": together.factor,
            "proven": together.is_proven,
            "values": {r.key: value for r, value in together.values},
            "dropped": [r.key for r in together.dropped],
            "machine": _machine_dict(together.found),
        },
        "gaps": [asdict(gap) for gap in found.gaps],
    }


def _bill_dict(found: Bill) -> dict[str, Any]:
    return {
        "aim": found.aim,
        "value": found.value,
        "machine": _machine_dict(found.found),
        "prices": [
            {**_requirement_dict(p.requirement), "cost": p.cost} for p in found.prices
        ],
        "open": [r.key for r in found.open],
    }


def _requirement_dict(requirement: Requirement) -> dict[str, Any]:
    return {
        "key": requirement.key,
        "kind": requirement.kind,
        "words": requirement.words,
        "asked": requirement.value,
        "default": requirement.is_default,
    }


def _machine_dict(found: Assessment | None) -> dict[str, Any] | None:
    """Return a machine in a few figures, with its parts by id."""
    if found is None:
        return None
    plan = found.machine.operation
    return {
        "parts": {e.item.key: e.count for e in found.build.items},
        "layout": plan.layout,
        "failures_survived": plan.failures_survived,
        "usable_tb": found.capacity.usable_tb,
        "purchase_price": cents(found.cost.purchase),
        "total_price": cents(found.total_cost),
        "asleep_w": found.wall.asleep_w,
        "kwh_per_year": found.year.kwh,
        "read_mb_s": found.rates.read_mb_s,
        "write_mb_s": found.rates.write_mb_s,
        "ingest_mb_s": found.rates.ingest_mb_s,
    }
