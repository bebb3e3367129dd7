"""The current of any edge of the power tree, at work and while drives start."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

EVERY = 10_000
"""Group of a host that keeps nothing from starting: more drives than any has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What one consumer takes through an edge.

    Attributes
    ----------
    name : str
        The drive, or what else draws; the same name twice is the same consumer.
    host : str
        What its ports hang on: hosts let so many of their drives start at once.
    run_12v_a, run_5v_a : float
        At work. [A]
    rise_12v_a : float
        How much more it takes while it starts. [A]
    share : float
        Part of it that goes through the edge: inlets of a backplane share the load.
    """

    name: str
    host: str = ""
    run_12v_a: float = 0.0
    rise_12v_a: float = 0.0
    run_5v_a: float = 0.0
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Amperes:
    """Currents of one edge. [A]."""

    at_work_12v_a: float = 0.0
    at_start_12v_a: float = 0.0
    on_5v_a: float = 0.0
    """The same at work and at a start: no figure is told for a start on 5 V."""

    @property
    def worst_a(self) -> float:
        """Return the larger of both voltages at the worst instant."""
        return max(self.at_start_12v_a, self.on_5v_a)


def amperes(draws: Iterable[Draw], groups: Mapping[str, int]) -> Amperes:
    """Return the currents of an edge from what hangs below it.

    Everything runs; on top of that each host starts as many of its drives below the
    edge as it may start together, those that rise most.

    Parameters
    ----------
    draws : iterable of Draw
        All consumers below the edge.
    groups : mapping
        Drives that a host may start at the same instant; hosts that are not named
        start all of theirs.

    Examples
    --------
    >>> one, two = (Draw(name=n, host="c", run_12v_a=0.4, rise_12v_a=1.6) for n in "ab")
    >>> amperes([one, two], {}).at_start_12v_a
    4.0
    >>> round(amperes([one, two], {"c": 1}).at_start_12v_a, 6)
    2.4
    """
    run_12v = run_5v = 0.0
    rises: dict[str, dict[str, float]] = {}
    for draw in draws:
        run_12v += draw.share * draw.run_12v_a
        run_5v += draw.share * draw.run_5v_a
        if draw.rise_12v_a > 0:
            of_host = rises.setdefault(draw.host, {})
            rise = draw.share * draw.rise_12v_a
            of_host[draw.name] = of_host.get(draw.name, 0.0) + rise
    start = run_12v
    for host, of_host in rises.items():
        most = groups.get(host, EVERY)
        start += sum(sorted(of_host.values(), reverse=True)[:most])
    return Amperes(at_work_12v_a=run_12v, at_start_12v_a=start, on_5v_a=run_5v)
