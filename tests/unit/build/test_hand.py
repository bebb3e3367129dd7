"""Builds written by hand: what is understood, and every fault at its place."""

import pytest

from optibox.build.hand import catalog_for, is_by_hand, sketch_from_table
from optibox.catalog.locate import shipped_catalogs
from optibox.catalog.read import read_catalog
from optibox.errors import BuildError
from optibox.files import parse_toml
from optibox.scenario.messages import Origin
from optibox.scenario.places import lines_of_keys


@pytest.fixture(scope="module")
def catalog():
    return read_catalog([shipped_catalogs()["invented"]])


def sketch(text, catalog):
    table = parse_toml("b.toml", text)
    origin = Origin(path="b.toml", lines=lines_of_keys(text))
    return sketch_from_table(table, origin, catalog)


def faults(text, catalog):
    with pytest.raises(BuildError) as caught:
        sketch(text, catalog)
    return caught.value.faults


DISKS = """
[[parts]]
id = "hdd-35-4tb-c5400"
count = 2
role = "data"

[[parts]]
id = "hdd-35-4tb-c5400"
role = "parity"
name = "p"
"""


def test_parts_of_one_id_are_one_item_with_a_drive_each(catalog):
    found = sketch(DISKS, catalog)
    (entry,) = found.items
    assert (entry.item.key, entry.count) == ("hdd-35-4tb-c5400", 3)
    assert [(d.name, d.role) for d in found.drives] == [
        ("data-1", "data"),
        ("data-2", "data"),
        ("p", "parity"),
    ]
    assert not entry.item.is_owned
    assert found.wires == ()


def test_what_is_not_said_stays_open(catalog):
    text = '[[parts]]\nid = "hdd-35-4tb-c5400"\n[[parts]]\nid = "ssd-sata-500"\n'
    found = sketch(text, catalog)
    assert [(d.name, d.role) for d in found.drives] == [
        ("drive-1", None),
        ("ssd-1", None),
    ]
    assert dict(found.operation) == {}


def test_a_history_makes_a_part_owned(catalog):
    text = '[[parts]]\nid = "hdd-35-4tb-c5400"\ncount = 2\nhours = 9000\n'
    (entry,) = sketch(text, catalog).items
    assert entry.item.owned is not None
    assert (entry.item.owned.hours, entry.item.owned.count) == (9000, 2)
    assert entry.item.pack_price == 0


def test_a_whole_file_can_be_owned_and_a_part_excepted(catalog):
    text = 'owned = true\n[[parts]]\nid = "psu-atx-450"\n[[parts]]\nid = "mem-ddr4-8"\nowned = false\n'
    owned = {e.item.part.id: e.item.is_owned for e in sketch(text, catalog).items}
    assert owned == {"psu-atx-450": True, "mem-ddr4-8": False}


def test_parts_in_place_take_their_class_and_measured_figures_win(catalog):
    text = """
[[parts]]
kind = "hard drive"
class = "3.5in 5400"
tb = 6
idle_w = 4.4
"""
    (entry,) = sketch(text, catalog).items
    part = entry.item.part
    assert (part.tb, part.idle_w.mid) == (6, 4.4)
    assert "outer_rate_mb_s" in part.defaulted
    assert part.price.mid > 0, "priced by the nearest drive of the catalog"


def test_a_plain_port_is_one_number_and_a_card_can_be_called_by_its_id(catalog):
    text = """
[[parts]]
id = "ctl-4n-x1g3"
slot = "P1"
[[parts]]
id = "hdd-35-4tb-c5400"
count = 2
role = "data"
[[parts]]
id = "cable-sata-05"
count = 2
[[wiring]]
drives = ["data-1", "data-2"]
host = "ctl-4n-x1g3"
port = [2, 4]
bay = ["3.5-1", "3.5-2"]
cable = "cable-sata-05"
"""
    found = sketch(text, catalog)
    one, two = found.wires
    assert (one.host, one.connector, one.port) == ("controller-1", 2, 1)
    assert (two.connector, two.bay) == (4, "3.5-2")
    assert one.cable != two.cable, "each drive has a plain cable of its own"
    assert one.is_whole
    assert found.slots[0].slot == "P1"


