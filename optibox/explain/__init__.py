"""Why nothing fits, what nearly does, and what each requirement costs."""

from optibox.explain.asker import Asker, StoppedError
from optibox.explain.explain import bill, explain, refusal
from optibox.explain.records import (
    Bill,
    Combination,
    Conflict,
    Effort,
    Gap,
    Price,
    Refusal,
    Relaxation,
)
from optibox.explain.requirements import Requirement, requirements_of

__all__ = [
    "Asker",
    "Bill",
    "Combination",
    "Conflict",
    "Effort",
    "Gap",
    "Price",
    "Refusal",
    "Relaxation",
    "Requirement",
    "StoppedError",
    "bill",
    "explain",
    "refusal",
    "requirements_of",
]
