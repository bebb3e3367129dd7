"""Readings against the plan: figures with intervals, culprits, what to read next."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from optibox.measure.effect import DecisionNow
from optibox.measure.factors import FittedFactor
from optibox.measure.found import FoundFigure, Interval
from optibox.measure.power_fit import PowerFit
from optibox.measure.rates import Judged
from optibox.measure.reconcile import Reconciliation
from optibox.measure.replan import Replanned
from optibox.report.as_json import FORMAT, cents
from optibox.report.document import (
    Block,
    Column,
    Document,
    Item,
    Items,
    Note,
    Row,
    Section,
    Table,
    cautions,
    notes,
    section,
    steps,
)
from optibox.report.measured import (
    SCALE_OF_METER,
    decision_words,
    drive_sentences,
    fit_sentences,
    interval_words,
    next_words,
    remark_words,
    state_sentences,
    summary,
    suspects_words,
    transfer_words,
    unseen_words,
    verdict_words,
)
from optibox.report.quantity import RATE, UNITS, WATT, Quantity, Unit, money, number
from optibox.report.sheet import AT_END
from optibox.report.words import counted
from optibox.search.result import Plan

_Z95 = 1.96


@dataclass(frozen=True, kw_only=True)
class ReconcileReport:
    """Everything that readings say, and the next plan where it was asked for."""

    found: Reconciliation
    currency: str
    again: Replanned | None = None

    def document(self) -> Document:
        """Return what the readings say, what matters most first."""
        found, currency = self.found, self.currency
        return Document(
            verdict=tuple(summary(found, currency)),
            lead=(Note(self._read()),),
            sections=(
                *section("Meter against plan, W at the wall", *self._states()),
                *section("Parts, W at the parts (95 % interval)", *self._parts()),
                *section("Transfers", *self._transfers()),
                *section("Factors for the next plan", self._factors()),
                *section("Counters", notes(self._counters())),
                *section("What changes", self._changed()),
                *section("Decisions", notes(self._decisions())),
                *section("Next", self._next()),
                *(_replan_section(self.again) if self.again else ()),
            ),
            end=(cautions((AT_END,)),),
            data=self._data(),
            title="Measured against predicted",
        )

    def _read(self) -> str:
        readings = self.found.readings
        counts = (
            (len(readings.power), "wall reading", ""),
            (len(readings.transfers), "transfer test", ""),
            (len(readings.counters), "drive's counters", "drives' counters"),
        )
        words = ", ".join(counted(n, *nouns) for n, *nouns in counts if n)
        if readings.n_blank:
            words += f"; {counted(readings.n_blank, 'row')} left blank"
        return f"Read: {words}."

    def _states(self) -> Iterator[Block]:
        found = self.found
        if found.fit is None:
            return
        yield Table(
            columns=(
                Column(head="state", flow="keep"),
                Column(head="measured", unit=WATT),
                Column(head="plan", unit=WATT),
                Column(head="unexplained", is_right=True, flow="keep"),
            ),
            rows=tuple(
                Row(
                    cells=(
                        *(gap.state, gap.measured_w, gap.planned_w),
                        f"{number(gap.left_w, 1)} +-{number(_Z95 * gap.error_w, 1)}",
                    )
                )
                for gap in found.gaps
            ),
        )
        yield from map(Note, (*state_sentences(found), *drive_sentences(found)))

    def _parts(self) -> Iterator[Block]:
        fit = self.found.fit
        if fit is None:
            return
        ordered = sorted(
            fit.found,
            key=lambda one: (one.measured is None, len(one.members) > 1, one.words),
        )
        yield Table(
            columns=(
                Column(least=20),
                Column(head="readings alone", flow="keep"),
                Column(head="catalog", flow="keep"),
                Column(head="with catalog", flow="keep"),
            ),
            rows=tuple(_part(fit, one) for one in ordered),
            is_noted_beside=True,
        )
        yield from map(Note, fit_sentences(fit))
        yield Note(unseen_words(fit.unseen))
        yield Note(SCALE_OF_METER)

    def _transfers(self) -> Iterator[Block]:
        judged = self.found.judged
        yield Table(
            columns=(
                Column(least=20),
                Column(head="measured", unit=RATE),
                Column(head="plan", unit=RATE),
            ),
            rows=tuple(
                Row(
                    cells=(
                        f"line {one.reading.line}: {transfer_words(one)}",
                        *(one.reading.mb_s, one.planned.rate_mb_s),
                    ),
                    note=verdict_words(one),
                )
                for one in judged
            ),
            is_noted_beside=True,
        )
        yield notes(
            f"line {one.reading.line} would be, MB/s: {text}."
            for one in judged
            if (text := suspects_words(one))
        )

    def _factors(self) -> Table:
        names = {e.item.key: e.item.part.name for e in self.found.machine.build.items}
        return Table(
            columns=(
                Column(least=20),
                Column(head="measured", flow="keep"),
                Column(head="believed", flow="keep"),
            ),
            rows=tuple(
                _factor(one, names.get(one.key, "")) for one in self.found.factors
            ),
            is_noted_beside=True,
        )

    def _counters(self) -> Iterator[str]:
        for note in self.found.counters:
            is_grave = note.severity != "information"
            lead = f"{note.severity}, " if is_grave else ""
            yield f"{lead}{note.drive}: {note.text}"

    def _changed(self) -> Table:
        def told(value: float, unit: str) -> Quantity:
            known = UNITS.get(unit, Unit(unit)) if unit else Unit(self.currency)
            return Quantity(value, known)

        return Table(
            columns=(
                Column(),
                Column(head="planned", is_right=True, flow="keep"),
                Column(head="measured", is_right=True, flow="keep"),
            ),
            rows=tuple(
                Row(
                    cells=(
                        one.label,
                        told(one.planned, one.unit),
                        told(one.measured, one.unit),
                    )
                )
                for one in self.found.changed
            ),
        )

    def _decisions(self) -> list[str]:
        if self.found.has_scenario:
            return [decision_words(one, self.currency) for one in self.found.decisions]
        return [
            "No scenario was given; with --scenario this says what the readings change in "
            "what to keep, swap and let sleep."
        ]

    def _next(self) -> Items:
        found = self.found
        if not found.next:
            settled = all(not one.is_open for one in found.decisions)
            why = (
                "no decision turns on watts any more"
                if found.decisions and settled
                else "no further reading would tell more than is known"
            )
            return Items((Item(text=f"Nothing: {why}."),))
        has_worth = bool(found.decisions)
        return steps(
            [next_words(x, self.currency, has_worth=has_worth) for x in found.next]
        )

    def _data(self) -> Table:
        """Return the figures: watts at the parts, then rates and factors."""
        found = self.found
        keys = ["what", "key", "aspect", "unit", "value", "low", "high"]
        keys += ["is_identified", "believed_low", "believed_high", "agrees"]
        rows = [*map(_watts_cells, found.fit.found if found.fit else ())]
        rows += map(_factor_cells, found.factors)
        return Table(
            columns=tuple(Column(key=key) for key in keys),
            rows=tuple(Row(cells=cells) for cells in rows),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return everything that readings say for programs.

        Keys: ``n_blank``; ``power``, null without wall readings: ``rank``, ``spare``,
        ``widened`` (factor), ``wall_per_dc``, ``figures`` (``members``; ``identified``;
        ``value_w``, ``low_w``, ``high_w`` at the parts, null where not identified;
        ``together``; ``tied``; ``catalog_low_w``, ``catalog_w``, ``catalog_high_w``;
        ``agrees``), ``with_catalog``, ``unseen``, ``readings``, ``states``,
        ``unexplained``, ``per_drive``, ``drift``, ``outliers``; ``transfers``
        (``verdict``: as planned, refused, faster, slower); ``factors``; ``counters``;
        ``changed``; ``decisions``; ``next``; ``replanned``, null unless asked for.
        """
        found, again = self.found, self.again
        return {
            "format": FORMAT,
            "currency": self.currency,
            "n_blank": found.readings.n_blank,
            "power": None if found.fit is None else _power_dict(found, found.fit),
            "transfers": [*map(_transfer_dict, found.judged)],
            "factors": [
                {
                    "key": one.key,
                    "name": one.name,
                    "value": one.value,
                    "low": one.low,
                    "high": one.high,
                    "believed_low": one.figure.low,
                    "believed_high": one.figure.high,
                    "agrees": one.agrees,
                    "lines": list(one.lines),
                }
                for one in found.factors
            ],
            "counters": [asdict(note) for note in found.counters],
            "changed": [asdict(one) for one in found.changed],
            "decisions": [*map(_decision_dict, found.decisions)],
            "next": [
                {
                    "label": one.label,
                    "minutes": one.minutes,
                    "worth": one.worth,
                    "settles": one.settles,
                    "narrows": one.narrows.name,
                    "before_w": one.before_w,
                    "after_w": one.after_w,
                }
                for one in found.next
            ],
            "replanned": None if again is None else _replanned_dict(again),
        }


