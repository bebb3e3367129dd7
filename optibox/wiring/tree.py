"""The power tree of a build: every edge with what it carries and what it may carry."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count as numbers

from optibox.build import Build, PowerFeed
from optibox.machine import Machine
from optibox.scenario import Scenario
from optibox.wiring.amperes import Amperes, Draw, amperes
from optibox.wiring.loads import Ends, Giver, Load, ends_of, plug_most_a
from optibox.wiring.seat import seated_feeds


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One plug in use.

    Attributes
    ----------
    feed : PowerFeed
        What hangs on which plug.
    path : tuple of Giver
        From the lead down to what offers the plug.
    load : Load, optional
        What it feeds, where that is no adapter.
    piece : Giver, optional
        The adapter that hangs on it.
    carries : Amperes
        Its currents.
    most_a : float
        The least of what the plug and the adapter on it carry, on each voltage. [A]
    """

    feed: PowerFeed
    path: tuple[Giver, ...]
    load: Load | None
    piece: Giver | None
    carries: Amperes
    most_a: float

    @property
    def plug(self) -> str:
        """Return the type of the plug."""
        return self.path[-1].gives

    @property
    def has_3v3(self) -> bool:
        """Return whether 3.3 V reaches the plug: a 4-pin plug on the way ends it."""
        return all(giver.has_3v3 and giver.gives == "sata" for giver in self.path)

    @property
    def is_behind_4_pin(self) -> bool:
        """Return whether a 4-pin plug is on the way, this one included."""
        return any(giver.gives == "peripheral" for giver in self.path)


@dataclass(frozen=True, kw_only=True)
class PowerTree:
    """All that gives and takes power in a machine, and how it hangs together."""

    ends: Ends
    feeds: tuple[PowerFeed, ...]

    @property
    def leads(self) -> tuple[Giver, ...]:
        """Return the leads of supply and board."""
        return self.ends.leads

    @property
    def pieces(self) -> tuple[Giver, ...]:
        """Return the adapters, piece by piece."""
        return self.ends.pieces

    @property
    def loads(self) -> tuple[Load, ...]:
        """Return what wants a plug."""
        return self.ends.loads

    @cached_property
    def _feed_of(self) -> dict[str, PowerFeed]:
        found: dict[str, PowerFeed] = {}
        for feed in self.feeds:
            found.setdefault(feed.load, feed)
        return found

    @cached_property
    def _givers(self) -> dict[str, Giver]:
        return {giver.name: giver for giver in (*self.leads, *self.pieces)}

    def path_to(self, name: str) -> tuple[Giver, ...]:
        """Return the givers from a lead to the plug that something hangs on.

        Empty where it hangs on nothing, on itself, or on what is not there.
        """
        path: list[Giver] = []
        while name in self._feed_of:
            giver = self._givers.get(self._feed_of[name].source)
            if giver is None or giver in path:
                return ()
            path.append(giver)
            if giver.takes is None:
                return tuple(reversed(path))
            name = giver.name
        return ()

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        """Return every plug in use that a lead reaches, in the order of the build."""
        loads = {load.name: load for load in self.loads}
        pieces = {piece.name: piece for piece in self.pieces}
        found = []
        for feed in self._feed_of.values():
            path, piece = self.path_to(feed.load), pieces.get(feed.load)
            if not path:
                continue
            most_a = plug_most_a(path[-1].gives, self.ends.factors)
            found.append(
                Edge(
                    feed=feed,
                    path=path,
                    load=loads.get(feed.load),
                    piece=piece,
                    carries=self._amperes(self._draws[feed.load]),
                    most_a=min(most_a, piece.most_a) if piece else most_a,
                )
            )
        return tuple(found)

    @cached_property
    def _draws(self) -> dict[str, list[Draw]]:
        """Return the consumers below every lead and every plug, by what hangs there."""
        found: dict[str, list[Draw]] = {name: [] for name in self._feed_of}
        found |= {name: [] for name in self._givers}
        for load in self.loads:
            found[load.name] = list(load.draws)
            for giver in self.path_to(load.name):
                found[giver.name] += load.draws
        return found

    def _amperes(self, draws: Iterable[Draw]) -> Amperes:
        return amperes(draws, self.ends.groups)

    def on_lead(self, lead: Giver) -> Amperes:
        """Return the currents of a lead of the supply, all its plugs together."""
        return self._amperes(self._draws[lead.name])

    def below(self, giver: Giver) -> tuple[str, ...]:
        """Return the drives and inlets that hang below a lead or an adapter."""
        return tuple(e.load.name for e in self.edges if e.load and giver in e.path)

    @cached_property
    def edge_by_load(self) -> dict[str, Edge]:
        """Return the edge of everything that hangs somewhere, by its name."""
        return {edge.feed.load: edge for edge in self.edges}

    @property
    def unfed(self) -> tuple[Load, ...]:
        """Return what no lead reaches."""
        return tuple(x for x in self.loads if x.name not in self.edge_by_load)

    @property
    def loose(self) -> tuple[Giver, ...]:
        """Return the adapters that no lead reaches."""
        return tuple(x for x in self.pieces if x.name not in self.edge_by_load)

    def drops_v(self, edge: Edge) -> tuple[float, float]:
        """Return the voltage lost on the way to a plug, on 12 V and on 5 V. [V].

        Each giver on the way loses its current times wires and contacts.
        """
        lost_12v = lost_5v = 0.0
        for giver in edge.path:
            flow = self._amperes(self._draws[giver.name])
            lost_12v += flow.at_start_12v_a * giver.ohm
            lost_5v += flow.on_5v_a * giver.ohm
        return lost_12v, lost_5v

    def feeding(self, drive: str) -> tuple[Edge, ...]:
        """Return the plugs that feed a drive: its own, or those of its backplane."""
        return tuple(
            edge
            for edge in self.edges
            if edge.load and any(draw.name == drive for draw in edge.load.draws)
        )


def tree_of(machine: Machine) -> PowerTree:
    """Return a machine's power tree: as its build tells, else as well as can be."""
    ends = ends_of(machine)
    feeds = machine.build.power or seated_feeds(ends)
    pieces = _as_told(ends.pieces, feeds)
    return PowerTree(ends=replace(ends, pieces=pieces), feeds=feeds)


def _as_told(
    pieces: tuple[Giver, ...], feeds: tuple[PowerFeed, ...]
) -> tuple[Giver, ...]:
    """Return the adapters under the names that the build gives them."""
    left, named = list(pieces), list[Giver]()
    for feed in feeds:
        found = next((x for x in left if feed.key and x.key == feed.key), None)
        if found is not None:
            left.remove(found)
            named.append(replace(found, name=feed.load))
    taken = {x.name for x in named}
    spare = (f"power-{n}" for n in numbers(1) if f"power-{n}" not in taken)
    return (*named, *(replace(x, name=next(spare)) for x in left))


def completed(build: Build, scenario: Scenario) -> Build:
    """Return a build that tells its power tree: its own, else the best there is."""
    if build.power:
        return build
    return replace(build, power=tree_of(Machine(build=build, scenario=scenario)).feeds)
