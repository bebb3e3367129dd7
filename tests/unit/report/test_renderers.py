"""Small documents by hand in every form; every number of any document is in each."""

import csv
import html
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from optibox.report.as_csv import as_csv
from optibox.report.as_html import as_html
from optibox.report.as_json import as_json
from optibox.report.document import (
    Blank,
    Column,
    Document,
    Facts,
    Item,
    Items,
    Note,
    Phrases,
    Row,
    Table,
    Worded,
    cautions,
    notes,
    section,
    steps,
)
from optibox.report.quantity import (
    COUNT,
    RATE,
    SHARE,
    TERABYTE,
    UNITS,
    WATT,
    Quantity,
    cents_of,
    money,
    sum_of,
)
from optibox.report.text import WIDEST, as_text, cut, fitting, wrapped

TABLE = Table(
    columns=(
        Column(head="part", key="part"),
        Column(head="draws", key="watts", unit=WATT),
        Column(head="price", key="price", unit=cents_of("EUR")),
        Column(key="note", is_shown=False),
    ),
    rows=(
        Row(cells=("board", 9.25, 82.0, "soldered"), group="inside"),
        Row(cells=("drive", 5.0, 1234.5, ""), group="inside", note="used"),
        Row(cells=("meter", Worded(None, "none"), None, ""), group="outside"),
    ),
)


def document(*blocks, **more):
    return Document(verdict=("Yes.",), sections=section("Title", *blocks), **more)


def body(block, width=60):
    """Return the lines of one block in a section."""
    return as_text(document(block), width).splitlines()[3:]


def test_a_table_has_units_in_its_head_and_numbers_to_the_right():
    assert body(TABLE) == [
        "           draws    price",
        "    part       W      EUR",
        "  inside",
        "    board    9.2    82.00",
        "    drive    5.0  1234.50",
        "        used",
        "  outside",
        "    meter   none        -",
    ]


def test_a_table_as_csv_has_plain_numbers_and_hidden_columns():
    assert as_csv(TABLE).splitlines() == [
        "# optibox format 1",
        "part,watts,price,note",
        "board,9.25,82.00,soldered",
        "drive,5,1234.50,",
        "meter,,,",
    ]


def test_a_table_as_html():
    page = as_html(document(TABLE))
    assert '<th>part</th><th class="n">draws\nW</th>' in page
    assert '<td>board</td><td class="n">9.2</td>' in page
    assert '<th colspan="3">inside</th>' in page
    assert '<td class="small" colspan="2">\nused</td>' in page
    assert "soldered" not in page


def test_a_note_stands_beside_its_row_where_it_fits():
    rows = (
        Row(cells=("a", 1), note="short"),
        Row(cells=("b", 2), note="long " * 20),
    )
    columns = (Column(head="name"), Column(head="n", unit=COUNT))
    table = Table(columns=columns, rows=rows, is_noted_beside=True)
    lines = body(table)
    assert lines[:3] == ["  name  n", "  a     1  short", "  b     2"]
    assert lines[3:] == ["          " + " ".join(["long"] * 10)] * 2


def test_statements_hang_under_their_marks():
    items = Items((
        Item(text="one two three four five six seven eight nine ten eleven", mark="1."),
        Item(text="twelve", mark="2.", details=("thirteen",)),
        Item(text="a statement without a mark hangs by two columns under itself here"),
    ))  # fmt: skip
    assert body(items) == [
        "  1. one two three four five six seven eight nine ten eleven",
        "  2. twelve",
        "     thirteen",
        "  a statement without a mark hangs by two columns under",
        "    itself here",
    ]


def test_facts_are_aligned_and_wrap_beside_their_names():
    facts = Facts((("a", "x " * 40), ("long name", Quantity(3.0, WATT))))
    lines = body(facts)
    assert lines[0].startswith("  a          x x")
    assert lines[1].startswith("             x x")
    assert lines[-1] == "  long name  3.0 W"


def test_what_says_nothing_is_left_out():
    assert section("Title", Note(""), notes([]), Facts(()), None) == ()
    empty = Table(
        columns=(Column(head="a"), Column(head="b", unit=WATT)),
        rows=(Row(cells=("x", None)),),
    )
    assert body(empty) == ["  a", "  x"]


def test_narrow_terminals_go_without_spared_columns():
    columns = tuple(
        Column(head=f"{n} {'x' * 16}", unit=COUNT, spared=n if n > 2 else 0)
        for n in range(1, 6)
    )
    table = Table(columns=columns, rows=(Row(cells=(1, 2, 3, 4, 5)),))
    shown = {
        width: re.findall(r"(\d) x", as_text(document(table), width))
        for width in (60, 80, 120)
    }
    assert shown == {60: ["1", "2", "5"], 80: ["1", "2", "4", "5"], 120: list("12345")}


def test_phrases_show_as_many_as_fit():
    row = Row(cells=("a rather long name of a part", Phrases(("first", "x" * 60))))
    columns = (Column(flow="cut"), Column(flow="fit"))
    assert body(Table(columns=columns, rows=(row,))) == [
        "  a rather long name of a part  first"
    ]
    assert fitting(["one", "two", "three"], 9) == "one, two"
    assert fitting([], 9) == ""


