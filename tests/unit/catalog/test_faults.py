"""Malformed catalogs: each fault at its place, all of them together."""

import pytest
from pydantic import model_validator

from optibox.catalog.kinds import KIND_BY_NAME
from optibox.catalog.platform import Memory
from optibox.catalog.read import read_catalog
from optibox.errors import CatalogError

HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\n'
CLASSES = """\
kind,class,column,value
memory,plain,memory_type,ddr4
memory,plain,idle_w,0.9 [0.5..1.4]
drive adapter,frame,max_height_mm,9.5
memory,bare,memory_type,ddr4
"""
GOOD = "id,class,gib,price\nm1,plain,8,20\n"


def folder(tmp_path, files, name="cat"):
    """Write a catalog; bytes are written as they are."""
    root = tmp_path / name
    root.mkdir()
    every = {"catalog.toml": HEAD, "classes.csv": CLASSES, "memory.csv": GOOD}
    for file, text in {**every, **files}.items():
        if text is not None:
            data = text if isinstance(text, bytes) else text.encode()
            (root / file).write_bytes(data)
    return root


def faults(root, *more):
    with pytest.raises(CatalogError) as caught:
        read_catalog([root, *more])
    return [
        (f.path.rpartition("/")[2], f.line, f.field) for f in caught.value.faults
    ], str(caught.value)


