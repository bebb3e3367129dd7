"""No bound is above a fit build that belongs to it, whatever is forced into it.

Builds come from the enumeration, which knows no bounds; their value is the evaluator's.
That holds on every level of the tree, for every aim, with each item of a build forced
into the bound, and for what limits are measured by.
"""

from collections import Counter

import pytest

from optibox.assess import Assessment
from optibox.catalog.attachment import Cable, Controller
from optibox.catalog.storage import HardDrive
from optibox.criteria import AIMS, LIMITS
from optibox.model.ground import Ground
from optibox.model.tree import Tree
from optibox.scenario import Scenario
from optibox.search.plan import value_function, weights_for
from tests.support.enumerate import Outcome, outcome_of
from tests.support.held import held_instance
from tests.support.levels import Levels, limits_too_high, too_high
from tests.support.tiny import (
    ROUTINE,
    Chooser,
    Instance,
    Kit,
    Seeded,
    caches,
    drawn,
    mixed_sizes,
    picky_drives,
    plugs,
    seeded,
    shop,
    small_drives,
    supplies,
)

MINIMISED = [aim for aim in AIMS.values() if not aim.is_maximised]
ROUTINE_SEEDS = range(42)
N_EACH = 12
"""Builds of one instance in the everyday run."""
SMALL = 220
"""Builds that the enumeration of an instance may try there."""
SHARDS, N_SHARD = 12, 8_400
"""A hundred thousand builds in all."""
TERMS = {
    "SAS drive",
    "SAS drive, starts in turn by card",
    "splitter",
    "postage",
    "adapter",
    "small drive",
    "backplane",
    "riser",
    "controller",
    "network card",
    "display card",
    "cache module",
    "cache on a cable",
    "deep idle lost",
    "owned drive",
    "lot used twice",
    "held drive",
    "cables in a box",
    "cables in a card's box",
    "mounting plate",
    "socketed processor",
}
"""Summands of the bounds, each of which some build below has."""


RARE = {"display card", "mounting plate", "socketed processor", "cables in a box"}
RARE |= {"deep idle lost"}
"""Those that only larger enumerations have: asked for of the many builds."""


def sas_starts(kit: Kit, c: Chooser) -> None:
    """Drives that want a card of their own, on a rail that starts few at once.

    Some cards speak SAS, some start drives in turn, some do both, with cables or not.
    """
    kit.change("board", sata_ports=c.pick((0, 1, 3)))
    kit.slots("P1 x8@4 gen2 cpu")
    for name in ("hba-a", "hba-b"):
        kit.add(
            Controller,
            name,
            connectors="1 sff-8087",
            native_ports=4,
            lanes=c.pick((4, 8)),
            generation=2,
            price=c.pick((25, 35, 60)),
            speaks_sas=c.pick((True, True, False)),
            has_staggered_spin_up=c.pick((True, False)),
            pass_through="yes",
            passes_standby="yes",
            comes_with=c.pick(("", "forward-4 x1")),
        )
    kit.add(
        Cable,
        "forward-4",
        direction="forward",
        controller_end="sff-8087",
        drive_end="sata",
        price=c.pick((9, 30)),
    )
    kit.add(HardDrive, "sas", interface="sas", price=c.pick((40, 60)), idle_w=5)
    kit.change("supply", rail_12v_a=c.pick((3, 4, 6, 30)))
    kit.say("choices", sequential_wake_verified=c.pick((False, True)))
    kit.say("needs", usable_tb=c.pick((3, 7)), failures_survived=c.pick((0, 1)))


OTHERS = (mixed_sizes, shop, supplies, small_drives, caches, plugs, picky_drives)


def sas_instance(seed: int, most: int) -> tuple[Instance, Outcome]:
    """Return an instance with drives that speak SAS, and its enumeration."""
    chooser = Seeded(seed)
    for _ in range(30):
        others = [chooser.pick(OTHERS)] if chooser.pick((True, False)) else []
        found = drawn(chooser, [*others, sas_starts], most)
        if found is not None and found.n_builds:
            outcome = outcome_of(found.catalog, found.scenario)
            if outcome.fit:
                return found, outcome
    msg = f"no instance of seed {seed} has a build"
    raise ValueError(msg)


def instance_of(seed: int, most: int) -> tuple[Instance, Outcome]:
    """Return an instance with its builds, of one of three families by turns."""
    if seed % 3 == 1:
        return sas_instance(seed, 2 * most)
    if seed % 3 == 2:
        return held_instance(seed, most)
    return seeded(seed, most)


