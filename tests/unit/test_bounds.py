"""Bounds of slots and of kin against trying everything; general reasoning, no source."""

import math
from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from benchmarks.synthetic import synthetic
from optibox.catalog.attachment import Controller, NetworkCard, Riser
from optibox.catalog.storage import SolidStateDrive
from optibox.criteria.weights import total_cost_weights
from optibox.model.draft import Berth, berths, fits, network_fits, riser_sockets
from optibox.model.ground import Ground
from optibox.model.slot_bounds import SlotTable, Wish, usable_ports
from optibox.model.tree import Tree
from optibox.rules.lanes import module_fits, module_mode
from optibox.scenario import read_scenario
from tests.support.source import ROOT

EXAMPLE = ROOT / "examples" / "five-lines.toml"
WISHES = (
    Wish(),
    Wish(n_ports=1),
    Wish(n_ports=5),
    Wish(gbit_s=5.0),
    Wish(n_ports=3, gbit_s=2.5),
    Wish(n_nvme=1),
    Wish(n_nvme=2, gbit_s=5.0),
    Wish(n_nvme=2, n_ports=2, gbit_s=10.0),
    Wish(n_sata_modules=1, n_ports=1),
)


@cache
def tree_of(factor: int) -> Tree:
    """Return the tree of the example's plan on a catalog of several sizes."""
    scenario, catalog = read_scenario(EXAMPLE)
    larger = synthetic(catalog, factor, seed=1)
    return Tree(
        ground=Ground(catalog=larger, scenario=scenario),
        scenario=scenario,
        weights=total_cost_weights(scenario.money),
    )


def uses_of(tree: Tree, places: list[Berth], wish: Wish) -> set[tuple]:
    """Return what a slot may hold: cost, ports, speed, NVMe and SATA modules."""
    offers, costs = tree.offers, tree.aim.platforms.costs
    scenario = offers.scenario
    found = {(0.0, 0, 0.0, 0, 0)}
    for item in offers.of(Controller):
        if any(fits(item.part, p) for p in places):
            n = usable_ports(scenario, item.part)
            found.add((costs[item.key], n, 0.0, 0, 0))
    for item in offers.of(NetworkCard):
        is_plug = item.part.medium == scenario.needs.other_end_medium
        if is_plug and any(network_fits(item.part, p, scenario, 0.0) for p in places):
            found.add((costs[item.key], 0, item.part.network_gbit_s, 0, 0))
    found |= modules_of(tree, places)
    return {use for use in found if _may_help(use, wish)}


def modules_of(tree: Tree, places: list[Berth]) -> set[tuple]:
    """Return risers and modules that a slot may hold, in the same terms."""
    found, costs = set(), tree.aim.platforms.costs
    for item in tree.offers.of(Riser):
        sockets = [riser_sockets(item, p) for p in places if fits(item.part, p)]
        if any(sockets):
            found.add((costs[item.key], 0, 0.0, max(sockets), 0))
    for item in tree.offers.of(SolidStateDrive):
        if module_fits(item.part, places[0].slot):
            speaks = module_mode(item.part)
            found.add((0.0, 0, 0.0, speaks == "nvme", speaks == "sata"))
    return found


def _may_help(use: tuple, wish: Wish) -> bool:
    """Return whether a use brings anything wished for, or is nothing."""
    _, ports, speed, nvme, sata = use
    return (
        use[0] == 0.0
        or (ports > 0 and wish.n_ports > 0)
        or (wish.gbit_s is not None and speed >= wish.gbit_s)
        or (nvme > 0 and wish.n_nvme > 0)
        or (sata > 0 and wish.n_sata_modules > 0)
    )


def brute(tree: Tree, board, wish: Wish) -> float:
    """Return the least cost over every way to fill the slots."""
    by_slot: dict[str, list[Berth]] = {}
    for place in berths(board):
        by_slot.setdefault(place.slot.name, []).append(place)
    best = math.inf
    for uses in product(*(uses_of(tree, p, wish) for p in by_slot.values())):
        enough = (
            sum(u[1] for u in uses) >= wish.n_ports
            and (wish.gbit_s is None or any(u[2] >= wish.gbit_s for u in uses))
            and sum(u[3] for u in uses) >= wish.n_nvme
            and sum(u[4] for u in uses) >= wish.n_sata_modules
        )
        if enough:
            best = min(best, sum(u[0] for u in uses))
    return best


@pytest.mark.parametrize("wish", WISHES, ids=str)
def test_slots_cost_the_least_of_all_ways_to_fill_them(wish):
    tree = tree_of(1)
    boards = [b.part for b in tree.boards if 1 <= len(b.part.slots) <= 3]
    assert len(boards) > 10
    for board in boards:
        table = SlotTable(
            offers=tree.offers, costs=tree.aim.platforms.costs, board=board
        )
        wanted = brute(tree, board, wish)
        assert table.least(wish, blockers=True) == pytest.approx(wanted), board.id


def test_faster_sockets_cost_no_less():
    """A socket that must carry more is there on fewer boards."""
    tree, n_lost = tree_of(1), 0
    slow = Wish(n_nvme=1)
    fast = replace(slow, socket_mb_s=800.0)
    for board in tree.boards:
        table = SlotTable(
            offers=tree.offers, costs=tree.aim.platforms.costs, board=board.part
        )
        assert table.least(fast, blockers=True) >= table.least(slow, blockers=True)
        n_lost += math.isinf(table.least(fast, blockers=True)) and not math.isinf(
            table.least(slow, blockers=True)
        )
    assert n_lost > 0


@pytest.mark.parametrize("factor", [1, 3])
def test_kin_are_bounded_no_higher_than_each_of_them(factor):
    """Rows do not multiply with variants, and no board is bounded above its own."""
    tree = tree_of(factor)
    frames = tree.aim.frames
    assert len(frames.rows) == len(tree_of(1).aim.frames.rows)
    family = min(tree.families(), key=lambda f: f.bound)
    root = next(iter(tree.children(family)))
    for cluster in list(tree.children(next(iter(tree.children(root)))))[:2]:
        together = tree.aim.values(root.drives, cluster.wants, "by_width")
        least = np.full(len(frames.board_kin), np.inf)
        np.minimum.at(least, frames.rows[:, 0], together)
        for kin, value in zip(frames.board_kin, least, strict=True):
            for board in kin:
                alone = tree.aim.values(root.drives, cluster.wants, "by_width", board)
                assert value <= alone.min(initial=np.inf) + 1e-6
