"""Policies on one build: against the evaluator, by hand, and by brute force."""

import math
from dataclasses import replace
from itertools import product

import numpy_financial as npf
import pytest

from optibox.assess import assess
from optibox.report.figures import spin_up_wait_s
from optibox.report.spindown import pays_words
from optibox.running import policy_drives
from optibox.running.policy import (
    MENU_MIN,
    Policy,
    longest_wait_s,
    policies_for,
    policy_table,
    row_of,
    run_under,
    running_total,
    waited_h_per_year,
)
from optibox.running.policy_breakeven import break_evens, factor_at_rest
from optibox.running.policy_cache import with_cache
from optibox.running.policy_drives import own_timeouts
from optibox.running.policy_hours import hour_choice, hours_at
from optibox.running.spindown import spindown
from tests.unit.present.machines import invented, reference_build, scenario


@pytest.fixture(scope="module")
def catalog():
    return invented()


@pytest.fixture(scope="module")
def build(catalog):
    return reference_build(catalog)


@pytest.fixture(scope="module")
def plain(catalog):
    """The same machine without its cache."""
    return with_cache(
        reference_build(catalog, cache="none", write_mode="read-modify-write"), "none"
    )


BUSY = {"sessions_per_day": 6, "ingest_gb_per_day": 40}


# --- the table -----------------------------------------------------------------


def test_every_timeout_times_mode_times_cache(build):
    policies = list(policies_for(build))
    assert len(policies) == len(set(policies)) == 10 * 2 * 3
    assert {p.timeout_min for p in policies} == {
        None, 5, 10, 15, 30, 45, 60, 90, 120, 180,
    }  # fmt: skip
    odd = replace(build, operation=replace(build.operation, timeout_min=7.0))
    assert {p.timeout_min for p in policies_for(odd)} - {*MENU_MIN} == {7.0}


def test_each_row_is_what_the_evaluator_says_of_the_plan(build):
    asked = scenario(usage=BUSY)
    table = policy_table(build, asked)
    for row in table.rows:
        if row.policy.cache != "mirror":
            continue
        plan = replace(
            build.operation,
            timeout_min=row.policy.timeout_min,
            write_mode=row.policy.write_mode,
        )
        found = assess(replace(build, operation=plan), asked)
        assert row.kwh_per_year == found.year.kwh
        assert row.total == found.cost.energy + found.cost.wear + found.cost.cache_wear
        data, parity = found.year.operating.data, found.year.operating.parity
        assert row.data.wakes_per_year == data.wakes
        assert row.data.spinning_h_per_day * 365 == pytest.approx(data.spinning_h)
        assert row.parity.wakes_per_year == parity.wakes
        assert row.is_allowed == found.is_fit


def test_best_present_and_flat(build):
    table = policy_table(build, scenario(usage=BUSY))
    allowed = [row for row in table.rows if row.is_allowed]
    assert table.best.total == min(row.total for row in allowed)
    assert table.present in table.rows
    assert table.saving_per_year == (table.present.total - table.best.total) / 5
    flat = table.flat()
    assert table.best in flat
    assert all(row.total - table.best.total < 2.0 * 5 for row in flat)


def test_money_over_the_years(build):
    # Present value at year ends: numpy-financial, an independent library.
    money = {"tariff_per_kwh": 0.3, "years": 6, "discount": 0.04, "tariff_growth": 0.03}
    row = policy_table(build, scenario(money=money)).present
    energy = [row.energy_per_year * 1.03**year for year in range(6)]
    worth = npf.npv(0.04, [0.0, *energy]) + npf.npv(
        0.04, [0.0, *[row.wear_per_year] * 6]
    )
    assert row.total == pytest.approx(worth)


def test_ratings_used_by_hand(build):
    # starts so far none; rating of the drives from their class
    table = policy_table(build, scenario(usage=BUSY))
    hard = next(e.item.part for e in build.items if e.item.key == "ref-hdd-4tb-c5400")
    for row in table.rows:
        starts = row.data.wakes_per_year * 5
        used = starts / hard.start_stop_rating.mid
        assert row.data.start_stop_used_fraction == pytest.approx(used)
        used = starts / hard.load_unload_rating.mid
        assert row.data.load_unload_used_fraction == pytest.approx(used)


def test_a_policy_that_eats_the_drives_is_marked(build):
    crowd = scenario(usage={"sessions_per_day": 60, "minutes_between": 30.0})
    table = policy_table(build, crowd)
    short = [r for r in table.rows if r.policy.timeout_min == 5 and r.rule == "W1"]
    assert short
    assert table.best.is_allowed
    worn = run_under(build, short[0].policy)
    worn_table = policy_table(worn, crowd)
    assert not worn_table.present.is_allowed
    assert worn_table.is_worth_changing


