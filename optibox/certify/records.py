"""What a second opinion comes back with."""

from dataclasses import dataclass
from typing import Literal

from optibox.assess import Assessment

Verdict = Literal["certified", "counter-example", "not settled", "void"]
UNKNOWN = (
    "no order of moves for drives that hold data (S1): a machine that no safe order "
    "leads to is judged by the evaluator and cut off, one by one",
    "no links shared by several drives, no limits on peak watts, yearly energy and "
    "total cost: likewise",
    "wirings are tried out in full up to a number; a machine with more of them leaves "
    "the question open",
)
"""What the flat program has no rows for, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """What a second formulation and solver say of a plan.

    ``certified``: nothing is better by more than ``margin``, or nothing fits.
    ``counter-example``: ``better`` is. ``not settled``: neither in the time given.
    ``void``: the program does not hold the answer, or asks more than the evaluator.
    """

    verdict: Verdict
    solver: str
    aim: str
    value: float | None
    """The answer's value by the evaluator; nothing where nothing fits."""
    priced: float | None
    """What the flat program asks for the answer, at least."""
    margin: float
    better: Assessment | None
    why: str
    n_entries: int
    n_settled: int
    n_rounds: int
    n_judged: int
    n_parts: int
    n_owned: int
    seconds: float
    shared: tuple[str, ...]
    unknown: tuple[str, ...] = UNKNOWN
