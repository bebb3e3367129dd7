"""What the page counts money with adds up to what the evaluator found."""

import pytest

from optibox.page.exact import (
    hour_groups,
    money_table,
    price_patterns,
    state_hours,
)
from optibox.page.pictures import day_rows, power_table
from optibox.page.ways import ways_of
from optibox.present.run_line import variants
from optibox.scenario import Money
from optibox.units import DAYS_PER_YEAR
from tests.unit.page.subjects import MONEY, NIGHT, PLAIN, WEEKEND, asked, machines

QUESTIONS = {
    "flat": asked(),
    "bands": asked(MONEY),
    "bands alone": asked(
        {
            "bands": [
                {**NIGHT, "from_hour": 0, "to_hour": 12},
                {**NIGHT, "from_hour": 12, "to_hour": 24, "price_per_kwh": 0.4},
            ]
        }
    ),
    "striped": asked(usage={"checks_per_year": 0, "sessions_per_day": 30}),
}
CASES = [
    pytest.param(question, number, id=f"{name} {number}")
    for name, question in QUESTIONS.items()
    for number in range(5)
]


@pytest.mark.parametrize(("question", "number"), CASES)
def test_hours_and_prices_make_each_states_money(question, number):
    """The other way round: from hours by the clock to the evaluator's sums."""
    found = machines(question)[number]
    prices = question.money.prices_by_hour()
    rows = state_hours(found)
    assert len(rows) == len(found.year.states)
    for row, state in zip(rows, found.year.states, strict=True):
        assert sum(row.hours) == pytest.approx(state.hours, rel=1e-9)
        paid = sum(h * p for h, p in zip(row.hours, prices, strict=True))
        assert paid * row.wall_w / 1000 == pytest.approx(state.money, rel=1e-9)
    for hour in range(24):
        assert sum(row.hours[hour] for row in rows) == pytest.approx(DAYS_PER_YEAR)


@pytest.mark.parametrize(("question", "number"), CASES)
def test_yearly_amounts_make_the_cost_terms(question, number):
    """Years that count alike: without discount and growth they are multiples."""
    plain = question.model_copy(
        update={
            "money": question.money.model_copy(
                update={"discount": 0.0, "tariff_growth": 0.0}
            )
        }
    )
    found = machines(plain)[number]
    table, years = money_table(found), plain.money.years
    assert table["purchase"] == found.cost.purchase
    assert table["wear_per_year"] * years == pytest.approx(found.cost.wear)
    assert table["cache_wear_per_year"] * years == pytest.approx(found.cost.cache_wear)
    assert table["replacements_per_year"] * years == pytest.approx(
        found.cost.replacements
    )


@pytest.mark.parametrize(("question", "number"), CASES)
def test_ways_cost_what_the_text_answer_says_of_them(question, number):
    found = machines(question)[number]
    ways = {way["words"]: way for way in ways_of(found)}
    assert sum(way["is_mine"] for way in ways.values()) == 1
    for variant in variants(found):
        way = ways[variant.words]
        assert sum(way["kwh"]) == pytest.approx(variant.kwh, rel=1e-9)
        assert way["write_mb_s"] == variant.write_mb_s
        assert way["asleep_w"] == variant.asleep_w


def test_an_hour_knows_which_of_its_days_have_the_base_price():
    money = Money.model_validate(PLAIN | {"bands": [NIGHT, WEEKEND]})
    patterns = price_patterns(money)
    assert patterns[23] == (0.19,) * 7
    assert patterns[12] == (None,) * 5 + (0.24, 0.24)
    assert patterns[20] == (None,) * 7
    hours, groups = hour_groups(money)
    assert [groups[hours[h]] for h in range(24)] == list(patterns)
    assert len(groups) == 3


@pytest.mark.parametrize("number", range(5))
def test_hours_by_price_are_those_by_the_clock_summed(number):
    found = machines(asked(MONEY))[number]
    groups, _ = hour_groups(found.scenario.money)
    for fine, coarse in zip(
        state_hours(found), state_hours(found, groups), strict=True
    ):
        summed = [0.0] * len(coarse.hours)
        for hour, group in enumerate(groups):
            summed[group] += fine.hours[hour]
        assert coarse.hours == pytest.approx(summed, abs=1e-9)


@pytest.mark.parametrize("number", range(5))
def test_watts_of_parts_add_up_to_the_wall(number):
    """Direct current of all parts through the supply is what the evaluator says."""
    found = machines(asked())[number]
    table = power_table(found)
    wall = found.wall
    expected = {
        "asleep": wall.asleep_w,
        "spinning": wall.spinning_w,
        "reading": wall.reading_w,
        "writing": wall.writing_w,
        "checking": wall.checking_w,
    }
    assert dict(zip(table["states"], table["wall_w"], strict=True)) == pytest.approx(
        expected
    )
    for n, total in enumerate(table["wall_w"]):
        shown = sum(row["watts"][n] for row in table["rows"])
        assert shown == pytest.approx(total, abs=0.3)


@pytest.mark.parametrize("number", range(5))
def test_a_mean_day_has_the_years_energy(number):
    found = machines(asked(MONEY))[number]
    daily_wh = sum(sum(row["watts"]) for row in day_rows(found))
    assert daily_wh * DAYS_PER_YEAR / 1000 == pytest.approx(found.year.kwh, rel=1e-3)
