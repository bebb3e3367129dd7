"""The way of one build through the tree of bounds, from its family to its leaf.

A build that is fit must have a node on every level, bounded by no more than it is
worth, and a bound of builds with each of its items that is no more either.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from optibox.assess import Assessment
from optibox.catalog.storage import SolidStateDrive
from optibox.model.menu import Storage
from optibox.model.nodes import Branch, Cluster, Family, Leaf, Node, Root
from optibox.model.tree import Tree

EPS = 1e-6
"""Share of a value by which a bound may be above it for rounding."""


class LostError(AssertionError):
    """A fit build has no node on a level."""


@dataclass
class Levels:
    """Bounds of one tree on the way to builds, kept from build to build."""

    tree: Tree
    _families: list[Family] = field(default_factory=list)
    _children: dict[int, list[Node]] = field(default_factory=dict)
    _ways: dict[tuple, list[Node]] = field(default_factory=dict)
    _with: dict[int, dict[str, float]] = field(default_factory=dict)

    def way(self, found: Assessment) -> list[Node]:
        """Return the nodes that a build belongs to, the sharp leaf last."""
        key = _key_of(found)
        if key not in self._ways:
            self._ways[key] = self._way(found)
        return self._ways[key]

    def _way(self, found: Assessment) -> list[Node]:
        if not self._families:
            self._families = list(self.tree.families())
        nodes: list[Node] = []
        level: list[Node] = list(self._families)
        while True:
            mine = [node for node in level if _holds(node, found)]
            if not mine:
                raise LostError(f"after {_told(nodes)}: {_key_of(found)}")
            nodes.append(mine[0])
            if isinstance(mine[0], Leaf):
                sharp = self.tree.sharpened(mine[0])
                if sharp is None:
                    raise LostError(f"sharpened {_told(nodes)}: {_key_of(found)}")
                return [*nodes, sharp]
            level = self.children(mine[0])

    def children(self, node: Node) -> list[Node]:
        """Return the nodes below a node."""
        if id(node) not in self._children:
            self._children[id(node)] = list(self.tree.children(node))
        return self._children[id(node)]

    def with_each(self, leaf: Leaf) -> dict[str, float]:
        """Return the least that a build of a sharp leaf with each item is worth."""
        if id(leaf) not in self._with:
            gauge = self.tree.aim
            allowed = np.isfinite(leaf.frame_values)
            cost = gauge.cost_of(leaf.entry.cache)
            self._with[id(leaf)] = {
                key: value + cost
                for key, value in gauge.values_with(
                    leaf.drives, leaf.wants, leaf.board, allowed
                ).items()
            }
        return self._with[id(leaf)]


def too_high(levels: Levels, found: Assessment, value: float) -> Iterator[str]:
    """Yield what is bounded above a fit build that belongs to it."""
    most = value + EPS * max(1.0, abs(value))
    way = levels.way(found)
    for node in way:
        if node.bound > most:
            yield f"{type(node).__name__} {node.bound} > {value}"
    leaf = way[-1]
    least = levels.with_each(leaf)
    for entry in found.build.items:
        if least.get(entry.item.key, -math.inf) > most:
            yield f"{entry.item.key} {least[entry.item.key]} > {value}"


def limits_too_high(levels: Levels, found: Assessment) -> Iterator[str]:
    """Yield limits that a leaf's bounds say a fit build breaks."""
    tree, leaf = levels.tree, levels.way(found)[-1]
    for limit in tree.limits:
        gauge, room = limit.gauge, limit.room + EPS * max(1.0, abs(limit.room))
        drives = gauge.drives(replace(leaf.entry, scenario=tree.ground.scenario))
        cost = gauge.cost_of(leaf.entry.cache)
        values = gauge.values(drives, leaf.wants, "sharp_by_width", leaf.board) + cost
        crude = gauge.crude_values(drives, leaf.wants)
        for name, least in (("sharp", values), ("crude", crude)):
            if float(least.min(initial=math.inf)) > room:
                yield f"{name} {gauge.weights}: {least.min(initial=math.inf)} > {room}"


def storage_of(found: Assessment) -> Storage:
    """Return the storage of a build."""
    plan, build = found.build.operation, found.build
    n_data = sum(d.role == "data" for d in build.drives)
    return Storage(
        layout=plan.layout,
        n_parity=plan.n_parity,
        write_mode=plan.write_mode,
        timeout_min=plan.timeout_min,
        n_data=n_data,
        cache=plan.cache,
    )


def _key_of(found: Assessment) -> tuple:
    board = next(e.item.key for e in found.build.items if e.item.part.kind == "board")
    return storage_of(found), _cache_of(found), _speed_of(found), board


def _cache_of(found: Assessment) -> tuple[str, ...]:
    return tuple(
        sorted(
            e.item.key
            for e in found.build.items
            if isinstance(e.item.part, SolidStateDrive)
            for _ in range(e.count)
        )
    )


def _speed_of(found: Assessment) -> float:
    return found.machine.network.gbit_s


def _holds(node: Node, found: Assessment) -> bool:
    """Return whether a build belongs to a node."""
    storage, cache, speed, board = _key_of(found)
    if isinstance(node, Family):
        # where nothing depends on it, drives that never sleep stand for all timeouts
        return storage in node.storages or (
            len(node.storages) == 1 and node.storages[0] == storage.always_on
        )
    entries = node.drives.entries
    if not any(e.storage in (storage, storage.always_on) for e in entries):
        return False
    if isinstance(node, Root):
        return True
    if isinstance(node, Cluster):
        sets = [_keys(c.items) for c in node.caches[node.position :]]
        return node.wants.network_gbit_s == speed and cache in sets
    if _keys(node.entry.cache) != cache:
        return False
    return isinstance(node, Branch) or node.board.key == board


def _keys(items: tuple) -> tuple[str, ...]:
    return tuple(sorted(item.key for item in items))


def _told(nodes: list[Node]) -> str:
    return " - ".join(f"{type(n).__name__} {n.bound:.2f}" for n in nodes)
