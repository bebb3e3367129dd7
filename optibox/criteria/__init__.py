"""What builds are judged by: each criterion once, whoever asks for it."""

from optibox.criteria.criterion import Criterion, Judged
from optibox.criteria.register import AIMS, AXES, CRITERIA, LIMITS, NEEDS
from optibox.criteria.weights import PART_PRICE, Weights

__all__ = [
    "AIMS",
    "AXES",
    "CRITERIA",
    "LIMITS",
    "NEEDS",
    "PART_PRICE",
    "Criterion",
    "Judged",
    "Weights",
]
