"""Counters at two dates: what they say about usage, and what they cannot."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from optibox.assess import assess
from optibox.errors import InputError
from optibox.running.counters import (
    counted,
    poisson_interval,
    power_on_meaning,
    with_sessions,
)
from optibox.running.counters_read import Change, read_changes
from optibox.running.policy_cache import with_cache
from tests.unit.present.machines import invented, reference_build, scenario


@pytest.fixture(scope="module")
def build():
    whole = reference_build(
        invented(), cache="none", write_mode="read-modify-write", timeout_min=15
    )
    return with_cache(whole, "none")


DRIVES = ("data-1", "data-2", "data-3")


def year_of_counters(found, *, power_on_h=8760.0, boots=0.0, kwh=None):
    """Counters as they would grow in a year of a machine's own figures."""
    wakes = found.year.operating.data.wakes
    counts = {"starts": wakes + boots, "power_on_h": power_on_h, "power_cycles": boots}
    changes = [Change(drive=name, hours=8760.0, counts=counts) for name in DRIVES]
    if kwh is not None:
        meter = {"meter_kwh": kwh}
        changes.append(Change(drive="", hours=8760.0, counts=meter))
    return tuple(changes)


# --- the interval ------------------------------------------------------------------


@pytest.mark.parametrize("count", [0, 1, 2, 5, 17, 100, 2_500])
def test_poisson_interval_against_chi_squared(count):
    # The exact interval of a Poisson mean (Garwood), by scipy's quantiles.
    low, high = poisson_interval(count)
    assert high == pytest.approx(chi2.ppf(0.975, 2 * count + 2) / 2, rel=0.02)
    exact = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    assert low == pytest.approx(exact, rel=0.02, abs=0.02)


# --- the fit -----------------------------------------------------------------------


@given(st.floats(0.3, 12.0))
@settings(deadline=None, max_examples=6)
def test_sessions_come_back_from_the_wakes_they_cause(build, visits):
    asked = scenario()
    found = assess(build, with_sessions(asked, visits))
    got = counted(build, asked, year_of_counters(found, kwh=found.year.kwh), "c")
    assert got.sessions_per_day.mid == pytest.approx(visits, rel=1e-6)
    assert got.sessions_per_day.low <= visits <= got.sessions_per_day.high
    assert got.kwh_misfit_fraction == pytest.approx(0.0, abs=1e-9)
    spun = found.year.operating.data.spinning_h / 365
    for drive in got.drives:
        hours = drive.spinning_h_per_day
        assert hours.low <= spun <= hours.high
        assert hours.mid == pytest.approx(spun)


def test_boots_are_no_wakes(build):
    found = assess(build, scenario())
    plain = counted(build, scenario(), year_of_counters(found), "c")
    booted = counted(build, scenario(), year_of_counters(found, boots=40), "c")
    assert booted.sessions_per_day == plain.sessions_per_day
    assert booted.drives[0].n_wakes == pytest.approx(plain.drives[0].n_wakes)


def test_more_wakes_than_sessions_can_cause(build):
    starts = {"starts": 80_000.0}
    got = counted(
        build, scenario(), (Change(drive="data-1", hours=8760.0, counts=starts),), "c"
    )
    assert got.is_beyond
    assert got.kwh_per_year is None


def test_a_meter_bounds_what_drives_can_spin(build):
    found = assess(build, scenario())
    asleep_kwh = found.wall.asleep_w * 8.76
    low = counted(
        build, scenario(), year_of_counters(found, kwh=asleep_kwh * 0.99), "c"
    )
    high = counted(
        build, scenario(), year_of_counters(found, kwh=asleep_kwh * 1.5), "c"
    )
    assert low.drives[0].spinning_h_per_day.high < 24
    assert (
        low.drives[0].spinning_h_per_day.high < high.drives[0].spinning_h_per_day.high
    )


# --- power-on hours ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counts", "meaning"),
    [
        ({}, "unknown"),
        ({"power_on_h": 999}, "powered"),
        ({"power_on_h": 300}, "spinning"),
        ({"power_on_h": 300, "power_cycles": 12}, "unknown"),
    ],
)
def test_what_power_on_hours_mean(counts, meaning):
    change = Change(drive="data-1", hours=1000.0, counts=counts)
    assert power_on_meaning(change) == meaning


def test_a_counter_of_spinning_is_believed(build):
    found = assess(build, scenario())
    got = counted(build, scenario(), year_of_counters(found, power_on_h=1200.0), "c")
    assert got.drives[0].spinning_h_per_day.mid == pytest.approx(1200 / 365)


# --- faults --------------------------------------------------------------------------


def test_counters_of_another_machine_are_refused(build):
    other = Change(drive="sda", hours=100.0, counts={"starts": 3.0})
    with pytest.raises(InputError, match=r"'sda' is no array drive.*data-1"):
        counted(build, scenario(), (other,), "c.csv")
    meter = Change(drive="", hours=100.0, counts={"meter_kwh": 3.0})
    with pytest.raises(InputError, match="starts of no data drive"):
        counted(build, scenario(), (meter,), "c.csv")


def test_wakes_of_drives_that_never_stop_are_refused(build):
    never = replace(build, operation=replace(build.operation, timeout_min=None))
    woken = Change(drive="data-1", hours=100.0, counts={"starts": 3.0})
    with pytest.raises(InputError, match="never stop"):
        counted(never, scenario(), (woken,), "c.csv")
    still = Change(drive="data-1", hours=100.0, counts={"starts": 0.0})
    got = counted(never, scenario(), (still,), "c.csv")
    assert got.drives[0].spinning_h_per_day.mid == 24


# --- reading -------------------------------------------------------------------------


def test_first_and_last_reading_of_each(tmp_path):
    path = tmp_path / "c.csv"
    path.write_text(
        "# by hand\ntime;drive;starts;meter_kwh\n"
        "2026-03-01;data-1;100;\n2026-03-01;;;50.5\n"
        "2026-03-11;data-1;150;\n2026-03-21;data-1;180;\n2026-03-21;;;60.5\n"
    )
    drive, meter = read_changes(path)
    assert (drive.drive, drive.hours, drive.counts) == ("data-1", 480, {"starts": 80})
    assert (meter.drive, meter.counts) == ("", {"meter_kwh": 10})


def test_all_faults_of_counters_with_their_lines(tmp_path):
    path = tmp_path / "c.csv"
    path.write_text(
        "time,drive,starts\n2026-03-01,data-1,many\nspring,data-1,5\n"
        "2026-03-01,data-2,-3\n"
    )
    with pytest.raises(InputError) as caught:
        read_changes(path)
    found = {(f.line, f.field, f.value) for f in caught.value.faults}
    assert found == {(2, "starts", "many"), (3, "time", "spring"), (4, "starts", "-3")}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no rows"),
        ("time,drive,hours\n", "hours"),
        ("time,drive,starts\n2026-03-01,a,5\n", "read twice"),
        ("time,drive,starts\n2026-03-01,a,5\n2026-03-02,a,4\n", "less than 5"),
    ],
)
def test_counters_that_say_nothing(tmp_path, text, words):
    path = tmp_path / "c.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        read_changes(path)
