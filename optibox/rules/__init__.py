"""What fits with what: one small function per rule, all in one register.

Importing the package fills the register.
"""

from optibox.rules import (
    airflow,
    array,
    array_care,
    cables,
    demands,
    lanes,
    leads,
    mechanics,
    network,
    platform,
    power,
    reach,
    supply,
    wiring,
)
from optibox.rules.context import Context
from optibox.rules.register import (
    RULES,
    Finding,
    Rule,
    Severity,
    consequence_of,
    findings_of,
    remedy_of,
)

__all__ = [
    "RULES",
    "Context",
    "Finding",
    "Rule",
    "Severity",
    "airflow",
    "array",
    "array_care",
    "cables",
    "consequence_of",
    "demands",
    "findings_of",
    "lanes",
    "leads",
    "mechanics",
    "network",
    "platform",
    "power",
    "reach",
    "remedy_of",
    "supply",
    "wiring",
]