def test_faults_that_are_there_anyway_do_not_count(build):
    table = policy_table(build, scenario(needs={"usable_tb": 500}))
    assert not table.found.is_fit
    assert table.best.is_allowed


# --- cache taken out -------------------------------------------------------------


def test_a_cache_taken_out_leaves_nothing_behind(build):
    none = run_under(
        build, Policy(timeout_min=30, write_mode="reconstruct", cache="none")
    )
    counts = {e.item.key: e.count for e in none.items}
    assert "ref-ssd-sata-500" not in counts
    assert counts["cable-sata-05"] == 4
    assert not none.in_role("cache")
    found = assess(none, scenario(needs={"ingest_mb_s": 0}))
    assert found.is_fit, found.errors
    assert found.wall.asleep_w < assess(build, scenario()).wall.asleep_w


def test_half_a_mirror_is_refused_where_a_mirror_is_needed(build):
    rows = policy_table(build, scenario()).rows
    single = [row for row in rows if row.policy.cache == "single"]
    assert {row.rule for row in single} == {"A7"}
    lax = policy_table(build, scenario(needs={"cache_mirror": False})).rows
    assert any(r.is_allowed for r in lax if r.policy.cache == "single")
    assert with_cache(build, "mirror") is build


# --- waiting -----------------------------------------------------------------------


def test_people_wait_for_sessions_only(plain):
    asked = scenario(usage={"sessions_per_day": 0, "ingest_gb_per_day": 40})
    found = assess(plain, asked)
    assert found.year.operating.data.wakes > 100
    assert waited_h_per_year(found) == 0.0


def test_waits_by_hand(plain):
    # one visit a day of one access, drives long asleep: 365 waits of one spin-up
    usage = {"sessions_per_day": 1, "accesses_per_session": 1, "ingest_gb_per_day": 0}
    operation = replace(plain.operation, timeout_min=5, checks_per_year=0)
    found = assess(replace(plain, operation=operation), scenario(usage=usage))
    spin_up_s = found.machine.in_role("data")[0].part.spin_up_s.mid
    # a drive is asked once in three days: it is hardly ever found awake
    quiet = math.exp(-(5 / 60 + 30 / 3600) / 72)
    waited = 365 * quiet * spin_up_s / 3600
    assert waited_h_per_year(found) == pytest.approx(waited, rel=1e-6)
    assert longest_wait_s(found) == spin_up_s


def test_longest_wait_is_the_one_of_the_figures(build):
    for layout, parity, mode in (("striped", 1, "plain"), ("independent", 1, None)):
        plan = replace(
            build.operation,
            layout=layout,
            n_parity=parity,
            write_mode=mode or build.operation.write_mode,
        )
        found = assess(replace(build, operation=plan), scenario())
        assert longest_wait_s(found) == spin_up_wait_s(found) > 0


# --- each drive by itself ------------------------------------------------------------


def test_own_timeouts_of_one_timeout_are_the_evaluators(plain):
    asked = scenario(usage=BUSY)
    found = assess(plain, asked)
    groups = tuple(policy_drives._groups(found, MENU_MIN, None))
    bill = policy_drives._Bill(found, groups)
    for timeout in MENU_MIN:
        plan = replace(plain.operation, timeout_min=timeout)
        same = assess(replace(plain, operation=plan), asked)
        assert bill.total([timeout] * len(groups)) == pytest.approx(running_total(same))


def test_own_timeouts_beat_every_shared_one(plain, monkeypatch):
    found = assess(plain, scenario(usage=BUSY))
    own = own_timeouts(found)
    assert {group.role for group in own.groups} == {"data", "parity"}
    groups = tuple(policy_drives._groups(found, MENU_MIN, None))
    bill = policy_drives._Bill(found, groups)
    every = [bill.total(choice) for choice in product(*(g.allowed for g in groups))]
    assert own.total == pytest.approx(min(every))
    assert own.total <= own.shared_total
    # one group after another, until nothing gains, finds the same
    monkeypatch.setattr(policy_drives, "_MOST_TOGETHER", 0)
    assert own_timeouts(found).total == pytest.approx(own.total)


def test_stripes_have_one_timeout(build):
    striped = replace(
        build,
        operation=replace(
            build.operation, layout="striped", n_parity=1, write_mode="plain"
        ),
    )
    own = own_timeouts(assess(striped, scenario()))
    assert not own.groups
    assert "together" in own.reason