def _part(fit: PowerFit, one: FoundFigure) -> Row:
    catalog = one.catalog
    single = one.members[0] if len(one.members) == 1 else None
    each = f" {one.unit_words}" if one.unit_words else ""
    return Row(
        cells=(
            one.words,
            interval_words(one.measured) + each if one.measured else "open",
            f"{number(catalog.low, 2)}..{number(catalog.high, 2)}",
            interval_words(fit.combined[single]) if single else "",
        ),
        note=remark_words(one),
    )


def _factor(one: FittedFactor, whose: str) -> Row:
    name = one.name.replace("_mb_s", ", MB/s").replace("_", " ")
    digits = 0 if one.value > 10 else 3
    value, low, high = (number(x, digits) for x in (one.value, one.low, one.high))
    ends = (number(end, digits) for end in (one.figure.low, one.figure.high))
    return Row(
        cells=(
            f"{whose}: {name}" if whose else name,
            f"{value} [{low}..{high}]",
            "..".join(dict.fromkeys(ends)),
        ),
        note="" if one.agrees else "outside what was believed",
    )


def _replan_section(again: Replanned) -> tuple[Section, ...]:
    """Return both plans side by side, and what differs."""
    parts = ["The same parts."]
    if again.dropped or again.added:
        parts = [
            f"{way}: {', '.join(f'{n} x {key}' for key, n in moved) or 'nothing'}."
            for way, moved in (("Out", again.dropped), ("In", again.added))
        ]
    unknown = ""
    if again.unused:
        unknown = (
            "Measured, but unknown to the scenario (list them under [[owned]]): "
            f"{', '.join(again.unused)}."
        )
    return section(
        "The next plan",
        Note(f"As planned: {_plan(again.before, again.currency)}."),
        Note(f"With measured figures: {_plan(again.after, again.currency)}."),
        *map(Note, parts),
        Note(unknown),
    )