CASES = {
    "unknown column": ("id,class,gib,prise\n", ("memory.csv", 1, "prise"), "'price'"),
    "no id column": ("class,gib,price\n", ("memory.csv", 1, "id"), "missing"),
    "column twice": ("id,gib,gib\n", ("memory.csv", 1, "gib"), "2 times"),
    "blank id": (
        "id,class,gib,price\n,plain,8,20\n",
        ("memory.csv", 2, "id"),
        "is blank",
    ),
    "id with spaces": (
        "id,class,gib,price\nm 1,plain,8,20\n",
        ("memory.csv", 2, "id"),
        "'m 1' is not an id",
    ),
    "id twice": (
        GOOD + "m1,plain,16,30\n",
        ("memory.csv", 3, "id"),
        "line 2 already",
    ),
    "not a number": (
        "id,class,gib,price\nm1,plain,8,cheap\n",
        ("memory.csv", 2, "price"),
        "'cheap' is not a number; expected 4.1, 3.8..4.5 or 4.1 [3.8..4.5]",
    ),
    "NaN": (
        "id,class,gib,price\nm1,plain,nan,20\n",
        ("memory.csv", 2, "gib"),
        "not a finite number",
    ),
    "infinity in a figure": (
        "id,class,gib,price\nm1,plain,8,inf\n",
        ("memory.csv", 2, "price"),
        "not a finite number",
    ),
    "too large for a float": (
        "id,class,gib,price\nm1,plain,8,1e999\n",
        ("memory.csv", 2, "price"),
        "not a finite number",
    ),
    "negative": (
        "id,class,gib,price\nm1,plain,8,-20\n",
        ("memory.csv", 2, "price"),
        "expected 0 to 100000",
    ),
    "absurd": (
        "id,class,gib,price\nm1,plain,4000000,20\n",
        ("memory.csv", 2, "gib"),
        "expected 0.25 to 4096 GiB",
    ),
    "bounds the wrong way round": (
        "id,class,gib,price,idle_w\nm1,plain,8,20,5..4\n",
        ("memory.csv", 2, "idle_w"),
        "low <= value <= high",
    ),
    "unit in the cell": (
        "id,class,gib,price,idle_w\nm1,plain,8,20,4.1 W\n",
        ("memory.csv", 2, "idle_w"),
        "Give it in W, without the unit's letters.",
    ),
    "ambiguous comma": (
        'id,class,gib,price\nm1,plain,8,"1,500"\n',
        ("memory.csv", 2, "price"),
        "could mean 1.500 or 1500",
    ),
    "not a whole number": (
        "id,class,gib,price,pack\nm1,plain,8,20,1.5\n",
        ("memory.csv", 2, "pack"),
        "whole number",
    ),
    "neither yes nor no": (
        "id,class,gib,price,has_ecc\nm1,plain,8,20,perhaps\n",
        ("memory.csv", 2, "has_ecc"),
        "neither yes nor no",
    ),
    "not a choice": (
        "id,class,gib,price,form\nm1,plain,8,20,sodimm\n",
        ("memory.csv", 2, "form"),
        "expected dimm, so-dimm",
    ),
    "unknown class": (
        "id,class,gib,price\nm1,plian,8,20\n",
        ("memory.csv", 2, "class"),
        "Did you mean 'plain'?",
    ),
    "class of another kind": (
        "id,class,gib,price\nm1,frame,8,20\n",
        ("memory.csv", 2, "class"),
        "it is one of drive adapter",
    ),
    "no class": (
        "id,gib,price\nm1,8,20\n",
        ("memory.csv", 2, "class"),
        "nothing fills memory_type, idle_w",
    ),
    "required and blank": (
        "id,class,gib,price\nm1,plain,8,\n",
        ("memory.csv", 2, "price"),
        "is blank",
    ),
    "too many cells": (
        "id,class,gib,price\nm1,plain,8,20,5\n",
        ("memory.csv", 2, ""),
        "has 5 cells where the header has 4 columns",
    ),
    "too few cells": (
        "id,class,gib,price\nm1,plain,8\n",
        ("memory.csv", 2, ""),
        "has 3 cells",
    ),
    "cell under no name": (
        "id,class,gib,price,,\nm1,plain,8,20,,5\n",
        ("memory.csv", 2, ""),
        "'5' under no column name",
    ),
    "quote never closed": (
        'id,class,gib,price\nm1,plain,8,"20\nm2,plain,8,20\n',
        ("memory.csv", 2, ""),
        "never closed",
    ),
    "text behind a quote": (
        'id,class,gib,price\nm1,plain,8,"20"5\n',
        ("memory.csv", 2, ""),
        "quotes in the wrong place",
    ),
    "newer format": (
        "# optibox format 2\n" + GOOD,
        ("memory.csv", 1, "format"),
        "expected 1",
    ),
    "empty file": ("", ("memory.csv", 1, ""), "no header"),
    "NUL byte": (
        b"id,class,gib,price\nm1,plain,8,2\x000\n",
        ("memory.csv", 2, ""),
        "NUL byte",
    ),
    "other encoding": (
        "id,class,gib,price,label\nm1,plain,8,20,Größe\n".encode("latin-1"),
        ("memory.csv", 2, ""),
        "CSV UTF-8",
    ),
    "UTF-16": (GOOD.encode("utf-16"), ("memory.csv", 1, ""), "UTF-16"),
    "day": (
        "id,class,gib,price,price_date\nm1,plain,8,20,31.1.2026\n",
        ("memory.csv", 2, "price_date"),
        "2026-01-31",
    ),
    "box": (
        "id,class,gib,price,comes_with\nmem-1,plain,8,20,mem-2 x2\n",
        ("memory.csv", 2, "comes_with"),
        "Did you mean 'mem-1'?",
    ),
    "box notation": (
        "id,class,gib,price,comes_with\nmem-1,plain,8,20,mem-1 2\n",
        ("memory.csv", 2, "comes_with"),
        "expected a part id",
    ),
    "source": (
        "id,class,gib,price,source\nm1,plain,8,20,guessed\n",
        ("memory.csv", 2, "source"),
        "expected measured, datasheet, invented, stated",
    ),
    "single source": (
        "id,class,gib,price,sources\nm1,plain,8,20,measured: idle\n",
        ("memory.csv", 2, "sources"),
        "Did you mean 'idle_w'?",
    ),
    "malformed sources": (
        "id,class,gib,price,sources\nm1,plain,8,20,idle_w measured\n",
        ("memory.csv", 2, "sources"),
        "expected 'measured: idle_w tbw",
    ),
    "class that leaves a blank": (
        "id,class,gib,price\nm1,bare,8,20\n",
        ("memory.csv", 2, "idle_w"),
        "the class 'bare' does not fill it",
    ),
    "percentage": (
        "id,class,gib,price\nm1,plain,8,20%\n",
        ("memory.csv", 2, "price"),
        "is a percentage",
    ),
    "long cell": (
        f"id,class,gib,price,note\nm1,plain,8,20,{'n' * 2001}\n",
        ("memory.csv", 2, "note"),
        "at most 2000",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_malformed_rows(tmp_path, case):
    text, place, words = CASES[case]
    places, message = faults(folder(tmp_path, {"memory.csv": text}))
    assert places == [place]
    assert words in message


FILES = {
    "unknown kind": (
        {"memorie.csv": "id\n"},
        ("memorie.csv", 0, ""),
        "Did you mean 'memory.csv'?",
    ),
    "class column": (
        {"classes.csv": CLASSES + "memory,plain,idle,3\n"},
        ("classes.csv", 6, "column"),
        "Did you mean 'idle_w'?",
    ),
    "class gives a price": (
        {"classes.csv": CLASSES + "memory,plain,price,3\n"},
        ("classes.csv", 6, "column"),
        "no column that a class of memory can fill",
    ),
    "class value": (
        {"classes.csv": CLASSES + "memory,plain,active_w,much\n"},
        ("classes.csv", 6, "value"),
        "not a number",
    ),
    "class kind": (
        {"classes.csv": CLASSES + "memori,plain,active_w,2\n"},
        ("classes.csv", 6, "kind"),
        "Did you mean 'memory'?",
    ),
    "class cell twice": (
        {"classes.csv": CLASSES + "memory,plain,idle_w,2\n"},
        ("classes.csv", 6, "column"),
        "on line 3 already",
    ),
    "class blank": (
        {"classes.csv": CLASSES + "memory,,idle_w,2\n"},
        ("classes.csv", 6, "class"),
        "is blank",
    ),
    "head key": (
        {"catalog.toml": HEAD + "curency = 1\n"},
        ("catalog.toml", 4, "curency"),
        "Did you mean 'currency'?",
    ),
    "head syntax": (
        {"catalog.toml": HEAD + "date = = 1\n"},
        ("catalog.toml", 4, ""),
        "not valid TOML",
    ),
    "head format": (
        {"catalog.toml": HEAD.replace("= 1", "= 7")},
        ("catalog.toml", 1, "format"),
        "expected 1",
    ),
    "head day": (
        {"catalog.toml": HEAD + 'date = "soon"\n'},
        ("catalog.toml", 4, "date"),
        "not a day",
    ),
    "head postage": (
        {"catalog.toml": HEAD + "[postage]\nshop-a = -1\n"},
        ("catalog.toml", 5, "postage.shop-a"),
        "0 to 100000",
    ),
    "head postage is a number": (
        {"catalog.toml": HEAD + "postage = 5\n"},
        ("catalog.toml", 4, "postage"),
        "is not a table",
    ),
    "head currency": (
        {"catalog.toml": HEAD.replace("EUR", "euros and cents")},
        ("catalog.toml", 3, "currency"),
        "longer than 12 characters",
    ),
    "head name": (
        {"catalog.toml": HEAD.replace('"t"', "5")},
        ("catalog.toml", 2, "name"),
        "is not text",
    ),
    "class header": (
        {"classes.csv": CLASSES.replace("kind,class", "kind,clas")},
        ("classes.csv", 1, "clas"),
        "Did you mean 'class'?",
    ),
    "head invented": (
        {"catalog.toml": HEAD + 'invented = "yes"\n'},
        ("catalog.toml", 4, "invented"),
        "true nor false",
    ),
    "no head": ({"catalog.toml": None}, ("catalog.toml", 0, ""), "names no currency"),
    "no parts": ({"memory.csv": "id,price\n"}, ("cat", 0, ""), "holds no parts"),
    "price of nothing": (
        {"prices.csv": "id,price\nm2,5\n"},
        ("prices.csv", 2, "id"),
        "the id of no part",
    ),
    "prices column": (
        {"prices.csv": "id,price,gib\nm1,5,3\n"},
        ("prices.csv", 1, "gib"),
        "not a column of a prices file",
    ),
    "id of two kinds": (
        {"drive-adapter.csv": "id,class,price\nm1,frame,5\n"},
        ("drive-adapter.csv", 2, "id"),
        "unique within one catalog",
    ),
}


@pytest.mark.parametrize("case", FILES)
def test_malformed_files(tmp_path, case):
    files, place, words = FILES[case]
    places, message = faults(folder(tmp_path, files))
    assert place in places
    assert words in message


BOARD = "id,class,sata_ports,slots,sharing,price\nb1,soldered low-power,6,{},{},100\n"


@pytest.mark.parametrize(
    ("slots", "sharing", "field"),
    [
        ("P1 x4 gen3", "", "slots"),
        ("P1 x4 gen3 cpu | P1 x1 gen2 cpu", "", "slots"),
        ("P1 x4 x8 gen3 cpu", "", "slots"),
        ("P1 x4 gen9 cpu", "", "slots"),
        ("M1 m2 gen3 cpu 2281", "", "slots"),
        ("P1 x4 gen3 cpu", "P1 to P2", "sharing"),
        ("P1 x4 gen3 cpu", "P3 -> ports -1", "sharing"),
    ],
)
def test_notations(tmp_path, slots, sharing, field):
    text = BOARD.format(slots, sharing)
    places, _ = faults(folder(tmp_path, {"board.csv": text}))
    assert places == [("board.csv", 2, field)]


def test_one_full_text(tmp_path):
    text = "id,class,gib,price\nm1,plain,8,-3\n"
    root = folder(tmp_path, {"memory.csv": text})
    assert faults(root)[1] == (
        f"{root}/memory.csv, line 2, price: '-3' is outside the believable range; "
        "expected 0 to 100000 currency. Give the amount alone, without the "
        "currency."
    )


def test_all_faults_of_all_files_are_told_together_and_sorted(tmp_path):
    root = folder(
        tmp_path,
        {
            "memory.csv": "id,class,gib,price,x\nm1,plain,nan,-1,\nm1,plain,8,5,\n",
            "drive-adapter.csv": "id,class,price\na1,fram,5\n",
            "catalog.toml": HEAD + "nots = 1\n",
        },
    )
    assert faults(root)[0] == [
        ("catalog.toml", 4, "nots"),
        ("drive-adapter.csv", 2, "class"),
        ("memory.csv", 1, "x"),
        ("memory.csv", 2, "gib"),
        ("memory.csv", 2, "price"),
        ("memory.csv", 3, "id"),
    ]


def test_a_fault_does_not_hide_that_the_id_is_there_twice(tmp_path):
    text = "id,class,gib,price\nm1,plain,nan,20\nm1,plain,nan,20\n"
    places, _ = faults(folder(tmp_path, {"memory.csv": text}))
    assert ("memory.csv", 3, "id") in places


def test_lines_are_right_across_blank_comment_and_multi_line_cells(tmp_path):
    text = (
        '# optibox format 1\r\n\r\nid,class,gib,price,note\r\n# a ,"comment\r\n'
        '\r\nm1,plain,8,20,"two\r\n\r\n# lines"\r\n\r\nm2,plain,8,no,\r\n'
    )
    places, _ = faults(folder(tmp_path, {"memory.csv": text}))
    assert places == [("memory.csv", 10, "price")]


def test_missing_folders_and_foreign_folders(tmp_path):
    places, message = faults(tmp_path / "nowhere")
    assert places == [("nowhere", 0, "")]
    assert "does not exist" in message
    (tmp_path / "other").mkdir()
    assert "is no catalog" in faults(tmp_path / "other")[1]
    with pytest.raises(CatalogError, match="are missing"):
        read_catalog([])


def test_unreadable_file(tmp_path):
    root = folder(tmp_path, {"memory.csv": None})
    (root / "memory.csv").mkdir()
    places, message = faults(root)
    assert places == [("memory.csv", 0, "")]
    assert "is a folder" in message


def test_currencies_are_not_converted(tmp_path):
    root = folder(tmp_path, {})
    other = folder(tmp_path, {"catalog.toml": 'currency = "CHF"\n'}, name="other")
    places, message = faults(root, other)
    assert places == [("catalog.toml", 0, "")]
    assert "nothing converts currencies" in message


def test_an_id_keeps_its_kind(tmp_path):
    root = folder(tmp_path, {})
    frames = {"memory.csv": None, "drive-adapter.csv": "id,class,price\nm1,frame,5\n"}
    other = folder(tmp_path, frames, name="other")
    places, message = faults(root, other)
    assert places == [("drive-adapter.csv", 2, "id")]
    assert "is a memory in" in message


def test_a_rule_over_several_columns_is_a_fault_of_the_row(tmp_path, monkeypatch):
    class Strict(Memory):
        @model_validator(mode="after")
        def _small(self):
            msg = "Modules of 8 GiB are refused here"
            raise ValueError(msg)

    monkeypatch.setitem(KIND_BY_NAME, "memory", Strict)
    places, message = faults(folder(tmp_path, {}))
    assert places == [("memory.csv", 2, "")]
    assert message.endswith("modules of 8 GiB are refused here. Correct the row.")
