"""Drive, array and cache rates against integration, counting and trade facts."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from optibox.physics import rates
from optibox.physics.links import small_file_mb_s

SLOW_CLASS_MB_S = 180.0
"""A 5400-class 4 TB drive near empty: common practice, no source."""


# --- zone curve ---------------------------------------------------------------


def test_zone_curve_follows_the_radius():
    # Constant areal density: rate ~ radius r, filled area ~ R^2 - r^2. Walk the radius
    # of a platter from outer 46 mm to inner 23 mm.
    outer_mm, inner_mm = 46.0, 23.0
    for radius_mm in (46.0, 40.0, 30.0, 23.0):
        filled = (outer_mm**2 - radius_mm**2) / (outer_mm**2 - inner_mm**2)
        rate = rates.zone_rate_mb_s(200.0, inner_mm / outer_mm, filled)
        assert rate == pytest.approx(200.0 * radius_mm / outer_mm)


@given(st.floats(100, 300), st.floats(0.3, 1.0))
@settings(deadline=None)
def test_surface_pass_is_the_integral_of_the_curve(outer, k):
    # Numerical integration by scipy.integrate.quad.
    seconds, _ = quad(lambda x: 4e6 / rates.zone_rate_mb_s(outer, k, x), 0.0, 1.0)
    assert rates.surface_pass_hours(4e12, outer, k) == pytest.approx(seconds / 3600)


def test_a_4_tb_pass_takes_about_eight_hours():
    # Common practice, no source: 7 to 9 h for a 5400-class 4 TB drive.
    assert 7.0 < rates.surface_pass_hours(4e12, SLOW_CLASS_MB_S, 0.5) < 9.0


# --- lockstep -----------------------------------------------------------------

drives = st.builds(
    rates.Member,
    capacity_bytes=st.sampled_from([2e12, 4e12, 8e12]),
    outer_mb_s=st.floats(100, 300),
    k=st.floats(0.3, 1.0),
    link_share_mb_s=st.one_of(st.just(math.inf), st.floats(50, 300)),
)


def slowest_mb_s(members, x):
    return min(
        min(rates.zone_rate_mb_s(m.outer_mb_s, m.k, x), m.link_share_mb_s)
        for m in members
    )


@given(st.lists(drives, min_size=1, max_size=5))
@settings(deadline=None)
def test_lockstep_against_a_fine_midpoint_sum(members):
    steps = 4000
    slowness = sum(1 / slowest_mb_s(members, (i + 0.5) / steps) for i in range(steps))
    largest_mb = max(m.capacity_bytes for m in members) / 1e6
    expected = largest_mb * slowness / steps / 3600
    assert rates.lockstep_pass_hours(members) == pytest.approx(expected, rel=1e-6)


@given(drives, st.integers(1, 8))
@settings(deadline=None)
def test_lockstep_of_equal_unlimited_drives_is_one_surface_pass(drive, n):
    free = rates.Member(drive.capacity_bytes, drive.outer_mb_s, drive.k)
    assert rates.lockstep_pass_hours([free] * n) == pytest.approx(
        rates.surface_pass_hours(free.capacity_bytes, free.outer_mb_s, free.k),
        rel=1e-12,
    )


def test_lockstep_edge_cases():
    drive = rates.Member(4e12, 180.0, 0.5, 100.0)
    assert rates.lockstep_pass_hours([]) == 0.0
    blocked = rates.Member(4e12, 180.0, 0.5, 0.0)
    assert rates.lockstep_pass_hours([drive, blocked]) == math.inf
    # Two straight lines that meet exactly at the end of the surface.
    flat = rates.Member(4e12, 90.0, 1.0)
    assert rates.lockstep_pass_hours([flat, drive]) == pytest.approx(4e6 / 90 / 3600)


@given(st.lists(drives, min_size=1, max_size=4), drives)
@settings(deadline=None)
def test_another_member_never_shortens_the_pass(members, another):
    before = rates.lockstep_pass_hours(members)
    assert rates.lockstep_pass_hours([*members, another]) >= before * (1 - 1e-12)


# --- write modes: facts of the trade, common practice, no source ---------------


def test_read_modify_write_gives_about_100():
    rate = rates.read_modify_write_mb_s(
        rates.MODIFY_FACTOR, SLOW_CLASS_MB_S, SLOW_CLASS_MB_S
    )
    assert rate == pytest.approx(100, rel=0.1)


def test_reconstruct_gives_about_130():
    rate = rates.reconstruct_mb_s(rates.RECONSTRUCT_FACTOR, [SLOW_CLASS_MB_S] * 5)
    assert rate == pytest.approx(130, rel=0.1)


def test_turnaround_is_half_the_rate_of_equal_passes():
    # OSTEP, RAID chapter: a RAID-4 parity drive makes two I/Os for each write, so
    # writes run at R/2.
    assert rates.turnaround_mb_s(180, 180) == 90
    assert rates.turnaround_mb_s(200, 100) == pytest.approx(200 / 3)


def test_slow_parity_caps_every_write():
    assert rates.read_modify_write_mb_s(0.5, 200, 100) == 50
    assert rates.reconstruct_mb_s(0.5, [200, 200, 80]) == 40
    assert rates.shared_parity_mb_s(0.5, 200, 0.5) == 50


# --- layouts ------------------------------------------------------------------


def test_striped_rates_are_the_textbooks():
    # OSTEP, RAID chapter: sequential RAID-0 N S, RAID-4 and -5 (N - 1) S.
    assert rates.striped_mb_s(8, 0, 47.62, 1.0) == pytest.approx(8 * 47.62)
    assert rates.striped_mb_s(8, 1, 47.62, 1.0) == pytest.approx(7 * 47.62)


def test_the_textbooks_disk():
    # OSTEP, RAID chapter: seek 7 ms, rotation 3 ms, 50 MB/s; 10 MB sequential gives
    # S = 47.62 MB/s. One file of 10 MB with a fixed time of 10 ms is the same sum.
    assert small_file_mb_s(10.0, 50.0, 0.010) == pytest.approx(47.62, abs=0.005)


def test_pairs_rates_follow_the_slower_side():
    assert rates.pairs_write_mb_s([180, 150]) == 150
    assert rates.pairs_write_mb_s([180, 150, 180, 180], striped_over=2) == 300
    assert rates.pairs_read_mb_s([180, 150], striped_over=1) == 150


# Accesses by the counting rule of OSTEP's RAID chapter (subtractive and additive
# parity); crossover as in Thomasian, Inf. Proc. Letters 93(4), 2005.
@pytest.mark.parametrize(
    ("n_data", "n_parity", "written", "modify", "rebuild"),
    [
        (7, 1, 1, 4, 8),
        (7, 1, 3, 8, 8),
        (7, 1, 4, 10, 8),
        (6, 2, 1, 6, 8),
        (6, 2, 2, 8, 8),
        (6, 2, 3, 10, 8),
    ],
)
def test_accesses(n_data, n_parity, written, modify, rebuild):
    assert rates.rmw_accesses(written, n_parity) == modify
    assert rates.reconstruct_accesses(n_data, n_parity) == rebuild
    cheaper = rates.write_accesses(written, n_data, n_parity)
    assert cheaper == min(modify, rebuild)
    tie = rates.tie_chunks(n_data, n_parity)
    assert (modify < rebuild) == (written < tie)
    assert (modify == rebuild) == (written == tie)


@pytest.mark.parametrize("n_parity", [1, 2])
@pytest.mark.parametrize("n_data", [2, 3, 4, 7])
def test_small_writes_are_those_of_the_throughput_table(n_data, n_parity):
    # Chen, Lee, Gibson, Katz, Patterson, ACM Computing Surveys 26(2), 1994, table of
    # throughput relative to level 0: small writes max(1/G, 1/4) and max(1/G, 1/6);
    # from memory.
    group = n_data + n_parity
    relative = max(1 / group, 1 / (4 if n_parity == 1 else 6))
    accesses = rates.write_accesses(1, n_data, n_parity)
    assert 1 / accesses == pytest.approx(relative)


def test_a_full_stripe_takes_one_access_a_drive():
    # Large writes (G - p)/G of level 0, same table, from memory.
    assert 7 / rates.write_accesses(7, 7, 1) == pytest.approx(7 / 8)


def test_striped_and_independent_capacity():
    # IDEMA LBA1-03, from memory: 4000 GB nominal are 7 814 037 168 sectors.
    nominal_4_tb = 7_814_037_168 * 512
    assert rates.usable_striped_bytes([nominal_4_tb] * 6, 2) == 4 * nominal_4_tb
    assert rates.usable_striped_bytes([4, 6, 6, 6], 1) == 12
    assert rates.usable_striped_bytes([], 1) == 0
    assert rates.usable_striped_bytes([4], 2) == 0
    assert rates.usable_independent_bytes([nominal_4_tb] * 3) == 3 * nominal_4_tb
    assert rates.net_usable_bytes(1000, 0.05, 0.9) == pytest.approx(855)


def best_pairing(sizes):
    """Try every way to pair drives off and return the largest sum of minima."""
    if len(sizes) < 2:
        return 0
    first, rest = sizes[0], sizes[1:]
    best = best_pairing(rest)  # the first stays alone
    for i, other in enumerate(rest):
        together = min(first, other) + best_pairing(rest[:i] + rest[i + 1 :])
        best = max(best, together)
    return best


@given(st.lists(st.integers(1, 20), max_size=7))
@settings(deadline=None)
def test_sorted_neighbours_are_the_best_pairing(sizes):
    assert rates.usable_pairs_bytes(sizes) == best_pairing(sizes)


@given(st.lists(st.integers(1, 20), max_size=12))
@settings(deadline=None)
def test_pairs_equal_the_sum_over_size_steps(sizes):
    total, previous = 0, 0
    for step in sorted(set(sizes)):
        total += (step - previous) * (sum(size >= step for size in sizes) // 2)
        previous = step
    assert rates.usable_pairs_bytes(sizes) == total


# --- cache --------------------------------------------------------------------

CACHE = rates.CachePhases(
    fast_mb=100_000,
    usable_mb=400_000,
    fast_mb_s=1000,
    slow_mb_s=100,
    overflow_mb_s=80,
)


def walked_hours(volume_mb, occupied_mb, cache, network_mb_s, step_mb=100):
    """Take the burst in step by step, asking at each where it goes."""
    seconds, level = 0.0, occupied_mb
    for _ in range(volume_mb // step_mb):
        if level < min(cache.fast_mb, cache.usable_mb):
            rate = cache.fast_mb_s
        elif level < cache.usable_mb:
            rate = cache.slow_mb_s
        else:
            rate = cache.overflow_mb_s
        seconds += step_mb / min(rate, network_mb_s)
        level += step_mb
    return seconds / 3600


@pytest.mark.parametrize("network", [90.0, 500.0, math.inf])
@pytest.mark.parametrize("occupied", [0, 50_000, 250_000, 400_000, 600_000])
@pytest.mark.parametrize("volume", [0, 40_000, 300_000, 900_000])
def test_ingest_against_a_walk(volume, occupied, network):
    got = rates.ingest(volume, occupied, CACHE, network)
    walked = walked_hours(volume, occupied, CACHE, network)
    assert got.hours == pytest.approx(walked)
    assert got.volume_mb == volume
    assert rates.ingest_hours(volume, occupied, CACHE, network) == got.hours
    if volume:
        assert got.mean_mb_s == pytest.approx(volume / walked / 3600)


def test_times_add_not_rates():
    # 100 GB at 1000 MB/s and 100 GB at 100 MB/s: 100 s + 1000 s, not a mean of rates.
    got = rates.ingest(200_000, 0, CACHE)
    assert got.hours * 3600 == pytest.approx(1100)
    assert got.mean_mb_s == pytest.approx(200_000 / 1100)
    assert [phase.name for phase in got.phases] == ["fast", "slow", "overflow"]


def test_ingest_edge_cases():
    nothing = rates.ingest(0, 0, CACHE)
    assert nothing.mean_mb_s == 1000
    stuck = rates.CachePhases(100, 100, 1000, 100, 0)
    assert rates.ingest_hours(200, 0, stuck) == math.inf
    all_fast = rates.CachePhases(900, 400, 1000, 100, 80)
    volumes = [phase.volume_mb for phase in rates.ingest(500, 0, all_fast).phases]
    assert volumes == [400, 0, 100]


def test_usable_cache_is_the_smallest_of_the_mirror():
    assert rates.usable_cache_mb([1000, 960], 0.1) == pytest.approx(864)
    assert rates.usable_cache_mb([]) == 0


def test_flush_moves_no_more_than_the_cache_holds():
    assert rates.flush_hours(1_000_000, 360_000, 100) == pytest.approx(1)
    assert rates.flush_hours(180_000, 360_000, 100) == pytest.approx(0.5)


def test_endurance_is_drive_writes_per_day_turned_round():
    # DWPD = TBW / (365 years capacity), trade relation read in a secondary source:
    # 365 TBW at 0.25 TB a day last 4 years.
    assert rates.endurance_years(365, 0.25, 1.0) == pytest.approx(4)
    assert rates.endurance_years(365, 0.25) == pytest.approx(4 / 1.2)
    assert rates.endurance_years(365, 0.0) == math.inf


def test_memory_burst_fills_at_the_difference_of_rates():
    # 4 GB of memory filling at 300 - 100 MB/s take 20 s, in which 6 GB come in.
    assert rates.memory_burst_mb(4000, 300, 100) == pytest.approx(300 * 20)
    assert rates.memory_burst_mb(4000, 100, 100) == math.inf
