"""A check as text: what is wrong first, then every figure of the machine."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from optibox.present.cautions import CAUTIONS
from optibox.present.check_figures import (
    capacity_lines,
    chain_lines,
    current_lines,
    place_lines,
    power_lines,
    risk_lines,
    setting_lines,
    year_lines,
)
from optibox.present.check_report import (
    SEVERITIES,
    CheckReport,
)
from optibox.present.migration_text import TITLE as MOVING
from optibox.present.migration_text import migration_lines
from optibox.present.order_text import MARGIN
from optibox.present.settle import finding_text
from optibox.present.text import NARROWEST, PIPED_WIDTH, WIDEST, Line
from optibox.present.verdict import does
from optibox.present.words import wrapped
from optibox.report.quantity import money, watts
from optibox.report.words import capital, clean, counted
from optibox.rules import Finding, consequence_of, remedy_of
from optibox.rules.reach import told_with_steps

_TITLES = {"error": "Errors", "warning": "Warnings", "information": "Information"}
_NOUNS = {
    "error": ("error", "errors"),
    "warning": ("warning", "warnings"),
    "information": ("remark", "remarks"),
}


def check_answer(
    report: CheckReport, width: int = PIPED_WIDTH, sections: Sequence[str] = ()
) -> list[Line]:
    """Return a check as lines.

    Parameters
    ----------
    report : CheckReport
        What to tell.
    width : int
        Columns of a line, held between 60 and 120.
    sections : sequence of str
        Names out of ``CHECK_SECTIONS``; none = all.
    """
    width = min(WIDEST, max(NARROWEST, width))
    lines = list(_head(report, width))
    for name, (title, body) in CHECK_SECTIONS.items():
        if sections and name not in sections:
            continue
        found = list(body(report, width))
        if found:
            lines += [Line(""), Line(title, "strong")]
            lines += [Line(t, "caution" if "! " in t[:4] else "plain") for t in found]
    return lines


def _head(report: CheckReport, width: int) -> Iterator[Line]:
    yield from (Line(t, "strong") for t in wrapped(verdict_of(report), width))
    for text in wrapped(_figures(report), width):
        yield Line(text)
    for text in wrapped(_basis(report), width):
        yield Line(text)


def verdict_of(report: CheckReport) -> str:
    """Return in one sentence whether the machine works."""
    counts = {name: len(report.by_severity(name)) for name in SEVERITIES}
    told = [counted(n, *_NOUNS[name]) for name, n in counts.items() if n]
    works = "does not work as described" if counts["error"] else "works as described"
    if not counts["error"] and report.is_asked:
        works = "works and meets every need and limit"
    return f"{clean(report.name)}: {works}; {', '.join(told) or 'nothing to report'}."


def _figures(report: CheckReport) -> str:
    found = report.found
    would = "" if report.is_fit else "It would do this (figures are what would be): "
    paid = found.cost.purchase
    buy = f"costs {money(paid, report.currency)}, " if paid > 0 else ""
    running = money(found.running_cost_per_year, report.currency)
    text = (
        f"{buy}draws {watts(found.wall.asleep_w)} asleep and "
        f"{watts(found.wall.spinning_w)} with drives spinning, costs {running} a year in "
        f"energy and wear. {does(found)}"
    )
    return would + text if would else capital(text)


def _basis(report: CheckReport) -> str:
    scenario = report.found.scenario
    asked = f"Scenario: {clean(scenario.name) or 'without a name'}"
    if not report.is_asked:
        tariff = scenario.money.tariff_per_kwh or 0.0
        asked = (
            "No scenario given: nothing is asked of it; usage is the default "
            f"({scenario.usage.ingest_gb_per_day:g} GB and "
            f"{scenario.usage.sessions_per_day:g} sessions a day), a kWh is taken to "
            f"cost {money(tariff, report.currency)}"
        )
    return f"{asked}. {report.stamp}".rstrip()


def _findings(severity: str) -> Callable[[CheckReport, int], Iterator[str]]:
    def lines(report: CheckReport, width: int) -> Iterator[str]:
        for number, finding in enumerate(report.by_severity(severity), 1):  # type: ignore[arg-type]
            lead = f"{MARGIN}{number}. "
            yield from wrapped(finding_text(replace(finding, fix="")), width, lead)
            yield from _beneath(report, finding, width)

    return lines


def _together(report: CheckReport, width: int) -> Iterator[str]:
    """Yield what mends all errors at once, and which ones no part mends."""
    if report.together is None:
        return
    mend, after = report.together
    left = sorted({finding.rule for finding in after.errors})
    if mend.buys or mend.replaces:
        text = f"{capital(mend.words(report.currency))}"
        yield from wrapped(text, width, MARGIN, MARGIN * 2)
    if left:
        words = f"No part mends {', '.join(left)}: see what to do about each."
        yield from wrapped(words, width, MARGIN)
    else:
        words = f"Then no error is left; it draws {watts(after.wall.asleep_w)} asleep."
        yield from wrapped(words, width, MARGIN)


def _beneath(report: CheckReport, finding: Finding, width: int) -> Iterator[str]:
    indent = MARGIN * 3
    why = consequence_of(finding)
    if why:
        yield from wrapped(why, width, indent)
    fix = remedy_of(finding)
    if fix:
        yield from wrapped(f"Do: {fix.rstrip('.')}.", width, indent)
    mend = report.mend_of(finding)
    if mend is not None:
        text = f"Mended by {mend.words(report.currency)}"
        others = [rule for rule in mend.rules if rule != finding.rule]
        also = f" (mends {', '.join(others)} too)" if others else ""
        yield from wrapped(f"{text}{also}.", width, indent)


def _cannot(report: CheckReport, width: int) -> Iterator[str]:
    for text in report.completion.cannot:
        yield from wrapped(clean(text), width, MARGIN, MARGIN * 2)


def _assumed(report: CheckReport, width: int) -> Iterator[str]:
    for text in report.completion.assumed:
        yield from wrapped(clean(text), width, MARGIN, MARGIN * 2)


def _defaults(report: CheckReport, width: int) -> Iterator[str]:
    for row in report.defaults:
        text = f"{row.key} = {row.value}: {row.meaning}"
        yield from wrapped(text, width, MARGIN, MARGIN * 2)


def _moving(report: CheckReport, width: int) -> Iterator[str]:
    if report.route is not None:
        yield from migration_lines(report.route, width, told_with_steps(report.route))


def _cautions(report: CheckReport, width: int) -> Iterator[str]:
    del report
    for caution in CAUTIONS:
        yield from wrapped(caution.text, width, f"{MARGIN}! ")


CHECK_SECTIONS: Mapping[
    str, tuple[str, Callable[[CheckReport, int], Iterator[str]]]
] = {
    "errors": (_TITLES["error"], _findings("error")),
    "together": ("All errors mended together", _together),
    "cannot": ("What no wiring of these parts can do", _cannot),
    "warnings": (_TITLES["warning"], _findings("warning")),
    "information": (_TITLES["information"], _findings("information")),
    "assumed": ("Assumed, because the file leaves it open", _assumed),
    "capacity": ("Capacity", capacity_lines),
    "rates": ("Rates: what sets each, and what removing that would bring", chain_lines),
    "power": ("Power by part and state [W DC]", power_lines),
    "currents": ("Currents of a start", current_lines),
    "places": ("Ports, lanes, bays", place_lines),
    "year": ("A year", year_lines),
    "settings": ("Change nothing but this setting", setting_lines),
    "risk": ("Risk of losing data", risk_lines),
    "defaults": ("Defaults of the scenario in force", _defaults),
    "moving": (MOVING, _moving),
    "cautions": ("Cautions", _cautions),
}
"""Sections by name: title and lines."""
