"""The swap list against an enumeration of every build of tiny catalogs.

The enumeration shares nothing with the swaps but the evaluator: it makes every machine
with every wiring, cable, frame and power lead. Each of its machines that differs from
the one at hand by one part has to be on the list, at the same cost; each that differs
by two parts as well, where the two are worth more or less together.
"""

from collections import Counter
from functools import lru_cache

import pytest

from optibox.assess import Assessment
from optibox.build import Build
from optibox.running.swap_kit import FOLLOWERS
from optibox.running.swaps import JOINT_DIFFERENCE, Swap, swap_list
from tests.support.tiny import Instance, seeded

MINOR_UNIT = 0.01
ROUTINE = (2, 25, 40, 56)
SLOW = tuple(seed for seed in range(69) if seed not in ROUTINE)
MOST_BUILDS = 600

Place = tuple[str, str]
Signature = tuple[tuple[tuple[Place, int], ...], tuple]


@lru_cache(maxsize=8)
def instance_of(seed: int):
    return seeded(seed, MOST_BUILDS)


def signature(build: Build) -> Signature:
    """Return the chosen parts by role, and how the machine is run."""
    loose = Counter(
        {
            ("", e.item.key): e.count
            for e in build.items
            if not isinstance(e.item.part, FOLLOWERS)
        }
    )
    for drive in build.drives:
        loose["", drive.key] -= 1
        loose[drive.role, drive.key] += 1
    parts = tuple(sorted((place, n) for place, n in loose.items() if n))
    plan = build.operation
    return parts, (plan.layout, plan.n_parity, plan.write_mode, plan.timeout_min)


def rows_changed(one: Signature, other: Signature, ids: dict) -> int | None:
    """Return how many rows of parts differ, each in its own place; nothing if more.

    Rows are told apart by kind and role; one or all pieces of a row must have given
    way to as many of another. A new piece of the same part is no change.
    """
    if one[1] != other[1]:
        return None
    before, after = Counter(dict(one[0])), Counter(dict(other[0]))
    out, into = before - after, after - before
    old = {(role, ids[key][0]): (key, n) for (role, key), n in out.items()}
    new = {(role, ids[key][0]): (key, n) for (role, key), n in into.items()}
    if len(old) != len(out) or len(new) != len(into) or old.keys() != new.keys():
        return None
    for place, (key, n) in old.items():
        other_key, n_new = new[place]
        same = ids[key][1] == ids[other_key][1]
        if same or n != n_new or n not in (1, before[place[0], key]):
            return None
    return len(old)


class Ground:
    """A machine at hand, its swaps, and what the enumeration knows."""

    def __init__(self, instance: Instance, fit: list[Assessment], base: Assessment):
        self.base = base
        self.found = swap_list(
            base.build,
            instance.catalog,
            instance.scenario,
            is_in_hand=False,
            all_pairs=True,
        )
        items = self.found.bench.stock.items
        self.ids = {item.key: (item.part.kind, item.part.id) for item in items}
        self.least: dict[Signature, float] = {}
        for other in fit:
            key = signature(other.build)
            known = self.least.get(key, float("inf"))
            self.least[key] = min(known, other.total_cost)
        self.here = signature(base.build)

    def near(self, n_rows: int) -> dict[Signature, float]:
        """Return the enumerated machines that differ by so many rows."""
        return {
            key: cost
            for key, cost in self.least.items()
            if rows_changed(self.here, key, self.ids) == n_rows
        }

    def mine(self, n_changes: int) -> dict[Signature, Swap]:
        """Return the swaps of so many changes by the machine that comes out."""
        return {
            signature(swap.after.build): swap
            for swap in reversed(self.found.swaps)
            if len(swap.changes) == n_changes
        }


def check(seed: int, n_bases: int = 3) -> tuple[int, int]:
    """Compare lists of some machines of a seed; return how many neighbours there were."""
    instance, outcome = instance_of(seed)
    fit = sorted(outcome.fit, key=lambda found: found.total_cost)
    totals = Counter()
    for base in fit[:: max(1, len(fit) // n_bases)][:n_bases]:
        ground = Ground(instance, fit, base)
        totals[1] += check_singles(ground)
        totals[2] += check_pairs(ground)
    return totals[1], totals[2]


def check_singles(ground: Ground) -> int:
    mine = ground.mine(1)
    near = ground.near(1)
    for key, cost in near.items():
        assert key in mine, f"missing: {set(key[0]) ^ set(ground.here[0])}"
        mine_cost = mine[key].after.total_cost
        assert mine_cost <= cost + MINOR_UNIT, set(key[0]) ^ set(ground.here[0])
    for key, swap in mine.items():
        if key in ground.least:
            cost = ground.least[key]
            assert swap.after.total_cost >= cost - MINOR_UNIT, swap.changes
    return len(near)


def check_pairs(ground: Ground) -> int:
    """Assert that each pair worth other than the sum of its parts is on the list."""
    alone, pairs, n_found = ground.near(1), ground.mine(2), 0
    for key, cost in ground.near(2).items():
        joint = ground.base.total_cost - cost
        parts = [
            ground.base.total_cost - value
            for other, value in alone.items()
            if rows_changed(other, key, ground.ids) == 1
        ]
        if len(parts) == 2 and abs(joint - sum(parts)) < JOINT_DIFFERENCE + MINOR_UNIT:
            continue
        n_found += 1
        assert key in pairs, f"missing: {set(key[0]) ^ set(ground.here[0])}"
        worse_by = joint - pairs[key].net
        assert abs(worse_by) <= MINOR_UNIT, set(key[0]) ^ set(ground.here[0])
    return n_found


def test_swaps_are_those_of_the_enumeration() -> None:
    found = [check(seed, 2) for seed in ROUTINE]
    assert sum(n for n, _ in found) > 20
    assert sum(n for _, n in found) > 5


@pytest.mark.slow
@pytest.mark.parametrize("seed", SLOW)
def test_swaps_are_those_of_the_enumeration_elsewhere(seed: int) -> None:
    check(seed)
