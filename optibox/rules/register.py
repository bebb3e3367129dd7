"""The register of rules and the record of a finding."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from optibox.rules.context import Context

Severity = Literal["error", "warning", "information"]
_ORDER: dict[str, int] = {"error": 0, "warning": 1, "information": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that a rule has to say about a build."""

    rule: str
    severity: Severity
    evidence: str
    fix: str = ""


Check = Callable[[Context], Iterable[Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule: its id, what it says, what comes of breaking it, and its check."""

    id: str
    title: str
    why: str
    """What happens where it is broken, in plain words."""
    check: Check
    severities: tuple[Severity, ...] = ("error",)
    """What its findings can be."""
    remedy: str = ""
    """What usually mends it, where a finding says nothing more exact."""


RULES: dict[str, Rule] = {}


def rule(
    rule_id: str,
    title: str,
    why: str,
    *,
    severities: tuple[Severity, ...] = ("error",),
    remedy: str = "",
) -> Callable[[Check], Check]:
    """Return a decorator that enters a check into the register under an id.

    Parameters
    ----------
    rule_id, title, why : str
        Its id, what it says, what happens where it is broken.
    severities : tuple of str
        What its findings can be.
    remedy : str
        What usually mends it.
    """

    def enter(check: Check) -> Check:
        if rule_id in RULES:
            msg = f"rule {rule_id} is registered twice"
            raise ValueError(msg)
        RULES[rule_id] = Rule(
            id=rule_id,
            title=title,
            why=why,
            check=check,
            severities=severities,
            remedy=remedy,
        )
        return check

    return enter


def error(rule_id: str, evidence: str, fix: str = "") -> Finding:
    """Return an error: the build cannot work or fails a need."""
    return Finding(rule=rule_id, severity="error", evidence=evidence, fix=fix)


def warning(rule_id: str, evidence: str, fix: str = "") -> Finding:
    """Return a warning."""
    return Finding(rule=rule_id, severity="warning", evidence=evidence, fix=fix)


def information(rule_id: str, evidence: str, fix: str = "") -> Finding:
    """Return a piece of information."""
    return Finding(rule=rule_id, severity="information", evidence=evidence, fix=fix)


def consequence_of(finding: Finding) -> str:
    """Return what comes of a finding, in plain words."""
    known = RULES.get(finding.rule)
    return known.why if known else ""


def remedy_of(finding: Finding) -> str:
    """Return what is to be done: the finding's own words, else what usually mends it."""
    known = RULES.get(finding.rule)
    if finding.fix or known is None or finding.severity == "information":
        return finding.fix
    return known.remedy


def findings_of(context: Context) -> tuple[Finding, ...]:
    """Return every finding about a machine, errors first, then by rule."""
    found = [finding for entry in RULES.values() for finding in entry.check(context)]
    return tuple(sorted(found, key=lambda f: (_ORDER[f.severity], f.rule, f.evidence)))
