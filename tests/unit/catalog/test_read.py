"""Reading well-formed catalogs: spellings, blanks, layers, sources."""

import csv
import io
import random
from datetime import date

import pytest

from optibox.catalog.classes import built_in_classes, read_classes
from optibox.catalog.columns import Figure
from optibox.catalog.describe import columns_of
from optibox.catalog.kinds import KIND_BY_NAME, KINDS
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import HardDrive
from optibox.errors import CatalogError

HEAD = 'format = 1\nname = "t"\ncurrency = "EUR"\n'
CLASSES = """\
kind,class,column,value
memory,plain,memory_type,ddr4
memory,plain,idle_w,0.9 [0.5..1.4]
memory,plain,is_registered,yes
"""


def folder(tmp_path, name="cat", **files):
    root = tmp_path / name
    root.mkdir()
    for key, text in files.items():
        file = key.replace("_", "-") + ".csv"
        if key == "head":
            file = "catalog.toml"
        (root / file).write_bytes(text if isinstance(text, bytes) else text.encode())
    return root


def memory(tmp_path, text, head=HEAD, **files):
    root = folder(tmp_path, head=head, classes=CLASSES, memory=text, **files)
    return read_catalog([root])


def test_a_row_of_four_columns_is_filled_figure_by_figure(tmp_path):
    part = memory(tmp_path, "id,class,gib,price\nm1,plain,8,20\n").by_id["m1"]
    assert part.idle_w == Figure(0.5, 0.9, 1.4, "class default")
    assert part.price == Figure(20, 20, 20, "stated")
    assert part.is_registered
    assert part.defaulted == {"memory_type", "idle_w", "is_registered"}
    assert part.form == "dimm"


def test_own_cells_win_over_the_class(tmp_path):
    text = "id,class,gib,price,idle_w,is_registered\nm1,plain,8,20,1.5,no\n"
    part = memory(tmp_path, text).by_id["m1"]
    assert part.idle_w == Figure(1.5, 1.5, 1.5, "stated")
    assert not part.is_registered
    assert part.defaulted == {"memory_type"}


SAME = [
    b"\xef\xbb\xbfid,class,gib,price,idle_w\r\nm1,plain,8,1234.5,4.1 [3.8..4.5]\r\n",
    b"id;class;gib;price;idle_w\nm1;plain;8,0;1234,5;4,1 [3,8..4,5]\n",
    b"id;class;gib;price;idle_w\nm1;plain;8;1.234,5;4,1 [3,8 .. 4,5]\n",
    b"id\tclass\tgib\tprice\tidle_w\nm1\tplain\t8\t1234.5\t4.1[3.8..4.5]\n",
    b'price,idle_w,id,gib,class\n"1,234.5","4,1 [3,8..4,5]",m1,8,plain\n',
    b"sep=;\nid;class;gib;price;idle_w\nm1;plain;8;1234,5;4,1 [3,8..4,5]\n",
    b"\n# note\n\nID , Class,gib,price,idle_w,,\n\nm1, plain ,8,1234.5,4.1 [3.8..4.5],,\n"
    b",,,,,,\n# end",
    b"# optibox format 1\rid,class,gib,price,idle_w\rm1,plain,8,1234.5,4.1 [3.8..4.5]\r",
]


@pytest.mark.parametrize("text", SAME)
def test_spellings_of_the_same_row(tmp_path, text):
    part = memory(tmp_path, text).by_id["m1"]
    assert part.price.mid == 1234.5
    assert part.idle_w == Figure(3.8, 4.1, 4.5)
    assert part.gib == 8


def test_three_digits_behind_a_comma_need_a_hint(tmp_path):
    text = "id;class;gib;price\nm1;plain;8;1,500\nm2;plain;8;{}\n"
    assert memory(tmp_path, text.format("4,1")).by_id["m1"].price.mid == 1.5
    other = tmp_path / "other"
    other.mkdir()
    with pytest.raises(CatalogError, match=r"could mean 1\.500 or 1500"):
        memory(other, text.format("4.1"))


