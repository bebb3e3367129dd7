"""What is to be settled before ordering, and the findings without repetition."""

import re
from collections.abc import Iterable

from optibox.assess import Assessment
from optibox.migration import task_of
from optibox.report.words import and_list, capital, clean, counted
from optibox.rules import Finding
from optibox.rules.reach import SAFE_ORDER

MOST = 3

WEIGHT: tuple[str, ...] = (
    "C8a",
    "C11",
    "C12",
    "B3",
    "P2",
    "P1",
    "A4",
    "C10",
    "F3",
    "B5",
    "A8",
    "A7",
    "N2",
    "M2",
    "C4",
    "F7",
    "F8",
)
"""Rules whose warnings can be settled before money is spent, by weight.

Judgement, no source: what can burn first, then what can make the machine useless,
slow or unsafe; habits, such as keeping an image of a boot stick, are not here.
"""

_DRIVE = re.compile(r"^((?:data|parity|cache|boot|drive|ssd)-\d+)\b")


def merged(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings in their order, equal ones about several drives as one."""
    groups: dict[tuple[str, str, str, str], list[str]] = {}
    for finding in findings:
        match = _DRIVE.match(finding.evidence)
        rest = finding.evidence[match.end() :] if match else finding.evidence
        key = (finding.rule, finding.severity, rest, finding.fix)
        groups.setdefault(key, []).append(match[1] if match else "")
    return tuple(
        Finding(
            rule=rule,
            severity=severity,  # type: ignore[arg-type]  # taken from a finding
            evidence=clean(_subject(names) + rest),
            fix=clean(fix),
        )
        for (rule, severity, rest, fix), names in groups.items()
    )


def _subject(names: list[str]) -> str:
    """Return drives as what a sentence in the singular can follow."""
    return names[0] if len(names) == 1 else f"each of {and_list(names)}"


def finding_text(finding: Finding) -> str:
    """Return a finding as a sentence with its remedy and rule."""
    fix = f"; {finding.fix}" if finding.fix else ""
    return f"{capital(finding.evidence)}{fix} [{finding.rule}]"


def to_settle(found: Assessment) -> tuple[str, ...]:
    """Return at most three things to settle before ordering, the gravest first."""
    return tuple(_everything(found)[:MOST])


def without_names(text: str) -> str:
    """Return a text without what stands in round brackets.

    Examples
    --------
    >>> without_names("cache-1 (an id) has no power-loss protection")
    'cache-1 has no power-loss protection'
    """
    return re.sub(r" ?\([^()]*\)", "", text)


def _everything(found: Assessment) -> list[str]:
    """Return errors, owned drives that may hold data, then warnings by weight."""
    rank = {rule: number for number, rule in enumerate(WEIGHT)}
    rows = merged(found.findings)
    errors = [finding_text(f) for f in rows if f.severity == "error"]
    warnings = [f for f in rows if f.severity == "warning" and f.rule in rank]
    warnings.sort(key=lambda f: rank[f.rule])
    return [*errors, *_held_data(found), *(finding_text(f) for f in warnings)]


def _held_data(found: Assessment) -> list[str]:
    """Return what has to be known about owned drives that may hold data."""
    full = [d.name for d in task_of(found.build, found.scenario).built if d.held_b]
    if not full or any(error.rule == SAFE_ORDER for error in found.errors):
        return []
    drives = f"{counted(len(full), 'owned drive')} ({', '.join(full)})"
    return [f"{drives} may hold data: move it by the steps under 'Moving the data'"]
