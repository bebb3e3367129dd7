"""A measuring sheet: what to read before anything is known, and what to expect."""

from dataclasses import dataclass

from optibox.build import Build
from optibox.catalog.catalog import Catalog
from optibox.machine import Machine, machine_of
from optibox.measure.decisions import Decision, decisions_of
from optibox.measure.design import Design, design
from optibox.measure.records import Meter
from optibox.measure.transfers import Test, tests_of
from optibox.measure.unknowns import unknowns_of
from optibox.measure.worth import prior
from optibox.scenario import Scenario

DEFAULT_MINUTES = 240.0
ONE_HOUR_MIN = 60.0
ASSUMED_TARIFF = 0.30
"""Price of a kWh where no scenario says one; only figures that are not shown use it."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Everything that a measuring sheet says."""

    machine: Machine
    meter: Meter
    minutes: float
    design: Design
    tests: tuple[Test, ...]
    decisions: tuple[Decision, ...]


def sheet_of(
    build: Build,
    meter: Meter,
    minutes: float,
    asked: tuple[Scenario, Catalog] | None = None,
) -> Sheet:
    """Return the sheet for a build.

    Parameters
    ----------
    build : Build
        The machine that will be measured.
    meter : Meter
        What its wall meter can tell.
    minutes : float
        Time for wall readings. [min]
    asked : tuple of Scenario and Catalog, optional
        What is to be decided; without it readings are chosen to know the parts.
    """
    scenario = asked[0] if asked else plain_scenario()
    machine = machine_of(build, scenario)
    decisions = decisions_of(build, *asked) if asked else ()
    return Sheet(
        machine=machine,
        meter=meter,
        minutes=minutes,
        design=design(machine, prior(unknowns_of(machine)), meter, minutes, decisions),
        tests=tests_of(machine),
        decisions=decisions,
    )


def plain_scenario() -> Scenario:
    """Return the scenario of a machine of which nothing is asked."""
    return Scenario.model_validate(
        {
            "needs": {"usable_tb": 0.01, "failures_survived": 0},
            "money": {"tariff_per_kwh": ASSUMED_TARIFF},
        }
    )
