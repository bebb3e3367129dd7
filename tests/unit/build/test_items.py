"""Items on offer, what scenarios rule out, and what a build buys."""

import math
from dataclasses import replace

import pytest

from optibox.build import Build, Item, ItemCount, OperatingPlan, items_of
from optibox.build.items import FEATURES, has_feature
from optibox.catalog.attachment import Cable
from optibox.catalog.locate import shipped_catalogs
from optibox.catalog.platform import Board
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import HardDrive
from optibox.scenario import Money, Needs, OwnedPart, Scenario

DRIVE = "hdd-35-8tb-c5400"


@pytest.fixture(scope="module")
def catalog():
    return read_catalog([shipped_catalogs()["invented"]])


def scenario(**more):
    needs = Needs(usable_tb=8)
    return Scenario(needs=needs, money=Money(tariff_per_kwh=0.3), **more)


def keys(catalog, **more):
    return {item.key: item for item in items_of(catalog, scenario(**more))}


def test_everything_in_stock_is_on_offer(catalog):
    offered = keys(catalog)
    assert offered.keys() == {p.id for p in catalog.parts if p.stock != 0}
    limited = next(p for p in catalog.parts if p.stock)
    assert offered[limited.id].limit == limited.stock * limited.pack
    assert offered[DRIVE].limit is None


def test_owned_items_come_first_and_cost_nothing(catalog):
    owned = OwnedPart(id=DRIVE, count=3, starts=70, hidden_sectors=10)
    items = items_of(catalog, scenario(owned=(owned,)))
    first = items[0]
    assert (first.key, first.limit, first.is_owned) == (f"{DRIVE}@owned", 3, True)
    assert first.cost(3) == 0
    assert first.starts == 70
    assert first.replacement_price == catalog.by_id[DRIVE].price.mid
    assert first.capacity_bytes == catalog.by_id[DRIVE].capacity_bytes - 5120
    priced = OwnedPart(id=DRIVE, replacement_price=99)
    assert items_of(catalog, scenario(owned=(priced,)))[0].replacement_price == 99


def test_owned_part_that_nobody_knows_is_refused(catalog):
    with pytest.raises(KeyError, match="in no catalog"):
        items_of(catalog, scenario(owned=(OwnedPart(id="nothing"),)))


@pytest.mark.parametrize(
    ("ban", "is_hit"),
    [
        (DRIVE, lambda part: part.id == DRIVE),
        ("hdd-25-*", lambda part: part.id.startswith("hdd-25-")),
        ("class:2u rack", lambda part: part.part_class == "2u rack"),
        ("kind:riser", lambda part: part.kind == "riser"),
        ("feature:shingled", lambda part: getattr(part, "recording", "") == "shingled"),
    ],
)
def test_what_is_ruled_out_is_not_on_offer(catalog, ban, is_hit):
    gone = keys(catalog).keys() - keys(catalog, ban=(ban,)).keys()
    assert gone == {p.id for p in catalog.parts if is_hit(p) and p.stock != 0}
    assert gone


@pytest.mark.parametrize("feature", FEATURES)
def test_every_feature_is_had_by_some_part_and_not_by_all(catalog, feature):
    found = [has_feature(part, feature) for part in catalog.parts]
    assert 0 < sum(found) < len(found) / 2
    assert not has_feature(catalog.of(Board)[0], "no such feature")


def test_packs_are_bought_whole(catalog):
    cable = catalog.of(Cable)[0].model_copy(update={"pack": 4})
    item = Item(key=cable.id, part=cable)
    assert [item.packs(n) for n in (0, 1, 4, 5)] == [0, 1, 1, 2]
    assert item.cost(5) == 2 * cable.price.mid
    assert item.replacement_price == cable.price.mid / 4


def test_only_drives_have_a_capacity(catalog):
    board = catalog.of(Board)[0]
    with pytest.raises(TypeError, match="is not a drive"):
        _ = Item(key=board.id, part=board).capacity_bytes


def build_of(*counted):
    return Build(
        items=tuple(ItemCount(item=i, count=n) for i, n in counted),
        drives=(),
        connections=(),
        slots=(),
        operation=OperatingPlan(layout="pairs"),
    )


def test_what_lies_in_a_box_is_not_bought_again(catalog):
    cable = catalog.by_id["cable-sata-05"]
    board = catalog.of(Board)[0].model_copy(update={"comes_with": f"{cable.id} x2"})
    board_item = Item(key=board.id, part=board)
    cable_item = Item(key=cable.id, part=cable)
    build = build_of((board_item, 1), (cable_item, 3))
    assert build.bought() == {board.id: 1, cable.id: 1}
    spare = replace(build, spares=(ItemCount(item=cable_item, count=2),))
    assert spare.bought()[cable.id] == 3
    owned = replace(board_item, owned=OwnedPart(id=board.id))
    assert build_of((owned, 1), (cable_item, 3)).bought() == {cable.id: 3}


def test_build_gives_its_parts_by_kind_and_key(catalog):
    drive = Item(key=DRIVE, part=catalog.by_id[DRIVE])
    build = build_of((drive, 4))
    assert build.of(HardDrive) == ((drive.part, 4),)
    assert build.one(HardDrive) == drive.part
    assert build.one(Board) is None
    assert build.item(DRIVE) == drive
    with pytest.raises(KeyError):
        build.item("nothing")


def test_operating_plan_says_what_it_survives_and_wakes():
    pairs = OperatingPlan(layout="pairs")
    parity = OperatingPlan(
        layout="independent", n_parity=2, write_mode="reconstruct", timeout_min=30
    )
    assert (pairs.failures_survived, parity.failures_survived) == (1, 2)
    assert pairs.wakes_together
    assert parity.wakes_together
    assert not replace(parity, write_mode="read-modify-write").wakes_together
    assert (pairs.timeout_h, parity.timeout_h) == (math.inf, 0.5)


@pytest.mark.parametrize(
    "plan",
    [
        {"layout": "independent", "n_parity": 1},
        {"layout": "independent", "write_mode": "reconstruct"},
        {"layout": "striped", "n_parity": 1, "write_mode": "reconstruct"},
        {"layout": "pairs", "n_parity": 1},
    ],
)
def test_operating_plan_that_contradicts_itself_is_refused(plan):
    with pytest.raises(ValueError, match=r"write mode|parity"):
        OperatingPlan(**plan)
