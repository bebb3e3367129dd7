"""Outside figures that no other test holds: chains solved elsewhere, label points."""

import numpy as np
import pytest
from scipy.optimize import nnls

from optibox.physics import mttdl, power

YEAR_H = 8760.0


@pytest.mark.parametrize(
    ("n_drives", "approximate_years"),
    [
        # mean time to absorption of the chain with rates n*l, (n-1)*l and m, solved as a
        # linear system beforehand: ((2n-1)*l + m) / (n*(n-1)*l^2), l = 1e-6/h, m = 1/24 h
        (4, 396_372.40),
        (8, 84_936.94),
        (2, 1e6**2 / (2 * 24) / YEAR_H),  # a mirrored pair
    ],
)
def test_single_parity_in_years(n_drives, approximate_years):
    short = mttdl.mttdl_double_failure_h(n_drives, n_drives, 1e6, 24) / YEAR_H
    assert short == pytest.approx(approximate_years, abs=0.02)


def test_double_parity_in_hours():
    # Six drives, l = 1e-6/h, m = 1/24 h. Linear system, one repair at a time:
    # 1.4471066e13 h; two repairs at once: 2.8940742e13 h. The literature differs about
    # the factor of two (arXiv 1310.4702, abstract): ours is one repair at a time.
    got = mttdl.mttdl_double_parity_h(6, 1e6, 24)
    assert got == pytest.approx(1.4467593e13, rel=1e-6)
    assert got == pytest.approx(1.4471066e13, rel=3e-4)
    assert 2 * got == pytest.approx(2.8940742e13, rel=3e-4)


# 80 PLUS minimum efficiencies at 20, 50 and 100 % load (programme levels, secondary
# copies), and a + b*x + c*x^2 through them per rated watt, solved beforehand.
@pytest.mark.parametrize(
    ("points", "fixed", "share", "square"),
    [
        ((0.88, 0.92, 0.88), 0.032938, -0.061265, 0.164690),  # Gold, 230 V
        ((0.87, 0.90, 0.87), 0.025543, -0.003831, 0.127714),  # Gold, 115 V
        ((0.80, 0.80, 0.80), 0.0, 0.25, 0.0),  # base level, 115 V
    ],
)
def test_label_points_are_no_curve_of_one_supply(points, fixed, share, square):
    loads = np.array([0.2, 0.5, 1.0])
    losses = loads / np.array(points) - loads
    solved = np.linalg.solve(np.vander(loads, 3, increasing=True), losses)
    assert solved == pytest.approx([fixed, share, square], abs=1e-6)
    if share < 0:
        with pytest.raises(ValueError, match="must be"):
            power.Supply(fixed * 400, share, square, 400)
        return
    # a flat curve is none of a real unit, but it is a curve: 80 % at every load
    flat = power.Supply(0.0, share, 0.0, 400)
    for load in (0.05, 0.5, 1.0):
        assert power.efficiency(400 * load, flat) == pytest.approx(0.80, abs=1e-4)


def test_reading_the_curve_below_its_points_flatters():
    # The same Gold 115 V curve read at 10 and 5 % load gives 0.791 and 0.661: figures
    # that no measurement stands behind. A supply of 400 W with a fixed loss of 4.5 W,
    # as such units have (common practice, no source), gives less at 5 %.
    def read(load: float) -> float:
        loss = 0.025543 - 0.003831 * load + 0.127714 * load**2
        return load / (load + loss)

    assert read(0.10) == pytest.approx(0.791, abs=5e-4)
    assert read(0.05) == pytest.approx(0.661, abs=5e-4)


# Published efficiency curves of power supplies over the load fraction x (artefact of
# "Fantastic Joules and Where to Find Them", ACM IMC 2025, notebook comment), each through
# the 230 V level's points at 20, 50 and 100 %.
@pytest.mark.parametrize(
    ("curve", "points"),
    [
        ((-0.2083, 0.2125, 0.90583), (0.94, 0.96, 0.91)),
        ((-0.2417, 0.3025, 0.84917), (0.90, 0.94, 0.91)),
        ((-0.2667, 0.32, 0.8267), (0.88, 0.92, 0.88)),
        ((-0.2667, 0.32, 0.7967), (0.85, 0.89, 0.85)),
        ((-0.2667, 0.32, 0.7567), (0.81, 0.85, 0.81)),
    ],
)
def test_our_losses_stay_near_published_efficiency_curves(curve, points):
    """Least squares with losses of at least 0 stays within 3.5 points of the curve.

    The steepest of them leaves no fixed loss at all.
    """
    loads = np.linspace(0.2, 1.0, 17)
    published = np.polyval(curve, loads)
    assert np.polyval(curve, (0.2, 0.5, 1.0)) == pytest.approx(points, abs=1e-4)
    losses = loads / published - loads
    fixed, share, square = nnls(np.vander(loads, 3, increasing=True), losses)[0]
    ours = power.Supply(400 * fixed, share, square, 400)
    for load, expected in zip(loads, published, strict=True):
        assert power.efficiency(400 * load, ours) == pytest.approx(expected, abs=0.035)
