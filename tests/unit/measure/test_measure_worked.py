"""Figures of measuring worked out on paper: what states hold, suspects, sizes, gains."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optibox.catalog.columns import Figure
from optibox.measure.design import design
from optibox.measure.effect import DecisionNow, decisions_now, rate_shifts
from optibox.measure.found import Interval
from optibox.measure.next_reading import next_readings
from optibox.measure.overrides import _watts
from optibox.measure.rates import judge
from optibox.measure.records import Meter, Situation, TransferReading
from optibox.measure.suspects import Suspect, peers_of, suspects_of
from optibox.measure.transfers import slowest, stages_of, transfer_tests
from optibox.measure.unknowns import Unknown, columns, unknowns_of
from optibox.measure.worth import prior
from tests.unit.measure.machines import LOSSLESS, machine, parts, scenario


def unknown(low, mid, high):
    return Unknown(
        key="a", aspect="idle", label="A", count=1, figure=Figure(low, mid, high)
    )


def reading(operation="read", mb_s=180.0, **changes):
    given = {"way": "local", "size_gb": 40.0, "is_synced": True, "line": 2}
    return TransferReading(operation=operation, mb_s=mb_s, **{**given, **changes})


def named(made, one, company=()):
    """Return the rate that each suspect would give, by its words."""
    stages = stages_of(made, one)
    return {s.words: s.mb_s for s in suspects_of(made, one, stages, company)}


# --- beliefs -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("figure", "half", "bounds"),
    [
        # stated bounds are a 95 % range
        ((2.0, 3.0, 5.0), 1.5, (2.0, 5.0)),
        # none: a quarter, at least 0.2 W, and never below zero
        ((4.0, 4.0, 4.0), 1.0, (3.0, 5.0)),
        ((0.4, 0.4, 0.4), 0.2, (0.2, 0.6)),
        ((0.1, 0.1, 0.1), 0.2, (0.0, 0.3)),
    ],
)
def test_bounds_of_a_figure_are_a_95_percent_range(figure, half, bounds):
    one = unknown(*figure)
    assert one.spread_w == pytest.approx(half / 1.96)
    assert one.bounds == pytest.approx(bounds)


def test_figures_that_a_machines_readings_are_made_of():
    made = machine(parts(ctl={"blocks_deep_idle": "yes"}, net={"idle_w": 0}))
    found = {(u.key, u.aspect): u.figure for u in unknowns_of(made)}
    assert found["board", "idle"].mid == 8
    assert found["board", "at work"].mid == 14 - 8
    assert found["hdd", "standby"].mid == 0.5
    assert found["hdd", "at work"].mid == 5 - 4
    assert found["", "deep idle"].mid == 3
    assert found["", "rest asleep"] == Figure(0.0, 0.0, 3.0)
    # what draws nothing is no figure, nor is the supply, nor work that adds nothing
    assert ("net", "idle") not in found
    assert ("net", "at work") in found
    assert ("lead", "idle") not in found
    assert ("supply", "idle") not in found
    assert ("memory", "at work") not in found


def test_what_work_adds_keeps_the_ends_of_both_figures():
    made = machine(parts(net={"idle_w": "2..3", "active_w": "4..7"}))
    [work] = [u for u in unknowns_of(made) if (u.key, u.aspect) == ("net", "at work")]
    # 4 - 2, 5.5 - 2.5, 7 - 3
    assert (work.figure.low, work.figure.mid, work.figure.high) == (2.0, 3.0, 4.0)


STATES = {
    "asleep": set(),
    "spinning": set(),
    "reading": {"board", "ctl", "net"},
    "ingesting": {"board", "ctl", "net", "ssd"},
    "flushing": {"board", "ctl", "ssd"},
    "checking": {"board", "ctl"},
}


@pytest.mark.parametrize("state", STATES)
def test_who_works_in_a_state(state):
    """As many pieces as are fitted: two controllers, two cache drives."""
    made = machine()
    found = unknowns_of(made)
    fitted = tuple((e.item.key, e.count) for e in made.build.items)
    row = dict(
        zip(
            [(u.key, u.aspect) for u in found],
            columns(made, found, Situation(fitted=fitted, state=state)),
            strict=True,
        )
    )
    working = {k for (k, a), n in row.items() if a == "at work" and k != "hdd" and n}
    assert working == STATES[state]
    assert row["ctl", "idle"] == 2
    assert row["ctl", "at work"] == (2 if "ctl" in working else 0)
    assert row["hdd", "standby"] == (4 if state == "asleep" else 0)
    assert row["hdd", "idle"] == (0 if state == "asleep" else 4)
    assert row["", "rest asleep"] == (-1 if state == "asleep" else 0)


def test_ingest_without_the_cache_goes_to_the_array():
    made = machine()
    found = unknowns_of(made)
    everything = {e.item.key: e.count for e in made.build.items}
    place = [(u.key, u.aspect) for u in found].index(("hdd", "at work"))
    for n_cache, at_work in ((2, 0.0), (0, 2.0)):
        fitted = tuple({**everything, "ssd": n_cache}.items())
        here = Situation(fitted=fitted, state="ingesting")
        # target and parity of three data drives and one parity drive
        assert columns(made, found, here)[place] == pytest.approx(at_work)


def test_drives_that_stand_while_others_spin():
    made = machine()
    found = unknowns_of(made)
    fitted = tuple((e.item.key, e.count) for e in made.build.items)
    here = Situation(fitted=fitted, state="spinning", standing=1)
    row = dict(
        zip([(u.key, u.aspect) for u in found], columns(made, found, here), strict=True)
    )
    assert row["hdd", "standby"] == pytest.approx(1)
    assert row["hdd", "idle"] == pytest.approx(3)


# --- suspects ------------------------------------------------------------------------
def test_distance_is_counted_in_tolerances():
    """A tolerance is the larger of 6 % and of both spreads together."""

    def suspect(mb_s, spread):
        return Suspect(kind="a", words="a", mb_s=mb_s, spread=spread)

    one = reading(mb_s=110.0, error=0.01)
    assert suspect(100.0, 0.02).distance(one) == pytest.approx(math.log(1.1) / 0.06)
    wide = math.hypot(1.96 * 0.01, 0.1)
    assert suspect(100.0, 0.1).distance(one) == pytest.approx(math.log(1.1) / wide)
    assert suspect(0.0, 0.1).distance(one) == math.inf


GEN1 = {"slots": "P1 x4 gen3 cpu | P2 x1 gen1 cpu | P3 x1 gen1 cpu"}


def test_links_that_trained_lower():
    """Two pairs of drives of 180 MB/s on 212.5 each: halves carry 106.25."""
    found = named(machine(parts(board=GEN1)), reading(mb_s=300.0, n_drives=4))
    one = "slot P2 at Gen1 x1 trained one generation lower"
    assert found[one] == pytest.approx(106.25 + 360)
    two = "slot P3 at Gen1 x1 trained two generations lower"
    assert found[two] == pytest.approx(53.125 + 360)
    every = "every such link trained one generation lower"
    assert found[every] == pytest.approx(2 * 106.25)


def test_only_shared_links_are_suspected_together():
    """Of three drives one is alone on its controller."""
    found = named(machine(parts(board=GEN1)), reading(mb_s=300.0, n_drives=3))
    assert any("slot P2" in words and "lower" in words for words in found)
    assert not any("slot P3" in words and "lower" in words for words in found)
    assert not any(words.startswith("every") for words in found)


@pytest.mark.parametrize(
    "one",
    [
        reading("write", 60.0),
        reading("write", 60.0, n_drives=4),
        reading(mb_s=180.0, target="data-1"),
        reading(),
    ],
)
def test_what_drives_share_is_not_suspected_of_one_alone_or_a_write(one):
    found = named(machine(parts(board=GEN1)), one)
    assert not any("trained one generation lower" in words for words in found)
    assert not any("behind ctl" in words for words in found)


@pytest.mark.parametrize(("mb_s", "is_refused"), [(370.0, False), (400.0, True)])
def test_two_drives_move_twice_as_much_and_a_tenth_of_doubt(mb_s, is_refused):
    [found] = judge(machine(), [reading(mb_s=mb_s, n_drives=2)])
    assert bool(found.refused) == is_refused


def test_unknown_multipliers_behind_hosts():
    """Two drives of 400 MB/s share 520: 280 less; behind each of two hosts 560 less."""
    found = named(
        machine(parts(hdd={"outer_rate_mb_s": 400})), reading(mb_s=900.0, n_drives=4)
    )
    assert found["an unknown port multiplier behind ctl-1"] == pytest.approx(1320)
    assert found["an unknown port multiplier behind each host"] == pytest.approx(1040)


@pytest.mark.parametrize(("mb_s", "is_slow"), [(143.0, True), (145.0, False)])
def test_a_drive_below_four_fifths_is_slow(mb_s, is_slow):
    alone = reading(mb_s=mb_s, target="data-2")
    found = named(machine(), reading("write", 60.0), [alone])
    words = "data-2, slow by itself, drags the others"
    assert (words in found) == is_slow
    if is_slow:
        assert found[words] == pytest.approx(0.55 * 180 * mb_s / 180)
        together = named(machine(), reading(mb_s=500.0, n_drives=4), [alone])
        assert together[words] == pytest.approx(4 * 180 - 180 + mb_s)


def test_a_drives_own_link_and_edge():
    """Links of 3 and 1.5 Gb/s are suspects of a drive that is faster than they are."""
    found = named(
        machine(parts(hdd={"outer_rate_mb_s": 290})), reading(target="data-1")
    )
    assert found["its data link trained at 3 Gb/s (cable, plug or port)"] == 275.0
    assert found["its data link trained at 1.5 Gb/s (cable, plug or port)"] == 138.0
    assert found["read near the inner edge, not the outer"] == pytest.approx(145)
    words = "a port multiplier that the catalog does not know of"
    assert found[words] == pytest.approx(0.83 * 290)
    slower = named(machine(), reading(target="data-1"))
    assert not any("at 3 Gb/s" in words for words in slower)


@pytest.mark.parametrize(("fill", "n"), [(0.09, 1), (0.11, 0)])
def test_peers_are_read_at_a_like_fill(fill, n):
    one = reading(target="data-1")
    others = [
        reading(target="data-2", fill=fill),
        reading("write", target="data-3"),
        reading(target="cache-1"),
        reading(),
        one,
    ]
    assert len(peers_of(machine(), one, others)) == n


def test_the_networks_lower_steps():
    """A port of 2.5 Gb/s may fall back to 1 and 0.1, not to 2.5 or 5."""
    needs = {"usable_tb": 8, "failures_survived": 1, "other_end_gbit_s": 2.5}
    made = machine(
        parts(net={"network_gbit_s": 2.5}, board={**GEN1, "network_gbit_s": 1}),
        scenario(needs=needs),
    )
    found = named(made, reading(mb_s=90.0, way="network", client_mb_s=95.0))
    steps = [words for words in found if "fell back" in words]
    assert [w.split("to ")[1].split(" Gb")[0] for w in steps] == ["0.1", "1"]
    assert found[steps[1]] == pytest.approx(0.9 * 117.685, abs=0.01)
    assert found["the other end manages no more"] == 95.0
    local = named(made, reading(mb_s=90.0))
    assert not any("fell back" in words for words in local)


def test_parts_of_a_cache_are_suspects_of_a_burst():
    made = machine(parts(ssd={"fast_gb": 40, "fast_write_mb_s": 480, "write_mb_s": 90}))
    found = named(made, reading("ingest", 200.0, way="network", size_gb=100.0))
    assert found["the fast region of ssd alone"] == 480
    assert found["ssd beyond its fast region"] == 90
    passed_by = "the cache is passed by, straight to the array"
    assert found[passed_by] == pytest.approx(0.55 * 180)
    # 40 GB at 480 and 60 at 90
    expected = 100_000 / (40_000 / 480 + 60_000 / 90)
    assert found["cache write"] == pytest.approx(expected)


# --- sizes and stages of tests -------------------------------------------------------
def sheet(**changes):
    return {
        (t.operation, t.n_drives, t.way): t
        for t in transfer_tests(machine(parts(**changes)))
    }


def test_sizes_of_a_sheet():
    """Twice 8 GiB are 17.2 GB, in steps of 5; four drives read 10 GB each."""
    found = sheet(memory={"gib": 8})
    assert found["read", 1, "local"].size_gb == 20
    assert found["read", 4, "local"].size_gb == 40
    assert found["network", 1, "network"].size_gb == 2
    assert found["write", 1, "local"].size_gb == 20
    small = sheet(memory={"gib": 2})
    assert small["network", 1, "network"].size_gb == 1
    assert small["read", 1, "local"].size_gb == 5
    # a cache of 250 GB has room for 225 less than its reserve: no size beyond it
    large = sheet(ssd={"fast_gb": 400, "fast_write_mb_s": 480})
    assert large["ingest", 1, "network"].size_gb == 225


def test_expected_time_and_range():
    """20 GB at 180 MB/s; the test's own error is 3 %, the rate has no other bounds."""
    one = sheet()["read", 1, "local"]
    assert one.expected_mb_s == pytest.approx(180)
    assert one.minutes == pytest.approx(20_000 / 180 / 60)
    assert one.high_mb_s - one.expected_mb_s == pytest.approx(1.96 * 0.03 * 180)
    assert one.expected_mb_s - one.low_mb_s == pytest.approx(1.96 * 0.03 * 180)


