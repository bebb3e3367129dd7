"""What a fit of wall readings consists of: figures, intervals, doubts."""

from dataclasses import dataclass

from optibox.catalog.columns import Figure
from optibox.measure.records import PowerReading
from optibox.measure.unknowns import Unknown

MOST_NAMED = 2
"""Parts of one sum that are named each; beyond that their kinds are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A value with the 95 % interval about it. [W at the parts]."""

    value: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Return half the width of the interval."""
        return (self.high - self.low) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFigure:
    """What the readings say about one part, or about parts never seen apart.

    Attributes
    ----------
    members : tuple of Unknown
        One unknown, counted in pieces; or several that only ever occurred together.
    ratios : tuple of float
        How often each member occurs in the figure.
    measured : Interval or None
        From the readings alone; nothing where they do not determine it.
    tied : tuple of str
        What it cannot be told from, where it is not determined.
    is_base : bool
        Whether it was part of every reading.
    """

    members: tuple[Unknown, ...]
    ratios: tuple[float, ...]
    measured: Interval | None
    tied: tuple[str, ...] = ()
    is_base: bool = False

    @property
    def catalog(self) -> Figure:
        """Return what the catalog says about the same thing. [W]."""
        ends = [0.0, 0.0, 0.0]
        for unknown, ratio in zip(self.members, self.ratios, strict=True):
            pieces = sorted(bound * ratio for bound in unknown.bounds)
            ends[0] += pieces[0]
            ends[1] += unknown.figure.mid * ratio
            ends[2] += pieces[1]
        return Figure(ends[0], ends[1], ends[2], self.members[0].figure.source)

    @property
    def agrees(self) -> bool:
        """Return whether interval and catalog bounds overlap, or nothing is known."""
        if self.measured is None:
            return True
        figure = self.catalog
        return self.measured.low <= figure.high and figure.low <= self.measured.high

    @property
    def words(self) -> str:
        """Return what it is the power of; savings stand after 'less'.

        Long sums name kinds instead of parts.
        """
        names = []
        is_long = len(self.members) > MOST_NAMED
        for member, ratio in zip(self.members, self.ratios, strict=True):
            n = member.count if len(self.members) > 1 else 1
            name = member.kind_name if is_long else member.name
            pieces = f"{n} x {name}" if n > 1 else name
            names.append(f"less {pieces}" if ratio < 0 else pieces)
        return " + ".join(names).replace("+ less", "less")

    @property
    def unit_words(self) -> str:
        """Return what the figure is counted in."""
        if len(self.members) > 1:
            return "together"
        return "each" if self.members[0].count > 1 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """By how much readings moved over the session, from repeated situations. [W]."""

    watts: float
    error_w: float
    is_real: bool
    """Whether it is beyond doubt, and so taken out of the readings in full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A reading that the others contradict."""

    line: int
    errors_off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One reading beside what the fit and the catalog say. [W at the wall]."""

    reading: PowerReading
    fitted_w: float
    planned_w: float


def around(value: float, free: float, half: float, *, is_signed: bool) -> Interval:
    """Return the interval about a free estimate, cut where watts would be negative.

    Parameters
    ----------
    value : float
        Estimate with signs kept; the interval holds it.
    free : float
        Estimate without regard to signs.
    half : float
        Half width.
    is_signed : bool
        Whether it may be below zero.

    Examples
    --------
    >>> around(0.0, -0.1, 0.5, is_signed=False)
    Interval(value=0.0, low=0.0, high=0.4)
    """
    low, high = free - half, free + half
    if not is_signed:
        low, high = max(0.0, low), max(0.0, high)
    return Interval(value=value, low=min(low, value), high=max(high, value))