# --- break-even ----------------------------------------------------------------------


def test_break_even_by_hand(build):
    found = assess(build, scenario())
    (row,) = break_evens(found)
    hard = found.machine.in_role("data")[0].part
    factor = factor_at_rest(found)
    assert 1.0 < factor < 1.5
    saved_w = hard.idle_w.mid - hard.standby_w.mid
    assert row.energy_s == pytest.approx(hard.spin_up_j.mid / saved_w)
    # gap at which watts saved at the wall are worth start energy and wear: by hand
    price = hard.price.mid / hard.start_stop_rating.mid
    price += hard.spin_up_j.mid / 3.6e6 * factor * 0.30
    assert row.wear_h == pytest.approx(price / (saved_w * factor / 1000 * 0.30))
    assert row.most_sleeps_per_day == pytest.approx(24 / row.wear_h)


def test_sleeping_as_often_as_break_even_allows_gains_nothing(build):
    found = assess(build, scenario())
    (row,) = break_evens(found)
    n = row.most_sleeps_per_day
    saved = 24 * row.saved_wall_w / 1000 * 0.30
    assert n * (row.wake_energy_price + row.wake_wear_price) == pytest.approx(saved)


# --- hours -----------------------------------------------------------------------------

NIGHT = {
    "tariff_per_kwh": 0.36,
    "bands": [{"from_hour": 23, "to_hour": 6, "price_per_kwh": 0.18}],
}


def test_hours_are_priced_as_the_evaluator_does(build):
    for flush, check in ((2.0, 6.0), (23.0, 1.0), (12.0, 15.0)):
        asked = scenario(usage=BUSY | {"check_hour": check}, money=NIGHT)
        plan = replace(build.operation, flush_hour=flush)
        found = assess(replace(build, operation=plan), asked)
        got = hours_at(assess(build, asked), flush, check).total
        assert got == pytest.approx(found.cost.energy + found.cost.wear)


def test_best_hours_are_the_best_of_all(build):
    found = assess(build, scenario(usage=BUSY, money=NIGHT))
    choice = hour_choice(found)
    assert choice.best.total <= choice.present.total <= choice.worst.total
    assert choice.lowest_price == pytest.approx(0.18)
    assert choice.highest_price == pytest.approx(0.36)
    some = [hours_at(found, f, c) for f in (0.0, 1.0, 23.0) for c in (7.0, 12.0, 15.0)]
    assert choice.best.total <= min(hours.total for hours in some) + 1e-6
    # what hours can save is bounded by what can move, at the spread of prices
    spread = choice.movable_kwh * 0.18
    wakes = 2 * 369 * 4 * 0.01
    assert choice.saving_per_year <= spread + wakes


def test_one_price_makes_hours_equal_but_for_overlaps(build):
    choice = hour_choice(assess(build, scenario(usage={"ingest_gb_per_day": 0})))
    assert choice.is_flat_tariff
    assert choice.saving_per_year == pytest.approx(0.0, abs=1e-9)
    assert not choice.has_flush


def test_row_of_a_machine_is_its_policys(build):
    row = row_of(assess(build, scenario()))
    assert row.policy == Policy(
        timeout_min=30, write_mode="reconstruct", cache="mirror"
    )


def test_where_spinning_down_does_not_pay(build):
    # Dear drives that are read all day long: every sleep is too short.
    busy = {"sessions_per_day": 60, "minutes_between": 60.0}
    money = {"tariff_per_kwh": 0.02}
    table = policy_table(build, scenario(usage=busy, money=money))
    assert table.best.policy.timeout_min is None
    assert "does not pay" in pays_words(table, "EUR")
    calm = policy_table(build, scenario())
    assert "Here it pays" in pays_words(calm, "EUR")


# --- a share given outright -----------------------------------------------------------


def test_a_share_of_spinning_becomes_sessions(plain):
    # At the present timeout the sessions spin a data drive as long as the share says.
    asked = scenario(usage={"spinning_fraction": 0.25, "ingest_gb_per_day": 0})
    quiet = replace(plain, operation=replace(plain.operation, checks_per_year=0))
    report = spindown(quiet, asked)
    assert report.sessions_by_share == pytest.approx(
        report.table.found.scenario.usage.sessions_per_day
    )
    present = report.table.present.data.spinning_h_per_day
    assert present == pytest.approx(0.25 * 24)
    hours = [
        row.data.spinning_h_per_day
        for row in report.table.rows
        if row.policy.write_mode == present_mode(report) and row.policy.timeout_min
    ]
    assert hours == sorted(hours)


def present_mode(report):
    return report.table.present.policy.write_mode