def test_a_local_flush_is_the_flush_and_no_write():
    made = machine(parts(ssd={"read_mb_s": 60}))
    assert slowest(stages_of(made, reading("flush"))).rate_mb_s == pytest.approx(60)
    assert slowest(stages_of(made, reading("write"))).rate_mb_s == pytest.approx(
        0.55 * 180
    )


def test_a_cache_drive_read_alone():
    made = machine(parts(ssd={"read_mb_s": 410}))
    found = slowest(stages_of(made, reading(target="cache-1")))
    assert (found.name, found.rate_mb_s) == ("drive", pytest.approx(410))


# --- decisions -----------------------------------------------------------------------
@pytest.mark.parametrize(
    ("before", "after", "low", "high", "is_turned", "is_open"),
    [
        (1.0, -1.0, -3.0, -0.5, True, False),
        (1.0, 2.0, -0.1, 4.0, False, True),
        (-1.0, -2.0, -4.0, 0.0, False, False),
        (0.0, 0.1, 0.0, 4.0, True, False),
    ],
)
def test_what_turns_a_decision_and_what_leaves_it_open(
    before, after, low, high, is_turned, is_open
):
    found = DecisionNow(
        decision=None, gain_before=before, gain_after=after, low=low, high=high
    )
    assert (found.is_turned, found.is_open) == (is_turned, is_open)


