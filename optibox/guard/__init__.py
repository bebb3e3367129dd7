"""An answer held against the builds beside it, by the evaluator alone."""

from optibox.guard.guard import Guarded, guarded
from optibox.guard.neighbours import Neighbour, neighbours

__all__ = ["Guarded", "Neighbour", "guarded", "neighbours"]
