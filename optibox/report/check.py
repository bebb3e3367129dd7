"""A check: what is wrong first, then every figure of the machine."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from optibox.completion.mending import Mend
from optibox.figures.parts_power import Band, PowerTable
from optibox.figures.risk import NOT_COUNTED, Risk
from optibox.report.as_json import FORMAT, Exact, cents, plain
from optibox.report.cautions import CAUTIONS
from optibox.report.check_facts import (
    SEVERITIES,
    ChainRow,
    CheckReport,
    chain_rows,
    currents_block,
    place_rows,
    power_of,
    risk_block,
)
from optibox.report.check_figures import (
    capacity_blocks,
    chain_blocks,
    current_blocks,
    place_blocks,
    power_blocks,
    risk_blocks,
    setting_blocks,
    year_blocks,
)
from optibox.report.described import described
from optibox.report.document import (
    Block,
    Column,
    Document,
    Facts,
    Item,
    Items,
    Note,
    Row,
    Table,
    cautions,
    notes,
    section,
)
from optibox.report.migration import TITLE as MOVING
from optibox.report.migration import migration_blocks, migration_dict
from optibox.report.quantity import money, watts
from optibox.report.settings import settings_of
from optibox.report.settle import finding_text
from optibox.report.verdict import does
from optibox.report.words import capital, counted
from optibox.rules import Finding, Severity, consequence_of, remedy_of
from optibox.rules.reach import told_with_steps

_NOUNS: Mapping[Severity, tuple[str, str]] = {
    "error": ("error", "errors"),
    "warning": ("warning", "warnings"),
    "information": ("remark", "remarks"),
}


@dataclass(frozen=True, kw_only=True)
class CheckAnswer:
    """A checked machine, in the sections that were asked for."""

    report: CheckReport
    sections: Sequence[str] = ()
    """Names out of ``CHECK_SECTIONS``; none = all."""

    def document(self) -> Document:
        """Return what is wrong, then every figure."""
        report = self.report
        told = CHECK_SECTIONS.items()
        return Document(
            verdict=(verdict_of(report),),
            lead=(Note(_figures(report)), Note(_basis(report))),
            sections=tuple(
                part
                for key, (title, blocks) in told
                if not self.sections or key in self.sections
                for part in section(title, *blocks(report), key=key)
            ),
            data=_data(report),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the check for programs.

        Beside what the answer of ``plan`` says of a machine (``build``, ``figures``,
        ``year``, ``slack``, ``order`` and others): ``name``, ``fit`` (no errors),
        ``errors``, ``warnings``, ``information`` (counts), ``asked`` (a scenario was
        given), ``assumed`` and ``cannot`` (sentences), ``findings`` (``rule``,
        ``severity``, ``evidence``, ``consequence``, ``fix``, ``mend``: null or ``buys``
        of ``part``, ``label``, ``count`` with ``replaces``, ``price`` and
        ``asleep_w_change``), ``mended_together``, ``chains``, ``power``, ``currents``,
        ``places``, ``settings``, ``risk``, ``migration``.
        """
        report, found = self.report, self.report.found
        counts = {
            name: sum(f.severity == name for f in report.findings) for name in _NOUNS
        }
        risk, currents = risk_block(found), currents_block(found)
        table: dict[str, Any] = {
            "format": FORMAT,
            "name": report.name,
            "fit": report.is_fit,
            "errors": counts["error"],
            "warnings": counts["warning"],
            "information": counts["information"],
            "asked": report.is_asked,
            "scenario": {"name": found.scenario.name, "about": found.scenario.about},
            "currency": report.currency,
            "stamp": report.stamp,
            "assumed": list(report.completion.assumed),
            "cannot": list(report.completion.cannot),
            **described(found, report.currency, moves_data=False),
            "migration": None if report.route is None else migration_dict(report.route),
            "findings": [_finding_dict(report, finding) for finding in report.findings],
            "mended_together": _together_dict(report),
            "chains": [*map(_chain_dict, chain_rows(found))],
            "power": _power_dict(power_of(found)),
            "currents": currents and asdict(currents),
            "places": [asdict(row) for row in place_rows(found)],
            "settings": [asdict(row) for row in settings_of(found)],
            "risk": None,
            "assumptions": [row._asdict() for row in report.defaults],
            "cautions": [asdict(caution) for caution in CAUTIONS],
        }
        whole: dict[str, Any] = plain(table)
        # chances are far below the six decimals of other figures
        whole["risk"] = risk and Exact(_risk_dict(risk))
        return whole