def terms_of(found: Assessment) -> set[str]:
    """Return which summands of the bounds a build has."""
    items = found.build.items
    parts = {e.item.part.kind: e.item.part for e in items}
    drives = [e for e in items if e.item.part.kind == "hard drive"]
    ssds = [e.item.part for e in items if e.item.part.kind == "solid-state drive"]
    cards = [e.item.part for e in items if e.item.part.kind == "controller"]
    board, chassis = parts["board"], parts["chassis"]
    is_sas = any(e.item.part.interface == "sas" for e in drives)
    in_turn = any(c.has_staggered_spin_up for c in cards)
    blocks = any(getattr(p, "is_deep_idle_blocker", False) for p in parts.values())
    owned = [e for e in drives if e.item.is_owned]
    sellers = {e.item.part.seller for e in items if not e.item.is_owned}
    flags = {
        "SAS drive": is_sas,
        "SAS drive, starts in turn by card": is_sas and in_turn,
        "splitter": "power lead" in parts,
        "postage": bool(sellers & {seller for seller, _ in found.build.postage}),
        "adapter": "drive adapter" in parts,
        "small drive": any(e.item.part.form == "2.5" for e in drives),
        "backplane": bool(chassis.backplane_power),
        "cache module": any(s.form == "m2" for s in ssds),
        "cache on a cable": any(s.form != "m2" for s in ssds),
        "deep idle lost": bool(blocks and board.deep_idle_loss_w.mid),
        "owned drive": bool(owned),
        "lot used twice": any(e.count > 1 for e in owned),
        "held drive": any(
            e.item.owned.held_tb or e.item.owned.holds_data for e in owned
        ),
        "cables in a box": any("cable" in p.comes_with for p in parts.values()),
        "cables in a card's box": any(c.comes_with for c in cards),
        "socketed processor": "processor" in parts,
    }
    names = ("riser", "controller", "network card", "display card", "mounting plate")
    flags |= {name: name in parts for name in names}
    return {name for name, is_there in flags.items() if is_there}


def limited(scenario: Scenario, found: Assessment) -> Scenario:
    """Return a scenario whose limits are the figures of a build."""
    figures = {
        key: limit.value_of(found)
        for key, limit in LIMITS.items()
        if limit.weights is not None
    }
    limits = scenario.limits.model_copy(update=figures)
    return scenario.model_copy(update={"limits": limits})


def check(seed: int, size: int, most: int, seen: Counter) -> int:
    """Hold bounds against builds of an instance for one aim; return how many."""
    instance, outcome = instance_of(seed, size)
    aim = MINIMISED[seed // 3 % len(MINIMISED)]
    builds = outcome.fit[:: max(1, len(outcome.fit) // most)][:most]
    weights = weights_for(instance.scenario, aim)
    value_of = value_function(aim, weights)
    levels = Levels(tree_of(instance, instance.scenario, weights))
    for found in builds:
        bad = list(too_high(levels, found, value_of(found)))
        assert not bad, (seed, aim.name, bad, found.build.items)
        seen.update(terms_of(found))
    # a build keeps limits at its own figures, by every bound
    for found in builds[:: max(1, len(builds) // 3)]:
        narrow = Levels(tree_of(instance, limited(instance.scenario, found), weights))
        bad = list(limits_too_high(narrow, found))
        assert not bad, (seed, bad, found.build.items)
    return len(builds)


def tree_of(instance: Instance, scenario: Scenario, weights) -> Tree:
    """Return the tree of a scenario, with all items on offer."""
    ground = Ground(catalog=instance.catalog, scenario=scenario)
    return Tree(ground=ground, scenario=scenario, weights=weights, prunes=False)


def test_no_bound_is_above_a_fit_build():
    """A few builds of each instance, so that all summands of the bounds occur."""
    seen: Counter = Counter()
    n_builds = sum(check(seed, SMALL, N_EACH, seen) for seed in ROUTINE_SEEDS)
    assert n_builds > 200
    assert set(seen) >= TERMS - RARE, TERMS - RARE - set(seen)


@pytest.mark.slow
@pytest.mark.parametrize("shard", range(SHARDS))
def test_no_bound_is_above_any_of_many_fit_builds(shard):
    """A hundred thousand builds over the shards, those of each instance all tried."""
    seen: Counter = Counter()
    n_builds, seed = 0, 10_000 * (shard + 1)
    while n_builds < N_SHARD:
        n_builds += check(seed, ROUTINE, 400, seen)
        seed += 1
    assert {name for name in TERMS if seen[name] >= 10} >= TERMS
