"""Transfer tests: refused, as planned, or pinned on somebody; factors come back."""

import pytest

from optibox.measure.factors import fit_factors
from optibox.measure.rates import judge
from optibox.measure.records import TransferReading
from optibox.measure.transfers import least_size_gb, slowest, stages_of, transfer_tests
from optibox.physics.zones import zone_rate_mb_s
from tests.unit.measure.machines import machine, parts, scenario

SLOTS = {"slots": "P1 x4 gen3 cpu | P2 x1 gen1 cpu | P3 x1 gen3 cpu"}


def made(**changes):
    return machine(parts(**changes))


def reading(operation="read", mb_s=180.0, **changes):
    given = {"way": "local", "size_gb": 40.0, "is_synced": True, "line": 2}
    return TransferReading(operation=operation, mb_s=mb_s, **{**given, **changes})


def alone(name, mb_s=180.0, **changes):
    return reading(mb_s=mb_s, target=name, **changes)


def last(judged):
    return judged[-1]


def test_smallest_size_is_twice_the_memory():
    """8 GiB are 8 x 2^30 B; common practice, no source, asks for twice the memory."""
    assert least_size_gb(made()) == pytest.approx(2 * 8 * 2**30 / 1e9)
    assert all(
        t.size_gb >= 17.1 for t in transfer_tests(made()) if t.operation != "network"
    )


def test_cache_tests_reach_beyond_the_fast_region():
    sheet = transfer_tests(
        made(ssd={"fast_gb": 60, "fast_write_mb_s": 480, "write_mb_s": 90})
    )
    (ingest,) = (t for t in sheet if t.operation == "ingest")
    assert ingest.size_gb == 90
    fast, slow = 60_000 / 480, 30_000 / 90  # seconds in each region
    assert ingest.expected_mb_s == pytest.approx(90_000 / (fast + slow))


@pytest.mark.parametrize(
    ("size_gb", "is_synced", "is_refused"),
    [(4, None, True), (4, False, True), (4, True, False), (18, None, False)],
)
def test_what_memory_could_have_answered_is_refused(size_gb, is_synced, is_refused):
    one = reading("write", 95.0, size_gb=size_gb, is_synced=is_synced)
    (found,) = judge(made(), [one])
    assert bool(found.refused) == is_refused
    if is_refused:
        assert "8 GiB of memory: from 18 GB on" in found.refused
        assert not fit_factors(made(), [found])


def test_faster_than_the_drives_can_be_is_refused():
    (found,) = judge(made(), [alone("data-1", 900.0)])
    assert "faster than the drives can be" in found.refused


def test_a_drive_slower_than_its_peers_is_the_drive_or_its_cable():
    found = last(judge(made(), [alone("data-1"), alone("data-2", 134.0)]))
    assert "this drive or its cable" in found.pattern
    assert found.culprit.kind == "drive or cable"
    assert found.culprit.mb_s == pytest.approx(138)
    (factor,) = fit_factors(
        made(), judge(made(), [alone("data-1"), alone("data-2", 134)])
    )
    assert factor.lines == (2,), "the slow drive says nothing of its kind"
    assert factor.value == pytest.approx(180)


def test_fine_alone_and_slow_together_is_a_shared_link():
    """Gen1 x1 carries 250 MB/s raw (PCI-SIG, Base Specification 1.0a), 0.85 of it."""
    tests = [alone("data-1"), alone("data-2"), reading(mb_s=425.0, n_drives=4)]
    planned = slowest(stages_of(made(board=SLOTS), tests[-1]))
    assert planned.rate_mb_s == pytest.approx(250 * 0.85 + 2 * 180)
    assert last(
        judge(made(board=SLOTS), [*tests[:2], reading(mb_s=570, n_drives=4)])
    ).is_as_planned
    found = last(judge(made(), [*tests[:2], reading(mb_s=515, n_drives=4)]))
    assert "something that they share" in found.pattern
    assert found.culprit.kind in ("link", "multiplier")
    assert "lower" in found.culprit.words or "multiplier" in found.culprit.words


def test_a_multiplier_that_nobody_knows_of_is_a_suspect():
    """A drive alone behind one keeps 0.83 of its rate: common practice, no source."""
    found = last(judge(made(), [alone("data-1", 150.0)]))
    assert found.culprit.kind == "multiplier"
    assert found.culprit.mb_s == pytest.approx(0.83 * 180)


def test_reads_fine_and_writes_slow_is_the_way_of_writing():
    tests = [alone("data-1"), reading("write", 60.0, fill=0.0)]
    found = last(judge(made(), tests))
    assert "the way of writing" in found.pattern
    assert found.suspects[0].kind == "write mode"


