"""Least cost of sets of drives against trying every set; general reasoning, no source."""

import math
from itertools import combinations_with_replacement, product

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from optibox.model.drive_sets import DriveSets

N_CLASSES = 3
"""Bays too low for two sorts of small drives, for one, for none."""
price = st.sampled_from([math.inf, 10.0, 15.0, 25.0, 40.0])
drive = st.tuples(
    st.integers(1, 4),  # TB
    st.integers(0, N_CLASSES),  # 0 wide, else 1 + first class that takes it
    st.sampled_from([1, 2, math.inf]),
    price,
    price,
    st.sampled_from([0.0, 3.0, math.inf]),
)


def least(drives, n_data, n_parity, need_tb, number, n_wide, held=None) -> float:
    """Return the least cost of all sets with so many drives in 3.5 inch bays.

    With a drive that must be there, one piece of it is beside what its limit allows.
    """
    best, places = math.inf, range(len(drives))
    for data in combinations_with_replacement(places, n_data):
        if sum(drives[i][0] for i in data) < need_tb:
            continue
        for parity in combinations_with_replacement(places, n_parity):
            used = (*data, *parity)
            if held is not None and held not in used:
                continue
            if any(used.count(i) > drives[i][2] + (i == held) for i in set(used)):
                continue
            framed = [i for i in used if drives[i][1] > number + 1]
            wide = len(framed) + sum(drives[i][1] == 0 for i in used)
            if wide == n_wide:
                cost = sum(drives[i][3] for i in data)
                cost += sum(drives[i][4] for i in parity)
                best = min(best, cost + sum(drives[i][5] for i in framed))
    return best


def sets_of(drives, n_data, n_parity, need_tb):
    """Return sets of drives, their prices and the drives with those of adapters."""
    columns = [np.array(column, dtype=float) for column in zip(*drives, strict=True)]
    tb, group, limit, data, parity, framed = columns
    for number in set(group):
        # one price for all drives of a group: the bound takes the least of them
        framed[group == number] = framed[group == number].min()
    drives = [(*one[:5], cost) for one, cost in zip(drives, framed, strict=True)]
    sets = DriveSets(
        capacity_bytes=tb * 1e12,
        group=group.astype(np.int64),
        n_classes=N_CLASSES,
        framed=framed,
        limit=limit,
        n_data=n_data,
        n_parity=n_parity,
        held_bytes=need_tb * 1e12,
    )
    return sets, (data[None, :], parity[None, :]), drives


numbers = st.integers(1, 3), st.integers(0, 1), st.integers(0, 9)


@given(st.lists(drive, min_size=1, max_size=4), *numbers)
def test_sets_cost_the_least_of_all(drives, n_data, n_parity, need_tb):
    """Every number of wide drives in every class; adapters of a group cost alike."""
    sets, prices, drives = sets_of(drives, n_data, n_parity, need_tb)
    found = sets.by_width(*prices)
    assert found.shape == (1, 1, N_CLASSES, n_data + n_parity + 1)
    for number in range(N_CLASSES):
        for n_wide in range(n_data + n_parity + 1):
            wanted = least(drives, n_data, n_parity, need_tb, number, n_wide)
            assert found[0, 0, number, n_wide] == wanted


@given(st.lists(drive, min_size=1, max_size=3), *numbers)
def test_sets_with_a_drive_that_must_be_there_cost_the_least_of_all(
    drives, n_data, n_parity, need_tb
):
    """The same for the sets that hold each drive in turn."""
    sets, prices, drives = sets_of(drives, n_data, n_parity, need_tb)
    found = sets.by_width(*prices, is_forced=True)
    assert found.shape == (1, len(drives), N_CLASSES, n_data + n_parity + 1)
    for held, number in product(range(len(drives)), range(N_CLASSES)):
        for n_wide in range(n_data + n_parity + 1):
            wanted = least(drives, n_data, n_parity, need_tb, number, n_wide, held)
            assert found[0, held, number, n_wide] == wanted
