"""What an explanation says: conflict, relaxations, gaps, prices of requirements."""

from dataclasses import dataclass, field

from optibox.assess import Assessment
from optibox.explain.requirements import Requirement
from optibox.migration import Shortage


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Requirements that cannot be had together, none of them superfluous."""

    members: tuple[Requirement, ...]
    is_irreducible: bool
    """Whether each was seen to be needed: without it a machine exists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """What one requirement would have to be, all others as asked."""

    requirement: Requirement
    is_enough: bool | None = None
    """Whether a machine exists without it; nothing = not found out in time."""
    value: float | None = None
    """The value nearest to the one asked for, in whole steps; nothing = only without."""
    is_proven: bool = False
    """Whether one step nearer was seen to be impossible."""
    bound: float | None = None
    """Where that was not seen in time: no machine is better than this."""
    found: Assessment | None = None
    """A machine that keeps it."""
    lack: Shortage | None = None
    """What that machine lacks to save the files of its drives, where that is the wish."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """Several requirements eased by one factor, as little as possible."""

    dropped: tuple[Requirement, ...] = ()
    """What had to be given up besides, being no number."""

    factor: float
    """Limits may be exceeded by it, needs be missed by it."""
    is_proven: bool
    """Whether a factor smaller by a thousandth was seen not to be enough."""
    values: tuple[tuple[Requirement, float], ...]
    """What each requirement comes to with the machine found."""
    found: Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Something that no catalog row offers."""

    words: str
    would_help: bool | None = None
    """Whether a machine exists once a row of no price fills it; nothing = not tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What one requirement costs."""

    requirement: Requirement
    cost: float
    """By how much the aim would be better without it, in the aim's unit."""
    value: float
    """The aim without it."""
    found: Assessment | None = None
    most: float | None = None
    """Where the time was over: it costs ``cost`` at least and this at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What it took."""

    n_searches: int
    n_known: int
    seconds: float
    is_complete: bool
    """Whether everything was answered in time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why no machine exists, and what nearly does."""

    effort: Effort
    conflicts: tuple[Conflict, ...] = ()
    """Without common members: from each of them one member has to give way."""
    relaxations: tuple[Relaxation, ...] = ()
    """One for each member, the members of other conflicts left out of the question."""
    combination: Combination | None = None
    gaps: tuple[Gap, ...] = ()
    has_any: bool | None = True
    """Whether the catalog makes any machine with nothing asked; nothing = not seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """What each requirement costs where a machine exists."""

    aim: str
    value: float
    found: Assessment
    effort: Effort
    prices: tuple[Price, ...] = ()
    """The dearest first; those of no cost are among them."""
    open: tuple[Requirement, ...] = field(default=())
    """Requirements of which it was not found out in time."""
