"""The page and its sections: 24 lines, widths, cautions, harmless texts."""

import re
from dataclasses import replace

import pytest

from optibox.assess import assess
from optibox.report import text as text_form
from optibox.report.answer import Report, agrees, aim_value
from optibox.report.cautions import CAUTIONS
from optibox.report.plan import (
    DEFAULT_SECTIONS,
    PAGE_LINES,
    SECTIONS,
    PlanAnswer,
)
from optibox.report.run_line import run_line, variants
from optibox.report.settle import merged, to_settle
from optibox.report.slack import rate_stages, slacks, tight
from optibox.report.verdict import verdict
from optibox.report.wiring_map import power_rows, wiring_rows
from optibox.rules import Finding
from optibox.scenario import assumed_defaults
from optibox.search.result import Plan, Proof
from tests.unit.present.machines import invented, large, plan_of, reference


@pytest.fixture(scope="module")
def catalog():
    return invented()


@pytest.fixture(scope="module")
def report(catalog):
    return report_of(reference(catalog), catalog)


@pytest.fixture(scope="module")
def large_report(catalog):
    return report_of(large(catalog), catalog)


def report_of(found, catalog, **more):
    return Report(
        plan=plan_of(found, **more),
        scenario=found.scenario,
        catalog=catalog,
        assumed=tuple(assumed_defaults(found.scenario)),
    )


def answer(report, width=100, sections=DEFAULT_SECTIONS):
    told = PlanAnswer(report=report, sections=sections)
    width = text_form.within(width)
    return text_form.as_text(told.document(width), width)


def page(report, width):
    return text_form.as_text(PlanAnswer(report=report).page(width), width)


def flat(text):
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 100, 120])
def test_reference_machine_fits_on_one_page(report, width):
    lines = page(report, width).splitlines()
    assert len(lines) <= PAGE_LINES == 24
    assert max(map(len, lines)) <= width


def test_page_says_what_matters_with_units(report):
    found, text = report.assessment, flat(page(report, 100))
    assert f"buy for {found.cost.purchase:.0f} EUR" in text
    assert f"draws {found.wall.asleep_w:.1f} W asleep" in text
    assert f"costs {found.running_cost_per_year:.0f} EUR a year" in text
    assert f"Holds {found.capacity.usable_tb:.1f} TB (10.2 TiB)" in text
    assert f"takes in {found.rates.ingest_mb_s:.0f} MB/s" in text
    assert f"reads {found.rates.read_mb_s:.0f} MB/s" in text
    assert "nothing here can be ordered" in text
    assert "power-loss protection" in text
    assert "drives stop after 30 min" in text
    assert "Binds: read 141 MB/s by the drives" in text


@pytest.mark.parametrize("width", [1, 60, 80, 100, 500])
def test_no_line_is_wider_than_asked(large_report, width):
    lines = answer(large_report, width, tuple(SECTIONS))
    assert max(map(len, lines.splitlines())) <= min(120, max(60, width))


def test_every_answer_carries_every_caution(report):
    text = flat(answer(report))
    assert all(" ".join(c.text.split()) in text.replace("! ", "") for c in CAUTIONS)


def test_cautions_speak_of_what_the_trade_warns_of():
    """Common practice, no source: the dangers that a report must name."""
    text = " ".join(c.text for c in CAUTIONS).lower()
    for word in (
        "electrical codes",
        "plug-in meter",
        "never open a supply",
        "30 s",
        "3 to 5 times",
        "moulded",
        "modular",
        "two copies",
        "no backup",
        "serial number",
        "wipe",
        "ups",
    ):
        assert word in text, word
    assert len({c.key for c in CAUTIONS}) == len(CAUTIONS)


def test_all_sections_have_a_title_and_lines(report):
    told = PlanAnswer(report=report, sections=tuple(SECTIONS)).document()
    assert all(part.blocks for part in told.sections)
    # there may be nothing to move
    assert {part.key for part in told.sections} >= set(SECTIONS) - {"moving"}
    lines = answer(report, sections=tuple(SECTIONS)).splitlines()
    assert {SECTIONS[part.key][0](report) for part in told.sections} <= set(lines)
    assert not any(line.startswith("More:") for line in lines)


def test_plain_text_has_no_control_characters(large_report):
    text = answer(large_report, sections=tuple(SECTIONS))
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
    assert not re.search(r" $", text, re.MULTILINE)


ODD = "Box \x1b[31mred\x1b[0m\r\n\u202eback\u200b \u7b71\u5b50 {x} [b] " + "w" * 90


def test_odd_labels_are_harmless(catalog):
    build = large(catalog).build
    items = tuple(
        replace(e, item=replace(e.item, part=e.item.part.model_copy(
            update={"label": ODD, "note": ODD, "link": ODD, "extras": {"x_odd": ODD}}
        )))
        for e in build.items
    )  # fmt: skip
    found = assess(replace(build, items=items), large(catalog).scenario)
    text = answer(report_of(found, catalog), 80, tuple(SECTIONS))
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e\u200b]", text)
    assert "\u7b71" in text


