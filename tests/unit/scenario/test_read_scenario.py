"""Scenario files that are fine: forms, settings, parts in place, owned ones."""

from pathlib import Path

import pytest

from optibox.build import items_of
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure
from optibox.catalog.platform import Board
from optibox.catalog.storage import HardDrive
from optibox.scenario import Scenario, assumed_defaults, read_scenario

HEAD = """\
needs.usable_tb = 12
needs.failures_survived = 1
needs.read_mb_s = 80
money.tariff_per_kwh = 0.32
"""
EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*.toml"))


def read(folder, text, *settings):
    path = folder / "scenario.toml"
    path.write_text(text, encoding="utf-8")
    return read_scenario(path, settings)


def test_five_lines_suffice(tmp_path):
    scenario, catalog = read(tmp_path, 'catalogs = ["invented"]\n' + HEAD)
    assert isinstance(scenario, Scenario)
    assert isinstance(catalog, Catalog)
    assert scenario.needs.capacity_tb == 12
    assert scenario.money.years == 5
    assert catalog.is_invented


def test_tables_and_dotted_keys_mean_the_same(tmp_path):
    tables = """
        [needs]
        usable_tb = 12
        failures_survived = 1
        read_mb_s = 80
        [money]
        tariff_per_kwh = 0.32
    """
    assert read(tmp_path, tables)[0] == read(tmp_path, HEAD)[0]


def test_byte_order_mark_and_windows_lines_are_tolerated(tmp_path):
    path = tmp_path / "scenario.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode())
    assert read_scenario(path)[0] == read(tmp_path, HEAD)[0]


def test_tib_are_larger_than_tb(tmp_path):
    # 1 TiB = 2^40 bytes (IEC 80000-13), 1 TB = 10^12 bytes (SI).
    text = HEAD.replace("usable_tb", "usable_tib")
    assert read(tmp_path, text)[0].needs.capacity_tb == 12 * 2**40 / 10**12


BANDS = (
    HEAD.replace("money.tariff_per_kwh = 0.32\n", "")
    + """
[[money.bands]]
from_hour = 0
to_hour = 24
price_per_kwh = 0.2
[[money.bands]]
days = "weekdays"
from_hour = 22
to_hour = 6
price_per_kwh = 0.1
"""
)


def test_bands_that_cover_the_week_need_no_flat_tariff(tmp_path):
    money = read(tmp_path, BANDS)[0].money
    assert money.price_at(0, 23) == 0.1
    assert money.price_at(6, 23) == 0.2
    assert money.price_at(0, 12) == 0.2
    # five weekday nights at 0.1 and two weekend nights at 0.2
    assert money.prices_by_hour()[3] == pytest.approx((5 * 0.1 + 2 * 0.2) / 7)


def test_setting_changes_a_key_for_one_run(tmp_path):
    settings = (
        "needs.usable_tb=16",
        "limits.shape=rack",
        "name=north archive",
        'choices.layouts=["pairs"]',
        "needs.ecc = true",
        "money.years=7",
        "money.years=8",
    )
    scenario, _ = read(tmp_path, HEAD, *settings)
    assert scenario.needs.usable_tb == 16
    assert scenario.limits.shape == "rack"
    assert scenario.name == "north archive"
    assert scenario.choices.layouts == ("pairs",)
    assert scenario.needs.ecc
    assert scenario.money.years == 8
    assert read(tmp_path, HEAD)[0].needs.usable_tb == 12


def test_blank_setting_brings_the_default_back(tmp_path):
    assert read(tmp_path, HEAD, "needs.read_mb_s=")[0].needs.read_mb_s == 0


def test_setting_of_one_capacity_replaces_the_other(tmp_path):
    needs = read(tmp_path, HEAD, "needs.usable_tib=10")[0].needs
    assert (needs.usable_tb, needs.usable_tib) == (None, 10)


def test_setting_reaches_into_lists_of_tables(tmp_path):
    text = HEAD + '[[owned]]\nid = "hdd-35-8tb-c5400"\n'
    assert read(tmp_path, text, "owned[0].count=3")[0].owned[0].count == 3


IN_PLACE = '[[owned]]\nkind = "hard drive"\nclass = "3.5in 5400"\ntb = 4\ncount = 4\n'


