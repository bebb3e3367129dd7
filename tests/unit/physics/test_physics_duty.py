"""Spinning, waking and waiting against simulation, published figures and brute force."""

import math
import random
from itertools import pairwise

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.physics import breakeven, duty

# --- plain Poisson accesses ----------------------------------------------------
# Renewal-reward with timeout tau: asleep exp(-lambda tau), wakes lambda exp(-lambda
# tau); the figures are that formula's, checked once by a Monte-Carlo run.


def test_one_access_an_hour_and_a_quarter_of_an_hour():
    hourly = duty.Sessions(1.0)
    assert 1 - duty.spinning_share(hourly, 0.25) == pytest.approx(0.778801, abs=1e-6)
    assert 24 * duty.wakes_per_hour(hourly, 0.25) == pytest.approx(18.6912, abs=1e-4)


@given(st.floats(0.001, 10), st.floats(0, 4), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@settings(deadline=None)
def test_poisson_cost_is_monotone_in_the_timeout(per_hour, timeout_h, power, price):
    # Cost is linear in exp(-lambda tau), so no timeout beats both 0 and never.
    sessions = duty.Sessions(per_hour)

    def cost(tau_h):
        spun = power * duty.spinning_share(sessions, tau_h)
        return spun + price * duty.wakes_per_hour(sessions, tau_h)

    assert cost(timeout_h) >= min(cost(0.0), cost(math.inf)) - 1e-12


# --- sessions against a simulation ---------------------------------------------


class Drive:
    """A drive that stops a timeout after the end of its last access."""

    def __init__(self, env, timeout_h):
        self.env, self.timeout_h = env, timeout_h
        self.busy, self.spinning, self.use = 0, False, 0
        self.since, self.spun_h, self.wakes = 0.0, 0.0, 0

    def access(self, service_h):
        if not self.spinning:
            self.spinning, self.since = True, self.env.now
            self.wakes += 1
        self.busy += 1
        yield self.env.timeout(service_h)
        self.busy -= 1
        self.use += 1
        mine = self.use
        yield self.env.timeout(self.timeout_h)
        if self.busy == 0 and self.use == mine and self.spinning:
            self.spinning = False
            self.spun_h += self.env.now - self.since


def simulated(sessions, timeout_h, hours, seed):
    """Return share spinning and wakes an hour by discrete events (simpy)."""
    env, chance = simpy.Environment(), random.Random(seed)
    drive = Drive(env, timeout_h)

    def session():
        for turn in range(int(sessions.accesses)):
            if turn:
                yield env.timeout(sessions.gap_h)
            env.process(drive.access(sessions.service_h))
        yield env.timeout(0)

    def people():
        while True:
            yield env.timeout(chance.expovariate(sessions.per_hour))
            env.process(session())

    env.process(people())
    env.run(until=hours)
    spun_h = drive.spun_h + (hours - drive.since if drive.spinning else 0.0)
    return spun_h / hours, drive.wakes / hours


@pytest.mark.parametrize(
    ("sessions", "timeout_h"),
    [
        (duty.Sessions(0.5), 0.5),
        (duty.Sessions(0.2, 4, 0.3, 0.05), 0.5),  # the timeout bridges the gaps
        (duty.Sessions(0.2, 4, 0.6, 0.05), 0.25),  # each access its own stretch
        (duty.Sessions(1.0, 2, 0.4, 0.1), 0.1),
    ],
)
def test_sessions_against_discrete_events(sessions, timeout_h):
    # Discrete-event simulation with simpy, seeded, 60 000 sessions.
    hours = 60_000 / sessions.per_hour
    share, wakes = simulated(sessions, timeout_h, hours, seed=20)
    assert duty.spinning_share(sessions, timeout_h) == pytest.approx(share, rel=0.01)
    assert duty.wakes_per_hour(sessions, timeout_h) == pytest.approx(wakes, rel=0.01)


# --- limits ---------------------------------------------------------------------


def test_never_sleeping():
    for sessions in (duty.Sessions(0.0), duty.Sessions(0.3, 4, 0.2, 0.1)):
        assert duty.spinning_share(sessions, math.inf) == 1.0
        assert duty.wakes_per_hour(sessions, math.inf) == 0.0
    assert duty.awake_stretch(duty.Sessions(1.0), math.inf) == (math.inf, 1.0)


def test_nobody_comes():
    assert duty.spinning_share(duty.Sessions(0.0), 0.5) == 0.0
    assert duty.wakes_per_hour(duty.Sessions(0.0), 0.5) == 0.0


def test_both_forms_of_the_stretch_meet_at_the_gap():
    sessions = duty.Sessions(0.1, 5, 0.5, 0.125)
    bridged, one = duty.awake_stretch(sessions, 0.375)
    split, many = duty.awake_stretch(sessions, 0.375 - 1e-12)
    assert bridged == pytest.approx(split)
    assert (one, many) == (1, 5)


@given(st.floats(0, 2), st.integers(1, 6), st.floats(0, 1), st.floats(0, 1))
@settings(deadline=None)
def test_a_longer_timeout_spins_more_and_wakes_less(per_hour, k, gap_h, service_h):
    sessions = duty.Sessions(per_hour, k, gap_h, service_h)
    timeouts = [0.0, 0.1, 0.3, 0.7, 2.0, math.inf]
    shares = [duty.spinning_share(sessions, t) for t in timeouts]
    wakes = [duty.wakes_per_hour(sessions, t) for t in timeouts]
    assert shares == sorted(shares)
    assert all(a >= b - 1e-12 for a, b in pairwise(wakes))


@pytest.mark.parametrize("figures", [(-1, 1, 0, 0), (1, 0, 0, 0), (1, 1, -1, 0)])
def test_impossible_sessions_are_refused(figures):
    with pytest.raises(ValueError, match="at least one access"):
        duty.Sessions(*figures)


def test_waiting():
    # 8 s to spin up, 6 drives, 4 at a time: two turns.
    assert duty.wake_wait_s(8.0, 6, 4) == 16.0
    assert duty.wake_wait_s(8.0, 4, 4) == 8.0
    assert duty.wake_wait_s(8.0, 0, 4) == 0.0
    assert duty.wait_hours_per_year(3600, 10) == pytest.approx(10)


# --- break-even ------------------------------------------------------------------
# 15 000 rpm 36 GB server disk: idle 10.2 W, standby 2.5 W (Deng, ACM Computing Surveys
# 43(3) article 23, 2011, as quoted by an open simulator); spin-up 10.9 s / 135 J and
# spin-down 1.5 s / 13 J from memory.
SERVER_DISK = breakeven.Transition(135.0, 10.9, 13.0, 1.5)


def test_break_even_of_a_server_disk():
    gap_s = breakeven.break_even_up_only_s(10.2, 2.5, SERVER_DISK)
    assert gap_s == pytest.approx(17.532, abs=5e-4)
    assert breakeven.break_even_up_only_s(2.5, 2.5, SERVER_DISK) == math.inf
