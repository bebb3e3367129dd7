"""Tables and words of spindown: widths, heads, drives by name."""

import pytest

from optibox.present.spindown_table import table_lines
from optibox.present.spindown_text import OVERHANG, policy_rows, spindown_lines
from optibox.present.spindown_words import drives_words, range_words
from optibox.running.policy import policy_table
from optibox.running.spindown import spindown
from tests.unit.present.machines import invented, reference_build, scenario


@pytest.fixture(scope="module")
def report():
    hours = {"from_hour": 23, "to_hour": 7}
    return spindown(reference_build(invented()), scenario(off_hours=hours))


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_lines_keep_their_width(report, width):
    lines = [line.text for line in spindown_lines(report, "EUR", width)]
    table = [text for text in lines if text.startswith("  ") and " min " in text[:12]]
    assert table
    longest = max(map(len, lines))
    # below 75 columns the figures that are left cannot be parted with
    assert longest <= max(width, 75) + OVERHANG


def test_narrow_tables_go_without_what_matters_least(report):
    wide = "\n".join(policy_rows(report.table, 120))
    narrow = "\n".join(policy_rows(report.table, 60))
    assert "load" in wide
    assert "energy" in wide
    assert "load" not in narrow
    assert all("total" in text and "wakes" in text for text in (wide, narrow))


def test_whole_table_has_refused_policies_row_by_row(report):
    folded = list(policy_rows(report.table, 120))
    whole = list(policy_rows(report.table, 120, is_whole=True))
    assert any("would be" in line for line in folded)
    assert not any("would be" in line for line in whole)
    assert sum("  never " in line for line in whole) == 6


def test_heads_stand_over_their_columns():
    head = (("a", "two words", "", "c"), ("", "left", "right", ""))
    lines = list(table_lines(head, [("name", [("x", "1", "2", "end")])]))
    assert lines == [
        "  a    two words  c",
        "     left  right",
        "  name",
        "  x     1      2  end",
    ]


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
    text = " ".join(line.text for line in spindown_lines(found, "EUR"))
    assert "No policy cures this fault of the build" in text
    assert not text.startswith("Has to change")