def test_a_write_at_the_other_modes_rate_is_that_mode():
    found = last(judge(made(), [alone("data-1"), reading("write", 130.0)]))
    assert found.culprit.words == "it wrote in reconstruct mode instead"


def test_one_slow_drive_drags_what_all_take_part_in():
    tests = [alone("data-1"), alone("data-2", 100.0)]
    dragged = reading("write", 0.72 * 100, mode="reconstruct")
    found = last(judge(made(), [*tests, dragged]))
    assert found.culprit.kind == "slow drive"
    assert not any(f.name == "reconstruct" for f in fit_factors(made(), [found]))


def test_flat_at_a_gigabit_is_the_network():
    """1 Gb/s carries 117.7 MB/s of payload (IEEE 802.3 frame, time stamps)."""
    one = reading("network", 105.9, way="network", size_gb=2)
    found = last(judge(made(), [one]))
    assert found.culprit.kind == "network"
    assert "1 Gb/s" in found.culprit.words
    assert found.culprit.mb_s == pytest.approx(117.685 * 0.90, abs=0.01)


def test_the_other_end_can_be_to_blame():
    one = reading("read", 140.0, way="network", client_mb_s=140.0)
    assert last(judge(made(), [one])).culprit.kind == "other end"


def test_fast_region_alone_is_told_from_the_whole_cache():
    slow = made(ssd={"fast_gb": 40, "fast_write_mb_s": 500, "write_mb_s": 80})
    one = reading("ingest", 495.0, way="network", size_gb=20)
    assert last(judge(slow, [one])).is_as_planned, "20 GB stay within 40"
    one = reading("ingest", 495.0, way="network", size_gb=100)
    found = last(judge(slow, [one]))
    assert found.culprit.kind == "fast region"


@pytest.mark.parametrize(
    ("name", "value", "asked"),
    [
        ("read_modify_write", 0.50, {"operation": "write"}),
        ("reconstruct", 0.80, {"operation": "write", "mode": "reconstruct"}),
        (
            "network_sharing",
            0.85,
            {"operation": "network", "way": "network", "size_gb": 2.0},
        ),
    ],
)
def test_factors_of_a_simulated_machine_come_back(name, value, asked):
    """The rate is that of a machine whose factor is known; the plan believes another."""
    needs = {"usable_tb": 8, "failures_survived": 1, "other_end_gbit_s": 2.5}
    plan = machine(asked=scenario(needs=needs))
    truth = machine(asked=scenario(needs=needs, overrides={name: value}))
    rate = slowest(stages_of(truth, reading(mb_s=1.0, **asked))).rate_mb_s
    tests = [reading(mb_s=rate * share, **asked) for share in (0.99, 1.0, 1.01)]
    (found,) = (f for f in fit_factors(plan, judge(plan, tests)) if f.name == name)
    assert found.value == pytest.approx(value, rel=0.01)
    assert found.low < value < found.high


def test_rates_of_drives_are_brought_back_to_the_outer_edge():
    half = zone_rate_mb_s(170.0, 0.5, 0.5)
    found = fit_factors(made(), judge(made(), [alone("data-1", half, fill=0.5)]))
    assert found[0].name == "outer_rate_mb_s"
    assert found[0].value == pytest.approx(170.0)


def test_measured_drives_count_for_the_factor_of_writing():
    """Drives of 160 instead of 180 that write 80: a factor of 0.5, not 0.44."""
    tests = [alone("data-1", 160.0), alone("data-2", 160.0), reading("write", 80.0)]
    found = {f.name: f.value for f in fit_factors(made(), judge(made(), tests))}
    assert found["read_modify_write"] == pytest.approx(0.5)


def test_one_drive_behind_a_multiplier_tells_that_factor_alone():
    """Its own rate stays: 0.9 of 180 is the multiplier's doing."""
    leg = {"topology": "multiplier", "native_ports": 1, "switching": "fis"}
    plan = made(ctl=leg)
    (found,) = fit_factors(plan, judge(plan, [alone("data-1", 0.9 * 180)]))
    assert (found.key, found.name) == ("", "multiplier_single_drive")
    assert found.value == pytest.approx(0.9)


def test_a_port_that_binds_tells_its_own_rate():
    plan = made(ctl={"link_gbit_s": 3}, hdd={"outer_rate_mb_s": 290})
    (found,) = fit_factors(plan, judge(plan, [alone("data-1", 268.0)]))
    assert (found.name, found.value) == ("sata_3g_mb_s", pytest.approx(268.0))


