"""The risk block against the closed formulas, worked on paper, and against textbooks."""

import math

import pytest

from optibox.figures.chains import rebuild_hours
from optibox.figures.risk import BIT_ERROR_RATES, ONE_FILE_TB, REPLACEMENT_H, risk_of
from tests.unit.rules.bench import DRIVES, Bench

YEAR_H = 8760.0
THREE = (*DRIVES[:2], ("data-3", "hdd-a", "data"), DRIVES[3])
FOUR = (*THREE[:3], ("data-4", "hdd-b", "data"), DRIVES[3])


def risk(**changes):
    return risk_of(Bench(**changes).judged().machine)


def test_no_redundancy_is_every_failure():
    """1 - exp(-n lambda T): 3 drives of 2 % a year over 5 years."""
    found = risk(
        drives=THREE,
        operation={"n_parity": 0, "write_mode": "plain"},
        needs={"failures_survived": 0},
    )
    mid = found.case("mid", 1e-15)
    assert mid.loss.too_many_failures == pytest.approx(1 - math.exp(-3 * 0.02 * 5))
    assert mid.loss.unreadable_sector == 0
    assert found.tb_by_failures == pytest.approx(4.0, rel=1e-3)
    assert found.mttdl_years == pytest.approx(50 / 3)


def test_single_parity_by_hand():
    """n lambda T (n-1) lambda M, and n lambda T P(n-1 drives), 3 drives of 4 TB."""
    bench = Bench()
    machine = bench.judged().machine
    found = risk_of(machine)
    repair_h = REPLACEMENT_H + rebuild_hours(machine)
    assert found.repair_h == pytest.approx(repair_h)
    first = 3 * 0.02 * 5
    second = 2 * 0.02 * repair_h / YEAR_H
    mid = found.case("mid", 1e-15)
    assert mid.loss.too_many_failures == pytest.approx(-math.expm1(-first * second))
    bits = 2 * 7_814_037_168 * 512 * 8  # two survivors, IDEMA LBA1-03 from memory
    unreadable = -math.expm1(-bits * 1e-15)
    assert mid.loss.unreadable_sector == pytest.approx(-math.expm1(-first * unreadable))
    lost = mid.loss.too_many_failures * found.tb_by_failures
    lost += mid.loss.unreadable_sector * ONE_FILE_TB
    assert mid.tb_lost == pytest.approx(lost)


def test_mean_time_is_patterson_gibson_katz():
    """MTTF^2 / (N (G-1) MTTR), SIGMOD 1988; chance of loss is T over it while small."""
    found = risk()
    mttf_h = YEAR_H / 0.02
    expected_h = mttf_h**2 / (3 * 2 * found.repair_h)
    assert found.mttdl_years == pytest.approx(expected_h / YEAR_H)
    chance = found.case("mid", 1e-15).loss.too_many_failures
    assert chance == pytest.approx(5 / found.mttdl_years, rel=1e-3)


def test_pairs_by_hand():
    """2 q lambda T lambda M, two pairs."""
    found = risk(
        drives=FOUR,
        operation={"layout": "pairs", "n_parity": 0, "write_mode": "plain"},
    )
    first = 4 * 0.02 * 5
    expected = -math.expm1(-first * 0.02 * found.repair_h / YEAR_H)
    assert found.case("mid", 1e-15).loss.too_many_failures == pytest.approx(expected)
    assert found.tb_by_failures == pytest.approx(4.0, rel=1e-3)


def test_double_parity_is_far_safer_than_single():
    parity = ("parity-2", "hdd-b", "parity")
    double = risk(
        drives=(*DRIVES[:3], parity, DRIVES[3]), operation={"n_parity": 2}
    ).case("mid", 1e-15)
    single = risk().case("mid", 1e-15)
    assert double.loss.too_many_failures < single.loss.too_many_failures / 100
    assert double.loss.unreadable_sector < single.loss.unreadable_sector / 100


def test_a_stripe_loses_everything():
    found = risk(
        drives=THREE,
        operation={"layout": "striped", "n_parity": 1, "write_mode": "plain"},
    )
    assert found.tb_by_failures == pytest.approx(8.0, rel=1e-3)
    worst = found.case("mid", 1e-14)
    both = worst.loss.too_many_failures + worst.loss.unreadable_sector
    assert worst.tb_lost == pytest.approx(both * found.tb_by_failures)


