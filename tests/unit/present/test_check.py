"""A check's words and tables: complete, true to the evaluator, and in a person's words."""

import csv
import io
import json
from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.catalog.attachment import Cable, NetworkLead
from optibox.catalog.platform import Cooler, MountingPlate, PowerSupply
from optibox.catalog.storage import HardDrive
from optibox.completion import Completion
from optibox.completion.mending import mend_all, mend_of, mends_of
from optibox.report.as_csv import as_csv
from optibox.report.as_json import as_json
from optibox.report.check import CHECK_SECTIONS, CheckAnswer
from optibox.report.check_facts import CheckReport, chain_rows, place_rows
from optibox.report.rules import RulesReport, rule_rows
from optibox.report.settings import settings_of
from optibox.report.text import as_text
from optibox.rules import RULES
from tests.support.parts import catalog_of, make
from tests.unit.present.machines import invented, reference, reference_build, scenario
from tests.unit.rules.bench import Bench
from tests.unit.rules.broken import CASES


@pytest.fixture(scope="module")
def catalog():
    return invented()


def report_of(found, **more):
    build = replace(found.build, is_standing=True)
    there = replace(found, machine=replace(found.machine, build=build))
    completion = Completion(assessment=there, assumed=("a thing",), cannot=())
    return CheckReport(name="machine", completion=completion, currency="EUR", **more)


@pytest.fixture(scope="module")
def report(catalog):
    found = reference(catalog)
    return report_of(found, mends=mends_of(found, catalog), catalog=catalog)


def text_of(report, width=100, sections=()):
    return as_text(CheckAnswer(report=report, sections=sections).document(), width)


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_no_line_is_wider_than_asked(report, width):
    lines = text_of(report, width).splitlines()
    assert [line for line in lines if len(line) > width] == []


def test_every_finding_and_section_is_told(report):
    text = " ".join(text_of(report).split())
    for finding in report.findings:
        assert f"[{finding.rule}]" in text
        assert " ".join(RULES[finding.rule].why.split()) in text
    for name, (title, _) in CHECK_SECTIONS.items():
        if name not in ("errors", "together", "cannot", "moving", "defaults"):
            assert title in text, name


def test_sections_can_be_chosen(report):
    text = text_of(report, sections=("risk",))
    assert "Risk of losing data" in text
    assert "Cautions" not in text


def test_errors_turn_figures_into_would_be(catalog):
    found = assess(reference_build(catalog), scenario(needs={"usable_tb": 40}))
    text = " ".join(text_of(report_of(found)).split())
    assert "does not work as described" in text
    assert "figures are what would be" in text


def test_a_machine_without_errors_is_said_to_work():
    text = text_of(report_of(Bench().judged()))
    assert "machine: works and meets every need and limit; nothing to report." in text
    assert "would be" not in text


def test_what_removing_the_binding_stage_brings(report):
    for row in chain_rows(report.found):
        rates = [stage.rate_mb_s for stage in row.stages]
        assert rates == sorted(rates)
        assert row.rate_mb_s == rates[0]
        rest = [s for s in row.stages if s.name not in row.binding]
        if row.next is not None:
            assert row.next.rate_mb_s == rest[0].rate_mb_s
            assert row.gain_mb_s == pytest.approx(rest[0].rate_mb_s - rates[0])


def test_removing_the_network_brings_what_is_said(catalog):
    """The same machine at a faster other end runs at the next stage's rate."""
    slow = reference(catalog, needs={"other_end_gbit_s": 1})
    (read,) = [r for r in chain_rows(slow) if r.operation == "read"]
    assert read.binding == ("other end of the network",)
    fast = reference(catalog, needs={"other_end_gbit_s": 10})
    assert fast.rates.read_mb_s == pytest.approx(read.next.rate_mb_s)


def test_places_count_ports_bays_and_slots(report):
    rows = {row.name: row for row in place_rows(report.found)}
    assert (rows["ports of the board"].used, rows["bays of 3.5 inch"].used) == (2, 4)
    assert rows["ports of controller-1"].have == 2
    assert "network-1" in rows["slot P1"].words


