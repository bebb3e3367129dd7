"""Saved builds: lossless round trips, faults at their place, never a traceback."""

import tomllib
from dataclasses import replace
from functools import cache

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optibox.build import (
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    OperatingPlan,
    SlotUse,
    load_build,
    save_build,
)
from optibox.build.store import build_table, build_text
from optibox.build.strict import build_from_table
from optibox.catalog.columns import Figure
from optibox.catalog.locate import shipped_catalogs
from optibox.catalog.read import read_catalog
from optibox.catalog.storage import HardDrive
from optibox.errors import BuildError
from optibox.scenario import OwnedPart
from optibox.scenario.messages import Origin

TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=9)
NAME = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1)


@cache
def catalog():
    return read_catalog([shipped_catalogs()["invented"]])


@st.composite
def figures(draw, sources=("stated", "class default")):
    low, mid, high = sorted(draw(st.tuples(*[st.floats(0, 9999)] * 3)))
    return Figure(low, mid, high, draw(st.sampled_from(sources)))


@st.composite
def items(draw):
    part = draw(st.sampled_from(catalog().parts))
    if not draw(st.booleans()):
        limit = draw(st.none() | st.integers(0, 99))
        return Item(key=part.id, part=part, limit=limit)
    changed = part.model_copy(
        update={
            "price": draw(figures(("stated", "measured"))),
            "note": draw(NAME),
            "extras": {"x_a": "1"},
        }
    )
    owned = OwnedPart(
        id=part.id,
        count=draw(st.integers(1, 100)),
        part=draw(st.sampled_from((None, part, changed))),
        replacement_price=draw(st.none() | figures()),
        age_years=draw(st.floats(0, 30)),
        hours=draw(st.floats(0, 300_000)),
        starts=draw(st.floats(0, 1_000_000)),
        hidden_sectors=draw(st.integers(0, 10**11)),
        batch=draw(TEXT),
        holds_data=draw(st.none() | st.booleans()),
    )
    return Item(key=f"{part.id}@owned", part=changed, owned=owned, limit=owned.count)


COUNTED = st.builds(ItemCount, item=items(), count=st.integers(1, 1000))
PLANS = st.one_of(
    st.builds(
        OperatingPlan,
        layout=st.just("independent"),
        n_parity=st.sampled_from((1, 2)),
        write_mode=st.sampled_from(("read-modify-write", "reconstruct")),
        cache=st.sampled_from(("none", "single", "mirror")),
        timeout_min=st.none() | st.floats(0.1, 1440),
        flush_hour=st.floats(0, 24),
        checks_per_year=st.floats(0, 366),
    ),
    st.builds(OperatingPlan, layout=st.sampled_from(("pairs", "striped pairs"))),
    st.builds(
        OperatingPlan, layout=st.just("striped"), n_parity=st.sampled_from((1, 2))
    ),
)


@st.composite
def builds(draw):
    counted = draw(
        st.lists(COUNTED, min_size=1, max_size=6, unique_by=lambda c: c.item.key)
    )
    keys = st.sampled_from([entry.item.key for entry in counted])
    names = draw(st.lists(NAME, max_size=4, unique=True))
    roles = st.sampled_from(("data", "parity", "cache", "boot"))
    drives = [DriveUse(name=n, key=draw(keys), role=draw(roles)) for n in names]
    cards = draw(st.lists(NAME, max_size=3, unique=True))
    wires = [
        Connection(
            drive=drive.name,
            bay=draw(st.just("") | NAME),
            cable=draw(NAME),
            cable_key=draw(st.just("") | keys),
            host=draw(st.sampled_from(["board", *cards])),
            connector=draw(st.integers(1, 256)),
            port=draw(st.integers(1, 256)),
            adapter_key=draw(st.just("") | keys),
        )
        for drive in drives
        if draw(st.booleans())
    ]
    again = [replace(entry, count=2) for entry in counted[:1]]
    others = draw(st.lists(COUNTED, max_size=2, unique_by=lambda c: c.item.key))
    known = {entry.item.key for entry in again}
    return Build(
        items=tuple(counted),
        drives=tuple(drives),
        connections=tuple(wires),
        slots=tuple(SlotUse(name=c, key=draw(keys), slot=draw(NAME)) for c in cards),
        operation=draw(PLANS),
        spares=(*again, *(e for e in others if e.item.key not in known)),
        postage=tuple(
            draw(st.dictionaries(TEXT, st.floats(0, 1e5), max_size=3)).items()
        ),
        is_standing=draw(st.booleans()),
    )


