"""What wall readings say: through the supply, by state, with drift and outliers."""

from dataclasses import replace

import numpy as np
import pytest

from optibox.assess import assess
from optibox.errors import InputError
from optibox.measure.power_fit import fit_power, supply_of, wall_of
from optibox.measure.read import readings_of
from optibox.measure.records import Meter, Situation
from optibox.measure.states import state_gaps, unexplained
from optibox.measure.unknowns import columns, unknowns_of
from tests.unit.measure.machines import LOSSLESS, machine, parts

BLOCKERS = {"ctl": {"blocks_deep_idle": "yes"}, "net": {"blocks_deep_idle": "yes"}}
ONE_BY_ONE = """fitted,removed,state,watts
all,,spinning,{}
,,asleep,{}
,hdd,spinning,{}
,ssd,spinning,{}
,net,spinning,{}
,ctl,spinning,{}
all,,spinning,{}
"""


def fitted(made, text, meter=None):
    found = readings_of("r.csv", text, made.build, meter or Meter())
    assert not found.faults
    return fit_power(made, found.power)


def values(fit):
    return {
        (u.key, u.aspect): figure.measured.value for u, figure in fit.by_unknown.items()
    }


def true_watts(made, changes, text):
    """Return the exact wall readings of a session, some figures changed."""
    found = readings_of("r.csv", text.replace("{}", "50"), made.build, Meter())
    unknowns = unknowns_of(made)
    truth = [changes.get((u.key, u.aspect), u.figure.mid) for u in unknowns]
    return [
        wall_of(
            supply_of(made), float(np.dot(columns(made, unknowns, r.situation), truth))
        )
        for r in found.power
    ]


def exactly(made, changes=None, text=ONE_BY_ONE, add=None):
    watts = true_watts(made, changes or {}, text)
    for place, more in (add or {}).items():
        watts[place] += more
    return fitted(made, text.format(*watts))


@pytest.mark.parametrize("blocks", [{}, BLOCKERS])
@pytest.mark.parametrize("state", ["asleep", "spinning", "checking"])
def test_catalog_figures_sum_to_what_the_evaluator_says(state, blocks):
    """The evaluator computes the same states by its own code."""
    made = machine(parts(**blocks))
    unknowns = unknowns_of(made)
    everything = tuple((e.item.key, e.count) for e in made.build.items)
    row = columns(made, unknowns, Situation(fitted=everything, state=state))
    total = float(np.dot(row, [u.figure.mid for u in unknowns]))
    expected = getattr(assess(made.build, made.scenario).wall, f"{state}_w")
    assert wall_of(supply_of(made), total) == pytest.approx(expected)


def test_differences_go_through_the_marginal_factor_and_no_efficiency():
    """A lossy supply: the part's own watts come back, not its share of all losses."""
    made = machine(parts(supply={"loss_fixed_w": 8, "loss_share": 0.2}))
    found = values(exactly(made, {("net", "idle"): 4.5}))
    assert found["net", "idle"] == pytest.approx(4.5, abs=1e-9)


def test_deep_idle_is_seen_where_blockers_come_out_in_turn():
    """With both cards in, with each alone and with none, the loss stands by itself."""
    made = machine(parts(supply=LOSSLESS, **BLOCKERS))
    text = "fitted,state,watts\n" + "".join(
        f"{what},spinning,{{}}\n"
        for what in (
            "all but hdd",
            "all but hdd | net",
            "all but hdd | ctl",
            "all but hdd | net | ctl",
        )
    )
    found = values(exactly(made, {("", "deep idle"): 2.2}, text))
    assert found["", "deep idle"] == pytest.approx(2.2)
    assert found["net", "idle"] == pytest.approx(3.0)


def test_deep_idle_is_not_split_from_the_last_blocker_taken_out():
    made = machine(parts(supply=LOSSLESS, **BLOCKERS))
    fit = exactly(made)
    together = [f for f in fit.found if any(m.aspect == "deep idle" for m in f.members)]
    assert [m.key or m.aspect for m in together[0].members] == ["ctl", "deep idle"]
    assert together[0].measured.value == pytest.approx(2 * 2 + 3)
    gaps = state_gaps(fit)
    assert unexplained(fit, gaps).pattern == "none"


def test_rest_that_is_the_same_in_both_states_is_not_in_the_drives():
    made = machine(parts(supply=LOSSLESS, **BLOCKERS))
    fit = exactly(made, {("board", "idle"): 11.0})
    gaps = state_gaps(fit)
    assert [gap.state for gap in gaps] == ["asleep", "spinning"]
    assert all(gap.is_real and gap.left_w == pytest.approx(3.0) for gap in gaps)
    why = unexplained(fit, gaps)
    assert why.pattern == "not in the drives"
    assert "board" in why.suspects[0].words
    assert why.hidden == ("net", "ctl")


