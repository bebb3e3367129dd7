"""Every threshold of a rule from both sides, and limits at a machine's own figures."""

import pytest

from optibox.catalog.storage import SolidStateDrive
from tests.unit.rules import edges_hardware, edges_machine
from tests.unit.rules.bench import DRIVES, Bench, told
from tests.unit.rules.cases import SATA_SSD
from tests.unit.rules.edges import EDGES

assert edges_hardware
assert edges_machine

NEARLY = 1e-3
"""A limit a thousandth below the figure is broken, one a thousandth above is kept."""


@pytest.mark.parametrize("edge", EDGES, ids=lambda edge: edge.name)
def test_what_just_keeps_a_rule_and_what_just_breaks_it(edge):
    assert edge.finding not in told(edge.kept.judged())
    assert edge.finding in told(edge.broken.judged())


def test_pairs_have_names_of_their_own():
    assert len({edge.name for edge in EDGES}) == len(EDGES)


PLAIN = Bench().judged()


@pytest.mark.parametrize(
    ("key", "figure"),
    [
        ("budget", PLAIN.cost.purchase),
        ("total_cost", PLAIN.total_cost),
        ("annual_kwh", PLAIN.year.kwh),
        ("asleep_w", PLAIN.wall.asleep_w),
        ("spinning_w", PLAIN.wall.spinning_w),
        ("peak_w", PLAIN.wall.peak_w),
    ],
)
def test_a_limit_is_kept_at_the_figure_and_broken_just_below(key, figure):
    def findings(limit):
        return told(Bench(sections={"limits": {key: limit}}).judged())

    assert findings(figure) == []
    assert findings(figure * (1 - NEARLY)) == ["D2 E"]


@pytest.mark.parametrize(
    ("key", "figure", "rule"),
    [
        ("usable_tb", PLAIN.capacity.usable_tb, "A11 E"),
        ("read_mb_s", PLAIN.rates.read_mb_s, "N1 E"),
        ("write_mb_s", PLAIN.rates.write_mb_s, "N1 E"),
        ("ingest_mb_s", PLAIN.rates.ingest_mb_s, "N1 E"),
    ],
)
def test_a_need_is_met_at_the_figure_and_missed_just_above(key, figure, rule):
    assert told(Bench(needs={key: figure}).judged()) == []
    assert told(Bench(needs={key: figure * (1 + NEARLY)}).judged()) == [rule]


def test_comparisons_forgive_rounding_and_nothing_more():
    """Sums of floats differ by some 1e-16 of themselves; 1e-6 is no rounding."""
    figure = PLAIN.wall.asleep_w

    def findings(limit):
        return told(Bench(sections={"limits": {"asleep_w": limit}}).judged())

    assert findings(figure * (1 - 1e-12)) == []
    assert findings(figure * (1 - 1e-6)) == ["D2 E"]
    paid = PLAIN.cost.purchase
    for share, expected in ((5e-10, []), (5e-9, ["D2 E"])):
        limits = {"budget": paid * (1 - share)}
        assert told(Bench(sections={"limits": limits}).judged()) == expected
    usable = PLAIN.capacity.usable_tb
    for share, expected in ((5e-10, []), (5e-9, ["A11 E"])):
        needs = {"usable_tb": usable * (1 + share)}
        assert told(Bench(needs=needs).judged()) == expected


@pytest.mark.parametrize(
    ("rail_a", "expected"),
    # Three drives of 2.0 A at the start and 0.4 A running beside 36 W of the board and
    # 1 W of memory from 12 V and 0.2 A of fans: 37/12 + 0.2 + 6.0 = 9.283 A all at once,
    # 37/12 + 0.2 + 2.0 + 0.8 = 6.083 A one at a time. Four fifths are planned with.
    [
        (9.283 / 0.8 + 0.01, []),
        (9.283 / 0.8 - 0.01, ["P1 W"]),
        (9.29, ["P1 W"]),
        (9.28, ["P1 E"]),
    ],
)
def test_the_12_volt_rail_at_the_start(rail_a, expected):
    found = told(Bench(parts={"supply": {"rail_12v_a": rail_a}}).judged())
    assert [f for f in found if f.startswith("P1")] == expected


@pytest.mark.parametrize(
    ("rail_a", "expected"), [(6.083 / 0.8 + 0.01, "P1 W"), (6.083 / 0.8 - 0.01, "P1 E")]
)
def test_one_drive_at_a_time_is_the_least(rail_a, expected):
    """A board that starts drives in turn, which need not wake together."""
    parts = {"board": {"has_staggered_spin_up": True}, "supply": {"rail_12v_a": rail_a}}
    found = told(Bench(parts=parts).judged())
    assert [f for f in found if f.startswith("P1")] == [expected]


@pytest.mark.parametrize(("rated_w", "expected"), [(118.8, []), (118.6, ["P1 E"])])
def test_the_rated_watts_at_the_start(rated_w, expected):
    """Board 36 W, memory 1, case 2, stick 0.2, three drives of 2.0 A and 0.5 A: 118.7."""
    found = told(Bench(parts={"supply": {"rated_w": rated_w}}).judged())
    assert [f for f in found if f.startswith("P1")] == expected


