"""Beliefs, errors and gains against closed forms and general-purpose libraries."""

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.stats

from optibox.catalog.columns import Figure
from optibox.measure.decisions import Decision, with_values
from optibox.measure.factors import fit_factors
from optibox.measure.power_fit import fit_power
from optibox.measure.rates import judge
from optibox.measure.read import readings_of
from optibox.measure.records import Meter, TransferReading
from optibox.measure.unknowns import Unknown, columns, unknowns_of
from optibox.measure.worth import (
    Belief,
    gain_of,
    is_open,
    open_stake,
    resolved,
    stake,
    worth,
)
from tests.unit.measure.machines import LOSSLESS, build, machine, parts

A, B, C = (
    Unknown(key=key, aspect="idle", label=key, count=1, figure=Figure(mid, mid, mid))
    for key, mid in (("a", 2.0), ("b", 3.0), ("c", 5.0))
)


def belief(*spreads, means=(2.0, 3.0, 5.0)):
    return Belief(
        unknowns=(A, B, C),
        means=np.array(means),
        covariance=np.diag(np.array(spreads) ** 2),
    )


def decision(gain, **slopes):
    by_name = {"a": A, "b": B, "c": C}
    found = {by_name[name]: slope for name, slope in slopes.items()}
    return Decision(keep="", change="", gain=gain, slopes=found, build=None)


# --- beliefs -------------------------------------------------------------------------
def test_readings_narrow_as_precisions_add():
    """The information form: the inverse covariance grows by row' row / error^2."""
    before = belief(0.5, 1.0, 2.0)
    rows = np.array([[1.0, 1.0, 0.0], [0.0, 2.0, -1.0]])
    errors = np.array([0.3, 0.4])
    after = before.after(rows, errors)
    information = np.linalg.inv(before.covariance)
    information += (rows / errors[:, None]).T @ (rows / errors[:, None])
    assert after.covariance == pytest.approx(np.linalg.inv(information))
    assert after.means == pytest.approx(before.means)
    row = np.array([1.0, -1.0, 0.5])
    assert before.spread_w(row) == pytest.approx(math.sqrt(0.25 + 1.0 + 1.0))


def test_a_gain_follows_the_watts():
    one = decision(10.0, a=4.0, c=-2.0)
    assert gain_of(one, belief(1, 1, 1)) == pytest.approx(10.0)
    moved = belief(1, 1, 1, means=(2.5, 9.0, 6.0))
    assert gain_of(one, moved) == pytest.approx(10.0 + 4 * 0.5 - 2 * 1.0)


@pytest.mark.parametrize("gain", [-3.0, 0.0, 0.8, 6.0])
def test_what_a_reading_is_worth_by_integration(gain):
    """Mean of the better act with the reading less the better of the means without."""
    before, after = belief(1.0, 0.5, 0.1), belief(0.6, 0.5, 0.1)
    spread = math.sqrt(16 * 1.0 - 16 * 0.36)
    normal = scipy.stats.norm(gain, spread)
    mean, _ = scipy.integrate.quad(lambda x: x * normal.pdf(x), 0, gain + 12 * spread)
    found = worth(decision(gain, a=4.0), before, after)
    assert found == pytest.approx(mean - max(0.0, gain), abs=1e-7)
    whole = scipy.stats.norm(gain, 4.0)
    mean, _ = scipy.integrate.quad(lambda x: x * whole.pdf(x), 0, gain + 12 * 4.0)
    expected = mean - max(0.0, gain)
    assert stake(decision(gain, a=4.0), before) == pytest.approx(expected, abs=1e-7)
    assert worth(decision(gain, b=4.0), before, after) == 0.0


@pytest.mark.parametrize(
    ("gain", "expected"), [(7.83, True), (-7.83, True), (7.85, False), (-7.85, False)]
)
def test_a_decision_is_open_within_95_percent(gain, expected):
    """1.96 times four units of money a watt, known to one watt: 7.84."""
    assert is_open(decision(gain, a=4.0), belief(1, 1, 1)) == expected