def test_json_and_csv_hold_all_findings(report):
    table = json.loads(as_json(CheckAnswer(report=report).to_dict()))
    assert len(table["findings"]) == len(report.findings)
    assert {"consequence", "fix", "mend", "evidence"} <= set(table["findings"][0])
    assert table["warnings"] == len(
        [f for f in report.findings if f.severity == "warning"]
    )
    assert table["power"]["wall"]["asleep_w"]["mid"] == pytest.approx(
        report.found.wall.asleep_w, abs=1e-5
    )
    assert table["risk"]["cases"][0]["too_many_failures"] > 0
    lines = as_csv(CheckAnswer(report=report).document().data).splitlines()[1:]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    assert [row["rule"] for row in rows] == [f.rule for f in report.findings]


# --- settings ----------------------------------------------------------------------


def test_the_best_setting_is_the_best_of_all_of_them(catalog):
    found = reference(catalog, usage={"ingest_gb_per_day": 5})
    rows = {row.name: row for row in settings_of(found)}
    plan = found.build.operation
    totals = {}
    for minutes in (*found.scenario.choices.timeouts_min, None):
        build = replace(found.build, operation=replace(plan, timeout_min=minutes))
        other = assess(build, found.scenario)
        if {f.evidence for f in other.errors} <= {f.evidence for f in found.errors}:
            totals[minutes] = other.total_cost
    best = min(totals.values())
    assert rows["drives stop after"].gain == pytest.approx(
        max(0.0, found.total_cost - best), abs=0.01
    )


def test_a_wasteful_machine_is_told_what_it_wastes(catalog):
    build = reference_build(catalog, timeout_min=None)
    found = assess(build, scenario(usage={"ingest_gb_per_day": 5}))
    rows = {row.name: row for row in settings_of(found)}
    assert rows["drives stop after"].now == "never"
    assert rows["drives stop after"].gain > 10
    assert rows["drives stop after"].kwh_saved > 50
    if "all of these" in rows:
        gains = [row.gain for name, row in rows.items() if name != "all of these"]
        assert rows["all of these"].gain >= max(gains) - 0.01


def test_flush_hours_follow_the_tariff(catalog):
    """Cheap power from 4 to 5: a flush of minutes moves there."""
    found = reference(
        catalog,
        money={
            "tariff_per_kwh": 0.6,
            "bands": [{"from_hour": 4, "to_hour": 5, "price_per_kwh": 0.0}],
        },
    )
    rows = {row.name: row for row in settings_of(found)}
    assert rows["cache flushed at"].best == "04:00"
    assert rows["cache flushed at"].gain > 0


# --- mending -----------------------------------------------------------------------


def mended(name, *offers):
    (case,) = [case for case in CASES if case.name == name]
    found = case.bench.judged()
    parts = [p for p in case.bench.made().values() if not getattr(p, "x", False)]
    catalog = catalog_of([*{p.id: p for p in (*parts, *offers)}.values()])
    return found, mends_of(found, catalog, informs=True)


def test_the_cheapest_fitting_part_mends():
    low = make(Cooler, "low", height_mm=50, price=19)
    lower = make(Cooler, "lower", height_mm=40, price=29)
    weak = make(Cooler, "weak", height_mm=30, tdp_w=10, price=5)
    found, mends = mended("tower cooler in a flat case", low, lower, weak)
    (finding,) = [f for f in found.findings if f.rule == "F4"]
    assert [(b.part.id, b.count) for b in mends[finding].buys] == [("low", 1)]
    assert mends[finding].price == 19
    assert mends[finding].replaces == ("cooler",)


def test_a_plate_mends_an_opening():
    plate = make(MountingPlate, "plate", price=7)
    found, mends = mended("small supply in a large opening", plate)
    (finding,) = found.findings
    assert [b.part.id for b in mends[finding].buys] == ["plate"]
    assert mends[finding].replaces == ()