def test_a_point_is_refused_where_commas_are_decimal(tmp_path):
    text = "id;class;gib;price\nm1;plain;8;1.500\nm2;plain;8;4,1\n"
    with pytest.raises(CatalogError, match=r"could mean 1\.500 or 1500"):
        memory(tmp_path, text)


def test_a_leading_zero_is_no_thousand(tmp_path):
    text = "id;class;gib;price\nm1;plain;8;0,500\n"
    assert memory(tmp_path, text).by_id["m1"].price.mid == 0.5


def test_commas_in_text_columns_are_left_alone(tmp_path):
    text = 'id,class,gib,price,note,x_mine\nm1,plain,8,1.500,"a 4,1 b","4,1"\n'
    part = memory(tmp_path, text).by_id["m1"]
    assert (part.note, part.extras) == ("a 4,1 b", {"x_mine": "4,1"})
    assert part.price.mid == 1.5


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("yes", True),
        ("TRUE", True),
        ("1", True),
        ("x", True),
        ("no", False),
        ("0", False),
    ],
)
def test_yes_and_no(tmp_path, text, value):
    rows = f"id,class,gib,price,has_ecc\nm1,plain,8,20,{text}\n"
    assert memory(tmp_path, rows).by_id["m1"].has_ecc is value


def test_none_stands_for_nothing_where_a_blank_does_not(tmp_path):
    board = "id,class,sata_ports,price,network_gbit_s\n"
    board += "b1,soldered low-power,4,99,none\nb2,soldered low-power,4,99,\n"
    catalog = read_catalog([folder(tmp_path, head=HEAD, board=board)])
    assert catalog.by_id["b1"].network_gbit_s is None
    assert catalog.by_id["b2"].network_gbit_s == 1.0


def test_a_later_price_replaces_an_earlier_one_and_nothing_else(tmp_path):
    first = folder(
        tmp_path,
        head=HEAD + "date = 2026-01-02\ninvented = true\n",
        classes=CLASSES,
        memory="id,class,gib,price,idle_w,note\nm1,plain,8,20,1.5,keep\nm2,plain,8,9,,\n",
    )
    second = folder(tmp_path, "p", prices="id,price,seller,note\nm1,17,shop-a,\n")
    catalog = read_catalog([first, second])
    part, other = catalog.by_id["m1"], catalog.by_id["m2"]
    assert part.price == Figure(17, 17, 17, "stated")
    assert (part.seller, part.note, part.price_date) == ("shop-a", "keep", "")
    assert part.idle_w.source == "invented"
    assert part.source == "invented"
    assert (other.price.mid, other.price_date) == (9, "2026-01-02")
    assert catalog.is_invented
    assert [p.id for p in catalog.parts] == ["m1", "m2"]


def test_prices_carry_the_day_of_their_catalog(tmp_path):
    root = folder(
        tmp_path,
        head=HEAD + "date = 2026-01-02\n",
        classes=CLASSES,
        memory="id,class,gib,price,price_date\nm1,plain,8,20,2025-05-01\nm2,plain,8,9,\n",
        prices="id,price\nm1,18\n",
    )
    catalog = read_catalog([root])
    assert [p.price_date for p in catalog.parts] == ["2026-01-02", "2026-01-02"]
    assert catalog.date == date(2026, 1, 2)


def test_a_single_file_is_a_catalog(tmp_path):
    root = folder(
        tmp_path,
        head=HEAD,
        classes=CLASSES,
        memory="id,class,gib,price\nm1,plain,8,20\n",
    )
    prices = tmp_path / "autumn.csv"
    prices.write_text("id;price\nm1;3,5\n")
    more = tmp_path / "memory.csv"
    more.write_text("id,class,gib,price\nm2,plain,16,30\n")
    catalog = read_catalog([root, prices, more])
    assert [(p.id, p.price.mid) for p in catalog.parts] == [("m1", 3.5), ("m2", 30)]
    assert catalog.name == "t + autumn + memory"


