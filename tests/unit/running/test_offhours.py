"""The machine off outside stated hours: against events, by hand, and its refusals."""

import math
from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.errors import ScenarioError
from optibox.figures.year import day_use, shape_of
from optibox.physics.operation import operating_year
from optibox.running import offhours
from optibox.running.offhours import off_hours_year, off_wall_w
from optibox.running.offhours_week import week_of
from optibox.running.policy import policy_table
from optibox.running.policy_breakeven import factor_at_rest
from optibox.running.policy_cache import with_cache
from optibox.scenario import OffHours, read_scenario
from tests.unit.present.machines import invented, reference_build, scenario
from tests.unit.running.test_operating_year_simulated import (
    CASES,
    YEARS,
    Box,
    Spinner,
)


@pytest.fixture(scope="module")
def build():
    whole = reference_build(
        invented(), cache="none", write_mode="read-modify-write", timeout_min=15
    )
    return with_cache(whole, "none")


NIGHTS = {"from_hour": 23, "to_hour": 7}
WEEKENDS = NIGHTS | {"weekend_too": True}


# --- one kind of day against discrete events ----------------------------------------


class Switched(Spinner):
    """A drive that is cut off from time to time; what ran then ends."""

    epoch = 0

    def cut(self):
        self.epoch += 1
        self.busy = 0
        if self.spins:
            self.spins = False
            self.spun_h += self.env.now - self.since

    def work(self, length_h):
        mine = self.epoch
        steps = super().work(length_h)
        for step in steps:
            yield step
            if self.epoch != mine:
                return


class NightBox(Box):
    """A machine that is off at night: people come by day, as many as ever."""

    def __init__(self, use, shape, times, seed):
        self.first, self.last = use.boot_hours[0], use.boot_hours[0] + 16.0
        super().__init__(use, shape, times, seed)
        for drives, n in ((self.data, shape.n_data), (self.parity, shape.n_parity)):
            drives[:] = [Switched(self.env, shape.timeout_h) for _ in range(n)]
        self.env.process(self.switch())

    def is_open(self):
        return self.first <= self.env.now % 24 < self.last

    def start(self, drives, length_h):
        if self.is_open():
            super().start(drives, length_h)

    def people(self):
        while True:
            yield self.env.timeout(self.chance.expovariate(self.use.sessions_per_h))
            if self.is_open():
                self.env.process(self.session(self.read_by()))

    def switch(self):
        everyone = [*self.data, *self.parity]
        while True:
            yield self.env.timeout((self.first - self.env.now) % 24)
            super().start(everyone, self.use.boot_h)
            yield self.env.timeout(self.last - self.first)
            for drive in everyone:
                drive.cut()


@pytest.mark.parametrize("case", ["read-modify-write", "striped pairs", "cache"])
def test_a_year_of_nights_off_against_discrete_events(case):
    plan, use, times = CASES[case]
    use = replace(
        use,
        sessions_per_h=3 / 16,
        flush_hour=22.0,
        check_hour=8.0,
        open_hours=(0.0,) * 7 + (1.0,) * 16 + (0.0,),
        boot_hours=(7.0,),
        boot_h=0.1,
    )
    found = operating_year(use, plan, times)
    data, parity = NightBox(use, plan, times, seed=5).run()
    assert found.data.spinning_h == pytest.approx(data[0], rel=0.03)
    assert found.data.wakes == pytest.approx(data[1], rel=0.03)
    if plan.n_parity:
        assert found.parity.spinning_h == pytest.approx(parity[0], rel=0.03)
        assert found.parity.wakes == pytest.approx(parity[1], rel=0.03)
    hours = sum(state.hours for state in found.states)
    assert hours == pytest.approx(16 * 365)
    assert YEARS >= 2


# --- a week by hand -------------------------------------------------------------------


def test_hours_off_and_starts(build):
    nights = off_hours_year(build, scenario(off_hours=NIGHTS))
    assert nights.off_h_per_week == 56
    assert nights.boots_per_year == 365
    both = off_hours_year(build, scenario(off_hours=WEEKENDS))
    # five nights from Monday to Friday, and two whole days
    assert both.off_h_per_week == 5 * 8 + 48
    assert both.boots_per_year == pytest.approx(5 / 7 * 365)


def test_the_year_adds_up(build):
    asked = scenario(off_hours=WEEKENDS)
    week = week_of(asked, asked.usage.ingest_hour)
    judged = offhours._judged(build, asked, week, (22.0, 8.0), None)
    hours = {s.name: 0.0 for s in judged.year.states}
    for state in judged.year.states:
        hours[state.name] += state.hours
    starting = hours.pop("booting")
    assert sum(hours.values()) == pytest.approx(8760)
    assert hours["off"] == pytest.approx(88 / 168 * 8760)
    assert starting == pytest.approx(5 / 7 * 365 * 3 / 60)


def test_energy_of_an_idle_machine_by_hand(build):
    # Nobody comes, nothing is taken in, drives never stop: two powers and two times.
    usage = {"sessions_per_day": 0, "ingest_gb_per_day": 0}
    idle = replace(
        build, operation=replace(build.operation, checks_per_year=0, timeout_min=None)
    )
    asked = scenario(usage=usage, off_hours=NIGHTS | {"boot_minutes": 0})
    off = off_hours_year(idle, asked, menu=(None,))
    found = assess(idle, asked)
    board = found.machine.board.off_w.mid + found.machine.supply.off_w.mid
    assert off.off_w == off_wall_w(found.machine) == board
    by_hand = (16 * found.wall.spinning_w + 8 * board) * 365 / 1000
    assert off.rows[0].kwh_per_year == pytest.approx(by_hand + starts_kwh(found))
    # each start counts against the cycle rating
    assert off.rows[0].data.wakes_per_year == 365


