"""The drawing shows every drive, port and link of the build, and nothing else."""

from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from optibox.assess import assess
from optibox.page.drawing import drawing
from optibox.page.loads import drive_load, link_loads, network_load
from optibox.page.shapes import svg_text
from optibox.report.wiring_map import wiring_rows
from tests.unit.page.subjects import CATALOG, asked, machines
from tests.unit.present.machines import large, large_build, reference_build, scenario

FOUND = {"reference": machines(asked())[0], "large": large(CATALOG)}


def tree(found):
    """Return a drawing read by an XML parser."""
    return ET.fromstring(svg_text(drawing(found)))


def texts(root):
    return [node.text for node in root.iter("text")]


@pytest.mark.parametrize("name", FOUND)
def test_every_drive_stands_in_it_once(name):
    """Once by its port and bay; below, each drive with a bay hangs on a power plug."""
    found = FOUND[name]
    shown = texts(tree(found))
    start = shown.index("power")
    wired, powered = shown[:start], " ".join(shown[start:])
    for row in wiring_rows(found):
        assert wired.count(row.drive) == 1, row.drive
        if row.bay:
            assert wired.count(row.bay) == 1
            assert not row.power or row.is_on_backplane or row.drive in powered


@pytest.mark.parametrize("name", FOUND)
def test_every_bay_of_the_case_stands_in_it(name):
    found = FOUND[name]
    chassis = found.machine.chassis
    bays = [t for t in texts(tree(found)) if t.startswith(("3.5-", "2.5-"))]
    assert len(bays) == chassis.bays_35 + chassis.bays_25


def test_every_cable_is_drawn_from_a_port_to_a_drive():
    """Six plain cables are six lines; legs of a breakout are two each."""
    cables = tree(FOUND["reference"]).findall(".//path[@class='cable']")
    assert len(cables) == 6
    drives = sum(bool(row.host) for row in wiring_rows(FOUND["large"]))
    assert len(tree(FOUND["large"]).findall(".//path[@class='cable']")) == 2 * drives


def test_a_breakout_meets_at_its_multi_lane_end():
    """Straight and forward at the controller, reverse near the backplane."""
    root = tree(FOUND["large"])
    knots = [float(c.get("cx")) for c in root.iter("circle")]
    assert len(knots) == 3
    assert sum(x > 690 for x in knots) == 1


@pytest.mark.parametrize("name", FOUND)
def test_links_carry_rate_and_share(name):
    found = FOUND[name]
    shown = " ".join(texts(tree(found)))
    for use in found.machine.build.slots:
        link = found.machine.links.get(use.slot)
        if link is not None:
            assert f"{link.budget_mb_s:.0f} MB/s, " in shown


def test_a_links_share_is_what_crosses_it_over_its_budget():
    """Read at 141 MB/s from one drive: 141 of the 425 MB/s of its slot's link."""
    found = FOUND["reference"]
    loads = link_loads(found)
    write = next(c for c in found.chains(0.5) if c.operation == "write").rate_mb_s
    assert loads["P3"].budget_mb_s == pytest.approx(425)
    degraded = next(c for c in found.chains(0.5) if c.operation == "degraded read")
    expected = max(2 * degraded.rate_mb_s, 2 * write) / 425
    assert loads["P3"].share == pytest.approx(expected)
    assert loads["P3"].operation == "degraded read"


def test_a_drives_share_is_its_own_rate_on_its_port():
    """180 MB/s outside, inner ratio 0.5: v(0.5) = 180 * sqrt(1 - 0.5 * 0.75) = 142."""
    load = drive_load(FOUND["reference"], "data-1")
    part = FOUND["reference"].machine.in_role("data")[0].part
    k = part.inner_ratio.mid
    expected = part.outer_rate_mb_s.mid * (1 - 0.5 * (1 - k * k)) ** 0.5
    assert load.used_mb_s == pytest.approx(expected)
    assert load.budget_mb_s == 550
    assert drive_load(FOUND["reference"], "boot-1") is None


def test_network_is_loaded_by_its_busiest_operation():
    """The cache takes in 490 MB/s, and nothing else moves as much over the network."""
    load = network_load(FOUND["reference"])
    assert load.operation == "cache ingest"
    assert load.used_mb_s == pytest.approx(FOUND["reference"].rates.ingest_mb_s)


def test_texts_of_a_catalog_stay_text():
    evil = "<script>alert(1)</script>"
    parts = tuple(p.model_copy(update={"label": evil}) for p in CATALOG.parts)
    catalog = replace(CATALOG, parts=parts)
    root = tree(assess(reference_build(catalog), asked()))
    assert not list(root.iter("script"))
    assert any("<script>" in (text or "") for text in texts(root))


def test_a_build_without_case_or_board_is_still_drawn():
    bare = large_build(CATALOG)
    kinds = ("chassis", "board")
    items = tuple(e for e in bare.items if e.item.part.kind not in kinds)
    build = replace(bare, items=items)
    shown = texts(tree(assess(build, scenario())))
    assert "no board" in shown
    assert "no case" in shown