def test_open_decisions_settle_by_the_variance_that_goes():
    before, after = belief(1.0, 1.0, 1.0), belief(0.6, 1.0, 1.0)
    ready = decision(1.0, a=4.0)  # 1 - 0.36 of its variance goes
    other = decision(2.0, a=3.0, b=4.0)  # 9 * 0.64 of 25
    shut = decision(50.0, a=4.0)
    expected = stake(ready, before) * 0.64 + stake(other, before) * 9 * 0.64 / 25
    assert resolved([ready, other, shut], before, after) == pytest.approx(expected)
    both = stake(ready, before) + stake(other, before)
    assert open_stake([ready, other, shut], before) == pytest.approx(both)


# --- measured watts in a build -------------------------------------------------------
def test_measured_watts_go_to_their_part_and_no_other():
    made = build(parts())
    found = unknowns_of(machine(parts(ctl={"blocks_deep_idle": "yes"})))
    by_name = {(u.key, u.aspect): u for u in found}

    def changed(*names, watts=9.0):
        then = with_values(made, {by_name[name]: watts for name in names})
        return {e.item.key: e.item.part for e in then.items}

    now = {e.item.key: e.item.part for e in made.items}
    for name in (("net", "idle"), ("hdd", "standby"), ("", "deep idle")):
        then = changed(name)
        touched = {key for key in now if now[key] != then[key]}
        assert touched == {name[0] or "board"}
    # what work adds stays: 5 - 3 on 9
    net = changed(("net", "idle"))["net"]
    assert (net.idle_w.mid, net.active_w.mid) == (9.0, 11.0)
    net = changed(("net", "at work"), watts=4.0)["net"]
    assert (net.idle_w.mid, net.active_w.mid) == (3.0, 7.0)
    drive = changed(("hdd", "standby"), watts=0.8)["hdd"]
    assert (drive.standby_w.mid, drive.idle_w.mid) == (0.8, 4.0)
    board = changed(("", "deep idle"), watts=1.5)["board"]
    assert (board.deep_idle_loss_w.mid, board.idle_w.mid) == (1.5, 8.0)


# --- errors of readings --------------------------------------------------------------
def power(row, header="watts"):
    found = readings_of("r.csv", f"state,{header}\n{row}\n", build(), Meter())
    return found.power, found.faults


STEP = 0.1 / math.sqrt(12)


@pytest.mark.parametrize(
    ("header", "row", "watts", "error"),
    [
        ("watts", "spinning,50", 50.0, math.hypot(STEP, 0.3)),
        ("watts,repeats", "spinning,50,4", 50.0, math.hypot(STEP, 0.15)),
        ("watts,meter_error_w", "spinning,50,0.6", 50.0, 0.6),
        ("watts,repeats,meter_error_w", "spinning,50,9,0.6", 50.0, 0.2),
        # a counter of tenths: two ends, each within a step of 100 Wh, over 24 h
        (
            "kwh,hours",
            "spinning,1.2,24",
            50.0,
            math.hypot(0.3, 100 / 24 / math.sqrt(6)),
        ),
        (
            "kwh,hours,repeats,meter_error_w",
            "spinning,1.20,24,4,0.6",
            50.0,
            math.hypot(0.3, 10 / 24 / math.sqrt(6)),
        ),
    ],
)
def test_errors_of_a_reading(header, row, watts, error):
    [found], faults = power(row, header)
    assert not faults
    assert found.watts == pytest.approx(watts)
    assert found.error_w == pytest.approx(error)


@pytest.mark.parametrize(
    ("header", "row", "field"),
    [
        ("watts,kwh,hours", "spinning,50,1.2,24", "kwh"),
        ("kwh", "spinning,1.2", "hours"),
        ("watts,repeats", "spinning,50,0", "repeats"),
        ("watts,repeats", "spinning,50,1.5", "repeats"),
    ],
)
def test_readings_that_say_too_much_or_too_little(header, row, field):
    found, faults = power(row, header)
    assert not found
    assert [fault.field for fault in faults] == [field]


@pytest.mark.parametrize(
    ("fill", "remedy"),
    [
        ("1", None),
        ("1.01", "Write it as a share: 0.0101."),
        ("50", "Write it as a share: 0.5."),
        ("100", "Write it as a share: 1."),
        ("101", "Correct the cell."),
    ],
)
def test_a_fill_in_per_cent_is_told_as_a_share(fill, remedy):
    text = f"operation,size_gb,mb_s,fill,target\nread,40,180,{fill},data-1\n"
    found = readings_of("r.csv", text, build(), Meter())
    assert [fault.remedy for fault in found.faults] == ([remedy] if remedy else [])
    assert len(found.transfers) == (remedy is None)