def starts_kwh(found):
    """The energy of starting all drives once a day, through the supply."""
    hard = found.machine.in_role("data")[0].part
    joules = 365 * len(found.machine.array) * hard.spin_up_j.mid
    return joules / 3.6e6 * factor_at_rest(found)


def test_suspended_draws_what_the_user_says(build):
    asked = scenario(off_hours=NIGHTS | {"suspend_w": 4.5})
    off = off_hours_year(build, asked)
    assert (off.off_w, off.is_suspended) == (4.5, True)
    plain = off_hours_year(build, scenario(off_hours=NIGHTS))
    more = off.best.kwh_per_year - plain.best.kwh_per_year
    assert more == pytest.approx((4.5 - plain.off_w) * 8 * 365 / 1000)


def test_hours_of_a_tariff_are_those_that_are_off(build):
    # Off by night at the night's price: by hand, on an idle machine.
    usage = {"sessions_per_day": 0, "ingest_gb_per_day": 0}
    idle = replace(
        build, operation=replace(build.operation, checks_per_year=0, timeout_min=None)
    )
    money = {
        "tariff_per_kwh": 0.40,
        "bands": [{"from_hour": 23, "to_hour": 7, "price_per_kwh": 0.20}],
    }
    asked = scenario(usage=usage, money=money, off_hours=NIGHTS | {"boot_minutes": 0})
    off = off_hours_year(idle, asked, menu=(None,))
    found = assess(idle, asked)
    by_hand = (16 * found.wall.spinning_w * 0.40 + 8 * off.off_w * 0.20) * 0.365
    by_hand += starts_kwh(found) * 0.40
    assert off.rows[0].energy_per_year == pytest.approx(by_hand)


def test_off_at_night_saves_energy(build):
    asked = scenario(off_hours=NIGHTS)
    best = policy_table(build, asked).best
    assert off_hours_year(build, asked).best.kwh_per_year < best.kwh_per_year


def test_a_check_that_outlasts_the_day_keeps_the_machine_on(build):
    asked = scenario(off_hours={"from_hour": 18, "to_hour": 14},
                     usage={"ingest_hour": 14})  # fmt: skip
    off = off_hours_year(build, asked)
    assert off.check_h > 4
    week = week_of(asked, 14)
    judged = offhours._judged(build, asked, week, (2.0, off.check_hour), None)
    rows = [s for s in judged.year.states if s.name == "checking"]
    assert sum(s.hours for s in rows) == pytest.approx(4 * off.check_h)
    on = sum(s.hours for s in judged.year.states if s.name not in ("off", "booting"))
    assert on > 4 * 365


# --- refusals -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sections", "words"),
    [
        ({}, "answers at any time"),
        ({"off_hours": NIGHTS, "usage": {"ingest_hour": 2}}, "would find the machine off"),
        (
            {"off_hours": NIGHTS, "usage": {"ingest_hour": 22.9,
                                            "ingest_gb_per_day": 300}},
            "runs into the off hours",
        ),
    ],
)  # fmt: skip
def test_off_hours_that_will_not_do(build, sections, words):
    off = off_hours_year(build, scenario(**sections))
    assert words in off.fault
    assert off.remedy
    assert off.best is None


def test_a_flush_is_moved_or_refused():
    mirrored = reference_build(invented())
    off = off_hours_year(mirrored, scenario(off_hours=NIGHTS))
    assert off.has_flush
    assert 7 <= off.flush_hour < 23
    tight = {"from_hour": 21, "to_hour": 20}
    usage = {"ingest_hour": 20, "ingest_gb_per_day": 400}
    refused = off_hours_year(mirrored, scenario(off_hours=tight, usage=usage))
    assert "fits nowhere" in refused.fault or "runs into" in refused.fault


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("from_hour = 22", "to_hour: is missing"),
        ("from_hour = 22.5\nto_hour = 6", "whole hour"),
        ("from_hour = 6\nto_hour = 6", "no hours between"),
        ("boot_minutes = -1", "boot_minutes"),
    ],
)
def test_faulty_off_hours_of_a_file(tmp_path, keys, words):
    path = tmp_path / "scenario.toml"
    path.write_text(
        f"[needs]\nusable_tb = 4\n[money]\ntariff_per_kwh = 0.3\n[off_hours]\n{keys}\n"
    )
    with pytest.raises(ScenarioError, match=words):
        read_scenario(path)


def test_hours_that_are_off():
    night = OffHours(from_hour=22, to_hour=6, weekend_too=True)
    assert [h for h in range(24) if night.is_off(0, h)] == [*range(6), 22, 23]
    assert all(night.is_off(6, h) for h in range(24))
    noon = OffHours(from_hour=12, to_hour=14)
    assert [h for h in range(24) if noon.is_off(6, h)] == [12, 13]
    assert not any(OffHours().is_off(d, h) for d in range(7) for h in range(24))


def test_always_on_is_what_it_was(build):
    # Open all day and no start: the plain year, to the last digit.
    asked = scenario()
    found = assess(build, asked)
    use = day_use(asked, 2.0, 4.0)
    shape, times = shape_of(found.machine), found.year.transfers
    plain = operating_year(use, shape, times)
    opened = operating_year(replace(use, open_hours=(1.0,) * 24), shape, times)
    assert plain.data == opened.data
    assert math.isclose(
        sum(s.hours for s in plain.states), sum(s.hours for s in opened.states)
    )
