"""The order list: complete down to the last lead, and found out where it is not."""

from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.build import ItemCount
from optibox.report.document import Document, Note, section
from optibox.report.looks import cable_ends
from optibox.report.order import STEPS, order_list, postage_of, unused_owned
from optibox.report.order_words import (
    order_blocks,
    order_table,
    order_title,
    small_parts,
)
from optibox.report.text import as_text, fitting
from optibox.scenario import OwnedPart
from tests.unit.present.machines import invented, large, reference
from tests.unit.present.taken_apart import order_list_faults


@pytest.fixture(scope="module")
def catalog():
    return invented()


@pytest.fixture(scope="module")
def machines(catalog):
    return {"reference": reference(catalog), "large": large(catalog)}


@pytest.mark.parametrize("name", ["reference", "large"])
def test_order_list_complete(machines, name):
    found = machines[name]
    assert found.is_fit, found.errors
    assert order_list_faults(found) == []


@pytest.mark.parametrize("name", ["reference", "large"])
def test_paper_check_misses_no_missing_part(machines, name):
    """Take each cable, lead, adapter and card off in turn: the check must see it."""
    found = machines[name]
    for kind in ("cable", "network lead", "drive adapter", "controller", "hard drive"):
        for number, entry in enumerate(found.build.items):
            if entry.item.part.kind != kind:
                continue
            items = list(found.build.items)
            fewer = replace(entry, count=entry.count - 1)
            items[number : number + 1] = [fewer] if fewer.count else []
            if kind != "network lead" and not fewer.count:
                items[number:number] = [ItemCount(item=entry.item, count=0)]
            broken = replace(found.build, items=tuple(items))
            assert order_list_faults(assess(broken, found.scenario)), entry.item.key


def test_paper_check_sees_a_cable_the_wrong_way_round(machines, catalog):
    found = machines["large"]
    names = {"cable-rev-8087-06": "cable-fwd-8087-05"}
    items = tuple(
        replace(e, item=replace(e.item, key=k, part=catalog.by_id[k]))
        if (k := names.get(e.item.key))
        else e
        for e in found.build.items
    )
    wires = tuple(
        replace(w, cable_key=names.get(w.cable_key, w.cable_key))
        for w in found.build.connections
    )
    build = replace(found.build, items=items, connections=wires)
    faults = order_list_faults(assess(build, found.scenario))
    assert any("does not fit" in fault for fault in faults)


def test_steps_cover_every_kind_once(catalog):
    kinds = [kind for step in STEPS.values() for kind in step]
    assert len(kinds) == len(set(kinds))
    assert {part.kind for part in catalog.parts} <= set(kinds)


def test_rows_stand_in_the_order_of_assembly(machines):
    for found in machines.values():
        steps = [list(STEPS).index(row.step) for row in order_list(found)]
        assert steps == sorted(steps)


def test_boxed_pieces_are_not_bought(machines):
    row = next(r for r in order_list(machines["reference"]) if r.kind == "cable")
    assert (row.count, row.boxed, row.to_buy) == (6, 2, 4)
    assert row.boxed_with == ("ref-board",)
    assert row.price == pytest.approx(4 * 2.6)


def test_packs_owned_spares_and_postage(machines):
    found = machines["large"]
    rows = {(row.id, row.state): row for row in order_list(found)}
    forward = rows["cable-fwd-8087-05-pack2", "new"]
    assert (forward.needed, forward.spare, forward.to_buy) == (1, 1, 2)
    assert (forward.packs, forward.price) == (1, 17.5)
    owned = rows["hdd-35-4tb-c5400", "owned"]
    assert (owned.owned, owned.to_buy, owned.price) == (2, 0, 0.0)
    sellers = {"seller-coast": 4.5, "seller-north": 6.9}
    assert {p.seller: p.price for p in postage_of(found.build)} == sellers
    assert "postage 11.40 from 2 sellers" in order_title(found, "EUR")


def test_cable_ends_tell_forward_from_reverse(catalog):
    """Common practice, no source: only the multi-lane end tells the two apart."""
    forward, reverse = (
        cable_ends(catalog.by_id[f"cable-{name}"])
        for name in ("fwd-8087-05", "rev-8087-06")
    )
    assert "SFF-8087 end at controller" in forward
    assert "SFF-8087 end at backplane" in reverse
    assert not set(forward) & set(reverse)


def test_looks_name_what_the_plan_relies_on(machines):
    rows = {row.id: row.look_for for row in order_list(machines["large"])}
    assert rows["hba-8i-gen2-ready"][0] == "8 native ports, no multiplier"
    assert "lets drives sleep" in rows["hba-8i-gen2-ready"]
    assert "conventional recording" in rows["ref-hdd-4tb-c5400"][0]
    assert all(rows.values())


def listed(rows, width, *, small_together):
    """Return the order list of the page, line by line."""
    small = small_parts(rows, width) if small_together else None
    large = [row for row in rows if small is None or row not in small.rows]
    parts = section("", order_table(large), Note(small.text if small else ""))
    text = as_text(Document(verdict=(), lead=parts), width)
    return [line for line in text.splitlines() if line]


def steps(found):
    told = Document(verdict=(), lead=tuple(order_blocks(found, "EUR")))
    return " ".join(as_text(told).split())


@pytest.mark.parametrize("width", [60, 80, 100, 120])
@pytest.mark.parametrize("together", [False, True])
def test_no_row_is_dropped_and_no_line_is_too_long(machines, width, together):
    for found in machines.values():
        rows = order_list(found)
        lines = listed(rows, width, small_together=together)
        assert max(map(len, lines)) <= width
        text = " ".join(" ".join(lines).split())
        assert all(row.label[:8] in text or row.id in text for row in rows)
        if not together:
            assert len(lines) == len(rows)


def test_steps_hold_everything_with_cautions_beside(machines):
    text = steps(machines["large"])
    for row in order_list(machines["large"]):
        assert f"{row.label} [{row.id}]" in text
    cables = text.index("data cables")
    assert cables < text.index("Forward and reverse breakout cables look alike")
    assert "1 pack of 2 at 17.50 EUR" in text


def test_first_property_is_cut_others_left_out():
    assert fitting(["a long first property", "b"], 10) == "a long..."
    assert fitting([], 10) == ""


def test_owned_pieces_without_a_place_are_told(machines):
    found = machines["large"]
    owned = (OwnedPart(id="hdd-35-4tb-c5400", count=3), OwnedPart(id="old-fan"))
    asked = found.scenario.model_copy(update={"owned": owned})
    rows = unused_owned(assess(found.build, asked))
    assert [(row.id, row.count) for row in rows] == [
        ("hdd-35-4tb-c5400", 1),
        ("old-fan", 1),
    ]
    text = steps(assess(found.build, asked))
    assert "owned, not used: 1 x old-fan [old-fan]" in text
