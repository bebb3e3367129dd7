"""Whatever stands in the files: a catalog or faults, never another error."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optibox.catalog.columns import Part
from optibox.catalog.locate import find_catalog
from optibox.catalog.read import read_catalog
from optibox.errors import CatalogError

HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\n'
GOOD = (
    "# optibox format 1\nid,class,sata_ports,slots,sharing,price,comes_with\n"
    "b1,soldered low-power,6,P1 x4 gen3 cpu | M1 m2 gen3 cpu nvme+sata,"
    'M1 sata -> ports -1,"99,5",b1 x2\n'
)
SNIPPETS = st.sampled_from(
    [
        *(",", ";", "\t", '"', "\n", "\r\n", "#", "|", "->", "x", "@", "..", "["),
        *("1,500", "nan", "1e999", "9" * 5000, "-", "\u0660", "²", "\x0b", "\u2028"),
        *("none", "%"),
    ]
)


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cat")
    (folder / "catalog.toml").write_text(HEAD)
    return folder


def read(root, name, data):
    """Return whether it is a catalog; whatever is wrong must be told as faults."""
    (root / name).write_bytes(data)
    parts, faults = (), ()
    try:
        parts = read_catalog([root]).parts
    except CatalogError as error:
        faults = error.faults
    (root / name).unlink()
    assert bool(parts) != bool(faults)
    assert all(isinstance(part, Part) for part in parts)
    assert all(fault.path and fault.problem and fault.remedy for fault in faults)
    return bool(parts)


@given(st.data())
def test_damaged_rows(root, data):
    text = GOOD
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 3))
        text = text[:at] + data.draw(SNIPPETS) + text[at + cut :]
    read(root, "board.csv", text.encode())


@given(st.binary(max_size=200))
def test_any_bytes(root, data):
    read(root, "board.csv", data)
    read(root, "classes.csv", data)
    read(root, "prices.csv", data)


@given(st.text(st.characters(codec="utf-8"), max_size=60))
def test_any_cell(root, cell):
    quoted = '"' + cell.replace('"', '""') + '"'
    rows = f"id,class,sata_ports,slots,price,note\nb1,soldered low-power,{quoted}"
    read(root, "board.csv", f"{rows},{quoted},{quoted},{quoted}\n".encode())


@pytest.mark.parametrize(
    "text",
    [
        "currency = " + "9" * 5000,
        "a = " + "[" * 5000,
        "[postage]\na = " + "9" * 400,
        "[postage]\na = nan",
        "date = 2026-01-31T10:00:00",
        "name = 1",
        "",
    ],
)
def test_damaged_heads(tmp_path, text):
    (tmp_path / "board.csv").write_text(GOOD)
    assert not read(tmp_path, "catalog.toml", text.encode())


def test_the_undamaged_rows_are_a_catalog(root):
    assert read(root, "board.csv", GOOD.encode())


@pytest.mark.parametrize("name", ["x" * 5000, "a\0b", "~nobody-at-all/x", ""])
def test_names_that_are_no_paths(name):
    with pytest.raises(CatalogError):
        find_catalog(name, Path())
    with pytest.raises(CatalogError):
        read_catalog([name or "nowhere"])
