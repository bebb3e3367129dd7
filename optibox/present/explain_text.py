"""Why nothing fits, what nearly does, and what requirements cost, as text."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optibox.assess import Assessment
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
from optibox.present.order_text import MARGIN
from optibox.present.verdict import NO_BUILD
from optibox.present.words import pad, width_of, wrapped
from optibox.report.quantity import money, number, terabytes, watts
from optibox.report.words import and_list, capital, clean, counted
from optibox.rules.reach import tb

UNITS: Mapping[str, tuple[str, int]] = {
    "needs.usable_tb": ("TB", 2),
    "needs.read_mb_s": ("MB/s", 0),
    "needs.write_mb_s": ("MB/s", 0),
    "needs.ingest_mb_s": ("MB/s", 0),
    "needs.memory_gib": ("GiB", 2),
    "needs.network_gbit_s": ("Gb/s", 1),
    "limits.annual_kwh": ("kWh", 1),
    "limits.asleep_w": ("W", 1),
    "limits.spinning_w": ("W", 1),
    "limits.peak_w": ("W", 0),
    "limits.rack_units": ("U", 0),
}
_MONEY = ("limits.budget", "limits.total_cost")
_AIMS: Mapping[str, str] = {
    "annual energy": "kWh a year",
    "asleep watts": "W asleep",
    "ingest": "MB/s taken in",
    "read": "MB/s read",
}


WHY, NEARLY = "Why", "What nearly does"
TITLES = (WHY, NEARLY)
"""Lines that stand above others."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What explanations are told with."""

    currency: str
    years: int
    width: int

    def value(self, requirement: Requirement, value: float) -> str:
        """Return a value of a requirement with its unit."""
        if requirement.key in _MONEY:
            digits = 0 if float(value).is_integer() else 2
            return f"{number(value, digits)} {self.currency}".rstrip()
        unit, digits = UNITS.get(requirement.key, ("", 0))
        text = number(value, digits)
        if "." in text:
            text = text.rstrip("0").rstrip(".")
        return f"{text} {unit}".rstrip()

    def lines(self, text: str, first: str = MARGIN) -> list[str]:
        """Return a text as lines."""
        return wrapped(text, self.width, first, first + MARGIN)


def explanation_lines(
    found: Refusal | Bill, currency: str, years: int, width: int
) -> list[str]:
    """Return an explanation as lines of a width.

    Parameters
    ----------
    found : Refusal or Bill
        The explanation.
    currency : str
        Currency of all money.
    years : int
        Years that costs count.
    width : int
        Columns of a line.
    """
    told = _Told(currency, years, width)
    if isinstance(found, Bill):
        return list(_bill(found, told))
    lines = wrapped(NO_BUILD, width)
    return lines + refusal_lines(found, currency, years, width)


def refusal_lines(found: Refusal, currency: str, years: int, width: int) -> list[str]:
    """Return why nothing fits, without the verdict itself."""
    told = _Told(currency, years, width)
    return list(_refusal(found, told))


def _refusal(found: Refusal, told: _Told) -> Iterator[str]:
    if found.has_any is False and not found.conflicts:
        yield from wrapped(
            "This catalog makes no machine at all, whatever is asked.", told.width
        )
    if found.conflicts:
        yield WHY
        for conflict in found.conflicts:
            yield from told.lines(_conflict_words(conflict))
    elif found.has_any is None:
        yield from wrapped(
            "Which requirements conflict was not found in time.", told.width
        )
    yield from _gap_lines(found.gaps, told)
    if any(relaxation.is_enough is not None for relaxation in found.relaxations):
        yield NEARLY
        yield from _relaxation_lines(found, told)
    if found.combination is not None and _tells(found.combination, found, told):
        yield from told.lines(_combination_words(found.combination, told))
    yield from wrapped(_effort_words(found.effort), told.width)


def _conflict_words(conflict: Conflict) -> str:
    words = [clean(m.words) for m in conflict.members]
    if len(words) == 1:
        return f"{capital(words[0])} cannot be had, whatever else is asked for."
    proof = "without any one of them there is a machine"
    if not conflict.is_irreducible:
        proof = "not all of them may be needed for that: the time was over"
    return f"{capital(and_list(words))} cannot be had together; {proof}."


def _gap_lines(gaps: tuple[Gap, ...], told: _Told) -> Iterator[str]:
    causes = [gap for gap in gaps if gap.would_help]
    named = [gap for gap in gaps if gap.would_help is None]
    for gap in causes:
        text = f"A gap in the catalog is a cause: {gap.words}; with one there is a machine."
        yield from told.lines(text)
    if named and not causes:
        text = f"Not in the catalog: {'; '.join(gap.words for gap in named)}."
        yield from told.lines(text)


def _relaxation_lines(found: Refusal, told: _Told) -> Iterator[str]:
    rows = [(_asked(r.requirement), _eased(r, told)) for r in found.relaxations]
    longest = min(28, max(width_of(name) for name, _ in rows))
    for name, text in rows:
        yield from wrapped(
            text, told.width, f"{MARGIN}{pad(name, longest)}  ", MARGIN * 3
        )
    notes = []
    if all(r.is_enough is False for r in found.relaxations):
        notes.append("No single one is enough.")
    elif len(found.conflicts) > 1:
        notes.append("One of each conflict has to give way.")
    if notes:
        yield from told.lines(" ".join(notes))


def _asked(requirement: Requirement) -> str:
    return clean(requirement.key)


