"""Readings of any sort: faults at their place or an answer, never a traceback."""

import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from optibox.measure.cells import COLUMNS
from optibox.measure.overrides import override_text
from optibox.measure.read import readings_of
from optibox.measure.reconcile import reconcile
from optibox.measure.records import STATES, TRANSFERS, Meter
from optibox.report.as_csv import as_csv
from optibox.report.as_json import as_json
from optibox.report.measure_picture import picture_svg
from optibox.report.reconcile import ReconcileReport
from optibox.report.text import as_text
from tests.unit.measure.machines import build, parts

METER = Meter()
MACHINES = (build(), build(parts(ctl={"blocks_deep_idle": "yes"}), cache="none"))
NAMES = st.sampled_from(
    ("hdd", "hdd x1", "ssd", "net", "ctl x1", "data-1", "case", "all", "bare", "zzz")
)
NUMBERS = st.sampled_from(("0", "1", "2", "0.5", "17,5", "40", "180", "1e3", "-3", "x"))
SOUND = st.fixed_dictionaries(
    {"state": st.sampled_from(STATES), "watts": st.floats(4, 90).map("{:.1f}".format)},
    optional={
        "fitted": st.sampled_from(
            ("all", "bare", "all but hdd x1", "all but net | ctl")
        ),
        "minute": st.integers(0, 300).map(str),
        "repeats": st.sampled_from(("1", "3")),
        "at_work": st.sampled_from(("1", "4")),
        "standing": st.sampled_from(("0", "2")),
    },
)
MOVED = st.fixed_dictionaries(
    {
        "operation": st.sampled_from(TRANSFERS),
        "mb_s": st.floats(1, 1500).map("{:.0f}".format),
        "size_gb": st.sampled_from(("2", "20", "300")),
    },
    optional={
        "fill": st.sampled_from(("0", "0.5", "1")),
        "drives": st.sampled_from(("1", "3", "9")),
        "synced": st.sampled_from(("yes", "no")),
        "way": st.sampled_from(("local", "network")),
        "target": st.sampled_from(("data-1", "parity-1", "cache-1", "boot-1")),
        "mode": st.sampled_from(("reconstruct", "read-modify-write")),
        "client_mb_s": st.just("110"),
    },
)
COUNTED = st.fixed_dictionaries(
    {"drive": st.sampled_from(("data-1", "cache-1")), "starts": st.just("90000")},
    optional={"power_on_hours": st.just("50000"), "pending_sectors": st.just("3")},
)
JUNK = st.dictionaries(st.sampled_from(tuple(COLUMNS)), NAMES | NUMBERS, max_size=5)


def text_of(rows):
    columns = list(dict.fromkeys(name for row in rows for name in row)) or ["state"]
    out = io.StringIO()
    writer = csv.DictWriter(out, columns)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@given(
    rows=st.lists(SOUND | MOVED | COUNTED, min_size=1, max_size=9),
    made=st.sampled_from(MACHINES),
)
def test_sound_rows_have_an_answer_in_every_form(rows, made):
    found = readings_of("r.csv", text_of(rows), made, METER)
    assert not found.faults
    told = reconcile(made, found, METER)
    answer = ReconcileReport(found=told, currency="EUR")
    document = answer.document()
    assert as_text(document, 80)
    assert as_json(answer.to_dict()).endswith("}\n")
    assert as_csv(document.data).startswith("# optibox format")
    assert picture_svg(told).startswith("<svg")
    assert override_text(told, "r.csv", combined=True).startswith("# Figures")
    for figure in told.fit.found if told.fit else ():
        if figure.measured is not None:
            assert figure.measured.low <= figure.measured.value <= figure.measured.high


@given(rows=st.lists(JUNK, max_size=6))
def test_any_rows_are_read_or_refused_at_their_line(rows):
    text = text_of(rows)
    found = readings_of("r.csv", text, MACHINES[0], METER)
    lines = len(text.splitlines())
    for fault in found.faults:
        assert 1 <= fault.line <= lines
        assert fault.problem
        assert fault.remedy


@given(text=st.text(max_size=60))
def test_any_text_is_read_or_refused(text):
    found = readings_of("r.csv", text, MACHINES[0], METER)
    assert found.faults or found.power or found.transfers or found.counters
