"""What is asked: needs, limits, usage, money, owned parts, overrides."""

from optibox.scenario.factors import Factors
from optibox.scenario.records import (
    Choices,
    Limits,
    Money,
    Needs,
    OwnedPart,
    Scenario,
    SpareParts,
    TariffBand,
    Usage,
)

__all__ = [
    "Choices",
    "Factors",
    "Limits",
    "Money",
    "Needs",
    "OwnedPart",
    "Scenario",
    "SpareParts",
    "TariffBand",
    "Usage",
]