def test_a_later_class_or_class_cell_replaces(tmp_path):
    root = folder(
        tmp_path,
        head=HEAD,
        classes=CLASSES,
        memory="id,class,gib,price\nm1,plain,8,20\n",
    )
    later = folder(
        tmp_path, "later", classes="kind,class,column,value\nmemory,plain,idle_w,2\n"
    )
    part = read_catalog([root, later]).by_id["m1"]
    assert part.idle_w.mid == 2
    assert part.memory_type == "ddr4"
    assert read_classes([root, later]).of("memory", "plain")["idle_w"].text == "2"


def test_sources_figure_by_figure(tmp_path):
    text = (
        "id,class,gib,price,idle_w,active_w,source,sources\n"
        "m1,plain,8,20,1.5,2.5,datasheet,measured: idle_w | class default: active_w\n"
    )
    part = memory(tmp_path, text).by_id["m1"]
    assert (part.source, part.price.source) == ("datasheet", "datasheet")
    assert part.idle_w.source == "measured"
    assert part.active_w.source == "class default"
    assert "active_w" in part.defaulted


def test_postage_pack_and_stock_are_kept(tmp_path):
    root = folder(
        tmp_path,
        head=HEAD + '[postage]\nshop-a = 5.9\n"shop b" = 4\n',
        classes=CLASSES,
        memory="id,class,gib,price,pack,stock\nm1,plain,8,20,4.0,3\n",
    )
    later = folder(tmp_path, "later", head="[postage]\nshop-a = 0\n")
    catalog = read_catalog([root, later])
    assert catalog.postage == {"shop-a": 0.0, "shop b": 4.0}
    assert (catalog.by_id["m1"].pack, catalog.by_id["m1"].stock) == (4, 3)


def test_what_comes_with_a_part_is_found_over_all_catalogs(tmp_path):
    root = folder(
        tmp_path,
        head=HEAD,
        classes=CLASSES,
        memory="id,class,gib,price,comes_with\nm1,plain,8,20,a1 x2\n",
    )
    frames = "id,class,price\na1,screw frame,3\n"
    later = folder(tmp_path, "later", drive_adapter=frames)
    assert read_catalog([root, later]).by_id["m1"].comes_with == "a1 x2"


def test_a_blank_keeps_the_cautious_value(tmp_path):
    drives = "id,class,tb,price\nd1,3.5in 5400,4,85\n"
    cards = "id,class,connectors,price\nc1,small unknown,4 sata,20\n"
    root = folder(tmp_path, head=HEAD, hard_drive=drives, controller=cards)
    catalog = read_catalog([root])
    assert catalog.by_id["d1"].counts_as_shingled
    assert catalog.by_id["c1"].is_multiplied
    assert catalog.by_id["c1"].is_deep_idle_blocker


def test_column_order_and_row_order_do_not_matter(tmp_path):
    rows = [
        {"id": f"d{n}", "class": "3.5in 5400", "tb": str(n), "price": str(20 * n)}
        for n in range(1, 9)
    ]
    mixer, found = random.Random(1), []
    for name in ("one", "two", "three"):
        columns = ["id", "class", "tb", "price"]
        mixer.shuffle(columns)
        mixer.shuffle(rows)
        out = io.StringIO()
        writer = csv.DictWriter(out, columns)
        writer.writeheader()
        writer.writerows(rows)
        root = folder(tmp_path, name, head=HEAD, hard_drive=out.getvalue())
        found.append(read_catalog([root]).by_id)
    assert found[0] == found[1] == found[2]
    assert len(found[0]) == 8


def test_built_in_classes_fill_every_column_that_a_headline_leaves():
    drive = KIND_BY_NAME["hard drive"]
    assert drive is HardDrive
    for record in KINDS:
        needed = {
            c.name for c in columns_of(record) if c.is_required and c.from_class
        } - set(record.headline)
        for name in built_in_classes().names(record.kind):
            cells = built_in_classes().of(record.kind, name)
            assert needed - set(cells) <= _distinguishing(record.kind), (name, needed)


def _distinguishing(kind):
    """Return columns that a row of such a kind has to give beside its headline."""
    return {"chassis": {"bays_35"}}.get(kind, set())
