"""Tables and words of spindown: widths, heads, drives by name."""

import pytest

from optibox.report.policies import drives_words, range_words
from optibox.report.spindown import SpindownReport
from optibox.report.text import as_text
from optibox.running.policy import policy_table
from optibox.running.spindown import spindown
from tests.unit.present.machines import invented, reference_build, scenario


@pytest.fixture(scope="module")
def report():
    hours = {"from_hour": 23, "to_hour": 7}
    return spindown(reference_build(invented()), scenario(off_hours=hours))


def text_of(report, width=100, **more):
    return as_text(
        SpindownReport(found=report, currency="EUR", **more).document(), width
    )


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_lines_keep_their_width(report, width):
    lines = text_of(report, width).splitlines()
    table = [text for text in lines if " min  " in text[:14]]
    assert table
    # below 75 columns the figures that are left cannot be parted with
    assert max(map(len, lines)) <= max(width, 75)


def test_narrow_tables_go_without_what_matters_least(report):
    wide, narrow = (
        text.split("Energy and wear by policy")[1].split("\n\n")[0]
        for text in (text_of(report, 120), text_of(report, 60))
    )
    assert "loads" in wide
    assert "EUR/year" in wide
    assert "loads" not in narrow
    assert "EUR/year" not in narrow
    assert all("total" in text and "wakes" in text for text in (wide, narrow))


def test_whole_table_has_refused_policies_row_by_row(report):
    folded = text_of(report, 120).splitlines()
    whole = text_of(report, 120, is_whole=True).splitlines()
    assert any("would be" in line for line in folded)
    assert not any("would be" in line for line in whole)
    assert sum(line.startswith("    never ") for line in whole) == 6


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["data-1"], "data-1"),
        (["data-1", "data-2"], "data-1 and data-2"),
        (["a-9", "a-10", "a-11", "b-12"], "a-9 to a-11 and b-12"),
        (["x", "y", "z"], "x, y and z"),
    ],
)
def test_drives_by_name(names, words):
    assert drives_words(names) == words


def test_ranges_of_timeouts():
    assert range_words([None]) == "never alone"
    assert range_words([None, 60, 90]) == "any from 60 min on, and never"


def test_faults_that_no_policy_cures_are_told():
    asked = scenario(needs={"usable_tb": 500})
    table = policy_table(reference_build(invented()), asked)
    assert len(table.incurable) == 1
    found = spindown(reference_build(invented()), asked)
    text = " ".join(text_of(found).split())
    assert "No policy cures this fault of the build" in text
    assert not text.startswith("Has to change")