def test_nothing_is_shifted_where_nothing_was_measured():
    made = machine()
    assert rate_shifts(made.build, made.scenario, [None, None], []) == (0.0, 0.0)
    belief = prior(unknowns_of(made))
    assert decisions_now([], belief, belief) == ()


def test_a_machine_without_a_cache_is_not_read_while_flushing():
    for cache, n in (("mirror", 1), ("none", 0)):
        made = machine(cache=cache)
        if not n:
            drives = tuple(use for use in made.build.drives if use.role != "cache")
            made = replace(made, build=replace(made.build, drives=drives))
        belief = prior(unknowns_of(made))
        found = next_readings(made, belief, Meter(), most=99)
        labels = [one.label for one in found]
        assert sum(label == "everything fitted, flushing" for label in labels) <= n
        assert any("everything fitted" in label for label in labels)


# --- in words and figures ------------------------------------------------------------
def test_its_peers_mean_is_a_suspect():
    company = [
        reading(mb_s=m, target=t) for m, t in ((150.0, "data-2"), (160.0, "data-3"))
    ]
    found = named(machine(), reading(mb_s=155.0, target="data-1"), company)
    words = "its 2 peers give as much: drives of this kind are so"
    assert found[words] == pytest.approx(155.0)


def test_a_drive_without_peers_is_told_from_nobody():
    [found] = judge(machine(), [reading(mb_s=100.0, target="data-1")])
    assert found.pattern == ""
    assert found.suspects[0].kind != "kind"