def test_owned_part_in_place_takes_its_blanks_from_its_class(tmp_path):
    scenario, catalog = read(
        tmp_path, HEAD + IN_PLACE + "age_years = 3.5\nhours = 9000"
    )
    (owned,) = scenario.owned
    assert isinstance(owned.part, HardDrive)
    assert (owned.count, owned.age_years, owned.hours) == (4, 3.5, 9000)
    assert owned.part.tb == 4
    assert "idle_w" in owned.part.defaulted
    assert owned.part.recording == "unknown"
    assert owned.id == owned.part.id
    assert owned.id not in catalog.by_id


def test_unpriced_drive_wears_at_the_price_of_the_nearest_one(tmp_path):
    scenario, catalog = read(tmp_path, HEAD + IN_PLACE)
    price = scenario.owned[0].replacement_price
    alike = [
        p.price.mid / p.pack
        for p in catalog.of(HardDrive)
        if p.form == "3.5" and p.interface == "sata" and p.tb >= 4
    ]
    assert price.mid == min(alike)
    assert price.source == "class default"
    assumed = {a.key: a.value for a in assumed_defaults(scenario)}
    assert assumed["owned[0].replacement_price"] == str(price)
    priced = read(tmp_path, HEAD + IN_PLACE + "price = 70")[0].owned[0]
    assert priced.replacement_price is None
    assert priced.part.price.mid == 70


def test_owned_catalog_part_with_measured_figures(tmp_path):
    text = HEAD + '[[owned]]\nid = "hdd-35-8tb-c5400"\nidle_w = "3.9 [3.7..4.0]"\n'
    scenario, catalog = read(tmp_path, text)
    (owned,) = scenario.owned
    assert owned.part.idle_w == Figure(3.7, 3.9, 4.0, "measured")
    assert owned.part.standby_w == catalog.by_id[owned.id].standby_w
    assert catalog.by_id[owned.id].idle_w.mid == 4.3


def test_two_histories_of_one_part_stay_apart(tmp_path):
    text = HEAD + '[[owned]]\nid = "hdd-35-8tb-c5400"\nhours = 100\n' * 2
    scenario, catalog = read(tmp_path, text)
    assert [o.id for o in scenario.owned] == ["hdd-35-8tb-c5400", "hdd-35-8tb-c5400-2"]
    assert {o.part.id for o in scenario.owned} == {"hdd-35-8tb-c5400"}
    keys = [item.key for item in items_of(catalog, scenario) if item.is_owned]
    assert len(set(keys)) == 2


def test_inline_tables_are_as_good(tmp_path):
    text = 'owned = [{ kind = "board", class = "soldered low-power", sata_ports = 4 }]'
    owned = read(tmp_path, text + "\n" + HEAD)[0].owned[0]
    assert isinstance(owned.part, Board)
    assert owned.part.sata_ports == 4


def test_parts_in_place_are_on_offer(tmp_path):
    text = (
        HEAD
        + """
        [[parts]]
        id = "attic-drive"
        kind = "hard drive"
        class = "3.5in 5400"
        tb = 6
        price = 40
        [[parts]]
        id = "hdd-35-8tb-c5400"
        price = 99.5
        stock = 2
    """
    )
    _, catalog = read(tmp_path, text)
    assert catalog.by_id["attic-drive"].price.mid == 40
    changed = catalog.by_id["hdd-35-8tb-c5400"]
    assert (changed.price.mid, changed.price.source, changed.stock) == (
        99.5,
        "stated",
        2,
    )
    assert changed.idle_w.mid == 4.3


def test_ten_parts_in_place_need_few_words(tmp_path):
    rows = """
        {kind = "chassis", class = "mini tower", bays_35 = 4, price = 55},
        {kind = "board", class = "soldered low-power", sata_ports = 4, price = 110},
        {kind = "memory", class = "ddr4 so-dimm", gib = 8, price = 22},
        {kind = "power supply", class = "small modern", form = "atx", rated_w = 300, leads = "sata 4", price = 48},
        {kind = "hard drive", class = "3.5in 5400", tb = 4, price = 85},
        {kind = "hard drive", class = "3.5in 5400", tb = 8, price = 150},
        {kind = "solid-state drive", class = "sata ssd", tb = 0.5, price = 42},
        {kind = "boot medium", class = "usb module", gb = 16, price = 14},
        {kind = "cable", class = "single", price = 2.5},
        {kind = "drive adapter", class = "screw frame", price = 6},
    """
    before = read(tmp_path, HEAD)[1]
    after = read(tmp_path, f"parts = [{rows}]\n{HEAD}")[1]
    assert len(after.parts) == len(before.parts) + 10