def test_boxes_to_fill_in():
    table = Table(
        columns=(Column(head="read", key="mb_s"),), rows=(Row(cells=(Blank("MB/s"),)),)
    )
    assert body(table) == ["  read", "  [_______] MB/s"]
    assert as_csv(table).splitlines()[1:] == ["mb_s", '""']
    assert '<span class="box"></span> MB/s' in as_html(document(table))


def test_cautions_are_marked_without_colour_and_styled_with_it():
    warned = document(cautions(["hot"]), steps(["go"]))
    assert "  ! hot\n  1. go" in as_text(warned)
    assert "\x1b[33m  ! hot" in as_text(warned, is_colored=True)
    assert "\x1b[1mYes." in as_text(warned, is_colored=True)


def test_plus_or_minus_has_its_sign_on_a_page():
    told = document(Note("3 +-1"))
    assert "3 +-1" in as_text(told)
    assert "3 \N{PLUS-MINUS SIGN}1" in as_html(told)


ODD = "Box \x1b[31mred\x1b[0m\r\n\u202eback\u200b \u7b71\u5b50 {x} [b] <i> " + "w" * 90


@pytest.mark.parametrize("width", [1, 60, 80, 500])
def test_odd_names_are_harmless_and_keep_the_width(width):
    table = Table(
        columns=(Column(head="name"), Column(head="W", unit=WATT), Column(flow="cut")),
        rows=(Row(cells=(ODD, 1.0, ODD), note=ODD, group=ODD),),
    )
    told = document(table, notes([ODD]), Facts(((ODD, ODD),)), Note(ODD))
    text = as_text(told, width)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e\u200b]", text)
    assert "\u7b71" in text
    assert not re.search(r" $", text, re.MULTILINE)
    assert max(map(cell_len, text.splitlines())) <= min(WIDEST, max(60, width))
    page = as_html(told)
    assert "<i>" not in page
    assert "&lt;i&gt;" in page
    assert "\u202e" not in as_json({"name": ODD})


def test_wide_letters_count_twice():
    assert wrapped("\u7b71\u5b50\u7b71\u5b50", 4) == ["\u7b71\u5b50", "\u7b71\u5b50"]
    assert cut("\u7b71\u5b50\u7b71\u5b50\u7b71", 7) == "\u7b71\u5b50..."
    table = Table(
        columns=(Column(head="a"), Column(head="n", unit=COUNT)),
        rows=(Row(cells=("\u7b71\u5b50", 1)), Row(cells=("xy", 2))),
    )
    assert body(table) == ["  a     n", "  \u7b71\u5b50  1", "  xy    2"]


def test_units_decide_digits_and_words():
    """By hand: a watt has one decimal, a share is told as per cent, cents matter
    below twenty, a capacity has three digits."""
    assert WATT.text(14.46) == "14.5 W"
    assert SHARE.text(0.283) == "28 %"
    assert [sum_of("EUR").text(x) for x in (19.994, 4.0, 20.4)] == [
        "19.99 EUR", "4 EUR", "20 EUR"
    ]  # fmt: skip
    assert [TERABYTE.text(x) for x in (1.234, 12.34, 123.4)] == [
        "1.23 TB", "12.3 TB", "123 TB"
    ]  # fmt: skip
    assert RATE.text(float("inf")) == "unlimited MB/s"
    assert money(-0.001, "") == "0"
    assert all(UNITS[symbol].symbol == symbol for symbol in UNITS)


UNIT = st.sampled_from([WATT, RATE, SHARE, COUNT, TERABYTE, cents_of("EUR")])
NUMBER = st.floats(0.0, 1e7).map(lambda x: round(x, 6))


@given(
    rows=st.lists(st.tuples(UNIT, NUMBER), min_size=1, max_size=6),
    width=st.sampled_from([60, 80, 100, 120]),
)
def test_every_number_is_in_every_form(rows, width):
    """A number is never cut, wrapped or left out, whatever the width."""
    table = Table(
        columns=(
            Column(head="what", key="what"),
            *(
                Column(head=f"c{n}", key=f"c{n}", unit=u)
                for n, (u, _) in enumerate(rows)
            ),
        ),
        rows=(Row(cells=("name", *(value for _, value in rows))),),
    )
    facts = Facts(tuple((f"f{n}", Quantity(v, u)) for n, (u, v) in enumerate(rows)))
    told = document(table, facts, data=table)
    text, page = as_text(told, width), html.unescape(as_html(told))
    for unit, value in rows:
        assert f" {unit.number(value)}" in text
        assert unit.text(value) in text
        assert f">{unit.number(value)}<" in page
        assert f">{unit.text(value)}<" in page
    (cells,) = csv.DictReader(io.StringIO(as_csv(table).split("\n", 1)[1]))
    for n, (_, value) in enumerate(rows):
        assert float(cells[f"c{n}"]) == pytest.approx(value, rel=1e-5, abs=0.0051)