def test_chances_rise_with_failure_and_error_rates():
    found = risk(parts={"hdd-a": {"annual_failure_rate": "0.02 [0.01..0.04]"}})
    rates = [found.case("mid", rate).loss.unreadable_sector for rate in BIT_ERROR_RATES]
    assert rates == sorted(rates)
    levels = [
        found.case(x, 1e-15).loss.too_many_failures for x in ("low", "mid", "high")
    ]
    assert levels == sorted(levels)
    assert levels[0] < levels[2]


def test_no_drives_no_risk():
    assert risk(drives=(DRIVES[3],)) is None


MIRRORS = {"layout": "pairs", "n_parity": 0, "write_mode": "plain"}
STRIPED_MIRRORS = {**MIRRORS, "layout": "striped pairs"}
SINGLE = {"layout": "striped", "n_parity": 1, "write_mode": "plain"}
DOUBLE = {**SINGLE, "n_parity": 2}
TWO_PARITY = (*DRIVES[:3], ("parity-2", "hdd-b", "parity"), DRIVES[3])


@pytest.mark.parametrize(
    ("drives", "plan", "lost_tb", "read_tb", "wanted"),
    [
        # what is gone, what a rebuild reads, and failures during a repair that it takes
        (FOUR, MIRRORS, 4.0, 4.0, 1),
        (FOUR, STRIPED_MIRRORS, 8.0, 4.0, 1),
        (FOUR, SINGLE, 12.0, 12.0, 3),
        (FOUR, DOUBLE, 8.0, 8.0, 6),
        # two of three drives dead, two data drives among the three
        (DRIVES, {}, 4.0 * 2 * 2 / 3, 8.0, 2),
        (TWO_PARITY, {"n_parity": 2}, 4.0 * 3 * 2 / 4, 8.0, 6),
    ],
)
def test_every_layout_by_hand(drives, plan, lost_tb, read_tb, wanted):
    """n lambda T, then (n-1) lambda M and (n-2) lambda M, or the pair's other drive."""
    found = risk(drives=drives, operation=plan)
    n = len(drives) - 1
    size = (
        1.000_196_757_5  # 4 TB hold 4.000787 * 10^12 bytes (IDEMA LBA1-03, from memory)
    )
    assert found.tb_by_failures == pytest.approx(lost_tb * size, rel=1e-6)
    assert found.repair_h == pytest.approx(72.0 + found.rebuild_h)
    each = 0.02 * found.repair_h / YEAR_H
    is_double = wanted == 6
    during = wanted * each**2 if is_double else wanted * each
    first = n * 0.02 * 5
    mid = found.case("mid", 1e-15)
    assert mid.loss.too_many_failures == pytest.approx(-math.expm1(-first * during))
    unreadable = -math.expm1(-read_tb * size * 8e12 * 1e-15)
    second = (n - 1) * each if is_double else 1.0
    expected = -math.expm1(-first * second * unreadable)
    assert mid.loss.unreadable_sector == pytest.approx(expected, rel=1e-6)
    by_sector = found.tb_by_failures if "striped" in plan.get("layout", "") else 0.001
    assert mid.tb_lost == pytest.approx(
        mid.loss.too_many_failures * found.tb_by_failures
        + mid.loss.unreadable_sector * by_sector
    )
    # the chance is the years over the mean time to too many failures, while small
    assert mid.loss.too_many_failures == pytest.approx(5 / found.mttdl_years, rel=2e-3)


def test_levels_of_failure_rates_and_a_mean_of_mixed_drives():
    """Two drives of 1, 2 or 4 % and one of 2 %."""
    found = risk(parts={"hdd-a": {"annual_failure_rate": "0.02 [0.01..0.04]"}})
    each = found.repair_h / YEAR_H
    for level, rate in (("low", 0.04 / 3), ("mid", 0.02), ("high", 0.10 / 3)):
        expected = -math.expm1(-3 * rate * 5 * 2 * rate * each)
        case = found.case(level, 1e-16)
        assert case.loss.too_many_failures == pytest.approx(expected)


def test_drives_that_never_fail_last_for_ever():
    parts = {"hdd-a": {"annual_failure_rate": 0}, "hdd-b": {"annual_failure_rate": 0}}
    assert risk(parts=parts).mttdl_years == math.inf
