"""Risk against published tables, exact chains and a simulation of many arrays."""

import math
import random

import numpy as np
import pytest

from optibox.physics import mttdl, risk

YEAR_H = 8760.0

# --- mean time to data loss --------------------------------------------------------


def test_worked_table_with_correlated_failures():
    # Chen, Lee, Gibson, Katz, Patterson, ACM Computing Surveys 26(2), 1994, section
    # 3.4.5 (read as quoted in a mailing list): 500 GB of data on 5 GB disks, MTTF
    # 200 000 h, groups of 16, 1 error in 1e14 bits: 285 years, 3.4 % in 10 years. Second MTTF 20 000 h and 1 h repair from memory.
    group, disks = 16, 100 * 16 / 15
    failure_h = mttdl.mttdl_double_failure_h(disks, group, 200_000, 1, 20_000)
    assert failure_h / YEAR_H == pytest.approx(285, rel=0.01)
    assert failure_h / YEAR_H == pytest.approx(285.388, rel=1e-3)
    assert risk.probability(10 * YEAR_H / failure_h) == pytest.approx(0.034, rel=0.02)

    readable = 1 - risk.sector_error_probability(5e9, 1e-14)
    assert readable == pytest.approx(0.9996, abs=1e-5)


@pytest.mark.parametrize(
    ("data_per_group", "check_per_group", "printed_h"),
    [(1, 1, 4_500_000), (10, 1, 820_000), (25, 1, 346_000), (10, 4, 494_500)],
)
def test_the_first_papers_table(data_per_group, check_per_group, printed_h):
    # Patterson, Gibson, Katz, SIGMOD 1988: D = 100, MTTF 30 000 h, MTTR 1 h; printed
    # values from memory.
    disks = 100 + check_per_group * 100 / data_per_group
    group = data_per_group + check_per_group
    got_h = mttdl.mttdl_double_failure_h(disks, group, 30_000, 1)
    assert got_h == pytest.approx(printed_h, rel=0.005)


def test_base_case_of_the_critique():
    # Elerath and Pecht, DSN 2007: 461 386 h, 12 h, 7 + 1 drives: 36 162 years (base
    # case from memory). Their point: such a figure is optimistic.
    got_h = mttdl.mttdl_double_failure_h(8, 8, 461_386, 12)
    assert got_h / YEAR_H == pytest.approx(36_162, rel=1e-4)
    assert chain_h(8, 1, 461_386, 12) / YEAR_H == pytest.approx(36_176.36, rel=1e-5)


def chain_h(n_drives, parity, mttf_h, mttr_h, parallel=False):
    """Solve the birth-death chain of failed drives for the mean time to absorption."""
    states = parity + 1
    rates = np.zeros((states, states))
    for failed in range(states):
        fail = (n_drives - failed) / mttf_h
        repair = (failed if parallel else min(failed, 1)) / mttr_h
        rates[failed, failed] = -(fail + repair)
        if failed + 1 < states:
            rates[failed, failed + 1] = fail
        if failed:
            rates[failed, failed - 1] = repair
    return np.linalg.solve(rates, -np.ones(states))[0]


@pytest.mark.parametrize("n_drives", [2, 4, 8])
def test_single_parity_against_the_markov_chain(n_drives):
    exact_h = chain_h(n_drives, 1, 1e6, 24)
    approximate_h = mttdl.mttdl_double_failure_h(n_drives, n_drives, 1e6, 24)
    assert approximate_h == pytest.approx(exact_h, rel=1e-3)


def test_double_parity_against_the_markov_chain():
    got_h = mttdl.mttdl_double_parity_h(6, 1e6, 24)
    assert got_h == pytest.approx(chain_h(6, 2, 1e6, 24), rel=1e-3)
    assert 2 * got_h == pytest.approx(chain_h(6, 2, 1e6, 24, parallel=True), rel=1e-3)


# --- probabilities -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("terabytes", "rate", "expected"),
    [
        (8, 1e-14, 0.472708),
        (8, 1e-15, 0.061995),
        (12, 1e-14, 0.617107),
        (12, 1e-15, 0.091536),
        (4, 1e-14, 0.273851),
        (4, 1e-15, 0.031493),
    ],
)
def test_unreadable_sector_in_a_long_read(terabytes, rate, expected):
    # 1 - exp(-bits x rate); next to (1 - rate)^bits it differs below 1e-6.
    got = risk.sector_error_probability(terabytes * 1e12, rate)
    assert got == pytest.approx(expected, abs=1e-6)
    bit_by_bit = -math.expm1(terabytes * 8e12 * math.log1p(-rate))
    assert got == pytest.approx(bit_by_bit, rel=1e-6)


