"""The evaluator: a build and a scenario become findings and figures. No solver here."""

from dataclasses import dataclass
from functools import cached_property

from optibox.build import Build
from optibox.figures.capacity import CapacityLadder, capacity_of
from optibox.figures.chains import Chain, burst, chain, rebuild_hours, usable_cache
from optibox.figures.money import cost_terms
from optibox.figures.power import WallPower, wall_power
from optibox.figures.rates import Rates
from optibox.figures.terms import CostTerms
from optibox.figures.year import Year, day_use, shape_of, year_of
from optibox.machine import Machine, machine_of
from optibox.migration import Route
from optibox.physics.cache import Ingest
from optibox.physics.operation import Mix, StateYear, Transfers, operating_year
from optibox.rules import Context, Finding, findings_of
from optibox.rules.reach import route_within
from optibox.scenario import Scenario
from optibox.units import MB_PER_GB

FILLS = (0.0, 0.5, 0.9)
"""Fills at which a report shows rates."""

_ONE_HOUR_EACH = Transfers(ingest_h=1.0, flush_h=1.0)


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """Everything computed about one build under one scenario."""

    machine: Machine
    capacity: CapacityLadder
    rates: Rates
    year: Year
    wall: WallPower
    cost: CostTerms
    findings: tuple[Finding, ...]

    @property
    def build(self) -> Build:
        """Return the build."""
        return self.machine.build

    @property
    def scenario(self) -> Scenario:
        """Return the scenario."""
        return self.machine.scenario

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Return the findings that make the build unfit."""
        return tuple(f for f in self.findings if f.severity == "error")

    @property
    def is_fit(self) -> bool:
        """Return whether the build works and meets every need and limit."""
        return not self.errors

    @property
    def total_cost(self) -> float:
        """Return the cost over the years, of the terms that count. [currency]."""
        return self.cost.total(self.scenario.money)

    @property
    def running_cost_per_year(self) -> float:
        """Return energy and wear in the first year. [currency]."""
        return self.cost.amounts.running

    @cached_property
    def burst(self) -> Ingest:
        """Return the phases of the burst that the scenario asks for."""
        volume_mb = self.scenario.burst_gb * MB_PER_GB
        return burst(self.machine, volume_mb, self.scenario.needs.fill_fraction)

    @cached_property
    def rebuild_h(self) -> float:
        """Return the time of rebuilding one drive. [h]."""
        return rebuild_hours(self.machine)

    @cached_property
    def busy_mixes(self) -> tuple[Mix, Mix, Mix, Mix]:
        """Return the drives' mixes: data and parity while reading, while writing."""
        return _busy_mixes(self.machine)

    def chains(self, fill: float) -> tuple[Chain, ...]:
        """Return the chain of every operation at a fill."""
        found = [chain(self.machine, "read", fill), chain(self.machine, "write", fill)]
        if self.machine.in_role("cache"):
            found.append(chain(self.machine, "flush", fill))
        if self.machine.operation.failures_survived and len(self.machine.array) > 1:
            found.append(chain(self.machine, "degraded read", fill))
        return tuple(found)


def route_to(found: Assessment, scenario: Scenario | None = None) -> Route:
    """Return the order of steps from owned drives to a machine that was judged.

    Parameters
    ----------
    found : Assessment
        The machine.
    scenario : Scenario, optional
        What is owned; without it, what the machine was judged by.
    """
    context = Context(
        machine=found.machine,
        capacity=found.capacity,
        rates=found.rates,
        year=found.year,
        wall=found.wall,
        cost=found.cost,
    )
    return route_within(context, scenario or found.scenario)


def assess(build: Build, scenario: Scenario) -> Assessment:
    """Return everything that can be said about a build under a scenario.

    Figures are given even where findings are errors; they then say what would be.
    """
    machine = machine_of(build, scenario)
    fill = scenario.needs.fill_fraction
    year = year_of(machine)
    usable_mb = usable_cache(machine) if machine.in_role("cache") else 0.0
    volume_mb = scenario.burst_gb * MB_PER_GB
    rates = Rates(
        read_mb_s=chain(machine, "read", fill).rate_mb_s,
        write_mb_s=chain(machine, "write", fill).rate_mb_s,
        ingest_mb_s=burst(machine, volume_mb, fill).mean_mb_s,
    )
    context = Context(
        machine=machine,
        capacity=capacity_of(machine),
        rates=rates,
        year=year,
        wall=wall_power(machine, _busy_mixes(machine)),
        cost=cost_terms(machine, year, usable_mb),
    )
    return Assessment(
        machine=machine,
        capacity=context.capacity,
        rates=rates,
        year=year,
        wall=context.wall,
        cost=context.cost,
        findings=findings_of(context),
    )


def _busy_mixes(machine: Machine) -> tuple[Mix, Mix, Mix, Mix]:
    """Return the drives' mixes while reading and while writing to the array."""
    plan = machine.operation
    use = day_use(machine.scenario, plan.flush_hour, plan.checks_per_year)
    shape = shape_of(machine)
    busy = operating_year(use, shape, _ONE_HOUR_EACH)
    by_name: dict[str, StateYear] = {state.name: state for state in busy.states}
    write = by_name["flushing" if shape.has_cache else "ingesting"]
    read = by_name.get("reading", write)
    return read.data, read.parity, write.data, write.parity