def _listed(counts: tuple[tuple[str, int], ...]) -> str:
    return ", ".join(f"{n} x {key}" for key, n in counts)


def _plan(plan: Plan, currency: str) -> str:
    best = plan.assessment
    if best is None:
        return f"{plan.status}, no build"
    return (
        f"{money(best.total_cost, currency)} over the years, "
        f"{number(best.wall.asleep_w, 1)} W asleep, {number(best.year.kwh)} kWh a year "
        f"({plan.status})"
    )


def _watts_cells(one: FoundFigure) -> tuple[Any, ...]:
    single = one.members[0] if len(one.members) == 1 else None
    told = one.measured
    return (
        one.words,
        single.key if single else "",
        single.aspect if single else "together",
        "W",
        *((told.value, told.low, told.high) if told else (None, None, None)),
        told is not None,
        *(one.catalog.low, one.catalog.high),
        one.agrees if told else "",
    )


def _factor_cells(one: FittedFactor) -> tuple[Any, ...]:
    return (
        *(one.name, one.key, "rate" if one.key else "factor"),
        "MB/s" if one.name.endswith("_mb_s") else "",
        *(one.value, one.low, one.high, True),
        *(one.figure.low, one.figure.high, one.agrees),
    )


def _replanned_dict(again: Replanned) -> dict[str, Any]:
    plans = {"before": again.before, "after": again.after}
    return {
        **{
            name: {
                "status": plan.status,
                "total_cost": plan.assessment and cents(plan.assessment.total_cost),
            }
            for name, plan in plans.items()
        },
        "dropped": dict(again.dropped),
        "added": dict(again.added),
        "unknown_to_scenario": list(again.unused),
    }


