"""Finding a place on the power tree for everything that wants a plug.

The search is complete: adapters are hung in every way that differs, few before many;
loads are put on plugs, heavy ones first, and a state that failed once is not tried
again. Among the ways that carry everything the first is taken, plain plugs before
adapters, leads filled evenly.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from optibox.build import PowerFeed
from optibox.wiring.amperes import EVERY, Amperes, Draw, amperes
from optibox.wiring.loads import Ends, Giver, Load, plug_most_a

MOST_IN_A_ROW = 2
"""Adapters between a lead and what it feeds, at most; judgement."""
PATIENCE = 4_000
"""States that are looked at before a search is given up."""
NODES = 8
"""Leads and adapters of an ordinary state; larger ones count for several."""
SLACK = 1e-9
"""Relative slack of comparisons: currents are sums of floats."""
VOLTS = (12.0, 5.0)


Signature: TypeAlias = "tuple[int, tuple[Signature, ...], tuple[int, ...]]"


class GaveUpError(Exception):
    """The search was given up: nothing is known."""


@dataclass(frozen=True, slots=True)
class Strictness:
    """Which rules a way to hang things must keep."""

    currents: bool = True
    makes: bool = True
    """No 3.3 V for drives that it holds; no moulded plugs behind 4-pin plugs."""


STRICT = Strictness()
_EASIER = (STRICT, Strictness(currents=False), Strictness(currents=False, makes=False))


@dataclass(slots=True, eq=False)
class _Node:
    """A lead or a hung adapter, with what hangs on its plugs."""

    giver: Giver
    parent: "_Node | None" = None
    depth: int = 0
    has_3v3: bool = False
    is_behind_4_pin: bool = False
    below: list["_Node"] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)

    @property
    def free(self) -> int:
        return self.giver.n_plugs - len(self.below) - len(self.loads)

    def line(self) -> Iterator["_Node"]:
        """Yield this node and what it hangs on, up to the lead."""
        node: _Node | None = self
        while node is not None:
            yield node
            node = node.parent

    def draws(self) -> Iterator[Draw]:
        for load in self.loads:
            yield from load.draws
        for node in self.below:
            yield from node.draws()


def kin_of(load: Load) -> tuple[object, ...]:
    """Return what tells a load from others that are alike."""
    if len(load.draws) > 1:
        return (load.plug, load.name)
    draws = tuple((d.host, d.run_12v_a, d.rise_12v_a, d.run_5v_a) for d in load.draws)
    return (load.plug, draws, bool(load.held), bool(load.doubtful))


def seated(ends: Ends, patience: int = PATIENCE) -> tuple[PowerFeed, ...] | None:
    """Return a way to hang everything that keeps every limit; nothing if there is none.

    Parameters
    ----------
    ends : Ends
        What gives power and what wants it; adapters may stay loose.
    patience : int
        States to look at.

    Raises
    ------
    GaveUpError
        If patience ended before an answer.
    """
    return _Search(ends, STRICT, patience).run()


def seated_feeds(ends: Ends) -> tuple[PowerFeed, ...]:
    """Return a way to hang everything as well as can be, whatever it breaks."""
    for strictness in _EASIER:
        try:
            found = _Search(ends, strictness, PATIENCE).run()
        except GaveUpError:
            continue
        if found is not None:
            return found
    return _Search(ends, _EASIER[-1], PATIENCE).make_do()


class _Search:
    """One search over the ways to hang adapters and loads."""

    def __init__(self, ends: Ends, strict: Strictness, patience: int) -> None:
        self.roots = [_root(lead) for lead in ends.leads]
        self.pieces = sorted(
            _useful(ends), key=lambda p: (p.is_moulded != "no", repr(p.make))
        )
        self.loads = sorted(ends.loads, key=_order)
        self.groups, self.factors = ends.groups, ends.factors
        self.least = {load.name: _least(load, ends.groups) for load in ends.loads}
        self.patience, self.strict = patience, strict
        self.failed: set[tuple[object, ...]] = set()
        self.numbers: dict[object, int] = {}
        self.work = 0
        self.n_held = sum(bool(load.held) for load in ends.loads)
        self.n_picky = sum(bool(load.held or load.doubtful) for load in ends.loads)

    def run(self) -> tuple[PowerFeed, ...] | None:
        if self.strict.currents and not self._may_fit():
            return None
        return self._feeds() if self._hang(self.pieces) else None

    def _may_fit(self) -> bool:
        """Return whether plugs and leads could carry it all, however it hangs."""
        for load in self.loads:
            alone = amperes(load.draws, self.groups)
            if alone.worst_a > plug_most_a(load.plug, self.factors) * (1 + SLACK):
                return False
        draws = [draw for load in self.loads for draw in load.draws]
        together = sum(root.giver.most_a for root in self.roots) * (1 + SLACK)
        if amperes(draws, self.groups).worst_a > together:
            return False
        sata = [load for load in self.loads if load.plug == "sata"]
        held = [load for load in sata if load.held]
        return len(sata) <= self._most_on(sata, lambda x: x.takes != "sata") and len(
            held
        ) <= self._most_on(held, lambda x: not x.has_3v3 or x.takes == "peripheral")

    def _most_on(self, loads: list[Load], accept: Callable[[Giver], bool]) -> int:
        """Return how many loads so light leads and adapters of some kind could carry.

        Leads that are accepted count, and adapters: each carries what it carries, if
        there is a lead for it.
        """
        volts = [self.least[load.name] for load in loads] or [(0.0, 0.0)]
        least = min(v[0] for v in volts), min(v[1] for v in volts)
        leads = [x.giver for x in self.roots if x.giver.gives == "sata"]
        found = sum(_times(x.most_a, (0.0, 0.0), least) for x in leads if accept(x))
        pieces = [x for x in self.pieces if x.gives == "sata" and accept(x)]
        return found + sum(_times(x.most_a, (0.0, 0.0), least) for x in pieces)

    def _number(self, thing: object) -> int:
        """Return a number for a make or kin, the same for the same."""
        return self.numbers.setdefault(thing, len(self.numbers))

    def _signature(self, node: _Node, known: dict[int, Signature]) -> Signature:
        """Return what tells a subtree from others that do the same."""
        below = sorted(self._signature(child, known) for child in node.below)
        loads = sorted(self._number(kin_of(load)) for load in node.loads)
        make = self._number(node.giver.make)
        found = known[id(node)] = (make, tuple(below), tuple(loads))
        return found

    def _seen(self, step: int) -> bool:
        """Note a state; return whether it was there before."""
        forest = sorted(self._signature(root, {}) for root in self.roots)
        state = (step, tuple(forest))
        if state in self.failed:
            return True
        self.failed.add(state)
        # a state costs as much as it has leads and adapters
        self.work += 1 + sum(1 for _ in self._nodes()) // NODES
        if self.work > self.patience:
            raise GaveUpError
        return False

    def _hang(self, left: list[Giver]) -> bool:
        """Put the loads, after more adapters of those left where that is needed.

        Any of them may be the next: one may hang on another in either order.
        """
        if self._seen(0) or not self._may_carry(0, is_whole=False):
            return False
        if self._counts() and self._put(0):
            return True
        makes = {piece.make: piece for piece in reversed(left)}
        for piece in sorted(makes.values(), key=left.index):
            rest = list(left)
            rest.remove(piece)
            for node in self._places(lambda n, p=piece: self._takes(n, p)):  # type: ignore[misc]
                node.below.append(_child(node, piece))
                if self._hang(rest):
                    return True
                node.below.pop()
        return False

    def _takes(self, node: _Node, piece: Giver) -> bool:
        if node.giver.gives != piece.takes or node.depth >= MOST_IN_A_ROW:
            return False
        return not (
            self.strict.makes and piece.is_moulded == "yes" and node.is_behind_4_pin
        )

    def _counts(self) -> bool:
        """Return whether there are plugs enough of each type for the loads."""
        free = {"sata": 0, "peripheral": 0}
        clean = 0
        for node in self._nodes():
            free[node.giver.gives] += node.free
            clean += node.free if _is_clean(node) else 0
        wanted = {"sata": 0, "peripheral": 0}
        for load in self.loads:
            wanted[load.plug] += 1
        if any(wanted[plug] > free[plug] for plug in wanted):
            return False
        return not self.strict.makes or clean >= self.n_held

    def _put(self, number: int) -> bool:
        """Put the loads from a number on."""
        if number == len(self.loads):
            return True
        if self._seen(number + 1) or not self._may_carry(number, is_whole=True):
            return False
        load = self.loads[number]
        for node in self._places(lambda n: self._feeds_it(n, load), load):
            node.loads.append(load)
            if self._carries(node) and self._put(number + 1):
                return True
            node.loads.pop()
        return False

    def _may_carry(self, number: int, *, is_whole: bool) -> bool:
        """Return whether edges could carry the loads from a number on, one by one.

        All are taken to draw as little as the lightest of them. Without all adapters
        hung, plugs are not counted.
        """
        left = [load for load in self.loads[number:] if load.plug == "sata"]
        if not self.strict.currents or not left:
            return True
        volts = [self.least[load.name] for load in left]
        least = min(v[0] for v in volts), min(v[1] for v in volts)
        room = 0
        for root in self.roots:
            if is_whole:
                room += self._room(root, least)
            elif root.giver.gives == "sata" or self.pieces:
                room += self._times(root, least)
            if room >= len(left):
                return True
        return False

    def _room(self, node: _Node, least: tuple[float, float]) -> int:
        """Return how many loads of so little find a plug below a node that carries them."""
        own = node.free if node.giver.gives == "sata" else 0
        plugs = own + sum(self._room(child, least) for child in node.below)
        return min(plugs, self._times(node, least)) if plugs else 0

    def _times(self, node: _Node, least: tuple[float, float]) -> int:
        flow = amperes(node.draws(), self.groups)
        return _times(node.giver.most_a, (flow.at_start_12v_a, flow.on_5v_a), least)

    def _feeds_it(self, node: _Node, load: Load) -> bool:
        if node.giver.gives != load.plug:
            return False
        return not (self.strict.makes and load.held and not _is_clean(node))

    def _places(
        self, accept: Callable[[_Node], bool], load: Load | None = None
    ) -> list[_Node]:
        """Return the nodes with a free plug that differ, the plainest first."""
        found: dict[object, _Node] = {}
        known: dict[int, Signature] = {}
        for root in self.roots:
            self._signature(root, known)
        for node in self._nodes():
            if node.free and accept(node):
                line = tuple(known[id(upper)] for upper in node.line())
                found.setdefault(line, node)
        return sorted(found.values(), key=lambda node: self._rank(node, load))

    def _rank(self, node: _Node, load: Load | None) -> tuple[object, ...]:
        root = list(node.line())[-1]
        used = amperes(root.draws(), self.groups)
        n_hung = sum(1 for _ in _subtree(root))
        # plugs without 3.3 V are for those that need them, then for those that may
        picky = load is not None and bool(load.held or load.doubtful)
        amiss = _is_clean(node) != picky and self.n_picky > 0
        return (node.depth, amiss, used.worst_a, n_hung)

    def _nodes(self) -> Iterator[_Node]:
        for root in self.roots:
            yield from _subtree(root)

    def _carries(self, node: _Node) -> bool:
        """Return whether the line up from a node carries what hangs on it."""
        if not self.strict.currents:
            return True
        for giver in node.line():
            flow = amperes(giver.draws(), self.groups)
            if flow.worst_a > giver.giver.most_a * (1 + SLACK):
                return False
        return self._keeps_voltage(list(node.line())[-1], (0.0, 0.0))

    def _keeps_voltage(self, node: _Node, lost: tuple[float, float]) -> bool:
        flow: Amperes = amperes(node.draws(), self.groups)
        lost = (
            lost[0] + flow.at_start_12v_a * node.giver.ohm,
            lost[1] + flow.on_5v_a * node.giver.ohm,
        )
        share = self.factors.rail_tolerance.mid
        if node.loads and any(
            drop > volts * share * (1 + SLACK)
            for drop, volts in zip(lost, VOLTS, strict=True)
        ):
            return False
        return all(self._keeps_voltage(child, lost) for child in node.below)

    def make_do(self) -> tuple[PowerFeed, ...]:
        """Hang what can be hung by type of plug alone; the rest stays unfed."""
        wanted = {"sata": 0, "peripheral": 0}
        for load in self.loads:
            wanted[load.plug] += 1
        left = list(self.pieces)
        while True:
            free = {"sata": 0, "peripheral": 0}
            for node in self._nodes():
                free[node.giver.gives] += node.free
            helps = [p for p in left if self._helps(p, wanted, free)]
            if not helps:
                break
            piece = helps[0]
            node = self._places(lambda n, p=piece: self._takes(n, p))[0]  # type: ignore[misc]
            node.below.append(_child(node, piece))
            left.remove(piece)
        for load in self.loads:
            places = self._places(lambda n, x=load: n.giver.gives == x.plug, load)  # type: ignore[misc]
            if places:
                places[0].loads.append(load)
        return self._feeds()

    def _helps(
        self, piece: Giver, wanted: dict[str, int], free: dict[str, int]
    ) -> bool:
        """Return whether an adapter gives a plug that is missing, and takes a spare one."""
        if not self._places(lambda n: self._takes(n, piece)):
            return False
        if piece.takes == piece.gives:
            return piece.n_plugs > 1 and wanted[piece.gives] > free[piece.gives]
        taken = piece.takes or ""
        spare = free[taken] - wanted[taken]
        return wanted[piece.gives] > free[piece.gives] and spare > 0

    def _feeds(self) -> tuple[PowerFeed, ...]:
        """Return the plugs in use, root by root; adapters that feed nothing left out."""
        found: list[PowerFeed] = []
        names = {id(root): root.giver.name for root in self.roots}
        n_pieces = 0

        def walk(node: _Node) -> None:
            nonlocal n_pieces
            used = [child for child in node.below if any(child.draws())]
            for plug, child in enumerate(used, 1):
                n_pieces += 1
                name = names[id(child)] = f"power-{n_pieces}"
                source = names[id(node)]
                feed = PowerFeed(
                    load=name, source=source, plug=plug, key=child.giver.key
                )
                found.append(feed)
                walk(child)
            for plug, load in enumerate(sorted(node.loads, key=_name), len(used) + 1):
                source = names[id(node)]
                found.append(PowerFeed(load=load.name, source=source, plug=plug))

        for root in self.roots:
            walk(root)
        return tuple(found)


def _root(lead: Giver) -> _Node:
    is_4_pin = lead.gives == "peripheral"
    return _Node(lead, has_3v3=lead.has_3v3 and not is_4_pin, is_behind_4_pin=is_4_pin)


def _child(node: _Node, piece: Giver) -> _Node:
    is_4_pin = piece.gives == "peripheral"
    return _Node(
        piece,
        parent=node,
        depth=node.depth + 1,
        has_3v3=node.has_3v3 and piece.has_3v3 and not is_4_pin,
        is_behind_4_pin=node.is_behind_4_pin or is_4_pin,
    )


def _times(most_a: float, used: tuple[float, float], least: tuple[float, float]) -> int:
    """Return how many loads that draw so little go on top of what is used."""
    return min(
        (
            int((most_a * (1 + SLACK) - on + SLACK) / a)
            for on, a in zip(used, least, strict=True)
            if a > 0
        ),
        default=EVERY,
    )


def _least(load: Load, groups: Mapping[str, int]) -> tuple[float, float]:
    """Return what a load adds to an edge at least, on 12 V at a start and on 5 V. [A]."""
    on_12v = sum(
        draw.share * (draw.run_12v_a + (draw.host not in groups) * draw.rise_12v_a)
        for draw in load.draws
    )
    return on_12v, sum(draw.share * draw.run_5v_a for draw in load.draws)


def _useful(ends: Ends) -> list[Giver]:
    """Return the adapters that could be of use: each takes and gives what is wanted."""
    held = any(load.held for load in ends.loads)
    left = [
        piece
        for piece in ends.pieces
        if piece.takes != piece.gives
        or piece.n_plugs > 1
        or (held and not piece.has_3v3)
    ]
    while True:
        given = {x.gives for x in (*ends.leads, *left)}
        wanted = {x.plug for x in ends.loads} | {x.takes for x in left}
        kept = [
            piece for piece in left if piece.takes in given and piece.gives in wanted
        ]
        if len(kept) == len(left):
            return _few(kept, len(ends.loads))
        left = kept


def _few(pieces: list[Giver], most: int) -> list[Giver]:
    """Return at most so many adapters of each make: none feeds less than one load."""
    found: dict[object, list[Giver]] = {}
    for piece in pieces:
        found.setdefault(piece.make, []).append(piece)
    return [piece for alike in found.values() for piece in alike[:most]]


def _subtree(node: _Node) -> Iterator[_Node]:
    yield node
    for child in node.below:
        yield from _subtree(child)


def _is_clean(node: _Node) -> bool:
    return not node.has_3v3


def _name(load: Load) -> tuple[str, int]:
    word, _, number = load.name.rpartition("-")
    return word, int(number) if number.isdigit() else 0


def _order(load: Load) -> tuple[object, ...]:
    """Return the order of the search: held drives first, then heavy ones."""
    alone = amperes(load.draws, {})
    return (
        not load.held,
        not load.doubtful,
        -alone.worst_a,
        repr(kin_of(load)),
        _name(load),
    )