@pytest.mark.parametrize(
    ("mb_s", "synced", "is_refused", "is_as_planned"),
    [
        (180.0, True, False, True),
        (100.0, True, False, False),
        (180.0, None, True, False),
    ],
)
def test_what_counts_as_planned(mb_s, synced, is_refused, is_as_planned):
    one = reading(mb_s=mb_s, target="data-1", is_synced=synced, size_gb=4.0)
    [found] = judge(machine(), [one])
    assert bool(found.refused) == is_refused
    assert found.is_as_planned == is_as_planned


def test_a_sheet_says_what_is_known_before_each_part_comes_out():
    """1.96 of the deviation that the readings so far leave, at the full pace."""
    made = machine(parts(supply=LOSSLESS))
    unknowns = unknowns_of(made)
    belief, n_told = prior(unknowns), 0
    for step in design(made, belief, Meter(), 600.0).steps:
        if step.told is not None:
            place = [(u.key, u.aspect) for u in unknowns].index(
                (step.told.key, step.told.aspect)
            )
            spread = math.sqrt(belief.covariance[place, place])
            assert step.told.before_w == pytest.approx(1.96 * spread, rel=1e-4)
            n_told += 1
        row = np.array([columns(made, unknowns, step.situation)])
        belief = belief.after(row, np.array([Meter().error_w()]))
    assert n_told >= 3


def test_watts_at_work_are_written_as_the_sum_of_both_figures():
    figures = {
        ("net", "idle"): Interval(value=3.0, low=2.0, high=4.0),
        ("net", "at work"): Interval(value=2.0, low=1.5, high=2.5),
        ("hdd", "standby"): Interval(value=0.5, low=0.4, high=0.6),
    }
    known = {
        u: figures[u.key, u.aspect]
        for u in unknowns_of(machine())
        if (u.key, u.aspect) in figures
    }
    assert dict(_watts(known, "net", is_drive=False)) == {
        "idle_w": '"3 [2..4]"',
        "active_w": '"5 [3.5..6.5]"',
    }
    assert dict(_watts(known, "hdd", is_drive=True)) == {
        "standby_w": '"0.5 [0.4..0.6]"'
    }