def _power_dict(found: Reconciliation, fit: PowerFit) -> dict[str, Any]:
    why = found.unexplained
    return {
        "rank": fit.rank,
        "spare": fit.n_spare,
        "widened": fit.scale,
        "wall_per_dc": fit.factor,
        "figures": [*map(_figure_dict, fit.found)],
        "with_catalog": [
            {"key": u.key, "aspect": u.aspect, **_interval_dict(interval)}
            for u, interval in fit.combined.items()
        ],
        "unseen": [{"key": u.key, "aspect": u.aspect} for u in fit.unseen],
        "readings": [
            {
                "line": one.reading.line,
                "state": one.reading.situation.state,
                "watts": one.reading.watts,
                "error_w": one.reading.error_w,
                "fitted_w": one.fitted_w,
                "planned_w": one.planned_w,
            }
            for one in fit.fitted
        ],
        "states": [
            {
                "state": gap.state,
                "measured_w": gap.measured_w,
                "error_w": gap.error_w,
                "planned_w": gap.planned_w,
                "unexplained_w": gap.left_w,
                "beyond_error": gap.is_real,
            }
            for gap in found.gaps
        ],
        "unexplained": {
            "pattern": why.pattern,
            "suspects": [one.words for one in why.suspects],
            "hidden": list(why.hidden),
        },
        "per_drive": found.per_drive and asdict(found.per_drive),
        "drift": fit.drift and asdict(fit.drift),
        "outliers": [asdict(one) for one in fit.outliers],
    }


def _interval_dict(interval: Interval | None) -> dict[str, float | None]:
    if interval is None:
        return dict.fromkeys(("value_w", "low_w", "high_w"))
    low, high = interval.low, interval.high
    return {"value_w": interval.value, "low_w": low, "high_w": high}


def _figure_dict(one: FoundFigure) -> dict[str, Any]:
    catalog = one.catalog
    return {
        "members": [
            {
                "key": member.key,
                "aspect": member.aspect,
                "name": member.name,
                "count": member.count,
                "ratio": ratio,
            }
            for member, ratio in zip(one.members, one.ratios, strict=True)
        ],
        "identified": one.measured is not None,
        "together": len(one.members) > 1,
        **_interval_dict(one.measured),
        "tied": list(one.tied),
        "catalog_low_w": catalog.low,
        "catalog_w": catalog.mid,
        "catalog_high_w": catalog.high,
        "agrees": one.agrees,
    }


def _verdict(one: Judged) -> str:
    if one.refused:
        return "refused"
    if one.is_as_planned:
        return "as planned"
    return "faster" if one.reading.mb_s > one.planned.rate_mb_s else "slower"


def _transfer_dict(one: Judged) -> dict[str, Any]:
    return {
        "line": one.reading.line,
        "operation": one.reading.operation,
        "measured_mb_s": one.reading.mb_s,
        "planned_mb_s": one.planned.rate_mb_s,
        "binds": one.planned.name,
        "verdict": _verdict(one),
        "reason": one.refused,
        "pattern": one.pattern,
        "culprit": one.culprit and one.culprit.words,
        "suspects": [
            {"kind": s.kind, "words": s.words, "mb_s": s.mb_s} for s in one.suspects
        ],
    }


def _decision_dict(one: DecisionNow) -> dict[str, Any]:
    return {
        "keep": one.decision.keep,
        "change": one.decision.change,
        "gain_planned": one.gain_before,
        "gain": one.gain_after,
        "gain_low": one.low,
        "gain_high": one.high,
        "turned": one.is_turned,
        "open": one.is_open,
    }
