"""Known faults are found, all of them and nothing else; clean machines stay clean."""

import pytest

from optibox.rules import RULES
from tests.unit.rules.bench import told
from tests.unit.rules.broken import CASES, CLEAN


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_fault_is_found_and_no_other(case):
    found = case.bench.judged()
    assert told(found) == list(case.expected), "\n".join(map(str, found.findings))


@pytest.mark.parametrize("case", CLEAN, ids=lambda case: case.name)
def test_nothing_is_said_about_a_clean_machine(case):
    found = case.bench.judged()
    assert told(found) == [], "\n".join(map(str, found.findings))


def test_every_rule_is_hit_by_a_case_and_missed_by_another():
    """A rule that no case breaks, or that every case breaks, would not be tested."""
    hits = dict.fromkeys(RULES, 0)
    for case in CASES:
        for rule in {word.split()[0] for word in case.expected}:
            hits[rule] += 1
    assert [rule for rule, count in hits.items() if count == 0] == []
    assert all(count < len(CASES) for count in hits.values())


def test_every_gravity_that_a_rule_declares_occurs():
    names = {"E": "error", "W": "warning", "I": "information"}
    seen: dict[str, set[str]] = {rule: set() for rule in RULES}
    for case in CASES:
        for word in case.expected:
            rule, letter = word.split()
            seen[rule].add(names[letter])
    missing = {
        rule: set(RULES[rule].severities) ^ found
        for rule, found in seen.items()
        if set(RULES[rule].severities) != found
    }
    assert missing == {}


def test_there_are_enough_cases():
    assert len(CASES) >= 30
    assert len({case.name for case in CASES + CLEAN}) == len(CASES) + len(CLEAN)


@pytest.mark.parametrize("case", CASES[:1] + CASES[-3:], ids=lambda case: case.name)
def test_findings_carry_evidence_and_what_comes_of_them(case):
    for finding in case.bench.judged().findings:
        assert any(char.isalnum() for char in finding.evidence)
        rule = RULES[finding.rule]
        assert len(rule.why) > 20
        assert finding.severity in rule.severities
