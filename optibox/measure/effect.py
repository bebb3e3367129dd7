"""What measured figures change: the machine's own figures and the decisions about it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.catalog.columns import Figure
from optibox.measure.decisions import Decision, running, running_cost, with_values
from optibox.measure.factors import FittedFactor
from optibox.measure.leastsq import Z95
from optibox.measure.unknowns import Unknown
from optibox.measure.worth import Belief, gain_of, gain_spread
from optibox.scenario import Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One figure of the machine, as planned and as measured."""

    key: str
    label: str
    unit: str
    planned: float
    measured: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionNow:
    """One decision before and after the readings. [currency over the years].

    ``low`` and ``high`` are the 95 % interval of the gain after them, readings and
    catalog taken together.
    """

    decision: Decision
    gain_before: float
    gain_after: float
    low: float
    high: float

    @property
    def is_turned(self) -> bool:
        """Return whether the readings turn it."""
        return (self.gain_before > 0.0) != (self.gain_after > 0.0)

    @property
    def is_open(self) -> bool:
        """Return whether further readings could turn it."""
        return self.low < 0.0 < self.high


def measured_build(
    build: Build, watts: Mapping[Unknown, float], factors: Sequence[FittedFactor]
) -> Build:
    """Return a build with measured figures in its parts."""
    found = with_values(build, watts)
    entries = []
    for entry in found.items:
        own = {
            f.name: Figure(f.low, f.value, f.high, "measured")
            for f in factors
            if f.key == entry.item.key
        }
        part = entry.item.part.model_copy(update=own) if own else entry.item.part
        entries.append(replace(entry, item=replace(entry.item, part=part)))
    return replace(found, items=tuple(entries))


def measured_scenario(scenario: Scenario, factors: Sequence[FittedFactor]) -> Scenario:
    """Return a scenario with measured factors."""
    own = {
        f.name: Figure(f.low, f.value, f.high, "measured") for f in factors if not f.key
    }
    overrides = scenario.overrides.model_copy(update=own)
    return scenario.model_copy(update={"overrides": overrides})


def changed_figures(
    build: Build,
    scenario: Scenario,
    watts: Mapping[Unknown, float],
    factors: Sequence[FittedFactor],
) -> tuple[Changed, ...]:
    """Return the machine's own figures as planned and with what was measured."""
    before = assess(build, scenario)
    after = assess(
        measured_build(build, watts, factors), measured_scenario(scenario, factors)
    )
    return tuple(_changed(before, after))


def _changed(before: Assessment, after: Assessment) -> Iterator[Changed]:
    years = before.scenario.money.years
    pairs = (
        ("asleep_w", "all drives asleep", "W", lambda a: a.wall.asleep_w),
        ("spinning_w", "drives spinning", "W", lambda a: a.wall.spinning_w),
        ("read_mb_s", "read one file", "MB/s", lambda a: a.rates.read_mb_s),
        ("write_mb_s", "write to the array", "MB/s", lambda a: a.rates.write_mb_s),
        ("ingest_mb_s", "take in a burst", "MB/s", lambda a: a.rates.ingest_mb_s),
        ("energy_kwh_per_year", "energy a year", "kWh", lambda a: a.year.kwh),
        (
            "running_cost",
            f"energy and wear over {years} years",
            "",
            lambda a: running_cost(a.machine),
        ),
    )
    for key, label, unit, read in pairs:
        yield Changed(
            key=key, label=label, unit=unit, planned=read(before), measured=read(after)
        )


def decisions_now(
    decisions: Sequence[Decision],
    before: Belief,
    after: Belief,
    shifts: Sequence[float] = (),
) -> tuple[DecisionNow, ...]:
    """Return the decisions before and after the readings.

    Parameters
    ----------
    decisions : sequence of Decision
        Keep or change.
    before, after : Belief
        Watts without and with the readings.
    shifts : sequence of float
        What measured rates add to each gain; none = nothing. [currency]
    """
    found = []
    for decision, shift in zip(
        decisions, shifts or [0.0] * len(decisions), strict=True
    ):
        gain = gain_of(decision, after) + shift
        half = Z95 * gain_spread(decision, after)
        found.append(
            DecisionNow(
                decision=decision,
                gain_before=gain_of(decision, before),
                gain_after=gain,
                low=gain - half,
                high=gain + half,
            )
        )
    return tuple(found)


def rate_shifts(
    build: Build,
    scenario: Scenario,
    decisions: Sequence[Decision],
    factors: Sequence[FittedFactor],
) -> tuple[float, ...]:
    """Return what measured factors and rates add to each decision's gain. [currency].

    Faster or slower transfers change hours and wakes of the kept machine and of the
    changed one alike; their difference is what matters.
    """
    if not factors:
        return (0.0,) * len(decisions)
    other = measured_scenario(scenario, factors)

    def moved(made: Build) -> float:
        return running(measured_build(made, {}, factors), other) - running(
            made, scenario
        )

    kept = moved(build)
    return tuple(kept - moved(decision.build) for decision in decisions)