def test_inner_rate_comes_from_two_fills():
    """The zone curve's own k, put in and got back."""
    tests = [
        alone("data-1", zone_rate_mb_s(180.0, 0.46, 0.0)),
        alone("data-1", zone_rate_mb_s(180.0, 0.46, 0.9), fill=0.9),
    ]
    found = {f.name: f for f in fit_factors(made(), judge(made(), tests))}
    assert found["inner_ratio"].value == pytest.approx(0.46)
    assert found["outer_rate_mb_s"].value == pytest.approx(180.0)


def test_memory_is_a_suspect_with_its_figure():
    one = reading("read", 160.0, way="network", is_synced=None)
    kinds = {s.kind: s.mb_s for s in last(judge(made(), [one])).suspects}
    assert kinds["memory"] == pytest.approx(1000.0), "one stream of this processor"


def test_a_link_that_binds_tells_the_share_that_pcie_reaches():
    """Gen1 x1 carries 250 MB/s raw: two drives together at 205 reach 0.82 of it."""
    found = "P1 x4 gen3 cpu | P2 x1 gen1 cpu | P3 x1 gen1 cpu"
    plan = made(board={"slots": found})
    test = reading(mb_s=205.0, n_drives=2)
    assert slowest(stages_of(plan, test)).name == "slot P2 at Gen1 x1"
    factors = {f.name: f.value for f in fit_factors(plan, judge(plan, [test]))}
    assert factors["pcie"] == pytest.approx(205 / 250)


def test_a_stripe_tells_its_share_of_all_drives():
    plan = machine(layout="striped", n_parity=1, write_mode="plain", cache="none")
    test = reading("write", 0.93 * 3 * 180)
    found = {f.name: f.value for f in fit_factors(plan, judge(plan, [test]))}
    assert found["stripe"] == pytest.approx(0.93)


@pytest.mark.parametrize(
    ("size_gb", "name"), [(20.0, "fast_write_mb_s"), (100.0, None)]
)
def test_a_burst_within_the_fast_region_tells_that_alone(size_gb, name):
    plan = made(ssd={"fast_gb": 40, "fast_write_mb_s": 480, "write_mb_s": 90})
    test = reading("ingest", 470.0, way="network", size_gb=size_gb)
    found = {f.name for f in fit_factors(plan, judge(plan, [test]))}
    assert found == ({name} if name else set())


def test_a_cache_without_a_fast_region_tells_its_own_rate():
    plan = made(ssd={"fast_gb": 0, "fast_write_mb_s": 480, "write_mb_s": 90})
    test = reading("ingest", 88.0, way="network", size_gb=100.0)
    found = {f.name: f.value for f in fit_factors(plan, judge(plan, [test]))}
    assert found == {"write_mb_s": pytest.approx(88.0)}


def test_tests_of_one_factor_are_averaged_by_their_errors():
    """Weighted mean and its error, by hand; scatter beyond the errors widens it."""
    tests = [reading("write", 96.0), reading("write", 100.0, error=0.015)]
    (found,) = fit_factors(made(), judge(made(), tests))
    shares = [96 / 180, 100 / 180]
    weights = [1 / (shares[0] * 0.03) ** 2, 1 / (shares[1] * 0.015) ** 2]
    mean = sum(w * s for w, s in zip(weights, shares, strict=True)) / sum(weights)
    assert found.value == pytest.approx(mean)
    assert found.high - found.value == pytest.approx(
        1.96 * sum(weights) ** -0.5, rel=0.3
    )
    wild = [reading("write", 80.0), reading("write", 108.0)]
    (wide,) = fit_factors(made(), judge(made(), wild))
    assert wide.high - wide.low > 3 * (found.high - found.low)


@pytest.mark.parametrize(
    "plan",
    [
        {"layout": "striped", "n_parity": 1, "write_mode": "plain"},
        {"layout": "pairs", "n_parity": 0, "write_mode": "plain"},
        {"layout": "striped pairs", "n_parity": 0, "write_mode": "plain"},
    ],
)
def test_every_layout_has_its_tests_and_meets_its_own_plan(plan):
    planned = machine(**plan)
    tests = transfer_tests(planned)
    assert {t.operation for t in tests} >= {"read", "write", "network", "ingest"}
    given = [
        TransferReading(
            line=n,
            operation=t.operation,
            size_gb=t.size_gb,
            mb_s=t.expected_mb_s,
            n_drives=t.n_drives,
            is_synced=True,
            way=t.way,
            target=t.target,
            mode=t.mode,
        )
        for n, t in enumerate(tests)
    ]
    assert all(one.is_as_planned for one in judge(planned, given))
