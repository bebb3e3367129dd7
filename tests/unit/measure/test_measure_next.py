"""What to read next, what drives count, and the way of figures into a file."""

import tomllib

import numpy as np
import pytest

from optibox.measure.counters import notes_on
from optibox.measure.decisions import Decision
from optibox.measure.next_reading import belief_after, next_readings
from optibox.measure.overrides import override_text
from optibox.measure.power_fit import fit_power
from optibox.measure.read import readings_of
from optibox.measure.reconcile import reconcile
from optibox.measure.records import CounterReading, Meter
from optibox.measure.unknowns import columns, unknowns_of
from optibox.measure.worth import prior
from tests.unit.measure.machines import LOSSLESS, build, machine, parts

METER = Meter()
READINGS = "removed,state,watts\n,spinning,48\n,asleep,31.5\nhdd,spinning,26\n"


def decision(made, gain, slopes):
    by = {(u.key, u.aspect): u for u in unknowns_of(made)}
    return Decision(
        keep="keep",
        change="swap",
        gain=gain,
        slopes={by[name]: slope for name, slope in slopes.items()},
        build=made.build,
    )


@pytest.fixture(scope="module")
def made():
    return machine(parts(supply=LOSSLESS))


@pytest.fixture(scope="module")
def after(made):
    found = readings_of("r.csv", READINGS, made.build, METER)
    return belief_after(made, fit_power(made, found.power))


def test_belief_after_readings_is_that_of_all_of_them_at_once(made, after):
    """Normal theory in one step: precision of the prior plus that of the rows."""
    found = readings_of("r.csv", READINGS, made.build, METER)
    fit = fit_power(made, found.power)
    rows = np.array([columns(made, fit.unknowns, r.situation) for r in found.power])
    before = np.diag(prior(fit.unknowns).covariance)
    precision = np.diag(1 / before) + rows.T @ rows / METER.error_w() ** 2
    assert after.covariance == pytest.approx(np.linalg.inv(precision), abs=1e-9)


def test_next_reading_is_the_one_that_the_decision_turns_on(made, after):
    about_net = decision(made, -1.0, {("net", "idle"): 4.0})
    first, *_ = next_readings(made, after, METER, [about_net])
    assert first.label == "without net, spinning"
    assert first.narrows.key == "net"
    assert 0.0 < first.settles <= 1.0
    assert first.worth > 0.0
    assert first.minutes == 30
    assert first.after_w < first.before_w


def test_without_decisions_the_widest_figure_comes_first(made, after):
    found = next_readings(made, after, METER)
    assert len(found) == 3
    merits = [(1 - one.after_w / one.before_w) / one.minutes for one in found]
    assert merits == sorted(merits, reverse=True)


def test_nothing_is_next_once_the_meter_can_tell_no_more(made):
    crude = Meter(resolution_w=50, repeatability_w=50)
    assert next_readings(made, belief_after(made, None), crude) == ()


def test_counters_say_what_is_wrong_and_how_it_compares(made):
    notes = notes_on(
        made,
        [
            CounterReading(
                line=2,
                drive="data-1",
                starts=30_000,
                hours=50_000,
                pending_sectors=2,
                reallocated_sectors=5,
                interface_errors=9,
            )
        ],
    )
    words = [(note.severity, note.text.split(":")[0]) for note in notes]
    assert words[0] == ("error", "2 sectors wait for reallocation")
    assert ("warning", "5 sectors reallocated") in words
    assert ("warning", "9 errors on its data link") in words
    assert ("warning", "30000 starts of 50000 rated, 60 %") in words
    assert any("5256 starts a year of running" in note.text for note in notes)


def test_file_of_figures_is_toml_whatever_parts_are_called():
    found = parts(supply=LOSSLESS, hdd={"label": 'three " and \\ and é'})
    readings = readings_of("r.csv", READINGS, build(found), METER)
    text = override_text(
        reconcile(build(found), readings, METER), 'odd "name".csv', combined=True
    )
    table = tomllib.loads(text)
    assert table["note"] == 'measured, from odd "name".csv'
    assert table["parts"]["hdd"]["idle_w"] == "5.5 [5.29..5.71]"
    assert "net" in table["parts"], "with the catalog"


def test_figures_of_a_file_are_in_order_and_never_negative():
    text = "removed,state,watts\n,spinning,48\nssd,spinning,48.4\nnet,spinning,45\n"
    made = build(parts(supply=LOSSLESS))
    told = reconcile(made, readings_of("r.csv", text, made, METER), METER)
    cell = tomllib.loads(override_text(told, "r.csv"))["parts"]["ssd"]["idle_w"]
    assert cell.startswith("0 [0..0.")
