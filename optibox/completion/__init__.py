"""Fills what a sketch leaves open in the best way there is, and says what it took."""

from optibox.completion.complete import Completion, complete
from optibox.completion.defaults import plain_scenario

__all__ = ["Completion", "complete", "plain_scenario"]