def _eased(relaxation: Relaxation, told: _Told) -> str:
    """Return what one requirement would have to be."""
    requirement = relaxation.requirement
    if relaxation.is_enough is None:
        return "not found out in time"
    if not relaxation.is_enough:
        return "to drop it is not enough"
    if relaxation.value is None or requirement.value is None:
        return f"{_without(relaxation.lack)}{_machine(relaxation.found, told)}"
    what = told.value(requirement, relaxation.value)
    asked = told.value(requirement, requirement.value)
    most = "at most" if requirement.is_need else "at least"
    if requirement.key == "needs.failures_survived":
        most = ""
    text = f"{most} {what} instead of {asked}".strip()
    if not relaxation.is_proven:
        limit = told.value(requirement, relaxation.bound) if relaxation.bound else ""
        text = f"{what} is possible"
        text += f", less than {limit} is not" if limit else ", perhaps better"
        text += " (the time was over)"
    return text + _machine(relaxation.found, told)


def _without(lack: Shortage | None) -> str:
    """Return what it takes to do without a wish that is no number."""
    if lack is None:
        return "without it"
    if lack.borrow_b:
        return f"with an empty drive of {tb(lack.borrow_b)} or more borrowed first"
    return "with a second copy of what its drives hold elsewhere, read back"


def _machine(found: Assessment | None, told: _Told) -> str:
    """Return the machine that a relaxation leads to, in a few figures."""
    if found is None:
        return ""
    return f": {machine_words(found, told.currency)}"


def machine_words(found: Assessment, currency: str) -> str:
    """Return a machine in a few figures."""
    n_drives = len(found.machine.array)
    return (
        f"{counted(n_drives, 'drive')}, {terabytes(found.capacity.usable_tb)}, buy for "
        f"{money(found.cost.purchase, currency)}, {watts(found.wall.asleep_w)} asleep, "
        f"total {money(found.total_cost, currency)}"
    )


def _tells(together: Combination, found: Refusal, told: _Told) -> bool:
    """Return whether a combination says more than the single relaxations do."""
    changed = [
        r for r, value in together.values if told.value(r, value) != _stated(r, told)
    ]
    is_alone = any(relaxation.is_enough for relaxation in found.relaxations)
    return len(changed) + len(together.dropped) > is_alone


def _stated(requirement: Requirement, told: _Told) -> str:
    return told.value(requirement, requirement.value or 0.0)


def _combination_words(found: Combination, told: _Told) -> str:
    parts = [
        f"{r.key} {told.value(r, value)} instead of {_stated(r, told)}"
        for r, value in found.values
        if told.value(r, value) != _stated(r, told)
    ]
    parts += [f"without {clean(r.words)}" for r in found.dropped]
    share = number((found.factor - 1) * 100, 1)
    least = "the least that does" if found.is_proven else "possibly less would do"
    many = f", each by {share} % at most, {least}" if found.factor > 1 else ""
    return f"All together{many}: {', '.join(parts)}{_machine(found.found, told)}."


def _bill(found: Bill, told: _Told) -> Iterator[str]:
    aim = _aim_words(found, told)
    yield from wrapped(
        f"The best machine: {aim}, {machine_words(found.found, told.currency)}.",
        told.width,
    )
    free = [p for p in found.prices if p.cost <= 0 and not p.most]
    dear = [p for p in found.prices if p not in free]
    if dear:
        yield f"What requirements cost ({_over(found, told)}), each by itself"
        amounts = [_amount(price, found, told) for price in dear]
        longest = max(map(width_of, amounts))
        for price, amount in zip(dear, amounts, strict=True):
            asked = price.requirement
            text = f"{capital(clean(asked.words))} [{clean(asked.key)}]"
            if price.most:
                text += (
                    f"; at least that, at most {number(price.most, 2)} (time was over)"
                )
            first = f"{MARGIN}{' ' * (longest - width_of(amount))}{amount}  "
            yield from wrapped(text, told.width, first)
    if free:
        words = "; ".join(clean(price.requirement.words) for price in free)
        yield from wrapped(f"Costs nothing: {words}.", told.width)
    if found.open:
        words = "; ".join(clean(r.words) for r in found.open)
        yield from wrapped(f"Not found out in time: {words}.", told.width)
    yield from wrapped(_effort_words(found.effort), told.width)


def _over(found: Bill, told: _Told) -> str:
    if found.aim == "total cost":
        return f"over {counted(told.years, 'year')}"
    return "to buy" if found.aim == "purchase" else _AIMS[found.aim]


def _aim_words(found: Bill, told: _Told) -> str:
    if found.aim in ("total cost", "purchase"):
        return f"{money(found.value, told.currency)} {_over(found, told)}"
    return f"{number(found.value, 1)} {_AIMS[found.aim]}"


def _amount(price: Price, found: Bill, told: _Told) -> str:
    if found.aim in ("total cost", "purchase"):
        return f"{number(price.cost, 2)} {told.currency}".rstrip()
    return f"{number(price.cost, 2)} {_AIMS[found.aim].split()[0]}"


def _effort_words(effort: Effort) -> str:
    known = (
        f", {effort.n_known} questions answered by machines known"
        if effort.n_known
        else ""
    )
    end = "" if effort.is_complete else "; the time was over before all was answered"
    return (
        f"{counted(effort.n_searches, 'search', 'searches')}{known}, in "
        f"{effort.seconds:.1f} s{end}."
    )
