"""What a scenario asks for, one requirement at a time: what it is without it, eased."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Chassis
from optibox.catalog.storage import Drive
from optibox.criteria import LIMITS, NEEDS, Criterion
from optibox.migration import held_b
from optibox.scenario import Choices, Scenario, as_it_stands

Kind = Literal["need", "limit", "choice", "ban", "insist"]
SAVED = "owned.held_tb"
"""Key of the wish that no file of a reused drive is lost on the way."""

LEAST_TB, LEAST_GIB = 0.01, 0.25
"""The least that the records of needs allow: as good as nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One thing that a scenario asks for."""

    key: str
    """Such as ``needs.usable_tb`` or ``ban hdd-*``."""
    kind: Kind
    words: str
    """What is asked, with its number."""
    value: float | None = None
    criterion: Criterion | None = None
    """What it is measured by, where it is a number."""
    is_default: bool = False
    """Whether the scenario does not say it itself."""
    most: float | None = None
    """Value beyond which easing a limit changes nothing."""

    @property
    def aim(self) -> str:
        """Return the planner's aim that makes it least, where there is one.

        Rates have aims too, but those raise a need search by search, each proven
        cheapest; halving asks less.
        """
        limited = self.criterion
        return limited.aim if limited and not limited.is_maximised else ""

    @property
    def is_need(self) -> bool:
        """Return whether it is met from above; limits are kept from below."""
        return self.kind == "need"

    def without(self, scenario: Scenario) -> Scenario:
        """Return a scenario that no longer asks for it."""
        if self.key == SAVED:
            return as_it_stands(scenario)
        if self.kind in ("ban", "insist"):
            name = self.key.split(" ", 1)[1]
            kept = tuple(x for x in getattr(scenario, self.kind) if x != name)
            return scenario.model_copy(update={self.kind: kept})
        if self.key == "choices.timeouts_min":
            both = {*_ALL.timeouts_min, *scenario.choices.timeouts_min}
            changes = {"timeouts_min": tuple(sorted(both)), "allow_never": True}
            return _with(scenario, self.key, changes)
        if self.most is not None:
            return self.eased(scenario, self.most)
        return _with(scenario, self.key, _LOOSEST[self.key])

    def eased(self, scenario: Scenario, value: float) -> Scenario:
        """Return a scenario that asks for another value of it."""
        name = self.key.split(".")[1]
        whole = {"failures_survived", "array_drives", "rack_units"}
        changes: dict[str, Any] = {name: int(value) if name in whole else value}
        if name == "usable_tb":
            changes["usable_tib"] = None
        return _with(scenario, self.key, changes)

    def rounded(self, value: float) -> float:
        """Return a value in whole steps that is no harder to meet."""
        step = self.criterion.step if self.criterion else 1.0
        count = value / step
        near = round(count)
        if abs(count - near) < 1e-6 * max(1.0, abs(count)):
            whole: float = near
        else:
            whole = math.floor(count) if self.is_need else math.ceil(count)
        return round(whole * step, 6)

    def tightened(self, value: float) -> float:
        """Return the value one step harder to meet."""
        step = self.criterion.step if self.criterion else 1.0
        return round(value + (step if self.is_need else -step), 6)

    def ratio(self, value: float) -> float:
        """Return by what factor a value eases the one asked for; 1 = not at all."""
        if not self.value or not value:
            return math.inf
        return max(1.0, self.value / value if self.is_need else value / self.value)


def _with(scenario: Scenario, key: str, changes: Mapping[str, Any]) -> Scenario:
    section = key.split(".", maxsplit=1)[0]
    record = getattr(scenario, section).model_copy(update=dict(changes))
    return scenario.model_copy(update={section: record})


_ALL = Choices()
_LOOSEST: dict[str, Mapping[str, Any]] = {
    "needs.usable_tb": {"usable_tb": LEAST_TB, "usable_tib": None},
    "needs.failures_survived": {"failures_survived": 0},
    "needs.cache_mirror": {"cache_mirror": False},
    "needs.read_mb_s": {"read_mb_s": 0.0},
    "needs.write_mb_s": {"write_mb_s": 0.0},
    "needs.ingest_mb_s": {"ingest_mb_s": 0.0},
    "needs.memory_gib": {"memory_gib": LEAST_GIB},
    "needs.network_gbit_s": {"network_gbit_s": None},
    "needs.ecc": {"ecc": False},
    "needs.management": {"management": False},
    "needs.encryption": {"encryption": False},
    "needs.hot_swap": {"hot_swap": False},
    **{
        f"limits.{name}": {name: None}
        for name in (
            "budget",
            "total_cost",
            "annual_kwh",
            "asleep_w",
            "spinning_w",
            "peak_w",
            "rack_units",
            "shape",
        )
    },
    "choices.layouts": {"layouts": _ALL.layouts},
    "choices.write_modes": {"write_modes": _ALL.write_modes},
    "choices.caches": {"caches": _ALL.caches},
    "choices.allow_multipliers": {"allow_multipliers": True},
}

_FLAGS: Mapping[str, str] = {
    "needs.ecc": "memory errors corrected",
    "needs.management": "remote management",
    "needs.encryption": "encryption",
    "needs.hot_swap": "drives exchanged while running",
    "needs.cache_mirror": "a mirrored cache",
}


def requirements_of(scenario: Scenario, catalog: Catalog) -> tuple[Requirement, ...]:
    """Return what a scenario asks for: needs, limits, choices, bans, what it insists on.

    Defaults that could stand in the way are among them and marked.
    """
    currency = scenario.money.currency or catalog.currency
    return (
        *_numbers(scenario, currency, most_drives(catalog)),
        *_flags(scenario),
        *_saved(scenario, catalog),
        *_choices(scenario),
        *(
            Requirement(key=f"ban {ban}", kind="ban", words=f"without {ban}")
            for ban in dict.fromkeys(scenario.ban)
        ),
        *(
            Requirement(key=f"insist {one}", kind="insist", words=f"with {one}")
            for one in dict.fromkeys(scenario.insist)
        ),
    )


def _numbers(scenario: Scenario, currency: str, most: int) -> Iterator[Requirement]:
    for criterion in (*NEEDS.values(), *LIMITS.values()):
        value = criterion.asked_of(scenario)
        if not value:
            continue
        record = scenario.needs if criterion.need else scenario.limits
        name = criterion.need or criterion.limit
        words = criterion.asked.format(value, currency).rstrip()
        if name == "failures_survived" and value == 1:
            words = "1 failed drive survived"
        yield Requirement(
            key=criterion.scenario_key,
            kind="need" if criterion.need else "limit",
            words=words,
            value=value,
            criterion=criterion,
            is_default=name != "usable_tb" and name not in record.model_fields_set,
            most=max(float(most), value) if name == "array_drives" else None,
        )


def _flags(scenario: Scenario) -> Iterator[Requirement]:
    for key, words in _FLAGS.items():
        if getattr(scenario.needs, key.split(".")[1]):
            yield Requirement(key=key, kind="need", words=words)
    if scenario.limits.shape is not None:
        words = f"a {scenario.limits.shape}"
        yield Requirement(key="limits.shape", kind="limit", words=words)


def _saved(scenario: Scenario, catalog: Catalog) -> Iterator[Requirement]:
    """Yield that files are saved, where an owned drive may hold the only copy of some."""
    for owned in scenario.owned:
        part = owned.part or catalog.by_id.get(owned.id)
        if isinstance(part, Drive) and held_b(owned, 10**12) and not owned.second_copy:
            words = "files of reused drives saved before they are erased"
            yield Requirement(key=SAVED, kind="need", words=words)
            return


def _choices(scenario: Scenario) -> Iterator[Requirement]:
    choices = scenario.choices
    for name, noun in (
        ("layouts", "layouts"),
        ("write_modes", "write modes"),
        ("caches", "cache arrangements"),
    ):
        allowed = getattr(choices, name)
        if set(getattr(_ALL, name)) - set(allowed):
            words = f"no other {noun} than {', '.join(allowed)}"
            yield Requirement(key=f"choices.{name}", kind="choice", words=words)
    if not choices.allow_never or set(_ALL.timeouts_min) - set(choices.timeouts_min):
        times = ", ".join(f"{t:g}" for t in choices.timeouts_min)
        never = " or never" if choices.allow_never else ""
        words = f"drives stop after {times} min{never}, nothing else"
        if not choices.timeouts_min:
            words = "drives never stop"
        yield Requirement(key="choices.timeouts_min", kind="choice", words=words)
    if not choices.allow_multipliers:
        yield Requirement(
            key="choices.allow_multipliers",
            kind="choice",
            words="no port multipliers",
            is_default="allow_multipliers" not in choices.model_fields_set,
        )


def most_drives(catalog: Catalog) -> int:
    """Return how many drives the roomiest chassis of a catalog takes."""
    bays = (c.bays_35 + c.bays_25 for c in catalog.of(Chassis))
    return min(60, max(bays, default=1))


def aimed_limits(scenario: Scenario) -> Iterator[Requirement]:
    """Yield the limits of a scenario that an aim makes least, the sharpest aim first."""
    numbers = {r.key: r for r in _numbers(scenario, "", 60)}
    for key in _SHARPEST:
        if key in numbers:
            yield numbers[key]


_SHARPEST = (
    "limits.total_cost",
    "limits.asleep_w",
    "limits.budget",
    "limits.annual_kwh",
)
"""Aims by how soon the search proves an optimum; measured on the shipped examples."""


def without_all(scenario: Scenario, requirements: tuple[Requirement, ...]) -> Scenario:
    """Return a scenario without some requirements."""
    for requirement in requirements:
        scenario = requirement.without(scenario)
    return scenario
