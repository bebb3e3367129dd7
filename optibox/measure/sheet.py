"""A measuring sheet: what to read before anything is known, and what to expect."""

from dataclasses import dataclass

from optibox.build import Build
from optibox.catalog.attachment import NetworkLead
from optibox.catalog.catalog import Catalog
from optibox.machine import Machine, machine_of
from optibox.measure.decisions import Decision, decisions_of
from optibox.measure.design import Design, design
from optibox.measure.records import Meter
from optibox.measure.transfers import TransferTest, transfer_tests
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
    tests: tuple[TransferTest, ...]
    decisions: tuple[Decision, ...]
    currency: str = ""


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
    scenario = asked[0] if asked else plain_scenario(build)
    machine = machine_of(build, scenario)
    decisions = decisions_of(build, *asked) if asked else ()
    return Sheet(
        machine=machine,
        meter=meter,
        minutes=minutes,
        design=design(machine, prior(unknowns_of(machine)), meter, minutes, decisions),
        tests=transfer_tests(machine),
        decisions=decisions,
        currency=_currency(*asked) if asked else "",
    )


def _currency(scenario: Scenario, catalog: Catalog) -> str:
    return scenario.money.currency or catalog.currency


def plain_scenario(build: Build) -> Scenario:
    """Return a scenario that asks nothing of a machine; the other end meets its lead."""
    leads = [part for part, _ in build.of(NetworkLead)]
    best = max(leads, key=lambda part: part.network_gbit_s, default=None)
    needs: dict[str, object] = {"usable_tb": 0.01, "failures_survived": 0}
    if best is not None:
        needs |= {
            "other_end_medium": best.medium,
            "other_end_gbit_s": best.network_gbit_s,
        }
    return Scenario.model_validate(
        {"needs": needs, "money": {"tariff_per_kwh": ASSUMED_TARIFF}}
    )
