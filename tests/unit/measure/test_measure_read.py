"""Readings written by hand: what is read, and one clear message for each fault."""

import math
from pathlib import Path

import pytest

from optibox.errors import InputError
from optibox.measure.read import read_readings, readings_of
from optibox.measure.records import Meter, difference_interval_w
from tests.unit.measure.machines import build

METER = Meter(resolution_w=0.1, repeatability_w=0.3)
MACHINE = build()


def read(text):
    return readings_of("r.csv", text, MACHINE, METER)


def only_fault(text):
    (fault,) = read(text).faults
    return fault


def test_what_is_taken_out_stays_out():
    found = read(
        "fitted,removed,refitted,state,watts\n"
        "all,,,spinning,48\n"
        ",data-1 | hdd x1,,spinning,40\n"
        ",net-1,,spinning,36\n"
        ",,net,spinning,40\n"
        "all but hard drive | ssd x1,,,asleep,22\n"
        "board | memory | boot,,,spinning,13\n"
    )
    assert not found.faults
    counts = [dict(reading.situation.fitted) for reading in found.power]
    assert [c.get("hdd", 0) for c in counts] == [4, 2, 2, 2, 0, 0]
    assert [c.get("net", 0) for c in counts] == [1, 1, 0, 1, 1, 0]
    assert counts[4]["ssd"] == 1
    assert counts[5] == {"board": 1, "memory": 1, "boot": 1}
    assert [reading.line for reading in found.power] == [2, 3, 4, 5, 6, 7]


def test_bare_is_what_runs_on_a_table():
    (reading,) = read("fitted,state,watts\nbare,spinning,13\n").power
    assert set(dict(reading.situation.fitted)) == {"board", "memory", "boot", "supply"}


def test_error_of_a_reading_is_the_meters_or_its_own():
    """A step is uniform: standard deviation step / sqrt(12); repeats narrow the rest."""
    text = "state,watts,repeats,meter_error_w\nspinning,48,,\nspinning,48,4,\n"
    first, fourth, own = read(f"{text}spinning,48,4,0.5\n").power
    step = 0.1 / math.sqrt(12)
    assert first.error_w == pytest.approx(math.hypot(step, 0.3))
    assert fourth.error_w == pytest.approx(math.hypot(step, 0.15))
    assert own.error_w == pytest.approx(0.25)


def test_difference_of_two_readings():
    """1.96 sqrt(2) s, the spread of a difference of two equal normal errors."""
    assert difference_interval_w(0.5) == pytest.approx(
        1.96 * math.sqrt(0.5**2 + 0.5**2)
    )


def test_kwh_over_hours_are_watts_and_their_step_counts():
    """0.50 kWh in 20 h are 25 W; both ends of the count are uniform within 0.01."""
    (reading,) = read("state,kwh,hours\nasleep,0.50,20\n").power
    assert reading.watts == pytest.approx(25)
    step = 0.01 * 1000 / 20 / math.sqrt(6)
    assert reading.error_w == pytest.approx(math.hypot(0.3, step))


def test_semicolons_decimal_commas_comments_and_short_rows():
    found = read(
        "# mine\nremoved;state;watts;note\n;spinning;48,2\nhdd;spinning;26,1;ok\n"
    )
    assert not found.faults
    assert [reading.watts for reading in found.power] == [48.2, 26.1]


def test_transfers_and_counters_stand_in_the_same_file():
    found = read(
        "state,watts,operation,size_gb,mb_s,fill,drives,synced,client_mb_s,way,target,"
        "mode,drive,starts,interface_errors\n"
        "spinning,48\n"
        ",,read,20,178,0.1,,yes,400,local,data-1\n"
        ",,flush,20,95,,,,,,,reconstruct\n"
        ",,,,,,,,,,,,parity-1,1204,3\n"
    )
    assert not found.faults
    first, second = found.transfers
    assert (first.target, first.way, first.client_mb_s) == ("data-1", "local", 400)
    assert (second.way, second.mode, second.is_synced) == ("local", "reconstruct", None)
    assert (found.counters[0].starts, found.counters[0].interface_errors) == (1204, 3)


def test_blank_boxes_are_counted_and_their_parts_still_come_out():
    found = read("removed,state,watts\n,spinning,48\nhdd,spinning,\nnet,spinning,20\n")
    assert found.n_blank == 1
    assert found.power[1].situation.count("hdd") == 0


