"""A well-known set of readings: what it tells, what it does not, and that it says so.

The readings are common practice, no source: 13 W bare, 4.5 W for the network card,
1.5 W for two solid-state drives, 22 W for four spinning drives, 48 W in all spinning
and 31.5 W asleep.
"""

import pytest

from optibox.measure.read import readings_of
from optibox.measure.reconcile import reconcile
from optibox.measure.records import Meter
from optibox.report.reconcile import ReconcileReport
from optibox.report.text import as_text
from tests.unit.measure.machines import LOSSLESS, build, parts

READINGS = """fitted,removed,state,watts
all,,spinning,48
,,asleep,31.5
,hdd x4,spinning,26
,ssd x2,spinning,24.5
,net,spinning,20
bare,,spinning,13
"""


def reconciled(text=READINGS):
    made = build(parts(supply=LOSSLESS))
    readings = readings_of("r.csv", text, made, Meter())
    assert not readings.faults
    return reconcile(made, readings, Meter())


def figures(found):
    return {
        frozenset((m.key, m.aspect) for m in figure.members): figure
        for figure in found.fit.found
    }


@pytest.fixture(scope="module")
def found():
    return reconciled()


def test_spinning_and_asleep_differ_by_four_watts_a_drive(found):
    assert found.per_drive.n_drives == 4
    assert found.per_drive.wall_w == pytest.approx((48 - 31.5) / 4)
    assert round(found.per_drive.wall_w, 1) == 4.1


@pytest.mark.parametrize(
    ("key", "watts"), [("net", 4.5), ("ssd", 1.5 / 2), ("hdd", 22 / 4)]
)
def test_what_came_out_by_itself_has_its_watts(found, key, watts):
    figure = figures(found)[frozenset({(key, "idle")})]
    assert figure.measured.value == pytest.approx(watts)
    assert figure.measured.low < watts < figure.measured.high


def test_rest_is_two_controllers_and_whatever_else_and_is_not_split(found):
    rest = figures(found)[frozenset({("ctl", "idle"), ("case", "idle")})]
    assert rest.measured.value == pytest.approx(48 - 13 - 4.5 - 1.5 - 22)
    assert rest.words == "case + 2 x ctl"
    assert not any(member.key in ("ctl", "case") for member in found.fit.by_unknown)


def test_bare_machine_is_one_figure(found):
    bare = figures(found)[
        frozenset({("board", "idle"), ("memory", "idle"), ("boot", "idle")})
    ]
    assert bare.measured.value == pytest.approx(13)
    assert bare.is_base


def test_standby_watts_are_not_identified(found):
    asleep = figures(found)[frozenset({("hdd", "standby"), ("", "rest asleep")})]
    assert asleep.measured.value == pytest.approx(31.5 - 26)
    assert not any(unknown.aspect == "standby" for unknown in found.fit.by_unknown)


def test_all_of_it_is_said(found):
    told = ReconcileReport(found=found, currency="").document()
    text = " ".join(as_text(told).split())
    assert "4.1 W per drive at the wall" in text
    assert "standby watts are not identified" in text
    assert "case + 2 x ctl 7.00" in text
    assert "never seen apart: not split" in text


def test_a_controller_reading_splits_the_rest():
    found = reconciled(READINGS + "bare,,spinning,13\n,,,\n")
    assert ("ctl", "idle") not in {(u.key, u.aspect) for u in found.fit.by_unknown}
    row = "board | memory | boot | supply | case,,spinning,15\n"
    found = reconciled(READINGS + row)
    split = {u.key: f.measured.value for u, f in found.fit.by_unknown.items()}
    assert split["case"] == pytest.approx(2)
    assert split["ctl"] == pytest.approx(2.5)


def test_fewer_drives_asleep_give_the_standby_watts():
    """Two drives out while asleep: 31.5 - 2 x 1.6; what is left of 26 rests too."""
    found = reconciled(READINGS + "all but hdd x2,,asleep,28.3\n")
    by = {(u.key, u.aspect): f for u, f in found.fit.by_unknown.items()}
    assert by["hdd", "standby"].measured.value == pytest.approx(1.6)
    assert by["", "rest asleep"].measured.value == pytest.approx(26 - (31.5 - 4 * 1.6))