def test_the_drives_of_one_breakout_share_a_piece(catalog):
    text = """
[[parts]]
id = "hba-8i-gen2-ready"
[[parts]]
id = "hdd-35-4tb-c5400"
count = 2
role = "data"
[[parts]]
id = "cable-fwd-8087-05"
[[wiring]]
drives = ["data-1", "data-2"]
host = "controller-1"
connector = 2
port = [1, 2]
cable = "cable-fwd-8087-05"
"""
    one, two = sketch(text, catalog).wires
    assert one.cable == two.cable
    assert [(w.connector, w.port) for w in (one, two)] == [(2, 1), (2, 2)]
    assert one.bay is None


def test_saved_and_hand_written_files_are_told_apart():
    assert is_by_hand({"parts": []})
    assert is_by_hand({})
    assert not is_by_hand({"items": [], "operation": {}})


@pytest.mark.parametrize(
    ("text", "field", "words"),
    [
        ('[[parts]]\nid = "hdd-35-4tb-c540"\n', "parts[0].id", "Did you mean"),
        ('[[parts]]\nid = "psu-atx-450"\ncout = 2\n', "parts[0].cout", "count"),
        ('[[parts]]\nid = "psu-atx-450"\ncount = 0\n', "parts[0].count", "1 to 100"),
        ('[[parts]]\nid = "psu-atx-450"\nrole = "data"\n', "parts[0].role", "power supply"),
        ('[[parts]]\nid = "ssd-sata-500"\nslot = "M1"\n', "parts[0].slot", "no M.2 module"),
        ('[[parts]]\nid = "nic-1g-x1"\nslot = ["P1", "P2"]\n', "parts[0].slot", "2 slots"),
        ("parts = []\n", "parts", "are missing"),
        (DISKS + '[[wiring]]\ndrives = "data-9"\n', "wiring[0].drives", "no drive"),
        (DISKS + '[[wiring]]\ndrives = "p"\nhost = "ctl"\n', "wiring[0].host", "no card"),
        (DISKS + '[[wiring]]\ndrives = "p"\ncable = "x"\n', "wiring[0].cable", "no part"),
        (DISKS + '[[wiring]]\ndrives = "p"\nbay = ["a", "b"]\n', "wiring[0].bay", "more"),
        (DISKS + '[[wiring]]\ndrives = ["p", "p"]\n', "wiring[0].drives", "twice"),
        (DISKS + "[[wiring]]\nport = 1\n", "wiring[0].drives", "is missing"),
        (DISKS + '[operation]\nlayout = "stripe"\n', "operation.layout", "striped"),
        (
            DISKS + '[operation]\nlayout = "pairs"\nwrite_mode = "reconstruct"\n',
            "operation",
            "do not go together",
        ),
        (DISKS + '[[parts]]\nid = "psu-atx-450"\nname = "p"\nfoo = 1\n', "parts[2].foo", ""),
        (DISKS + "[around]\nups_va = -4\n", "around.ups_va", "believable"),
    ],
)  # fmt: skip
def test_each_fault_is_told_at_its_place(text, field, words, catalog):
    found = faults(text, catalog)
    at = [fault for fault in found if fault.field == field]
    assert at, [str(fault) for fault in found]
    assert words in str(at[0])
    assert at[0].path == "b.toml"
    assert at[0].line > 0


def test_faults_of_parts_and_of_wiring_come_together(catalog):
    text = '[[parts]]\nid = "nothing"\n[[wiring]]\nbays = 3\n'
    fields = {fault.field for fault in faults(text, catalog)}
    assert {"parts[0].id", "wiring[0].bays", "wiring[0].drives"} <= fields


def test_the_file_names_its_catalogs_or_takes_the_given_one(catalog, tmp_path):
    assert catalog_for({}, tmp_path, catalog) is catalog
    own = catalog_for({"catalogs": ["invented"]}, tmp_path, None)
    assert own.by_id.keys() == catalog.by_id.keys()
