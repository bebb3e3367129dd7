"""What stands beside a machine is what the other commands say of it."""

import math
from dataclasses import replace

from optibox.frontier.second import SecondThoughts, WalkAway
from optibox.measure.records import Meter
from optibox.measure.sheet import ONE_HOUR_MIN, sheet_of
from optibox.migration import route_of
from optibox.page.bench import bench_steps
from optibox.page.beside import (
    measuring,
    moving,
    sleeping,
    sources,
    thoughts_table,
)
from optibox.page.render import render
from optibox.running.policy_breakeven import break_evens
from tests.unit.page.subjects import CATALOG, asked, machines, subject_of
from tests.unit.present.machines import large

PLAN = machines(asked())[0]
LARGE = large(CATALOG)
SECOND = SecondThoughts(
    nearest=None,
    walk_aways=(
        WalkAway(
            key="ref-hdd-4tb-c5400",
            label="drive",
            price=86.0,
            walk_price=93.5,
            without_extra=30.0,
            winner=PLAN,
        ),
        WalkAway(
            key="ref-chassis-4b",
            label="case",
            price=50.0,
            walk_price=math.inf,
            without_extra=math.inf,
            winner=None,
        ),
    ),
    n_solves=3,
    is_proven=True,
)


def test_nothing_moves_where_no_drive_holds_data():
    assert moving(PLAN) is None


def test_moves_are_those_of_the_safe_order():
    route, told = route_of(LARGE.build, LARGE.scenario), moving(LARGE)
    assert told["is_safe"] == route.is_safe
    assert len(told["steps"]) == len(route.steps) > 5
    assert all(text.endswith(".") for text, _ in told["steps"])


def test_each_move_is_a_step_of_its_own_at_the_bench():
    order, move = measuring(LARGE), moving(LARGE)
    steps = bench_steps(LARGE, order, move)
    copies = [s for s in steps if s["phase"] == "Copy"]
    assert len(copies) == len(move["steps"]) + 1
    assert copies[0]["lines"][0] == move["steps"][0][0]
    assert "copies" in copies[0]["cautions"]


def test_readings_are_those_of_the_measuring_sheet():
    sheet, told = sheet_of(PLAN.build, Meter(), ONE_HOUR_MIN), measuring(PLAN)
    assert len(told["readings"]) == min(8, len(sheet.design.steps))
    for (_, expected), step in zip(told["readings"], sheet.design.steps, strict=False):
        assert expected.startswith(f"{step.expected_w:.1f} ±")
    assert len(told["transfers"]) == len(sheet.tests)
    assert any("separate boot medium" in text for text in told["before"])


def test_sleep_pays_from_the_break_even_on():
    (row,) = break_evens(PLAN)
    (text,) = sleeping(PLAN, "EUR")
    assert f"{row.energy_s:.0f} s for energy alone" in text
    assert sleeping(machines(asked())[1], "EUR") == []


def test_sources_name_measured_figures_and_blanks():
    build = PLAN.build
    part = build.items[0].item.part
    measured = replace(part.idle_w, source="measured")
    own = part.model_copy(update={"idle_w": measured})
    item = replace(build.items[0].item, part=own)
    items = (replace(build.items[0], item=item), *build.items[1:])
    found = replace(
        PLAN, machine=replace(PLAN.machine, build=replace(build, items=items))
    )
    rows = {label: (text, known) for label, text, known in sources(found)}
    text, known = rows[part.name]
    assert known == [f"idle_w {measured}"]
    assert f"idle_w {measured} measured" in text
    assert all(not known for label, (_, known) in rows.items() if label != part.name)


def test_walk_away_prices_are_those_of_the_second_thoughts():
    told = thoughts_table(SECOND, "EUR")["walk_away"]
    assert told["ref-hdd-4tb-c5400"][0] == 93.5
    assert told["ref-chassis-4b"] == [None, ""]
    assert thoughts_table(None, "EUR") == {"nearest": "", "walk_away": {}}


def test_walk_away_prices_stand_on_the_order_list(opened):
    whole = subject_of(PLAN)
    whole = replace(whole, report=replace(whole.report, second=SECOND))
    page = opened("second", text=render(whole))
    lines = dict(
        page.eval_on_selector_all(
            "#order li", "nodes => nodes.map(n => [n.dataset.part, n.textContent])"
        )
    )
    assert "walk away above 93.50 a pack" in lines["ref-hdd-4tb-c5400"]
    assert "stays at any price" in lines["ref-chassis-4b"]
    page.locator("#years").fill("9")
    assert "walk away" not in page.locator("#order").text_content()