def test_rest_of_one_state_is_in_the_drives_or_rests_with_them():
    made = machine(parts(supply=LOSSLESS))
    fit = exactly(made, {("hdd", "standby"): 1.5})
    assert unexplained(fit, state_gaps(fit)).pattern == "in the drives"


def test_drift_of_the_baseline_is_taken_out_and_said():
    made = machine(parts(supply=LOSSLESS))
    drift = {place: 3.0 * place / 6 for place in range(7)}
    fit = exactly(made, add=drift)
    assert fit.drift.is_real
    assert fit.drift.watts == pytest.approx(3.0)
    assert values(fit)["net", "idle"] == pytest.approx(3.0)
    quiet = exactly(made, add={6: 0.2})
    assert not quiet.drift.is_real


def test_an_outlier_is_named_and_widens_what_is_said():
    made = machine(parts(supply=LOSSLESS))
    text = ONE_BY_ONE + "all,,spinning,{}\nall,,asleep,{}\nall,,spinning,{}\n"
    calm = exactly(made, text=text)
    fit = exactly(made, text=text, add={7: 4.0})
    assert [outlier.line for outlier in fit.outliers][:1] == [9]
    assert not calm.outliers
    assert fit.scale > 1.0
    net = ("net", "idle")
    halves = [
        next(f for u, f in one.by_unknown.items() if (u.key, u.aspect) == net)
        for one in (calm, fit)
    ]
    assert halves[1].measured.half > halves[0].measured.half


def test_negative_watts_become_none_and_are_within_the_interval():
    made = machine(parts(supply=LOSSLESS))
    fit = exactly(made, {("ssd", "idle"): 0.0}, add={3: 0.3, 4: 0.3, 5: 0.3})
    ssd = next(f for u, f in fit.by_unknown.items() if u.key == "ssd")
    assert ssd.measured.value == 0.0
    assert ssd.measured.low == 0.0 < ssd.measured.high


def test_disagreement_with_the_catalog_is_flagged_and_combined_lies_between():
    made = machine(parts(supply=LOSSLESS, net={"idle_w": "2.5..3.5"}))
    fit = exactly(made, {("net", "idle"): 6.0})
    net = next(
        f for u, f in fit.by_unknown.items() if u.key == "net" and u.aspect == "idle"
    )
    assert not net.agrees
    assert 3.0 < fit.combined[net.members[0]].value < net.measured.value


def test_supply_known_within_bounds_widens_all_watts():
    sharp = machine(parts(supply={"loss_share": 0.1}))
    vague = machine(parts(supply={"loss_share": "0.1 [0.02..0.18]"}))
    halves = []
    for made in (sharp, vague):
        fit = exactly(made)
        hdd = next(
            f for u, f in fit.by_unknown.items() if (u.key, u.aspect) == ("hdd", "idle")
        )
        halves.append(hdd.measured.half)
    assert halves[1] > 1.2 * halves[0]


def test_less_than_the_supply_loses_is_no_reading_of_this_build():
    made = machine(parts(supply={"loss_fixed_w": 8}))
    with pytest.raises(InputError) as caught:
        fitted(made, "state,watts\nspinning,5\n")
    (fault,) = caught.value.faults
    assert (fault.line, fault.field, fault.value) == (2, "watts", "5")
    assert "without load, 8 W" in fault.problem


@pytest.mark.parametrize(
    ("plan", "at_work"),
    [
        ({"layout": "striped", "n_parity": 1, "write_mode": "plain"}, (4, 4)),
        ({"layout": "pairs", "n_parity": 0, "write_mode": "plain"}, (1, 2)),
        ({"layout": "striped pairs", "n_parity": 0, "write_mode": "plain"}, (2, 4)),
        ({"write_mode": "reconstruct"}, (1, 4)),
        ({}, (1, 2)),
    ],
)
def test_drives_at_work_are_those_that_the_layout_reaches(plan, at_work):
    """A file's drive or side of a pair reads; with parity, target and parity write."""
    made = machine(parts(), **plan)
    if "layout" in plan:  # members of stripes and pairs are all data drives
        drives = tuple(
            replace(use, role="data") if use.role == "parity" else use
            for use in made.build.drives
        )
        made = replace(made, build=replace(made.build, drives=drives))
    unknowns = unknowns_of(made)
    everything = tuple((e.item.key, e.count) for e in made.build.items)
    place = [(u.key, u.aspect) for u in unknowns].index(("hdd", "at work"))
    for state, expected in zip(("reading", "flushing"), at_work, strict=True):
        row = columns(made, unknowns, Situation(fitted=everything, state=state))
        assert row[place] == pytest.approx(expected)
    forced = Situation(fitted=everything, state="reading", at_work=3, standing=1)
    assert columns(made, unknowns, forced)[place] == pytest.approx(3)