def verdict_of(report: CheckReport) -> str:
    """Return in one sentence whether the machine works."""
    counts = {name: len(report.by_severity(name)) for name in SEVERITIES}
    told = [counted(n, *_NOUNS[name]) for name, n in counts.items() if n]
    works = "does not work as described" if counts["error"] else "works as described"
    if not counts["error"] and report.is_asked:
        works = "works and meets every need and limit"
    return f"{report.name}: {works}; {', '.join(told) or 'nothing to report'}."


def _figures(report: CheckReport) -> str:
    found, currency = report.found, report.currency
    would = "" if report.is_fit else "It would do this (figures are what would be): "
    paid = found.cost.purchase
    buy = f"costs {money(paid, currency)}, " if paid > 0 else ""
    text = (
        f"{buy}draws {watts(found.wall.asleep_w)} asleep and "
        f"{watts(found.wall.spinning_w)} with drives spinning, costs "
        f"{money(found.running_cost_per_year, currency)} a year in energy and wear. "
        f"{does(found)}"
    )
    return would + text if would else capital(text)


def _basis(report: CheckReport) -> str:
    scenario = report.found.scenario
    asked = f"Scenario: {scenario.name or 'without a name'}"
    if not report.is_asked:
        tariff = scenario.money.tariff_per_kwh or 0.0
        asked = (
            "No scenario given: nothing is asked of it; usage is the default "
            f"({scenario.usage.ingest_gb_per_day:g} GB and "
            f"{scenario.usage.sessions_per_day:g} sessions a day), a kWh is taken to "
            f"cost {money(tariff, report.currency)}"
        )
    return f"{asked}. {report.stamp}".rstrip()


Blocks = Callable[[CheckReport], Iterator[Block]]


def _findings(severity: Severity) -> Blocks:
    def blocks(report: CheckReport) -> Iterator[Block]:
        yield Items(
            tuple(
                Item(
                    mark=f"{number}.",
                    text=finding_text(replace(finding, fix="")),
                    details=tuple(_beneath(report, finding)),
                )
                for number, finding in enumerate(report.by_severity(severity), 1)
            )
        )

    return blocks


def _beneath(report: CheckReport, finding: Finding) -> Iterator[str]:
    if why := consequence_of(finding):
        yield why
    if fix := remedy_of(finding):
        yield f"Do: {fix.rstrip('.')}."
    mend = report.mend_of(finding)
    if mend is not None:
        others = [rule for rule in mend.rules if rule != finding.rule]
        also = f" (mends {', '.join(others)} too)" if others else ""
        yield f"Mended by {mend.words(report.currency)}{also}."


def _together(report: CheckReport) -> Iterator[Block]:
    """Yield what mends all errors at once, and which ones no part mends."""
    if report.together is None:
        return
    mend, after = report.together
    left = sorted({finding.rule for finding in after.errors})
    texts = [capital(mend.words(report.currency))] if mend.buys or mend.replaces else []
    if left:
        texts.append(f"No part mends {', '.join(left)}: see what to do about each.")
    else:
        asleep = watts(after.wall.asleep_w)
        texts.append(f"Then no error is left; it draws {asleep} asleep.")
    yield notes(texts)


def _moving(report: CheckReport) -> Iterator[Block]:
    if report.route is not None:
        yield from migration_blocks(report.route, told_with_steps(report.route))


def _cannot(report: CheckReport) -> Iterator[Block]:
    yield notes(report.completion.cannot)


def _assumed(report: CheckReport) -> Iterator[Block]:
    yield notes(report.completion.assumed)


def _defaults(report: CheckReport) -> Iterator[Block]:
    yield Facts(tuple((x.key, f"{x.value}: {x.meaning}") for x in report.defaults))


def _cautions(_: CheckReport) -> Iterator[Block]:
    yield cautions(caution.text for caution in CAUTIONS)