def test_wiring_names_both_ends_of_every_drive(large_report):
    text = flat(answer(large_report, sections=("wiring",)))
    rows = {row.drive: row for row in wiring_rows(large_report.assessment)}
    assert rows["data-4"].cable_words.startswith("SFF-8087 end at backplane")
    assert rows["data-1"].port_words == "lane 1 of SFF-8087 connector 1 of controller-1"
    assert rows["data-5"].leg == "SATA end 2 is for bay 3.5-6, backplane connector 2"
    assert set(rows["data-1"].shared_with) == {"data-2", "data-3", "data-6", "parity-1"}
    assert rows["data-6"].power == "SATA power plug 1 of lead 1"
    assert rows["data-1"].power.startswith("through the backplane, on plug")
    assert rows["cache-1"].port_words == "M.2 socket M1"
    assert all(f"{name}: " in text for name in rows)
    rows = power_rows(large_report.assessment)
    assert {row.load for row in rows} >= {"data-6", "backplane-1"}
    assert all(row.on_12v_at_start_a <= row.most_a for row in rows)


def test_link_rate_and_sharing_of_the_reference(report):
    """PCIe Gen2 x1: 500 MB/s raw (PCI-SIG base specification), planned at 0.85."""
    row = wiring_rows(report.assessment)[0]
    assert row.link_mb_s == pytest.approx(500 * 0.85)
    assert row.shared_with == ("data-2",)


def test_tight_needs_are_named(catalog):
    probe = reference(catalog)
    needs = {"read_mb_s": round(probe.rates.read_mb_s - 1)}
    found = reference(catalog, needs=needs)
    assert "needs.read_mb_s" in {row.key for row in tight(found)}
    assert "Tight: read" in flat(page(report_of(found, catalog), 100))


def test_slack_is_what_is_left(report):
    rows = {row.key: row for row in slacks(report.assessment)}
    rates = report.assessment.rates
    assert rows["needs.read_mb_s"].slack == pytest.approx(rates.read_mb_s - 100)
    assert rows["3.5 inch bays"].slack == 0
    assert rows["wear budget"].bound == pytest.approx(50)
    assert rows["supply"].have < rows["supply"].bound == 400


def test_stages_agree_with_the_rates(report, large_report):
    for each in (report, large_report):
        found = each.assessment
        rows = {row.operation: row for row in rate_stages(found)}
        assert rows["read"].rate_mb_s == pytest.approx(found.rates.read_mb_s)
        assert rows["write"].rate_mb_s == pytest.approx(found.rates.write_mb_s)
        assert rows["ingest"].rate_mb_s == pytest.approx(found.rates.ingest_mb_s)


def test_alternatives_are_what_the_evaluator_says(report):
    found = report.assessment
    rows = {(v.setting, v.words): v for v in variants(found)}
    plan = replace(found.machine.operation, timeout_min=15)
    other = assess(replace(found.build, operation=plan), found.scenario)
    expected = other.total_cost - found.total_cost
    assert rows["timeout", "15 min"].cost_difference == pytest.approx(expected)
    assert rows["write mode", "read-modify-write"].write_mb_s < found.rates.write_mb_s
    assert ("timeout", "never") in rows


def test_run_line_says_when_a_setting_is_too_slow(catalog):
    found = reference(catalog, needs={"write_mb_s": 95})
    assert "read-modify-write: 78, too slow" in run_line(found, "EUR")


def test_findings_about_several_drives_are_one():
    rows = [
        Finding(rule="A4", severity="warning", evidence=f"data-{n} (x) is odd")
        for n in (1, 2, 3)
    ]
    (row,) = merged(rows)
    assert row.evidence == "each of data-1, data-2 and data-3 (x) is odd"


def test_at_most_three_things_to_settle_owned_data_first(large_report):
    items = to_settle(large_report.assessment)
    assert len(items) == 3
    assert items[0].startswith("2 owned drives (data-4, data-5) may hold data")


def test_unproven_answer_shows_its_gap(catalog):
    found = reference(catalog)
    report = report_of(found, catalog, status="feasible", bound=found.total_cost * 0.9)
    assert "not proven: the cheapest may be 10 % better" in verdict(report)[0]
    assert "not proven" in flat(answer(report, sections=("proof",)))


def test_evaluator_disagreement_is_not_hidden(catalog):
    found = reference(catalog)
    plan = plan_of(found)
    wrong = replace(plan, proof=replace(plan.proof, value=plan.proof.value + 1))
    assert agrees(plan)
    assert not agrees(wrong)
    report = replace(report_of(found, catalog), plan=wrong)
    assert "DISAGREES" in flat(answer(report, sections=("proof",)))


def test_value_of_every_aim(report):
    found = report.assessment
    assert aim_value(found, "annual energy") == found.year.kwh
    assert aim_value(found, "asleep watts") == found.wall.asleep_w
    assert aim_value(found, "read") == found.rates.read_mb_s


@pytest.mark.parametrize("status", ["infeasible", "unknown"])
def test_without_a_build_needs_and_limits_are_told(catalog, status):
    proof = Proof(
        bound=float("inf"),
        value=float("inf"),
        n_entries=5,
        n_bounded=1,
        n_solves=4,
        seconds=0.5,
        solver="s",
    )
    plan = Plan(
        status=status, aim="total cost", proof=proof, in_play=("needs.usable_tb = 900",)
    )
    asked = reference(catalog).scenario
    text = flat(answer(Report(plan=plan, scenario=asked, catalog=catalog)))
    assert "needs.usable_tb = 900" in text
    assert "nothing here can be ordered" in text
    assert ("No machine of this catalog" in text) == (status == "infeasible")