FAULTS = {
    "unknown column": (
        "stat,watts\nspinning,48\n",
        (1, "stat", "is no column of a readings file", "Did you mean 'state'?"),
    ),
    "unknown part": (
        "removed,state,watts\nhd,spinning,48\n",
        (2, "removed", "is no part of the build", "Did you mean 'hdd'?"),
    ),
    "more than fitted": (
        "removed,state,watts\nhdd x5,spinning,48\n",
        (2, "removed", "takes out 5 where 4 are fitted", "Correct the count"),
    ),
    "more than built": (
        "refitted,state,watts\nnet x1,spinning,48\n",
        (2, "refitted", "fits 2; the build has 1", "Correct the count"),
    ),
    "unknown state": (
        "state,watts\nsleeping,48\n",
        (2, "state", "is none of asleep, spinning", "Did you mean 'asleep'?"),
    ),
    "no state": (
        "removed,watts\n,48\n",
        (2, "state", "is missing beside a reading", "Say what the machine did"),
    ),
    "unit in the cell": (
        "state,watts\nspinning,48 W\n",
        (2, "watts", "is not a number", "Leave the unit's letters out"),
    ),
    "not a number": (
        "state,watts\nspinning,lots\n",
        (2, "watts", "is not a number", "Correct the cell"),
    ),
    "not finite": (
        "state,watts\nspinning,nan\n",
        (2, "watts", "is outside the believable range; expected 0.1 to 3000 W", ""),
    ),
    "below nothing": (
        "state,watts\nspinning,-4\n",
        (2, "watts", "is outside the believable range; expected 0.1 to 3000 W", ""),
    ),
    "kwh without hours": (
        "state,kwh\nasleep,0.5\n",
        (2, "hours", "is missing beside kwh", "Give the hours"),
    ),
    "watts and kwh": (
        "state,watts,kwh,hours\nasleep,25,0.5,20\n",
        (2, "kwh", "stands beside watts", "Clear one"),
    ),
    "fill as per cent": (
        "operation,size_gb,mb_s,fill\nread,20,170,50\n",
        (2, "fill", "expected 0 to 1", "Write it as a share: 0.5."),
    ),
    "rate without size": (
        "operation,mb_s\nread,170\n",
        (2, "size_gb", "is missing beside a rate", "memory cannot be ruled out"),
    ),
    "rate without operation": (
        "size_gb,mb_s\n20,170\n",
        (2, "operation", "is missing beside a transfer", "Say what was moved"),
    ),
    "half a drive": (
        "operation,size_gb,mb_s,drives\nread,20,170,1.5\n",
        (2, "drives", "is not whole", "Correct the count"),
    ),
    "unknown drive": (
        "drive,starts\ndata-9,4\n",
        (2, "drive", "is no drive of the build", "data-"),
    ),
    "neither yes nor no": (
        "operation,size_gb,mb_s,synced\nread,20,170,maybe\n",
        (2, "synced", "is neither yes nor no", "Write yes or no"),
    ),
    "two readings in a row": (
        "state,watts,operation,size_gb,mb_s\nspinning,48,read,20,170\n",
        (2, "operation", "a row is one reading", "rows of their own"),
    ),
    "two ways of saying what is fitted": (
        "fitted,removed,state,watts\nall,hdd,spinning,48\n",
        (2, "fitted", "stands beside removed", "Clear one of the cells"),
    ),
    "nothing filled in": (
        "state,watts\nspinning,\n",
        (1, "", "holds no reading; the boxes of its 1 rows are blank", "Fill watts"),
    ),
    "empty file": ("", (1, "", "has no header row", "Write the column names")),
}


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_has_one_message_at_its_place(name):
    text, (line, column, problem, remedy) = FAULTS[name]
    fault = only_fault(text)
    assert (fault.path, fault.line, fault.field) == ("r.csv", line, column)
    assert problem in fault.problem
    assert remedy in fault.remedy


def test_all_faults_of_a_file_come_together(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("state,watts,repeats\nspining,48,\nasleep,x,0\n")
    with pytest.raises(InputError) as caught:
        read_readings(path, MACHINE, METER)
    places = [(fault.line, fault.field) for fault in caught.value.faults]
    assert places == [(2, "state"), (3, "repeats"), (3, "watts")]


def test_after_a_row_that_cannot_be_followed_later_rows_are_not_guessed():
    found = read("removed,state,watts\nhd,spinning,48\n,spinning,40\n")
    assert len(found.faults) == 1
    assert not found.power


@pytest.mark.parametrize(
    "text",
    [
        "\x00",
        'a,b\n"c',
        "state,watts\n" + "spinning,48," * 9,
        "watts\n1e999\n",
        "state;watts\n;;;;\n",
    ],
)
def test_no_text_ends_in_a_traceback(text):
    found = read(text)
    assert found.faults or found.power or found.n_blank >= 0


def test_a_missing_file_is_a_fault(tmp_path):
    with pytest.raises(InputError, match="does not exist"):
        read_readings(Path(tmp_path / "none.csv"), MACHINE, METER)
