"""Sheets: what is asked for, what is left out, what readings are worth."""

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.stats

from optibox.assess import assess
from optibox.catalog.attachment import Controller, NetworkCard
from optibox.machine import machine_of
from optibox.measure.decisions import Decision, decisions_of
from optibox.measure.design import design
from optibox.measure.effect import rate_shifts
from optibox.measure.factors import FittedFactor
from optibox.measure.records import Meter
from optibox.measure.sheet import sheet_of
from optibox.measure.unknowns import unknowns_of
from optibox.measure.worth import Belief, is_open, prior, resolved, stake, worth
from tests.support.parts import catalog_of, make
from tests.unit.measure.machines import build, machine, parts, scenario

METER = Meter(resolution_w=0.1, repeatability_w=0.3)


def designed(made, minutes, decisions=(), meter=METER):
    return design(made, prior(unknowns_of(made)), meter, minutes, decisions)


def decision(made, gain, slopes):
    by = {(u.key, u.aspect): u for u in unknowns_of(made)}
    return Decision(
        keep="keep",
        change="swap",
        gain=gain,
        slopes={by[name]: slope for name, slope in slopes.items()},
        build=made.build,
    )


def test_readings_keep_to_the_minutes_and_end_as_they_began():
    for minutes in (60, 120, 240, 600):
        found = designed(machine(), minutes)
        assert found.minutes <= minutes
        assert found.minutes == pytest.approx(sum(s.minutes for s in found.steps))
        first, last = found.steps[0].situation, found.steps[-1].situation
        assert first.fitted == last.fitted


def test_an_hour_is_quick_and_says_what_that_costs():
    hour, day = designed(machine(), 60), designed(machine(), 400)
    assert hour.pace.error_factor > 1 == day.pace.error_factor
    assert hour.difference_w == pytest.approx(1.96 * math.sqrt(2) * hour.error_w)
    assert 3 <= len(hour.steps) < len(day.steps)


def test_controllers_come_out_only_after_their_drives():
    found = designed(machine(), 600)
    for step in found.steps:
        if step.situation.count("ctl") == 0:
            assert step.situation.count("hdd") == 0


def test_what_the_meter_cannot_tell_is_left_out_and_named():
    found = designed(machine(), 600, meter=Meter(resolution_w=1, repeatability_w=3))
    assert not any(step.removed for step in found.steps)
    assert {one.label for one in found.left_out} >= {"ssd", "net", "ctl"}
    assert any("tell no more than the catalog" in one.reason for one in found.left_out)


def test_predictions_are_the_evaluators_within_their_tolerance():
    found = designed(machine(), 240)
    rest = [s for s in found.steps if s.purpose == "baseline"]
    assert rest[0].expected_w == pytest.approx(41.8, abs=0.05)  # see the machine
    assert rest[0].tolerance_w > 1.96 * found.error_w


def test_nothing_comes_out_where_no_decision_turns_on_watts():
    made = machine()
    settled = decision(made, -500.0, {("net", "idle"): 10.0})
    found = designed(made, 600, [settled])
    assert found.n_open == 0
    assert not any(step.removed for step in found.steps)
    assert {one.reason for one in found.left_out} == {"no decision can change any more"}


def test_only_what_bears_on_an_open_decision_comes_out():
    made = machine()
    about_net = decision(made, -5.0, {("net", "idle"): 10.0})
    found = designed(made, 600, [about_net])
    assert found.n_open == 1
    removed = {key for step in found.steps for key, _ in step.removed}
    assert removed == {"net"}
    assert 0 < found.worth <= found.at_stake


def test_readings_stop_once_the_decision_cannot_change():
    """A gain four spreads away from zero once the card is known: the rest stays in."""
    made = machine()
    net = next(u for u in unknowns_of(made) if (u.key, u.aspect) == ("net", "idle"))
    gain = -10.0 * net.spread_w * 1.8
    about_net = decision(made, gain, {("net", "idle"): 10.0, ("ctl", "idle"): 0.1})
    found = designed(made, 600, [about_net])
    assert found.n_open == 1
    assert found.n_open_after == 0
    assert {key for step in found.steps for key, _ in step.removed} == {"net"}


@pytest.mark.parametrize("gain", [-3.0, -0.4, 0.0, 2.0])
def test_worth_is_the_expected_gain_of_choosing_after_the_reading(gain):
    """By quadrature: mean of max(0, what one then believes) less max(0, believed now)."""
    made = machine()
    one = decision(made, gain, {("net", "idle"): 4.0})
    before = prior(unknowns_of(made))
    j = [u.key == "net" and u.aspect == "idle" for u in before.unknowns].index(True)
    row, error = np.eye(len(before.unknowns))[j], 0.25
    after = before.after(row[None, :], np.array([error]))
    spread = before.unknowns[j].spread_w
    narrowed = 4.0 * spread * spread / math.hypot(spread, error)

    def then(x):
        return max(0.0, x) * scipy.stats.norm.pdf(x, gain, narrowed)

    mean, _ = scipy.integrate.quad(
        then, gain - 9 * narrowed, gain + 9 * narrowed, points=[0.0], limit=200
    )
    assert worth(one, before, after) == pytest.approx(mean - max(0.0, gain), abs=1e-6)
    assert worth(one, before, after) <= stake(one, before) + 1e-12


