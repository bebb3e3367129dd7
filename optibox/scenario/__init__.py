"""What is asked: needs, limits, usage, money, owned parts, overrides."""

from optibox.scenario.assumed import Assumed, assumed_defaults
from optibox.scenario.factors import Factors
from optibox.scenario.read import read_scenario
from optibox.scenario.records import (
    Choices,
    Limits,
    Money,
    Needs,
    OffHours,
    OwnedPart,
    Scenario,
    SpareParts,
    TariffBand,
    Usage,
)
from optibox.scenario.standing import as_it_stands

__all__ = [
    "Assumed",
    "Choices",
    "Factors",
    "Limits",
    "Money",
    "Needs",
    "OffHours",
    "OwnedPart",
    "Scenario",
    "SpareParts",
    "TariffBand",
    "Usage",
    "as_it_stands",
    "assumed_defaults",
    "read_scenario",
]
