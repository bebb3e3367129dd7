"""The supply's loss curve against a published model, and spin-up by enumeration."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import inverter

from optibox.physics import power

supplies = st.builds(
    power.Supply,
    loss_fixed_w=st.floats(0.5, 10),
    loss_share=st.floats(0, 0.2),
    loss_square=st.floats(0, 0.3),
    rated_w=st.floats(60, 1000),
)
loads_w = st.floats(0, 1000)


# PVWatts loses the same three terms (A. P. Dobos, NREL/TP-6A20-62641, 2014,
# doi:10.2172/1158421; pvlib.inverter.pvwatts), with the quadratic in *input* power:
# loss/P0 = 0.0059 k + (1 - 0.9858 k) z + 0.0162 k z^2, k = 0.96/0.9637.
# Its input is the wall here, so its loss, added once more to its input taken as a
# load, checks the three terms one by one.
K = 0.96 / 0.9637
PVWATTS = power.Supply(5.9 * K, 1.0 - 0.9858 * K, 0.0162 * K, 1000.0)


@pytest.mark.parametrize("load_w", [50.0, 100.0, 200.0, 500.0, 1000.0])
def test_loss_has_the_published_shape(load_w):
    published_loss_w = load_w - inverter.pvwatts(load_w, 1000.0, 0.96)
    loss_w = power.wall_w(load_w, PVWATTS) - load_w
    assert loss_w == pytest.approx(published_loss_w, abs=1e-9)


@pytest.mark.parametrize(
    ("load_w", "loss_w"),
    [(50, 6.81693), (100, 7.83721), (200, 10.11983), (500, 18.90422), (1000, 40.0)],
)
def test_loss_in_figures(load_w, loss_w):
    # The same model's output, written down once.
    assert power.wall_w(load_w, PVWATTS) - load_w == pytest.approx(loss_w, abs=1e-5)


@given(supplies, loads_w, loads_w)
@settings(deadline=None)
def test_wall_rises_faster_than_the_load(supply, one_w, other_w):
    low, high = sorted((one_w, other_w))
    rise = power.wall_w(high, supply) - power.wall_w(low, supply)
    assert rise >= (high - low) * (1 - 1e-9) - 1e-9


@given(supplies, loads_w, loads_w, st.floats(0, 1))
@settings(deadline=None)
def test_wall_is_convex(supply, one_w, other_w, share):
    between = power.wall_w(share * one_w + (1 - share) * other_w, supply)
    chord = share * power.wall_w(one_w, supply)
    chord += (1 - share) * power.wall_w(other_w, supply)
    assert between <= chord + 1e-9 * (1 + chord)


@given(supplies, loads_w)
@settings(deadline=None)
def test_dc_from_wall_is_the_inverse(supply, dc_w):
    back = power.dc_from_wall(power.wall_w(dc_w, supply), supply)
    assert back == pytest.approx(dc_w, rel=1e-9, abs=1e-9)


@given(supplies, loads_w, loads_w)
@settings(deadline=None)
def test_tangents_touch_from_below(supply, at_w, other_w):
    slope, intercept = power.tangent(at_w, supply)
    wall_at, wall_other = power.wall_w(at_w, supply), power.wall_w(other_w, supply)
    assert slope * at_w + intercept == pytest.approx(wall_at)
    assert slope * other_w + intercept <= wall_other + 1e-9 * (1 + wall_other)


@given(supplies, st.floats(1, 900))
@settings(deadline=None)
def test_marginal_factor_is_the_slope(supply, dc_w):
    rise = power.wall_w(dc_w + 0.5, supply) - power.wall_w(dc_w - 0.5, supply)
    assert power.marginal_factor(dc_w, supply) == pytest.approx(rise)


def test_reading_below_the_idle_loss_is_refused():
    with pytest.raises(ValueError, match="below the supply's loss"):
        power.dc_from_wall(3.0, power.Supply(4.0, 0.05, 0.1, 400.0))


@pytest.mark.parametrize(
    "figures", [(-1, 0, 0, 400), (1, -0.1, 0, 400), (1, 0, -0.1, 400), (1, 0, 0, 0)]
)
def test_curves_that_fall_are_refused(figures):
    with pytest.raises(ValueError, match="must be"):
        power.Supply(*figures)


# Three-term curve through the 230 V "Platinum" points 90/94/91 % at 20/50/100 % load
# (80 PLUS programme levels, read in secondary copies) by solving the three equations.
def test_curve_through_published_label_points():
    loads = np.array([0.2, 0.5, 1.0])
    losses = loads / np.array([0.90, 0.94, 0.91]) - loads
    fixed, share, square = np.linalg.solve(np.vander(loads, 3, increasing=True), losses)
    # The trap: such a solution has a negative proportional term, and no supply has.
    with pytest.raises(ValueError, match="must be"):
        power.Supply(fixed * 500, share, square, 500)


def test_efficiency_peaks_where_fixed_and_square_loss_are_equal():
    # d/dw of a/w + c*w/rated is nothing at w = sqrt(a*rated/c), by hand
    supply = power.Supply(4.0, 0.05, 0.1, 400.0)
    best = max(range(1, 401), key=lambda load_w: power.efficiency(load_w, supply))
    assert abs(best - (4.0 * 400.0 / 0.1) ** 0.5) <= 1
    assert power.efficiency(0.0, supply) == 0.0


def test_a_wall_difference_is_not_divided_by_the_efficiency():
    # Taking out a 5 W part at 20 W: the plug-in meter falls by about 5.3 W, not 6.5 W.
    supply = power.Supply(4.0, 0.05, 0.1, 400.0)
    fall_w = power.wall_w(20.0, supply) - power.wall_w(15.0, supply)
    part_w = fall_w / power.marginal_factor(17.5, supply)
    assert part_w == pytest.approx(5.0)
    assert fall_w * power.efficiency(20.0, supply) < 4.5


def worst_by_trying(base_a, spin_a, run_a, group):
    return max(
        base_a + sum(spin_a[i] if i in up else run_a[i] for i in range(len(run_a)))
        for up in combinations(range(len(run_a)), group)
    )


@given(
    st.lists(st.tuples(st.floats(1, 3), st.floats(0.2, 0.9)), min_size=1, max_size=6),
    st.data(),
)
@settings(deadline=None)
def test_worst_rail_against_every_group(amps, data):
    spin_a, run_a = [a for a, _ in amps], [a for _, a in amps]
    group = data.draw(st.integers(0, len(amps)))
    got = power.worst_rail_a(2.0, spin_a, run_a, group)
    assert got == pytest.approx(worst_by_trying(2.0, spin_a, run_a, group))


def test_rail_figures_of_equal_drives():
    # I = I_base + g I_spin + (n - g) I_run; 2.0 A and 0.4 A: common practice.
    got = power.worst_rail_a(3.0, [2.0] * 8, [0.4] * 8, 3)
    assert got == pytest.approx(3 + 3 * 2.0 + 5 * 0.4)
    assert power.worst_rail_a(3.0, [2.0] * 8, [0.4] * 8, 99) == pytest.approx(19)
