"""Finding catalogs, classes, blank files, listings and remarks."""

import csv
import io
import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optibox.catalog.check import missing_kinds, old_prices, stamp
from optibox.catalog.classes import built_in_classes, read_classes
from optibox.catalog.csvcells import csv_text, read_table
from optibox.catalog.decimals import shows_decimal_commas, with_points
from optibox.catalog.describe import column_by_name, columns_of
from optibox.catalog.kinds import KINDS
from optibox.catalog.listing import columns_text, parts_csv, parts_json, parts_table
from optibox.catalog.locate import find_catalog, find_catalogs, shipped_catalogs
from optibox.catalog.nearest import listed, nearest
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import HardDrive
from optibox.catalog.template import template
from optibox.errors import CatalogError

HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\n'


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "catalog.toml").write_text(HEAD + "date = 2026-01-31\ninvented = true\n")
    (folder / "hard-drive.csv").write_text(
        "id,class,tb,price,price_date,x_a\n"
        'd1,3.5in 5400,4,85,2025-01-31,"a, b"\nd2,3.5in 5400,8,150,,\n'
    )
    return folder


def test_a_path_beside_the_naming_file_comes_first(root):
    assert find_catalog("mine", root.parent) == root.parent / "mine"
    assert find_catalog(str(root), root.parent / "elsewhere") == root


def test_shipped_catalogs_are_found_from_anywhere(tmp_path):
    shipped = shipped_catalogs()
    assert shipped
    for name, path in shipped.items():
        assert find_catalog(name, tmp_path) == path


def test_unknown_catalogs_are_all_told_with_the_shipped_ones(tmp_path):
    with pytest.raises(CatalogError) as caught:
        find_catalogs(["nowhere", "", "inventde"], tmp_path)
    assert len(caught.value.faults) == 3
    for name in shipped_catalogs():
        assert name in str(caught.value)


def test_a_blank_file_reads_and_has_the_distinguishing_columns():
    for record in KINDS:
        for is_full in (False, True):
            text = template(record, built_in_classes(), is_full=is_full)
            assert text.startswith("# optibox format 1\n")
            table = read_table("t", text)
            assert not table.faults
            assert set(table.columns) <= set(column_by_name(record))
            headline = set(record.headline) & set(record.model_fields)
            assert {"id", "class", "price", *headline} <= set(table.columns)
    assert set(table.columns) == set(column_by_name(record))


def test_the_documentation_names_every_column_of_every_kind():
    text = columns_text(list(KINDS))
    for record in KINDS:
        for column in columns_of(record):
            assert f" {column.name}: {column.type_words}" in text
            assert column.meaning in text


def test_listings_carry_the_stamp_of_invention(root):
    catalog = read_catalog([root])
    for writer in (parts_table, parts_csv, parts_json):
        assert "nothing here can be ordered" in writer(catalog, [HardDrive])


def test_a_listing_as_csv_reads_back_as_the_same_catalog(root, tmp_path):
    catalog = read_catalog([root])
    again = tmp_path / "again"
    again.mkdir()
    (again / "catalog.toml").write_text((root / "catalog.toml").read_text())
    (again / "hard-drive.csv").write_text(parts_csv(catalog, [HardDrive]))
    assert read_catalog([again]).parts == catalog.parts


def test_a_listing_as_json_has_figures_with_bounds_and_sources(root):
    found = json.loads(parts_json(read_catalog([root]), list(KINDS)))
    part = found["parts"][0]
    assert (found["format"], found["invented"], part["kind"]) == (1, True, "hard drive")
    assert part["idle_w"]["source"] == "class default"
    assert part["idle_w"]["low"] < part["idle_w"]["high"]
    assert part["extras"] == {"x_a": "a, b"}
    assert "idle_w" in part["defaulted"]


def test_old_prices_and_missing_kinds_are_named(root):
    catalog = read_catalog([root])
    assert old_prices(catalog, date(2026, 2, 1)) == {"d1": date(2025, 1, 31)}
    assert old_prices(catalog, date(2025, 2, 1)) == {}
    assert missing_kinds(catalog) == (
        "chassis",
        "board",
        "memory",
        "power supply",
        "boot medium",
    )
    assert "oldest price 2025-01-31" in stamp(catalog)


def test_classes_of_a_folder_add_to_the_built_in_ones(tmp_path):
    text = "kind;class;column;value\nhard drive;mine;idle_w;4,1 [3,8..4,5]\n"
    (tmp_path / "classes.csv").write_text(text)
    classes = read_classes([tmp_path])
    assert classes.names("hard drive") == (
        *built_in_classes().names("hard drive"),
        "mine",
    )
    assert "mine" in classes.filling("hard drive", "idle_w")
    assert classes.kinds_with("mine") == ("hard drive",)
    (tmp_path / "classes.csv").write_text("kind,class,value\n")
    with pytest.raises(CatalogError, match="column: is missing from the header"):
        read_classes([tmp_path])


CELLS = st.text(
    st.characters(
        codec="utf-8", exclude_characters="\0\r\n#", exclude_categories=("Cs",)
    )
).map(str.strip)


@given(st.lists(st.tuples(CELLS, CELLS), max_size=5), st.sampled_from((",", ";", "\t")))
def test_any_cells_read_back_at_their_lines(pairs, delimiter):
    rows = [{"aa": a, "bb": b} for a, b in pairs]
    table = read_table("t", csv_text(["aa", "bb"], rows, delimiter=delimiter))
    assert not table.faults
    found = [(row.line, row.cells) for row in table.rows]
    assert found == [
        (number, {k: v for k, v in row.items() if v})
        for number, row in enumerate(rows, start=3)
        if any(row.values())
    ]


@given(st.floats(0, 1e9).map(lambda value: f"{value:.2f}"))
def test_two_digits_behind_a_comma_are_never_ambiguous(text):
    assert with_points(text.replace(".", ",")) == text
    assert shows_decimal_commas([text.replace(".", ",")])
    grouped = f"{float(text):,.2f}"
    assert with_points(grouped) == text
    swapped = grouped.translate(str.maketrans(",.", ".,"))
    assert with_points(swapped) == text


@pytest.mark.parametrize(
    ("text", "has_commas", "expected"),
    [
        ("1,500", True, "1.500"),
        ("1.500", False, "1.500"),
        ("0,500", False, "0.500"),
        ("1234,500", False, "1234.500"),
        ("1,234,567", False, "1234567"),
        ("1.234.567", False, "1234567"),
        ("-4,1", False, "-4.1"),
        ("1,5e3", False, "1.5e3"),
    ],
)
def test_marks(text, has_commas, expected):
    assert with_points(text, has_decimal_commas=has_commas) == expected


def test_help_with_names():
    assert nearest("Idle_W", ["idle_w", "x"]) == "Did you mean 'idle_w'?"
    assert nearest("q", []) == "None is known."
    assert listed(map(str, range(14))).endswith("11 and 2 more")


def test_the_spreadsheet_module_reads_what_is_written():
    text = csv_text(["id", "note"], [{"id": "a", "note": 'say "x", y'}])
    rows = list(csv.reader(io.StringIO(text)))
    assert rows == [["# optibox format 1"], ["id", "note"], ["a", 'say "x", y']]
