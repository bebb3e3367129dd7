"""What a search comes back with."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from optibox.assess import Assessment
from optibox.guard import Guarded

Status = Literal["optimal", "feasible", "infeasible", "unknown"]
Progress = Callable[[str], None]
"""Receives a line now and then while something long runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How far the answer is proven, and what it took."""

    bound: float
    """No build is better than this, in the aim's unit."""

    value: float
    """The shown build's value of the aim, by the evaluator."""

    n_entries: int
    """Menu entries (layout, mode, timeout, drives, cache, network, board)."""

    n_bounded: int
    """Entries ruled out by their bound alone."""

    n_solves: int
    """Programs handed to the solver."""

    seconds: float
    solver: str
    guard: Guarded | None = None
    """What was tried beside the answer; nothing where it is not called proven."""
    n_unsolved: int = 0
    """Programs on which every solver gave up, though there was time."""

    @property
    def gap(self) -> float:
        """Return the relative gap between value and bound, 0 when proven."""
        if self.value <= self.bound:
            return 0.0
        return (self.value - self.bound) / max(abs(self.value), 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The answer: a build with its assessment, or that none exists."""

    status: Status
    aim: str
    proof: Proof
    assessment: Assessment | None = None
    in_play: tuple[str, ...] = ()
    """Where no build exists: the needs and limits in play, in words."""
