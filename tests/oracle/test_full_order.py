"""The order of a move against a search through all states of up to four drives.

The search knows nothing but single units of data, which drive is free, and which file
system can be written; drives may serve for a while before they lead their group.
"""

import random

import pytest

from optibox.migration import solve
from tests.unit.migration.moves import least_copied, task_of


def situation(seed: int):
    """Return a small task: up to four drives, amounts in whole units."""
    rng = random.Random(seed)
    layout = rng.choice(("independent", "pairs", "striped", "pairs"))
    numbers = {"independent": (1, 2, 3), "pairs": (2, 4), "striped": (2, 3)}
    n_data = rng.choice(numbers[layout])

    def drive():
        room = rng.randint(1, 4)
        return room, rng.randint(0, room), {"has_copy": rng.random() < 0.2}

    data = [drive() for _ in range(n_data)]
    n_parity = rng.randint(0, 1) if layout == "independent" else 0
    parity = [drive() for _ in range(n_parity)]
    n_beside = rng.randint(0, 1) if n_data + n_parity < 4 else 0
    beside = [(rng.randint(1, 4), 0) for _ in range(n_beside)]
    return task_of(data, parity, beside, layout)


def see(seed: int) -> bool:
    """Hold one answer against the search; return whether there is an order."""
    task = situation(seed)
    route, least = solve(task), least_copied(task)
    assert route.is_safe == (least is not None), seed
    if route.is_safe and route.is_needed:
        assert route.copied_b == least, seed
    return route.is_safe


def test_answers_are_those_of_a_full_search():
    found = [see(seed) for seed in range(40)]
    assert 10 < sum(found) < 40


@pytest.mark.slow
@pytest.mark.parametrize("shard", range(6))
def test_thousands_of_answers_are_those_of_a_full_search(shard):
    assert any(see(seed) for seed in range(1000 + 300 * shard, 1300 + 300 * shard))
