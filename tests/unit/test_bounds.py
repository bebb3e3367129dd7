"""Bounds of slots and of kin against trying everything; general reasoning, no source."""

import math
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from benchmarks.synthetic import synthetic
from optibox.catalog.attachment import (
    Controller,
    DisplayCard,
    NetworkCard,
    Riser,
)
from optibox.catalog.storage import SolidStateDrive
from optibox.criteria.weights import total_cost_weights
from optibox.model.draft import Berth, berths, fits, network_fits, riser_sockets
from optibox.model.ground import Ground
from optibox.model.slot_bounds import (
    CARDS,
    SHOWS,
    Deck,
    SlotTable,
    Wish,
    usable_ports,
)
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
    Wish(n_ports=3, abilities=frozenset(("speaks_sas",))),
    Wish(gbit_s=2.5, abilities=frozenset(("speaks_sas", "has_staggered_spin_up"))),
    Wish(n_nvme=1, abilities=frozenset((SHOWS,))),
    Wish(n_ports=9, abilities=frozenset((SHOWS, "has_staggered_spin_up"))),
    Wish(n_ports=1, abilities=frozenset(("is_management",))),
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


@dataclass(frozen=True)
class Use:
    """What a slot may hold: a card, a module or nothing."""

    key: str = ""
    cost: float = 0.0
    ports: int = 0
    gbit_s: float = -1.0
    nvme: int = 0
    sata: int = 0
    abilities: frozenset[str] = frozenset()


def uses_of(tree: Tree, places: list[Berth]) -> list[Use]:
    """Return all that a slot may hold."""
    offers, costs = tree.offers, tree.aim.platforms.costs
    scenario, found = offers.scenario, [Use()]
    for item in offers.of(Controller):
        if any(fits(item.part, p) for p in places):
            names = ("speaks_sas", "has_staggered_spin_up")
            has = frozenset(name for name in names if getattr(item.part, name))
            n = usable_ports(scenario, item.part)
            found.append(Use(item.key, costs[item.key], n, abilities=has))
    for item in offers.of(NetworkCard):
        is_plug = item.part.medium == scenario.needs.other_end_medium
        if is_plug and any(network_fits(item.part, p, scenario, 0.0) for p in places):
            gbit_s = item.part.network_gbit_s
            found.append(Use(item.key, costs[item.key], gbit_s=gbit_s))
    for item in offers.of(DisplayCard):
        if any(fits(item.part, p) for p in places):
            has = {SHOWS} | ({"is_management"} if item.part.is_management else set())
            found.append(Use(item.key, costs[item.key], abilities=frozenset(has)))
    return found + modules_of(tree, places)


def modules_of(tree: Tree, places: list[Berth]) -> list[Use]:
    """Return risers and modules that a slot may hold."""
    found, costs = [], tree.aim.platforms.costs
    for item in tree.offers.of(Riser):
        sockets = [riser_sockets(item, p) for p in places if fits(item.part, p)]
        if any(sockets):
            found.append(Use(item.key, costs[item.key], nvme=max(sockets)))
    for item in tree.offers.of(SolidStateDrive):
        if module_fits(item.part, places[0].slot):
            speaks = module_mode(item.part)
            found.append(Use(nvme=int(speaks == "nvme"), sata=int(speaks == "sata")))
    return found


def _may_help(use: Use, wish: Wish) -> bool:
    """Return whether a use brings anything wished for, or is nothing."""
    return (
        use.cost == 0.0
        or (use.ports > 0 and wish.n_ports > 0)
        or (wish.gbit_s is not None and use.gbit_s >= wish.gbit_s)
        or (use.nvme > 0 and wish.n_nvme > 0)
        or (use.sata > 0 and wish.n_sata_modules > 0)
        or bool(use.abilities & wish.abilities)
    )