def test_the_right_breakout_mends_the_wrong_one():
    right = make(
        Cable, "right", direction="reverse", drive_end="sff-8087", price=13,
        has_sideband=True,
    )  # fmt: skip
    found, mends = mended("forward breakout between board and backplane", right)
    (finding,) = [f for f in found.findings if f.rule == "C3"]
    assert [(b.part.id, b.count) for b in mends[finding].buys] == [("right", 1)]


def test_wiring_alone_mends_two_drives_on_one_port():
    found, mends = mended("two drives on one port")
    assert mends[found.findings[0]].buys == ()
    assert "another way" in mends[found.findings[0]].words("EUR")


def test_a_part_that_brings_another_error_does_not_mend():
    weak = make(PowerSupply, "weak", rail_12v_a=40, rail_5v_a=1, price=1)
    _, mends = mended("12 V too weak for the spin-up", weak)
    assert mends == {}


def test_a_mend_never_makes_the_machine_smaller():
    tiny = make(HardDrive, "tiny", tb=1, price=1, has_bounded_recovery="yes")
    _, mends = mended("shingled data drive", tiny)
    for mend in mends.values():
        assert "tiny" not in [buy.part.id for buy in mend.buys]


def test_nothing_mends_without_a_catalog():
    assert mends_of(Bench(needs={"usable_tb": 90}).judged(), None) == {}


def test_all_errors_are_mended_together():
    (case,) = [c for c in CASES if c.name.startswith("small things forgotten")]
    found = case.bench.judged()
    offers = [make(MountingPlate, "plate", price=7), make(NetworkLead, "lead", price=5)]
    mend, after = mend_all(found, catalog_of(offers))
    assert {(buy.part.id, buy.count) for buy in mend.buys} == {
        ("plate", 1),
        ("lead", 1),
    }
    assert mend.price == 12
    assert after.is_fit
    report = report_of(found, together=(mend, after))
    text = " ".join(text_of(report, sections=("together",)).split())
    assert "1 x lead [lead] and 1 x plate [plate], 12.00 EUR" in text
    assert "no error is left" in text


def test_errors_that_no_part_mends_are_named():
    found = Bench(needs={"failures_survived": 2}).judged()
    mend, after = mend_all(found, catalog_of([]))
    assert (mend.buys, mend.replaces, after) == ((), (), found)
    text = text_of(report_of(found, together=(mend, after)), sections=("together",))
    assert "No part mends D1" in text


# --- rules -------------------------------------------------------------------------


def test_all_rules_are_listed_with_consequence():
    rows = rule_rows()
    assert set(RULES) <= {row.id for row in rows}
    told = RulesReport(rows=rows)
    text = as_text(told.document(), 80)
    for row in rows:
        assert f"{row.id} " in text
        assert row.consequence
    assert len(json.loads(as_json(told.to_dict()))) == len(rows)
    assert len(as_csv(told.document().data).splitlines()) == len(rows) + 2


def test_rules_by_id_and_by_letter():
    assert [row.id for row in rule_rows(["c3"])] == ["C3"]
    assert {row.id[0] for row in rule_rows(["F"])} == {"F"}


def test_all_cards_that_keep_the_processor_awake_go_together(catalog):
    """Replace both or neither: one that stays spoils it for all."""
    found = reference(catalog)
    (finding,) = [f for f in found.findings if f.rule == "L8"]
    mend, after = mend_of(finding, found, catalog)
    assert {buy.part.kind: buy.count for buy in mend.buys} == {
        "controller": 2,
        "network card": 1,
    }
    assert all(buy.part.blocks_deep_idle == "no" for buy in mend.buys)
    loss = found.machine.board.deep_idle_loss_w.mid
    assert mend.asleep_w < -loss
    assert mend.asleep_w == pytest.approx(after.wall.asleep_w - found.wall.asleep_w)


def test_a_card_that_nothing_hangs_on_is_taken_out():
    (case,) = [c for c in CASES if c.name == "card that keeps the processor awake"]
    found = case.bench.judged()
    mend, after = mend_of(found.findings[0], found, catalog_of([]))
    assert (mend.buys, mend.replaces) == ((), ("card",))
    assert after.machine.cards == {}
    assert mend.words("EUR") == "taking card out"
