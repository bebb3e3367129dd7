"""The slowest stage of a chain, and what a link's budget allows it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass


def link_rate_mb_s(
    budget_mb_s: float, up: float, down: float, *, half_duplex: bool = False
) -> float:
    """Return the user rate that a link allows. [MB/s].

    Parameters
    ----------
    budget_mb_s : float
        Planning rate, of each direction where the link is full duplex. [MB/s]
    up, down : float
        MB moved for each user MB. [MB/MB]
    half_duplex : bool
        Both directions share the budget, as on a SATA link.

    Returns
    -------
    float
        User rate; infinite when nothing moves. [MB/s]

    Examples
    --------
    >>> link_rate_mb_s(600.0, 1.0, 2.0, half_duplex=True)
    200.0
    """
    load = up + down if half_duplex else max(up, down)
    return budget_mb_s / load if load > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a chain: what it is, and the user rate that it allows. [MB/s]."""

    name: str
    rate_mb_s: float


@dataclass(frozen=True, slots=True)
class Binding:
    """The stage that sets a chain's rate, the next one, and the gap between them.

    Attributes
    ----------
    binding : Stage
        The slowest stage; of equals, the first given.
    next : Stage or None
        The second slowest; None in a chain of one.
    slack_mb_s : float
        How far the binding stage can rise before the next one binds. [MB/s]
    """

    binding: Stage
    next: Stage | None
    slack_mb_s: float

    @property
    def rate_mb_s(self) -> float:
        """The rate of the chain. [MB/s]."""
        return self.binding.rate_mb_s


def binding(stages: Iterable[Stage]) -> Binding:
    """Return the binding stage of a chain, the next one, and the slack. [MB/s].

    Parameters
    ----------
    stages : iterable of Stage
        At least one.

    Returns
    -------
    Binding
        Slack is infinite where nothing else limits.

    Raises
    ------
    ValueError
        If there is no stage.

    Examples
    --------
    >>> found = binding([Stage("drive", 180.0), Stage("network", 106.0)])
    >>> found.binding.name, found.next.name, found.slack_mb_s
    ('network', 'drive', 74.0)
    """
    ordered = sorted(stages, key=lambda stage: stage.rate_mb_s)
    if not ordered:
        msg = "A chain needs at least one stage."
        raise ValueError(msg)
    first = ordered[0]
    if len(ordered) == 1:
        return Binding(first, None, math.inf)
    second = ordered[1]
    if math.isinf(first.rate_mb_s):  # inf - inf is not a number
        return Binding(first, second, 0.0)
    return Binding(first, second, second.rate_mb_s - first.rate_mb_s)