def test_belief_narrows_as_a_normal_update_does():
    """Kalman's update in one dimension: precisions add."""
    made = machine()
    before = prior(unknowns_of(made))
    row = np.eye(len(before.unknowns))[0]
    after = before.after(row[None, :], np.array([0.5]))
    old, new = before.covariance[0, 0], after.covariance[0, 0]
    assert 1 / new == pytest.approx(1 / old + 1 / 0.25)


def test_a_settled_belief_leaves_nothing_at_stake():
    made = machine()
    one = decision(made, 1.0, {("net", "idle"): 4.0})
    n = len(unknowns_of(made))
    exact = Belief(
        unknowns=unknowns_of(made), means=np.zeros(n), covariance=np.zeros((n, n))
    )
    assert stake(one, exact) == 0.0
    assert not is_open(one, exact)
    assert resolved([one], exact, exact) == 0.0


def test_decisions_are_those_of_the_evaluator():
    """A frugal card: its price against watts, through the supply, over the years."""
    frugal = make(
        NetworkCard, "frugal", idle_w=1, active_w=3, blocks_deep_idle="no", price=4
    )
    asked = scenario()
    made = build(parts(supply={"loss_share": 0.1, "loss_square": 0, "loss_fixed_w": 3}))
    found = decisions_of(made, asked, catalog_of([frugal]))
    (swap,) = (d for d in found if "frugal" in d.change)
    kwh = 2.0 * 1.1 * 8.76 * 5  # two watts less at the part, five years
    assert swap.gain == pytest.approx(kwh * 0.3 - 4.0, rel=0.01)
    slopes = {(u.key, u.aspect): s for u, s in swap.slopes.items()}
    assert slopes["net", "idle"] == pytest.approx(1.1 * 8.76 * 5 * 0.3, rel=0.01)


def test_cards_that_keep_the_processor_awake_go_together():
    calm = [
        make(NetworkCard, "calm-net", idle_w=3, blocks_deep_idle="no", price=1),
        make(Controller, "calm-ctl", idle_w=2, blocks_deep_idle="no", price=1),
    ]
    made = build(
        parts(ctl={"blocks_deep_idle": "yes"}, net={"blocks_deep_idle": "yes"})
    )
    found = decisions_of(made, scenario(), catalog_of(calm))
    both = next(d for d in found if "calm-net" in d.change and "calm-ctl" in d.change)
    one = next(d for d in found if d.change == "swap net for calm-net")
    assert both.gain > 25 > 0 > one.gain
    assert any(u.aspect == "deep idle" and s > 10 for u, s in both.slopes.items())


def test_swaps_that_would_break_the_machine_are_none():
    small = make(
        Controller, "small", connectors="1 sata", native_ports=1, price=1, idle_w=0.1
    )
    found = decisions_of(build(), scenario(), catalog_of([small]))
    assert not any("small" in d.change for d in found)


def test_sheet_without_scenario_knows_the_parts():
    sheet = sheet_of(build(), METER, 240)
    assert not sheet.decisions
    assert not sheet.design.has_decisions
    assert any(test.operation == "flush" for test in sheet.tests)
    assert sheet_of(
        build(), METER, 240, (scenario(), catalog_of([]))
    ).design.has_decisions


def test_a_machine_without_drives_has_its_sheet():
    made = build()
    bare = machine_of(
        type(made)(
            items=tuple(e for e in made.items if e.item.key != "hdd"),
            drives=tuple(d for d in made.drives if d.key != "hdd"),
            connections=(),
            slots=made.slots,
            operation=made.operation,
        ),
        scenario(),
    )
    found = designed(bare, 240)
    assert {step.situation.state for step in found.steps} == {"spinning"}


def test_measured_rates_shift_the_gain_of_the_other_write_mode():
    """By the evaluator itself: both machines judged with the factor put in."""
    made, asked = build(cache="none"), scenario()
    (mode,) = (
        d for d in decisions_of(made, asked, catalog_of([])) if "mode" in d.change
    )
    factor = FittedFactor(
        key="",
        name="reconstruct",
        value=0.9,
        low=0.88,
        high=0.92,
        figure=asked.overrides.reconstruct,
        lines=(2,),
    )
    (shift,) = rate_shifts(made, asked, [mode], [factor])
    other = scenario(overrides={"reconstruct": "0.9 [0.88..0.92]"})
    costs = [
        assess(b, s).cost.energy + assess(b, s).cost.wear + assess(b, s).cost.cache_wear
        for s in (asked, other)
        for b in (made, mode.build)
    ]
    assert mode.gain == pytest.approx(costs[0] - costs[1])
    assert shift == pytest.approx((costs[2] - costs[3]) - (costs[0] - costs[1]))
    assert shift > 0, "the faster write mode works for fewer hours"
