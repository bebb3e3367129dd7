"""What fits with what: one small function per rule, all in one register.

Importing the package fills the register.
"""

from optibox.rules import array, demands, lanes, mechanics, platform, power, wiring
from optibox.rules.context import Context, Rates
from optibox.rules.register import RULES, Finding, Rule, Severity, findings_of

__all__ = [
    "RULES",
    "Context",
    "Finding",
    "Rates",
    "Rule",
    "Severity",
    "array",
    "demands",
    "findings_of",
    "lanes",
    "mechanics",
    "platform",
    "power",
    "wiring",
]