def small_build():
    drive = catalog().by_id["hdd-35-8tb-c5400"]
    cable = catalog().by_id["cable-sata-05"]
    return Build(
        items=(
            ItemCount(item=Item(key=drive.id, part=drive), count=2),
            ItemCount(item=Item(key=cable.id, part=cable), count=2),
        ),
        drives=(
            DriveUse(name="data-1", key=drive.id, role="data"),
            DriveUse(name="parity-1", key=drive.id, role="parity"),
        ),
        connections=(
            Connection(
                drive="data-1",
                bay="3.5-1",
                cable="c1",
                cable_key=cable.id,
                host="board",
                connector=1,
            ),
        ),
        slots=(),
        operation=OperatingPlan(
            layout="independent", n_parity=1, write_mode="reconstruct", timeout_min=30
        ),
        postage=(("seller-north", 6.9),),
    )


@given(build=builds(), stamp=TEXT)
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
def test_text_reads_back_as_an_equal_build(build, stamp):
    table = tomllib.loads(build_text(build, stamp))
    assert build_from_table(table, Origin(path="b.toml")) == build
    assert table["stamp"] == stamp


def test_file_reads_back_as_an_equal_build(tmp_path):
    path = tmp_path / "build.toml"
    save_build(small_build(), path, "catalog X")
    assert load_build(path) == small_build()
    assert path.read_text().startswith("# optibox build")


def test_every_shipped_part_survives(tmp_path):
    entries = tuple(
        ItemCount(item=Item(key=part.id, part=part), count=1)
        for part in catalog().parts
    )
    build = replace(small_build(), items=entries, drives=(), connections=())
    save_build(build, tmp_path / "b.toml", "")
    assert load_build(tmp_path / "b.toml") == build


def test_spare_of_an_item_is_saved_without_a_second_row():
    build = small_build()
    build = replace(build, spares=(replace(build.items[0], count=1),))
    assert build_table(build, "")["spares"] == [{"key": "hdd-35-8tb-c5400", "count": 1}]


def test_drives_that_never_stop_say_so():
    plan = OperatingPlan(layout="pairs", timeout_min=None)
    table = build_table(replace(small_build(), operation=plan), "")
    assert table["operation"]["timeout_min"] == "never"


def faults_of(tmp_path, change):
    table = build_table(small_build(), "")
    change(table)
    path = tmp_path / "b.toml"
    path.write_text(tomli_w.dumps(table))
    with pytest.raises(BuildError) as caught:
        load_build(path)
    return caught.value.faults


FAULTY = {
    "unknown key": (lambda t: t.update(drivse=[]), "drivse"),
    "unknown format": (lambda t: t.update(format=2), "format"),
    "no operation": (lambda t: t.pop("operation"), "operation"),
    "layout": (lambda t: t["operation"].update(layout="pair"), "operation.layout"),
    "mode": (lambda t: t["operation"].update(write_mode="plain"), "operation"),
    "timeout": (
        lambda t: t["operation"].update(timeout_min="soon"),
        "operation.timeout_min",
    ),
    "count": (lambda t: t["items"][0].update(count=0), "items[0].count"),
    "no row": (lambda t: t["items"][0].pop("part"), "items[0].part"),
    "kind": (lambda t: t["items"][0]["part"].update(kind="disc"), "items[0].part.kind"),
    "cell": (lambda t: t["items"][0]["part"].update(tb="x"), "items[0].part.tb"),
    "no cell": (
        lambda t: t["items"][0]["part"].update(tb={"a": 1}),
        "items[0].part.tb",
    ),
    "missing cell": (lambda t: t["items"][0]["part"].pop("tb"), "items[0].part.tb"),
    "column": (lambda t: t["items"][0]["part"].update(tbb="8"), "items[0].part.tbb"),
    "key twice": (lambda t: t["items"].append(t["items"][0]), "items[2].key"),
    "drive key": (lambda t: t["drives"][0].update(key="a"), "drives[0].key"),
    "role": (lambda t: t["drives"][0].update(role="spare"), "drives[0].role"),
    "drive twice": (lambda t: t["drives"].append(t["drives"][0]), "drives[2].name"),
    "wired drive": (lambda t: t["wiring"][0].update(drive="d"), "wiring[0].drive"),
    "cable": (lambda t: t["wiring"][0].update(cable_key="d"), "wiring[0].cable_key"),
    "host": (lambda t: t["wiring"][0].update(host="card-9"), "wiring[0].host"),
    "port": (lambda t: t["wiring"][0].update(port=0), "wiring[0].port"),
    "slot key": (
        lambda t: t.update(slots=[{"name": "a", "key": "b", "slot": "P1"}]),
        "slots[0].key",
    ),
    "spare": (lambda t: t.update(spares=[{"key": "b", "count": 1}]), "spares[0].key"),
    "postage": (lambda t: t["postage"].update(a=-1.0), "postage.a"),
    "history": (
        lambda t: t["items"][0].update(owned={"id": "a", "hours": -1}),
        "items[0].owned.hours",
    ),
    "history part": (
        lambda t: t["items"][0].update(owned={"id": "a", "part": "other"}),
        "items[0].owned.part",
    ),
    "history price": (
        lambda t: t["items"][0].update(
            owned={"id": "a", "replacement_price": {"figure": "8"}}
        ),
        "items[0].owned.replacement_price",
    ),
    "history figure": (
        lambda t: t["items"][0].update(
            owned={"id": "a", "replacement_price": {"figure": "x", "source": "stated"}}
        ),
        "items[0].owned.replacement_price.figure",
    ),
    "history source": (
        lambda t: t["items"][0].update(
            owned={"id": "a", "replacement_price": {"figure": "8", "source": "told"}}
        ),
        "items[0].owned.replacement_price.source",
    ),
}