# --- fits ----------------------------------------------------------------------------
SESSION = """fitted,removed,state,watts
all,,spinning,50
,hdd,spinning,45.6
,ssd,spinning,45.1
,net,spinning,42.2
all,,spinning,53
,net,spinning,47
all,,spinning,49.9
"""


def session(found=None, text=SESSION):
    made = machine(found or parts(supply=LOSSLESS))
    readings = readings_of("r.csv", text, made.build, Meter())
    assert not readings.faults
    return made, readings.power, fit_power(made, readings.power)


def whitened(made, readings, unknowns):
    """Return rows and values in standard errors, with a column for drift of 0.5 W."""
    rows = np.array([columns(made, unknowns, r.situation) for r in readings])
    minutes = np.array([r.minute for r in readings], float)
    drift = (minutes - minutes.min()) / np.ptp(minutes)
    errors = np.array([r.error_w for r in readings])
    whole = np.column_stack([rows, drift]) / errors[:, None]
    last = np.zeros((1, whole.shape[1]))
    last[0, -1] = 1 / 0.5
    values = np.array([r.watts for r in readings]) / errors
    return np.vstack([whole, last]), np.append(values, 0.0)


def test_an_interval_by_the_normal_equations():
    """Weighted least squares with drift within half a watt, scaled by the scatter."""
    made, readings, fit = session()
    unknowns = unknowns_of(made)
    rows, values = whitened(made, readings, unknowns)
    inverse = np.linalg.pinv(rows.T @ rows, rcond=1e-10)
    free = inverse @ rows.T @ values
    residuals = values - rows @ free
    spare = len(rows) - np.linalg.matrix_rank(rows)
    chi2 = float(residuals @ residuals)
    assert chi2 > scipy.stats.chi2.ppf(0.95, spare)
    assert fit.scale == pytest.approx(math.sqrt(chi2 / spare))
    place = [(u.key, u.aspect) for u in unknowns].index(("net", "idle"))
    [net] = [
        f for u, f in fit.by_unknown.items() if (u.key, u.aspect) == ("net", "idle")
    ]
    assert net.measured.value == pytest.approx(free[place])
    half = 1.96 * fit.scale * math.sqrt(inverse[place, place])
    assert net.measured.half == pytest.approx(half, rel=1e-4)
    # the hat matrix says how far each reading determines its own fit
    hat = np.diag(rows @ inverse @ rows.T)
    off = residuals / np.sqrt(np.maximum(1e-12, 1 - hat))
    expected = {
        r.line: o
        for r, o, h in zip(readings, off[:-1], hat[:-1], strict=True)
        if abs(o) > 3.5 and h < 1 - 1e-6
    }
    assert expected
    assert {o.line: o.errors_off for o in fit.outliers} == pytest.approx(expected)


def test_an_exact_supply_adds_no_doubt_and_none_at_all_neither():
    without = {key: part for key, part in parts().items() if key != "supply"}
    _, _, lossless = session()
    _, _, bare = session(without)
    halves = [
        sorted(f.measured.half for f in fit.found if f.measured)
        for fit in (lossless, bare)
    ]
    assert halves[0] == pytest.approx(halves[1])


# --- factors -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("inside", "ratio"),
    [(180.0, None), (112.0, math.sqrt(1 - (1 - (112 / 180) ** 2) / 0.9))],
)
def test_a_drive_that_does_not_slow_down_has_no_inner_rate(inside, ratio):
    """v(x)^2 falls in a straight line from v_o^2: what 0.9 of it lost, over 0.9."""
    given = {"way": "local", "size_gb": 40.0, "is_synced": True, "target": "data-1"}
    tests = [
        TransferReading(operation="read", mb_s=180.0, line=2, **given),
        TransferReading(operation="read", mb_s=inside, line=3, fill=0.9, **given),
    ]
    made = machine()
    found = {f.name: f.value for f in fit_factors(made, judge(made, tests))}
    assert found.get("inner_ratio") == (ratio and pytest.approx(ratio))
