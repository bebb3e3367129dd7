"""Parts to cells and back; parts written in place."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optibox.catalog.classes import built_in_classes
from optibox.catalog.columns import Figure
from optibox.catalog.describe import column_by_name, columns_of
from optibox.catalog.kinds import KIND_BY_NAME, KINDS
from optibox.catalog.locate import shipped_catalogs
from optibox.catalog.notation import Connectors, Lead, SharingRule, Slot
from optibox.catalog.read import read_catalog
from optibox.catalog.rows import part_from_cells, part_in_place, row_cells
from optibox.errors import CatalogError

SOURCES = st.sampled_from(("measured", "datasheet", "invented", "stated"))
TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp")),
    min_size=1,
    max_size=8,
)
WORD = st.from_regex(r"[a-z0-9-]{1,8}", fullmatch=True)
SLOT = Slot(
    name="P1", form="pcie", mechanical_lanes=16, lanes=8, generation=3, uplink="cpu"
)


def values(column):
    """Return values that a column may hold."""
    low = column.unit.lowest if column.unit else 0
    high = column.unit.highest if column.unit else 1
    number = st.floats(low, high)
    figure = st.builds(
        lambda ends, source: Figure(*sorted(ends), source),
        st.tuples(number, number, number),
        SOURCES,
    )
    rules = st.just(SharingRule(slot="P1", ports_lost=1))
    found = {
        "figure": figure,
        "number": number,
        "whole": st.integers(math.ceil(low), int(min(high, 10**12))),
        "yes/no": st.booleans(),
        "choice": st.sampled_from(column.choices or ("",)),
        "text": TEXT,
        "words": st.lists(WORD).map(tuple),
        "slots": st.lists(st.just(SLOT), max_size=1).map(tuple),
        "sharing": st.lists(rules, max_size=2).map(tuple),
        "leads": st.lists(st.just(Lead(plug="sata", count=2))).map(tuple),
        "connectors": st.just(Connectors(count=2, connector="sff-8087")),
    }[column.form]
    return found | st.none() if column.is_optional else found


@st.composite
def parts(draw):
    """Return a part of any kind with any values in its columns."""
    record = draw(st.sampled_from(KINDS))
    given_values = {}
    for column in columns_of(record):
        if column.field == "source":
            given_values["source"] = draw(SOURCES)
        elif column.field == "id":
            given_values["id"] = draw(WORD.filter(lambda w: w[0] != "-"))
        elif column.field == "price_date":
            given_values["price_date"] = draw(st.dates()).isoformat()
        elif column.is_required or draw(st.booleans()):
            given_values[column.field] = draw(values(column))
    extras = draw(st.dictionaries(WORD.map("x_{}".format), TEXT, max_size=2))
    part = record(**given_values, extras=extras)
    marks = draw(st.sets(st.sampled_from(sorted(given_values)), max_size=4))
    return _marked(part, marks - {"id", "source"})


def _marked(part, marks):
    """Return the part with some columns from the class, as reading marks them."""
    changed = {"defaulted": frozenset(marks) | _figure_defaults(part)}
    for name in changed["defaulted"]:
        value = getattr(part, name)
        if isinstance(value, Figure):
            changed[name] = Figure(value.low, value.mid, value.high, "class default")
    return part.model_copy(update=changed)


def _figure_defaults(part):
    columns = column_by_name(type(part)).values()
    return {
        c.field
        for c in columns
        if isinstance(c.default, Figure) and getattr(part, c.field) == c.default
    }


@given(parts())
def test_the_cells_of_a_part_read_back_as_an_equal_part(part):
    cells = row_cells(part)
    assert all(isinstance(text, str) and text for text in cells.values())
    assert part_from_cells(part.kind, cells) == part


def test_every_shipped_part_reads_back_equal():
    for folder in shipped_catalogs().values():
        parts_read = read_catalog([folder]).parts
        assert parts_read
        for part in parts_read:
            assert part_from_cells(part.kind, row_cells(part)) == part


def test_a_saved_row_is_complete_without_classes():
    part = part_in_place(
        {"kind": "hard drive", "class": "3.5in 5400", "tb": 4}, "s", built_in_classes()
    )
    cells = row_cells(part)
    assert cells["sector_logical_b"] == "512"
    assert "class default" in cells["sources"]
    del cells["idle_w"]
    with pytest.raises(CatalogError) as caught:
        part_from_cells("hard drive", cells, "build.toml, parts[0]")
    (fault,) = caught.value.faults
    assert (fault.path, fault.field) == ("build.toml, parts[0]", "idle_w")


def test_a_part_in_place_is_owned_at_no_price():
    table = {"kind": "hard drive", "class": "3.5in 5400", "tb": 4, "count": 4}
    part = part_in_place(table, "scenario.toml, owned[0]", built_in_classes())
    assert part.id == "hard-drive-3.5in-5400-4"
    assert part.price.mid == 0
    assert part.tb == 4
    assert "idle_w" in part.defaulted
    again = part_in_place(table, "s", built_in_classes(), taken={part.id})
    assert again.id == "hard-drive-3.5in-5400-4-2"


def test_toml_values_are_cells():
    table = {
        "kind": "chassis",
        "id": "c1",
        "class": "mini tower",
        "bays_35": 4,
        "board_forms": ["atx", "mini-itx"],
        "has_hot_plug": True,
        "idle_w": 1.5,
        "price": "10..20",
        "x_shelf": 3,
    }
    part = part_in_place(table, "s", built_in_classes())
    assert part.board_forms == ("atx", "mini-itx")
    assert part.has_hot_plug
    assert part.idle_w.mid == 1.5
    assert part.price.mid == 15
    assert part.extras == {"x_shelf": "3"}


@pytest.mark.parametrize(
    ("table", "field"),
    [
        ({}, "kind"),
        ({"kind": "disk"}, "kind"),
        ({"kind": 4}, "kind"),
        ({"kind": "hard drive", "class": "3.5in 540", "tb": 4}, "class"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": math.nan}, "tb"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": math.inf}, "tb"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": 4000}, "tb"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": {"a": 1}}, "tb"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": True}, "tb"),
        ({"kind": "hard drive", "class": "3.5in 5400", "tb": 4, "size": 3}, "size"),
        ({"kind": "hard drive", "class": "3.5in 5400"}, "tb"),
    ],
)
def test_faults_of_parts_in_place(table, field):
    with pytest.raises(CatalogError) as caught:
        part_in_place(table, "scenario.toml, owned[0]", built_in_classes())
    (fault,) = caught.value.faults
    assert (fault.path, fault.field) == ("scenario.toml, owned[0]", field)


def test_an_unknown_kind_of_saved_row():
    with pytest.raises(CatalogError, match="Did you mean 'board'"):
        part_from_cells("bord", {"id": "b"})


def test_every_kind_has_columns_with_meaning_and_numbers_have_ranges():
    for record in KIND_BY_NAME.values():
        for column in columns_of(record):
            assert column.meaning
            assert column.unit or not column.is_numeric
