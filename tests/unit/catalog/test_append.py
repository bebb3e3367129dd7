"""Appending rows: the file keeps its text, a bad row changes nothing."""

import pytest

from optibox.catalog.append import append_row
from optibox.catalog.read import read_catalog
from optibox.errors import CatalogError, InputError

HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\n'
ROWS = "# mine\nid,class,tb,price\n\nd1,3.5in 5400,4,85\n"


@pytest.fixture
def root(tmp_path):
    (tmp_path / "catalog.toml").write_text(HEAD)
    (tmp_path / "hard-drive.csv").write_bytes(ROWS.encode())
    return tmp_path


def drives(root):
    return (root / "hard-drive.csv").read_bytes().decode()


def test_text_before_the_new_row_stays(root):
    part = append_row(
        root, "hard drive", {"id": "d2", "class": "3.5in 5400", "tb": "8", "price": "9"}
    )
    assert part.tb == 8
    assert drives(root) == ROWS + "d2,3.5in 5400,8,9\n"
    assert [p.id for p in read_catalog([root]).parts] == ["d1", "d2"]


def test_columns_are_added_where_needed(root):
    cells = {"id": "d2", "class": "3.5in 5400", "tb": "8", "price": "9", "x_a": "b, c"}
    append_row(root, "hard drive", cells)
    assert drives(root) == (
        "# mine\nid,class,tb,price,x_a\n\nd1,3.5in 5400,4,85,\n"
        'd2,3.5in 5400,8,9,"b, c"\n'
    )
    assert read_catalog([root]).by_id["d2"].extras == {"x_a": "b, c"}


def test_separators_line_ends_mark_and_multi_line_cells_are_kept(root):
    text = '\ufeffid;class;tb;price;note;\r\nd1;3.5in 5400;4;85,5;"a\r\nb";\r\n'
    (root / "hard-drive.csv").write_bytes(text.encode())
    cells = {"id": "d2", "class": "3.5in 5400", "tb": "8", "price": "9"}
    append_row(root, "hard drive", cells)
    assert drives(root) == text + "d2;3.5in 5400;8;9;\r\n"
    append_row(root, "hard drive", {**cells, "id": "d3", "stock": "2"})
    assert drives(root) == (
        "\ufeffid;class;tb;price;note;stock\r\n"
        'd1;3.5in 5400;4;85,5;"a\r\nb";\r\n'
        "d2;3.5in 5400;8;9;;\r\nd3;3.5in 5400;8;9;;2\r\n"
    )
    assert read_catalog([root]).by_id["d1"].price.mid == 85.5


def test_a_last_line_without_end(root):
    (root / "hard-drive.csv").write_bytes(ROWS.rstrip().encode())
    cells = {"id": "d2", "class": "3.5in 5400", "tb": "8", "price": "9"}
    append_row(root, "hard drive", cells)
    assert drives(root) == ROWS + "d2,3.5in 5400,8,9\n"


def test_a_new_file_has_the_format_version_and_ordered_columns(root):
    append_row(
        root,
        "drive adapter",
        {"price": "5", "x_a": "1", "class": "screw frame", "id": "a"},
    )
    text = (root / "drive-adapter.csv").read_text()
    assert text == "# optibox format 1\nid,class,price,x_a\na,screw frame,5,1\n"


@pytest.mark.parametrize(
    ("kind", "cells", "field"),
    [
        ("hard drve", {"id": "d2"}, "kind"),
        ("hard drive", {"tb": "8"}, "id"),
        (
            "hard drive",
            {"id": "d1", "class": "3.5in 5400", "tb": "8", "price": "9"},
            "id",
        ),
        ("hard drive", {"id": "d2", "class": "3.5in 5400", "tb": "8"}, "price"),
        ("hard drive", {"id": "d2", "class": "x", "tb": "8", "price": "9"}, "class"),
        (
            "hard drive",
            {"id": "d2", "class": "3.5in 5400", "tb": "8", "price": "9", "siez": "1"},
            "siez",
        ),
    ],
)
def test_a_refused_row_changes_nothing(root, kind, cells, field):
    before = sorted((p.name, p.read_bytes()) for p in root.iterdir())
    with pytest.raises(CatalogError) as caught:
        append_row(root, kind, cells)
    assert [fault.field for fault in caught.value.faults] == [field]
    assert sorted((p.name, p.read_bytes()) for p in root.iterdir()) == before


def test_a_faulty_catalog_is_not_extended(root):
    (root / "hard-drive.csv").write_text("id,class\nd1,3.5in 5400,4\n")
    with pytest.raises(CatalogError, match="has 3 cells"):
        append_row(root, "hard drive", {"id": "d2"})


def test_a_folder_that_is_none(tmp_path):
    with pytest.raises(InputError):
        append_row(tmp_path / "none", "board", {"id": "b"})