CHECK_SECTIONS: Mapping[str, tuple[str, Blocks]] = {
    "errors": ("Errors", _findings("error")),
    "together": ("All errors mended together", _together),
    "cannot": ("What no wiring of these parts can do", _cannot),
    "warnings": ("Warnings", _findings("warning")),
    "information": ("Information", _findings("information")),
    "assumed": ("Assumed, because the file leaves it open", _assumed),
    "capacity": ("Capacity", capacity_blocks),
    "rates": (
        "Rates: what sets each, and what removing that would bring",
        chain_blocks,
    ),
    "power": ("Power by part and state", power_blocks),
    "currents": ("Currents of a start", current_blocks),
    "places": ("Ports, lanes, bays", place_blocks),
    "year": ("A year", year_blocks),
    "settings": ("Change nothing but this setting", setting_blocks),
    "risk": ("Risk of losing data", risk_blocks),
    "defaults": ("Defaults of the scenario in force", _defaults),
    "moving": (MOVING, _moving),
    "cautions": ("Cautions", _cautions),
}
"""Sections by name: title and blocks."""


def _data(report: CheckReport) -> Table:
    """Return a row for each finding, as CSV has them."""
    keys = ["rule", "severity", "evidence", "consequence", "fix"]
    keys += ["mend_parts", "mend_replaces", "mend_price", "currency"]
    rows = []
    for finding in report.findings:
        told = _finding_dict(report, finding)
        mend = told["mend"] or {}
        buys = " | ".join(f"{b['part']} x{b['count']}" for b in mend.get("buys", ()))
        told |= {
            "mend_parts": buys,
            "mend_replaces": " | ".join(mend.get("replaces", ())),
            "mend_price": f"{mend['price']:.2f}" if mend else "",
            "currency": report.currency if mend else "",
        }
        rows.append(Row(cells=tuple(told[key] for key in keys)))
    return Table(columns=tuple(Column(key=key) for key in keys), rows=tuple(rows))


def _finding_dict(report: CheckReport, finding: Finding) -> dict[str, Any]:
    mend = report.mends.get(finding)
    return {
        **asdict(finding),
        "fix": remedy_of(finding),
        "consequence": consequence_of(finding),
        "mend": None if mend is None else _mend_dict(mend),
    }


def _together_dict(report: CheckReport) -> dict[str, Any] | None:
    """Return what mends all errors at once; nothing where there is none."""
    if report.together is None:
        return None
    mend, after = report.together
    left = sorted({finding.rule for finding in after.errors})
    return {**_mend_dict(mend), "rules_left": left}


def _mend_dict(mend: Mend) -> dict[str, Any]:
    return {
        "buys": [
            {"part": b.part.id, "label": b.part.name, "count": b.count}
            for b in mend.buys
        ],
        "replaces": list(mend.replaces),
        "price": cents(mend.price),
        "asleep_w_change": mend.asleep_w,
    }


def _chain_dict(row: ChainRow) -> dict[str, Any]:
    return {
        "operation": row.operation,
        "rate_mb_s": row.rate_mb_s,
        "binding": list(row.binding),
        "next": row.next.name if row.next else "",
        "gain_mb_s": row.gain_mb_s,
        "stages": [asdict(stage) for stage in row.stages],
    }


def _bands(bands: Mapping[str, Band]) -> dict[str, Any]:
    return {f"{state}_w": asdict(band) for state, band in bands.items()}


def _power_dict(table: PowerTable) -> dict[str, Any]:
    return {
        "parts": [
            {
                "key": row.key,
                "label": row.name,
                "kind": row.kind,
                "count": row.count,
                "source": row.source,
                "dc": _bands(row.watts),
            }
            for row in table.parts
        ],
        "deep_idle_w": asdict(table.deep_idle),
        "dc": _bands(table.dc),
        "wall": _bands(table.wall),
    }


def _risk_dict(risk: Risk) -> dict[str, Any]:
    mean = risk.mttdl_years
    return {
        "years": risk.years,
        "survives": risk.survives,
        "repair_h": risk.repair_h,
        "rebuild_h": risk.rebuild_h,
        "tb_by_failures": risk.tb_by_failures,
        "mttdl_years": round(mean, 1) if math.isfinite(mean) else None,
        "cases": [
            {
                "failure_rates": case.level,
                "bit_error_rate": case.bit_error_rate,
                "too_many_failures": _three(case.loss.too_many_failures),
                "unreadable_sector": _three(case.loss.unreadable_sector),
                "expected_tb_lost": _three(case.tb_lost),
            }
            for case in risk.cases
        ],
        "not_counted": NOT_COUNTED,
    }


def _three(value: float) -> float:
    """Return a number with three digits."""
    return float(f"{value:.3g}")