@pytest.mark.parametrize(("rail_a", "expected"), [(1.6, []), (1.59, ["P3 E"])])
def test_the_5_volt_rail(rail_a, expected):
    """Three drives of 0.5 A and a stick of 0.1 A."""
    found = told(Bench(parts={"supply": {"rail_5v_a": rail_a}}).judged())
    assert [f for f in found if f.startswith("P3")] == expected


@pytest.mark.parametrize(("rated_w", "expected"), [(277.5, []), (277.7, ["P4 I"])])
def test_a_supply_eight_times_the_idle_load(rated_w, expected):
    """Board 30 W, memory 1, case 2, stick 0.2, three drives asleep at 0.5: 34.7 W."""
    assert told(Bench(parts={"supply": {"rated_w": rated_w}}).judged()) == expected


def test_a_battery_carries_the_worst_instant():
    """0.6 W for each VA: common practice, no source."""
    enough = PLAIN.wall.peak_w / 0.6
    assert told(Bench(around={"ups_va": enough * (1 + NEARLY)}).judged()) == []
    assert told(Bench(around={"ups_va": enough * (1 - NEARLY)}).judged()) == ["P6 W"]


def test_a_battery_lasts_until_memory_is_written_and_services_are_stopped():
    """A fifth of 8 GiB (2^30 bytes) at the array's rate, and three minutes."""
    written_mb = 0.2 * 8 * 2**30 / 1e6
    minutes = 3.0 + written_mb / PLAIN.rates.write_mb_s / 60.0
    assert told(Bench(around={"ups_minutes": minutes * (1 + NEARLY)}).judged()) == []
    too_short = Bench(around={"ups_minutes": minutes * (1 - NEARLY)})
    assert told(too_short.judged()) == ["P6 W"]


def test_half_a_rating_is_what_the_years_may_use():
    """Wakes of five years, and nothing else, on a rating of twice as many."""
    wakes = PLAIN.year.operating.data.wakes * 5
    for drives, starts in (("start_stop_rating", 0), ("load_unload_rating", 0)):
        for factor, expected in ((1 + NEARLY, []), (1 - NEARLY, ["W1 E"])):
            rating = (wakes + starts) / 0.5 * factor
            bench = Bench(parts={"hdd-b": {drives: rating}})
            assert told(bench.judged()) == expected


@pytest.mark.parametrize(("more", "expected"), [(-1, []), (1, ["W1 E"])])
def test_starts_so_far_count_against_the_rating(more, expected):
    """Half of 50 000 starts less the wakes of five years are what may have been."""
    left = 25_000 - PLAIN.year.operating.data.wakes * 5
    owned = {"hdd-b": {"starts": left + more, "held_tb": 0}}
    assert told(Bench(owned=owned).judged()) == expected


def test_a_drive_past_its_rating_may_spin():
    owned = {"hdd-b": {"starts": 49_000, "held_tb": 0}}
    assert "W1 E" in told(Bench(owned=owned).judged())
    never = Bench(owned=owned, operation={"timeout_min": None})
    assert "W1 E" not in told(never.judged())


def test_ingest_takes_half_a_day_at_most():
    """Volume over rate, twice over, is a day: 12 h at the rate of writing."""
    most_gb = PLAIN.rates.write_mb_s * 12 * 3600 / 1000
    for factor, expected in ((1 - NEARLY, []), (1 + NEARLY, ["T1 E"])):
        usage = {"ingest_gb_per_day": most_gb * factor}
        found = told(Bench(sections={"usage": usage}).judged())
        assert [f for f in found if f.startswith("T1")] == expected


def test_all_transfers_of_a_day_take_a_day_at_most():
    """A check each day beside them, and nobody reads: its hours are what ingest leaves."""
    check_h = PLAIN.year.transfers.check_h
    ingest_gb = (24.0 - check_h) * PLAIN.rates.write_mb_s * 3600 / 1000
    for factor, expected in ((1 - 2e-3, []), (1 + 2e-3, ["T1 E"])):
        usage = {
            "ingest_gb_per_day": ingest_gb * factor,
            "checks_per_year": 365,
            "sessions_per_day": 0,
        }
        bench = Bench(
            sections={"usage": usage, "overrides": {"interval_margin": 1}},
            operation={"checks_per_year": 365},
        )
        found = told(bench.judged())
        assert [f for f in found if f.startswith("T1")] == expected


def test_a_flush_counts_as_well_as_the_ingest():
    """A cache takes ingest in and gives it to the array: both within half a day."""
    bench = {
        "parts": {"cache": (SolidStateDrive, {**SATA_SSD, "tb": 8})},
        "drives": (*DRIVES, ("cache-1", "cache", "cache")),
        "wires": {"cache-1": {"bay": "2.5-1"}},
        "operation": {"cache": "single"},
        "needs": {"cache_mirror": False},
    }
    usage = {"ingest_gb_per_day": 1000}
    times = Bench(**bench, sections={"usage": usage}).judged().year.transfers
    most_gb = 1000 * 12 / (times.ingest_h + times.flush_h)
    for factor, expected in ((1 - NEARLY, []), (1 + NEARLY, ["T1 E"])):
        usage = {"ingest_gb_per_day": most_gb * factor}
        found = told(Bench(**bench, sections={"usage": usage}).judged())
        assert [f for f in found if f.startswith("T1")] == expected