HAZARD = risk.Hazard(0.017, 5.0, 3 / 365)
"""1.7 % a year: Pinheiro, Weber, Barroso, FAST 2007, drives in their first year."""


@pytest.mark.parametrize("n_drives", [2, 5, 9])
def test_single_parity_agrees_with_the_mean_time_to_loss(n_drives):
    # P = 1 - exp(-T/MTTDL) with the formula of Patterson et al. 1988.
    mttf_h = YEAR_H / HAZARD.failures_per_year
    repair_h = HAZARD.repair_years * YEAR_H
    loss_h = mttdl.mttdl_double_failure_h(n_drives, n_drives, mttf_h, repair_h)
    expected = -math.expm1(-HAZARD.years * YEAR_H / loss_h)
    got = risk.loss_of_single_parity(n_drives, HAZARD, 0.0)
    assert got.too_many_failures == pytest.approx(expected)
    assert got.unreadable_sector == 0.0


def test_pairs_and_double_parity_agree_with_the_mean_time_to_loss():
    mttf_h = YEAR_H / HAZARD.failures_per_year
    repair_h = HAZARD.repair_years * YEAR_H
    pairs_h = mttdl.mttdl_double_failure_h(6, 2, mttf_h, repair_h)
    pairs = risk.loss_of_pairs(3, HAZARD, 0.0).too_many_failures
    assert pairs == pytest.approx(-math.expm1(-5 * YEAR_H / pairs_h))
    double_h = mttdl.mttdl_double_parity_h(6, mttf_h, repair_h)
    double = risk.loss_of_double_parity(6, HAZARD, 0.0).too_many_failures
    assert double == pytest.approx(-math.expm1(-5 * YEAR_H / double_h))


def simulated_sector_loss(n_drives, hazard, chance_of_error, runs, seed):
    """Let drives fail at random and each rebuild meet a bad sector at random."""
    chance, lost = random.Random(seed), 0
    for _ in range(runs):
        now = chance.expovariate(n_drives * hazard.failures_per_year)
        while now < hazard.years:
            if chance.random() < chance_of_error:
                lost += 1
                break
            now += chance.expovariate(n_drives * hazard.failures_per_year)
    return lost / runs


def test_sector_terms_against_a_simulation():
    # Poisson failures, a rebuild after each, a seeded count of 40 000 arrays.
    got = risk.loss_of_single_parity(5, HAZARD, 0.2).unreadable_sector
    counted = simulated_sector_loss(5, HAZARD, 0.2, 40_000, seed=4)
    assert got == pytest.approx(counted, rel=0.03)
    pairs = risk.loss_of_pairs(2, HAZARD, 0.2).unreadable_sector
    counted = simulated_sector_loss(4, HAZARD, 0.2, 40_000, seed=5)
    assert pairs == pytest.approx(counted, rel=0.03)


def test_the_sector_term_dominates_single_parity():
    # One to three orders of magnitude: common practice, no source. Five 4 TB drives.
    error = risk.sector_error_probability(4 * 4e12, 1e-15)
    loss = risk.loss_of_single_parity(5, HAZARD, error)
    assert 10 < loss.unreadable_sector / loss.too_many_failures < 1000


def test_double_parity_needs_a_second_failure_first():
    error = 0.12
    single = risk.loss_of_single_parity(6, HAZARD, error)
    double = risk.loss_of_double_parity(6, HAZARD, error)
    second = HAZARD.during_repair(5)
    assert double.unreadable_sector == pytest.approx(
        single.unreadable_sector * second, rel=0.05
    )


def test_no_redundancy_loses_with_the_first_failure():
    # Poisson: chance that none of 4 drives fails in 5 years is exp(-0.34).
    loss = risk.loss_without_redundancy(4, HAZARD)
    assert loss.either == pytest.approx(1 - math.exp(-4 * 0.017 * 5))
    assert loss.unreadable_sector == 0.0


def test_either_and_expected_loss():
    loss = risk.Loss(0.1, 0.2)
    assert loss.either == pytest.approx(1 - 0.9 * 0.8)
    # A stripe loses all 16 TB, independent drives the two dead ones of 4 TB.
    assert risk.expected_tb_lost(loss, 16, 16) == pytest.approx(4.8)
    assert risk.expected_tb_lost(loss, 8, 0) == pytest.approx(0.8)


def test_tiny_probabilities_keep_their_figures():
    assert risk.probability(1e-18) == pytest.approx(1e-18)
