"""What a scenario leaves open: every default in force, the most influential first."""

import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from pydantic import BaseModel

from optibox.catalog.columns import Figure, number_text
from optibox.scenario.records import Scenario
from optibox.scenario.schema import record_in, unit_of

INFLUENCE: tuple[str, ...] = (
    "usage.ingest_gb_per_day",
    "usage.sessions_per_day",
    "money.years",
    "usage.minutes_between",
    "usage.accesses_per_session",
    "usage.metadata_sessions_per_day",
    "money.terms",
    "money.tariff_growth",
    "money.discount",
    "needs.ingest_mb_s",
    "needs.read_mb_s",
    "needs.write_mb_s",
    "needs.fill_fraction",
    "needs.other_end_gbit_s",
    "needs.other_end_medium",
    "needs.memory_gib",
    "needs.burst_gb",
    "usage.checks_per_year",
    "usage.seconds_per_access",
    "overrides.wear_budget",
    "overrides.filesystem_reserve",
    "overrides.fill_limit",
    "choices.layouts",
    "choices.write_modes",
    "choices.caches",
    "choices.allow_multipliers",
    "choices.timeouts_min",
    "choices.aim",
    "limits.array_drives",
    "needs.cache_mirror",
    "needs.network_gbit_s",
    "money.resale_fraction",
)
"""Keys by influence on plan and cost; judgement, no source.

Usage and money lead: hours, wakes and years multiply every watt and every wake. Then
come rates and capacity, which decide drives and ports, then what may be chosen.
Keys that are not named follow in the order usage, money, needs, choices, limits,
overrides.
"""

_UNIT_IN_WORDS = re.compile(r" \[[^\]]*\]")
_SECTIONS = ("usage", "money", "needs", "choices", "limits", "overrides")
_INSTEAD: Mapping[str, str] = {
    "money.tariff_per_kwh": "money.bands",
    "money.bands": "money.tariff_per_kwh",
    "needs.usable_tb": "needs.usable_tib",
    "needs.usable_tib": "needs.usable_tb",
}
"""Keys that are no open question where the other one is given."""


class Assumed(NamedTuple):
    """One default in force."""

    key: str
    value: str
    """With its unit."""
    meaning: str


def assumed_defaults(
    scenario: Scenario, raw: Mapping[str, Any] | None = None
) -> list[Assumed]:
    """Return every default that a scenario leaves in force, in order of influence.

    Parameters
    ----------
    scenario : Scenario
        The scenario as read.
    raw : mapping, optional
        Its table as written; without it the record itself knows which keys were
        given.
    """
    found = [
        Assumed(f"{section}.{key}", value, meaning)
        for section in _SECTIONS
        for key, value, meaning in _open_keys(scenario, section, raw)
    ]
    found += _estimated_prices(scenario)
    given = _given(scenario, raw)
    found = [a for a in found if _INSTEAD.get(a.key) not in given]
    rank = {key: number for number, key in enumerate(INFLUENCE)}
    rank |= {a.key: len(rank) - 1 for a in found if a.key.startswith("owned")}
    return sorted(found, key=lambda a: rank.get(a.key, len(rank)))


def _estimated_prices(scenario: Scenario) -> Iterator[Assumed]:
    """Yield the prices of owned drives that were taken from their nearest likes."""
    meaning = "Price of a new one, by which wear is counted; the nearest in the catalog"
    for number, owned in enumerate(scenario.owned):
        price = owned.replacement_price
        if price is not None and price.source == "class default":
            key = f"owned[{number}].replacement_price"
            yield Assumed(key, str(price), meaning)


def _given(scenario: Scenario, raw: Mapping[str, Any] | None) -> set[str]:
    return {
        f"{section}.{key}"
        for section in _SECTIONS
        for key in _keys_given(scenario, section, raw)
    }


def _keys_given(
    scenario: Scenario, section: str, raw: Mapping[str, Any] | None
) -> set[str]:
    if raw is not None:
        table = raw.get(section)
        return set(table) if isinstance(table, Mapping) else set()
    record: BaseModel = getattr(scenario, section)
    return set(record.model_fields_set)


def _open_keys(
    scenario: Scenario, section: str, raw: Mapping[str, Any] | None
) -> Iterator[tuple[str, str, str]]:
    record: BaseModel = getattr(scenario, section)
    given = _keys_given(scenario, section, raw)
    for key, info in type(record).model_fields.items():
        value = getattr(record, key)
        is_list_of_tables = record_in(info.annotation) is not None
        if key in given or is_list_of_tables or info.is_required():
            continue
        unit = unit_of(info)
        text = _value_words(scenario, f"{section}.{key}", value)
        if unit and unit.symbol and isinstance(value, int | float | Figure):
            text += f" {unit.symbol}"
        yield key, text, _UNIT_IN_WORDS.sub("", info.description or "")


def _value_words(scenario: Scenario, key: str, value: object) -> str:
    """Return a default in words; what a blank stands for is said."""
    if value is None or value == "":
        return _blank_words(scenario, key)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_value_words(scenario, key, item) for item in value) or "none"
    return number_text(value) if isinstance(value, int | float) else str(value)


def _blank_words(scenario: Scenario, key: str) -> str:
    if key.startswith("limits."):
        return "no limit"
    words = {
        "needs.burst_gb": f"{number_text(scenario.burst_gb)} GB, a day's ingest",
        "needs.cache_mirror": "yes" if scenario.needs.needs_cache_mirror else "no",
        "needs.network_gbit_s": "any that reaches the rates",
        "money.carbon_g_per_kwh": "not counted",
        "money.currency": "the catalog's",
        "usage.spinning_fraction": "from the sessions",
    }
    return words.get(key, "none")