def keeps(wish: Wish, uses: tuple[Use, ...]) -> bool:
    """Return whether things in slots bring all that is wished for."""
    return (
        sum(u.ports for u in uses) >= wish.n_ports
        and (wish.gbit_s is None or any(u.gbit_s >= wish.gbit_s for u in uses))
        and sum(u.nvme for u in uses) >= wish.n_nvme
        and sum(u.sata for u in uses) >= wish.n_sata_modules
        and wish.abilities <= {name for u in uses for name in u.abilities}
    )


def brute(tree: Tree, board, wish: Wish, held: str = "") -> float:
    """Return the least cost over every way to fill the slots, with a card in one."""
    by_slot: dict[str, list[Berth]] = {}
    for place in berths(board):
        by_slot.setdefault(place.slot.name, []).append(place)
    every = [
        {u for u in uses_of(tree, p) if _may_help(u, wish) or u.key == held}
        for p in by_slot.values()
    ]
    # of things that bring the same, the cheapest; what is held is told by its key
    cheapest = [
        {
            replace(u, cost=0.0, key=held if u.key == held else ""): u
            for u in sorted(uses, key=lambda u: -u.cost)
        }.values()
        for uses in every
    ]
    costs = (
        sum(u.cost for u in uses)
        for uses in product(*cheapest)
        if keeps(wish, uses)
        and (not held or any(u.key == held for u in uses))
        and sum(u.gbit_s >= 0 for u in uses) <= 1
    )
    return min(costs, default=math.inf)


def table_of(tree: Tree, board) -> SlotTable:
    """Return the bounds of a board's slots."""
    deck = Deck(offers=tree.offers, costs=tree.aim.platforms.costs)
    return SlotTable(deck=deck, board=board)


@pytest.mark.parametrize("wish", WISHES, ids=range(len(WISHES)))
def test_slots_cost_the_least_of_all_ways_to_fill_them(wish):
    tree = tree_of(1)
    boards = [b.part for b in tree.boards if 1 <= len(b.part.slots) <= 3]
    assert len(boards) > 10
    for board in boards:
        wanted = brute(tree, board, wish)
        found = table_of(tree, board).least(wish, blockers=True)
        assert found == pytest.approx([wanted]), board.id


@pytest.mark.parametrize("wish", WISHES, ids=range(len(WISHES)))
def test_slots_with_each_card_cost_the_least_of_all_ways_that_hold_it(wish):
    """A card brings what it brings, costs what it costs and takes its slot."""
    tree = tree_of(1)
    boards = [b.part for b in tree.boards if 1 <= len(b.part.slots) <= 3][::4]
    cards, n_there = tree.offers.of(*CARDS)[::3], 0
    for board in boards:
        found = table_of(tree, board).least(wish, blockers=True, forced=cards)
        wanted = [brute(tree, board, wish, card.key) for card in cards]
        n_there += sum(map(math.isfinite, wanted))
        for card, mine, theirs in zip(cards, found, wanted, strict=True):
            if math.isinf(theirs) and math.isfinite(mine):
                # of another plug, it could only sit there, which is no use to anyone
                assert isinstance(card.part, NetworkCard)
                assert wish.gbit_s is None
                assert card.part.medium != tree.scenario.needs.other_end_medium
                continue
            assert mine == pytest.approx(theirs), (board.id, card.key)
    # several things that are asked for leave no room for more on these boards
    n_asked = bool(wish.n_ports) + (wish.gbit_s is not None) + len(wish.abilities)
    assert n_there > 0 or n_asked + wish.n_nvme + wish.n_sata_modules > 1


def test_faster_sockets_cost_no_less():
    """A socket that must carry more is there on fewer boards."""
    tree, n_lost = tree_of(1), 0
    slow = Wish(n_nvme=1)
    fast = replace(slow, socket_mb_s=800.0)
    for board in tree.boards:
        table = table_of(tree, board.part)
        lasting = table.least(fast, blockers=True)[0]
        any_one = table.least(slow, blockers=True)[0]
        assert lasting >= any_one
        n_lost += math.isinf(lasting) and math.isfinite(any_one)
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
