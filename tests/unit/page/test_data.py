"""The page's data: the same figures as the JSON answer, packed without loss."""

import json
import math

from hypothesis import given
from hypothesis import strategies as st

from optibox.assess import assess
from optibox.page.data import fingerprint, page_data
from optibox.page.packing import POINTER, lean, packed, plain
from optibox.page.question import question
from optibox.report.answer import Report
from optibox.report.as_json import plain as rounded
from optibox.report.plan import PlanAnswer
from tests.unit.page.subjects import (
    CATALOG,
    MONEY,
    asked,
    machines,
    subject,
    without_cache,
)
from tests.unit.present.machines import plan_of

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=40,
).filter(lambda value: "inf" not in repr(value) and POINTER not in repr(value))


def opened(table):
    """Return packed data as they were, in another way than the page's script."""

    def walk(value):
        if isinstance(value, list):
            return [walk(item) for item in value]
        if isinstance(value, dict):
            if set(value) == {POINTER}:
                return walk(table["pool"][value[POINTER]])
            return {key: walk(item) for key, item in value.items()}
        return value

    return walk(table["value"])


@given(st.lists(JSON, max_size=4))
def test_packing_loses_nothing(values):
    twice = {"a": values, "b": [values, {"c": values}]}
    assert opened(packed(twice)) == twice


def test_packing_keeps_what_is_repeated_once():
    row = {"words": "a line that stands in every machine of the frontier"}
    text = json.dumps(packed([row] * 50))
    assert text.count("frontier") == 1


def test_nothing_infinite_reaches_json():
    assert plain([math.inf, math.nan, 1.5]) == [None, None, 1.5]
    assert lean([1 / 3]) == [0.333333333333]


def test_figures_are_those_of_the_json_answer():
    page = page_data(subject(MONEY))
    for row, found in zip(page["rows"], subject(MONEY).frontier.rows, strict=True):
        report = Report(
            plan=plan_of(found.assessment),
            scenario=found.assessment.scenario,
            catalog=CATALOG,
        )
        answer = rounded(PlanAnswer(report=report).to_dict())
        assert row["figures"] == answer["figures"]
        assert row["rates"] == answer["rates"]
        assert [o["id"] for o in row["order"]] == [o["id"] for o in answer["order"]]
        assert row["settle_first"] == answer["settle_first"]


def test_data_are_json_without_infinities():
    """Timeouts of drives that never stop and unlimited lives have no number."""
    table = page_data(subject(MONEY))
    assert json.loads(json.dumps(table, allow_nan=False)) == table


def test_one_row_is_the_plan():
    rows = page_data(subject())["rows"]
    assert [row["number"] for row in rows] == [1, 2, 3, 4, 5]
    assert [row["is_plan"] for row in rows].count(True) == 1
    (plan,) = (row for row in rows if row["is_plan"])
    assert plan["standing"] == "Proven cheapest"


def test_every_array_drive_is_a_step_at_the_bench():
    row = page_data(subject())["rows"][3]
    titles = [step["title"] for step in row["bench"]]
    assert "data-1, bay 3.5-1" in titles
    assert "parity-1, bay 3.5-4" in titles
    assert [s["phase"] for s in row["bench"]] == sorted(
        (s["phase"] for s in row["bench"]),
        key=("Fit", "Wire", "Measure", "Copy").index,
    )


def test_question_tells_what_was_asked():
    words = dict(question(asked(MONEY, limits={"budget": 900}), "EUR"))
    assert "Hold 10.0 TB (9.09 TiB) of files" in words["Needs"]
    assert "take in 100 GB at 60 MB/s" in words["Needs"]
    assert words["Limits"] == "Spend at most 900 EUR."
    assert "0.31 EUR a kWh, 0.19 from 22:00 to 06:00" in words["Money"]
    assert "on the weekend" in words["Money"]
    assert "counted over 6 years" in words["Money"]


def test_question_without_limits_does_not_speak_of_them():
    assert "Limits" not in dict(question(asked(), "EUR"))


def test_stages_stand_in_the_order_in_which_data_go_through_them():
    """In from the network by way of its own slot and the processor, out the other way."""
    plan = next(row for row in page_data(subject())["rows"] if row["is_plan"])
    chains = {
        chain["operation"]: [stage["name"] for stage in chain["stages"]]
        for chain in plan["chains"]
    }
    write = chains["write"]
    assert write[:3] == [
        "other end of the network",
        "network lead",
        "network port of network-1",
    ]
    assert write[3].startswith("slot P1 ")
    assert write[4] == "processor"
    assert write[-1].startswith("drives")
    assert chains["read"][0] == "drives"
    assert chains["read"][-1] == "other end of the network"
    assert chains["flush"][0] == "cache read"
    assert chains["cache ingest"][-1].startswith("cache drives")


def test_every_chain_names_the_stage_that_sets_it():
    for row in page_data(subject())["rows"]:
        for chain in row["chains"]:
            least = min(stage["rate_mb_s"] for stage in chain["stages"])
            assert chain["rate_mb_s"] == least


def test_the_first_picture_has_the_axis_on_which_machines_differ_most():
    """Intake of 78 to 490 MB/s, running costs of 89 to 135 a year."""
    assert page_data(subject())["view"] == ["purchase_price", "ingest_mb_s"]


def test_ticks_belong_to_the_parts_and_their_wiring():
    """Another timeout is the same thing to build, another set of parts is not."""
    found = machines(asked())
    assert fingerprint(found[0]) == fingerprint(found[1])
    assert fingerprint(found[0]) != fingerprint(found[3])
    dearer = assess(without_cache(), asked({"tariff_per_kwh": 0.5}))
    assert fingerprint(dearer) == fingerprint(found[3])
