"""Readings against the plan: everything that they say, in one record."""

from dataclasses import dataclass, replace

from optibox.build import Build
from optibox.catalog.catalog import Catalog
from optibox.machine import Machine, machine_of
from optibox.measure.counters import CounterNote, notes_on
from optibox.measure.decisions import decisions_of
from optibox.measure.effect import (
    Changed,
    DecisionNow,
    changed_figures,
    decisions_now,
    rate_shifts,
)
from optibox.measure.factors import FittedFactor, fit_factors
from optibox.measure.next_reading import NextReading, belief_after, next_readings
from optibox.measure.power_fit import PowerFit, fit_power
from optibox.measure.rates import Judged, judge
from optibox.measure.records import Meter, Readings
from optibox.measure.sheet import plain_scenario
from optibox.measure.states import (
    PerDrive,
    StateGap,
    Unexplained,
    per_drive,
    state_gaps,
    unexplained,
)
from optibox.measure.unknowns import Unknown, unknowns_of
from optibox.measure.worth import prior
from optibox.scenario import Scenario


@dataclass(frozen=True, kw_only=True)
class Reconciliation:
    """What readings say about a machine.

    ``decisions`` and ``changed`` are empty where no scenario says what is asked.
    """

    machine: Machine
    readings: Readings
    fit: PowerFit | None
    gaps: tuple[StateGap, ...]
    per_drive: PerDrive | None
    unexplained: Unexplained
    judged: tuple[Judged, ...]
    factors: tuple[FittedFactor, ...]
    counters: tuple[CounterNote, ...]
    changed: tuple[Changed, ...]
    decisions: tuple[DecisionNow, ...]
    next: tuple[NextReading, ...]
    has_scenario: bool

    @property
    def watts(self) -> dict[Unknown, float]:
        """Return the watts that readings alone determine, part by part. [W DC]."""
        if self.fit is None:
            return {}
        return {
            unknown: found.measured.value
            for unknown, found in self.fit.by_unknown.items()
            if found.measured is not None
        }


def reconcile(
    build: Build,
    readings: Readings,
    meter: Meter,
    asked: tuple[Scenario, Catalog] | None = None,
) -> Reconciliation:
    """Return what readings say about a build.

    Parameters
    ----------
    build : Build
        The machine as it was planned.
    readings : Readings
        Read without fault.
    meter : Meter
        The meter of readings still to come.
    asked : tuple of Scenario and Catalog, optional
        What is to be decided.

    Raises
    ------
    InputError
        Where a wall reading cannot be of this build.
    """
    scenario = asked[0] if asked else plain_scenario(build)
    machine = machine_of(build, scenario)
    fit = fit_power(machine, readings.power, readings.path) if readings.power else None
    gaps = state_gaps(fit) if fit else ()
    judged = judge(machine, readings.transfers)
    factors = fit_factors(machine, judged)
    decisions = decisions_of(build, *asked) if asked else ()
    after = belief_after(machine, fit)
    found = Reconciliation(
        machine=machine,
        readings=readings,
        fit=fit,
        gaps=gaps,
        per_drive=per_drive(fit) if fit else None,
        unexplained=unexplained(fit, gaps) if fit else Unexplained(pattern="none"),
        judged=judged,
        factors=factors,
        counters=notes_on(machine, readings.counters),
        changed=(),
        decisions=decisions_now(
            decisions,
            prior(unknowns_of(machine)),
            after,
            rate_shifts(build, scenario, decisions, factors),
        ),
        next=next_readings(machine, after, meter, decisions),
        has_scenario=asked is not None,
    )
    if asked is None:
        return found
    changed = changed_figures(build, scenario, found.watts, factors)
    return replace(found, changed=changed)