@pytest.mark.parametrize("name", FAULTY)
def test_fault_is_told_at_its_place(tmp_path, name):
    change, field = FAULTY[name]
    faults = faults_of(tmp_path, change)
    assert [fault.field for fault in faults] == [field]
    assert all(fault.path.endswith("b.toml") and fault.problem for fault in faults)


def test_fault_in_full(tmp_path):
    (fault,) = faults_of(tmp_path, lambda t: t["drives"][0].update(key="hdd-35-8tb"))
    line = next(
        number
        for number, text in enumerate((tmp_path / "b.toml").read_text().split("\n"), 1)
        if 'key = "hdd-35-8tb"' in text
    )
    assert str(fault) == (
        f"{tmp_path}/b.toml, line {line}, drives[0].key: 'hdd-35-8tb' is the name of "
        "no item in this file. Did you mean 'hdd-35-8tb-c5400'?"
    )


def test_all_faults_at_once(tmp_path):
    def change(table):
        table["drives"][0]["key"] = "a"
        table["items"][1]["part"]["price"] = "much"
        table["operation"]["write_mode"] = "plain"

    fields = {fault.field for fault in faults_of(tmp_path, change)}
    assert fields == {"drives[0].key", "items[1].part.price", "operation"}


def test_missing_unreadable_and_unwritable_files(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(BuildError):
            load_build(path)
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(BuildError, match="UTF-16"):
        load_build(tmp_path / "b.toml")
    with pytest.raises(BuildError, match="does not exist"):
        save_build(small_build(), tmp_path / "none" / "b.toml", "")
    assert not (tmp_path / "none").exists()


def test_numbers_need_no_quotes():
    table = build_table(small_build(), "")
    table["items"][0]["part"] |= {"tb": 8, "price": 144.0, "is_vibration_rated": False}
    assert build_from_table(table, Origin(path="b.toml")) == small_build()


def test_byte_order_mark_is_tolerated(tmp_path):
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + build_text(small_build(), "").encode())
    assert load_build(path) == small_build()


SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(),
    TEXT,
    st.dates(),
    st.sampled_from(("same", "never", "board", "hard drive", "4.1 [3..5]", "nan")),
)
KEYS = st.sampled_from(
    (
        *("operation", "items", "drives", "wiring", "slots", "spares", "postage"),
        *(
            "key",
            "count",
            "part",
            "owned",
            "kind",
            "id",
            "tb",
            "name",
            "replacement_price",
        ),
        *("figure", "source", "sources", "x_a", ""),
    )
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4)
    ),
    max_leaves=12,
)


def places(value, at=()):
    """Return the place of every value in a table."""
    steps = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    found = [at]
    for step, inner in steps:
        found += places(inner, (*at, step))
    return found


@given(data=st.data())
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_toml_ends_in_a_build_or_in_faults(tmp_path_factory, data):
    build = small_build()
    owned = OwnedPart(id="a", part=build.items[0].item.part, replacement_price="85")
    item = Item(key="hdd-35-8tb-c5400", part=build.items[0].item.part, owned=owned)
    build = replace(build, items=(ItemCount(item=item, count=2), *build.items[1:]))
    table = tomllib.loads(build_text(build, ""))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.sampled_from(places(table)[1:]))
        holder = table
        for step in at[:-1]:
            holder = holder[step]
        holder[at[-1]] = data.draw(VALUES)
    path = tmp_path_factory.mktemp("b") / "b.toml"
    path.write_text(tomli_w.dumps(table), encoding="utf-8")
    try:
        found, faults = load_build(path), ()
    except BuildError as error:
        found, faults = None, error.faults
    assert isinstance(found, Build) or faults
    assert all(fault.path == str(path) for fault in faults)


@given(table=st.dictionaries(KEYS, VALUES, max_size=6))
@settings(max_examples=100, deadline=None)
def test_any_other_table_is_refused(table):
    with pytest.raises(BuildError):
        build_from_table(table, Origin(path="b.toml"))


def test_hidden_sectors_and_history_survive(tmp_path):
    part = catalog().of(HardDrive)[0]
    owned = OwnedPart(id="old", hidden_sectors=7, starts=900, holds_data=False)
    entry = ItemCount(item=Item(key="old@owned", part=part, owned=owned), count=1)
    build = replace(small_build(), items=(*small_build().items, entry))
    save_build(build, tmp_path / "b.toml", "")
    item = load_build(tmp_path / "b.toml").item("old@owned")
    assert item.capacity_bytes == part.capacity_bytes - 7 * 512
    assert item.owned == owned
