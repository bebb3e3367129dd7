"""The drawn questions vary every key and hit every feature; nothing is planned here."""

from collections import Counter
from functools import lru_cache

import pytest

from optibox.catalog.kinds import KIND_BY_NAME
from optibox.scenario import Scenario
from optibox.scenario.factors import Factors
from optibox.scenario.records import OffHours, OwnedPart, SpareParts, TariffBand
from tests.support.middling import shipped
from tests.support.questions import (
    AIM_DRAWS,
    FURTHER_KEYS,
    LAYOUTS,
    THEMES,
    Drawn,
    asked,
    drawn,
)

N_QUESTIONS = 200
OFTEN = 10
RANGES = (0, 1000)
"""Seeds in use, and those that are kept for later."""
SECTIONS = ("needs", "limits", "usage", "off_hours", "money", "choices")


@lru_cache(maxsize=len(RANGES))
def questions(first: int) -> list[Drawn]:
    return [drawn(seed) for seed in range(first, first + N_QUESTIONS)]


def hits(question: Drawn) -> set[str]:
    """Return the keys that a question sets and what else it hits."""
    table, found = question.table, set(question.features)
    for section in SECTIONS:
        found |= {f"{section}.{key}" for key in table.get(section, {})}
    found |= {f"overrides.{key}" for key in table.get("overrides", {})}
    for name in ("owned", "spares"):
        found |= {f"{name}.{key}" for entry in table.get(name, ()) for key in entry}
    bands = table["money"].get("bands", ())
    found |= {f"band.{key}" for band in bands for key in band}
    found |= {key for key in table if key not in SECTIONS}
    if question.near is not None:
        found |= {f"limits.{key}" for key in question.near.keys}
        found |= {"too low"} if question.near.share < 0 else {"near"}
    return found | more_hits(table)


def more_hits(table: dict) -> set[str]:
    found = {f"aim {table['choices']['aim']}"}
    layouts = table["choices"].get("layouts", ())
    if len(layouts) == 1:
        found.add(f"layout {layouts[0]}")
    for lot in table.get("owned", ()):
        part = asked_kind(lot)
        found.add(f"owned {part}")
    return found


def asked_kind(lot: dict) -> str:
    return lot.get("kind") or shipped().by_id[lot["id"]].kind


def wanted() -> set[str]:
    """Return all that there is to hit: what is new in the records is missing here."""
    found = {"aim " + aim for aim in AIM_DRAWS} | {"layout " + x for x in LAYOUTS}
    found |= {*THEMES, "spares", "bands", "owned lots", "near", "too low"}
    found |= {"owned " + kind for kind in KIND_BY_NAME}
    found |= {f"limits.{key}" for key in FURTHER_KEYS}
    fields = Scenario.model_fields
    found |= {*fields, *Scenario.file_only} - set(SECTIONS)
    for section in SECTIONS:
        record = fields[section].annotation
        found |= {f"{section}.{key}" for key in record.model_fields}
    found |= {f"off_hours.{key}" for key in OffHours.model_fields}
    found |= {f"owned.{key}" for key in OwnedPart.model_fields}
    found |= {f"spares.{key}" for key in SpareParts.model_fields}
    found |= {f"band.{key}" for key in TariffBand.model_fields}
    found |= {f"overrides.{key}" for key in Factors.model_fields}
    # a part written in place has no key of its own, measured figures are a file
    return found - {"owned.part", "measured"}


@pytest.mark.parametrize("first", RANGES)
def test_everything_is_hit_often(first):
    counts = Counter(hit for q in questions(first) for hit in hits(q))
    rare = {hit: counts[hit] for hit in sorted(wanted()) if counts[hit] < OFTEN}
    assert not rare


def test_every_key_takes_more_than_one_value():
    seen: dict[str, set[str]] = {}
    for question in questions(0):
        for section in SECTIONS:
            for key, value in question.table.get(section, {}).items():
                seen.setdefault(f"{section}.{key}", set()).add(repr(value))
    assert not [key for key, values in seen.items() if len(values) < 2]


def test_most_questions_have_a_limit_near_the_best():
    near = [q.near for q in questions(0) if q.near]
    assert sum(n.share >= 0 for n in near) > 0.6 * N_QUESTIONS


def test_draws_do_not_depend_on_the_run():
    assert drawn(7) == drawn(7)
    assert drawn(7) != drawn(8)


def read_all(every: list[Drawn]) -> None:
    for question in every:
        scenario, catalog = asked(question.table)
        assert scenario.needs.capacity_tb > 0
        assert len(catalog.parts) >= len(shipped().parts)


def test_questions_can_be_read():
    read_all(questions(0)[::4])


@pytest.mark.slow
@pytest.mark.parametrize("first", RANGES)
def test_every_question_can_be_read(first):
    read_all(questions(first))