MEASURED = """
format = 1
[factors]
reconstruct = "0.68 [0.66..0.70]"
[parts.hdd-35-8tb-c5400]
idle_w = 3.6
[parts."hdd-35-8tb-c5400@owned"]
standby_w = 0.5
"""


def test_measured_figures_come_last(tmp_path):
    (tmp_path / "measured.toml").write_text(MEASURED)
    text = 'measured = "measured.toml"\noverrides.reconstruct = 0.8\n' + HEAD
    text += '[[owned]]\nid = "hdd-35-8tb-c5400"\nidle_w = 9\n'
    scenario, catalog = read(tmp_path, text)
    assert scenario.overrides.reconstruct == Figure(0.66, 0.68, 0.70, "measured")
    assert catalog.by_id["hdd-35-8tb-c5400"].idle_w.mid == 3.6
    assert catalog.by_id["hdd-35-8tb-c5400"].standby_w.mid == 0.7
    assert scenario.owned[0].part.idle_w.mid == 3.6
    assert scenario.owned[0].part.standby_w == Figure(0.5, 0.5, 0.5, "measured")
    again, _ = read(tmp_path, text, "overrides.reconstruct=0.75")
    assert again.overrides.reconstruct.mid == 0.75


def test_catalogs_lie_beside_the_scenario_and_later_ones_win(tmp_path):
    (tmp_path / "prices.csv").write_text("id,price\nhdd-35-8tb-c5400,77\n")
    text = 'catalogs = ["invented", "prices.csv"]\n' + HEAD
    assert read(tmp_path, text)[1].by_id["hdd-35-8tb-c5400"].price.mid == 77


def test_classes_of_a_catalog_serve_parts_in_place(tmp_path):
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "catalog.toml").write_text('currency = "EUR"\n')
    (folder / "classes.csv").write_text(
        "kind,class,column,value\nhard drive,3.5in 5400,standby_w,0.31\n"
    )
    text = f'catalogs = ["invented", "mine"]\n{HEAD}{IN_PLACE}'
    owned = read(tmp_path, text)[0].owned[0]
    assert owned.part.standby_w.mid == 0.31


def test_names_of_all_sorts_may_be_ruled_out(tmp_path):
    text = (
        'ban = ["hdd-35-8tb-c5400", "hdd-25-*", "class:2u rack", "kind:riser", '
        '"feature:shingled"]\ninsist = ["hdd-35-12tb-h7200", "hdd-35-24tb-s7200@owned"]\n'
        + HEAD
        + '[[owned]]\nid = "hdd-35-24tb-s7200"\n[[spares]]\nid = "cable-sata-05"\n'
    )
    scenario, _ = read(tmp_path, text)
    assert len(scenario.ban) == 5


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_read_without_faults(path):
    scenario, catalog = read_scenario(path)
    assert scenario.catalogs == ("invented",)
    assert catalog.is_invented
    assert path.read_text(encoding="utf-8").startswith("# ")


def test_there_are_six_examples():
    assert len(EXAMPLES) >= 6


def test_shortest_example_has_five_effective_lines():
    (path,) = (path for path in EXAMPLES if path.stem == "five-lines")
    lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
    assert sum(bool(line) and not line.startswith("#") for line in lines) == 5


def test_extras_of_an_owned_part_are_carried(tmp_path):
    text = HEAD + '[[owned]]\nid = "hdd-35-8tb-c5400"\nx_bay = "left"\n'
    assert read(tmp_path, text)[0].owned[0].part.extras == {"x_bay": "left"}


def test_drive_larger_than_all_is_priced_in_proportion(tmp_path):
    part = HEAD + '[[owned]]\nkind = "hard drive"\nclass = "3.5in 5400"\ntb = 48\n'
    scenario, catalog = read(tmp_path, part)
    alike = [
        p for p in catalog.of(HardDrive) if (p.form, p.interface) == ("3.5", "sata")
    ]
    big = max(alike, key=lambda p: p.tb)
    price = scenario.owned[0].replacement_price.mid
    assert price == pytest.approx(big.price.mid / big.pack * 48 / big.tb)


def test_setting_can_take_an_entry_out_of_a_list(tmp_path):
    text = HEAD + '[[owned]]\nid = "hdd-35-8tb-c5400"\n'
    assert read(tmp_path, text, "owned[0]=")[0].owned == ()
