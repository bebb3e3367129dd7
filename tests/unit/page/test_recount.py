"""What the page counts anew is what the command line says at the changed setting.

The oracle is the evaluator with the changed scenario, told by the text answer's own
functions; operation and parts stay as they are.
"""

from decimal import ROUND_HALF_EVEN, Decimal

import pytest

from optibox.assess import Assessment, assess
from optibox.page.render import render
from optibox.report.figures import figure_groups
from optibox.report.quantity import both_capacities, money, number, share
from optibox.report.run_line import difference, variants
from optibox.report.verdict import costs
from optibox.scenario import Scenario
from tests.support.source import ROOT
from tests.unit.page.subjects import MONEY, asked, subject, subject_of, together

FORMAT_JS = ROOT / "optibox/page/assets/format.js"
SETTINGS = [(0.31, 6), (0.30, 5), (0.0, 1), (0.075, 3), (0.4567, 10), (1.234, 17)]
SETTINGS += [(9.99, 30), (0.5, 2)]


def changed(question: Scenario, tariff: float, years: int) -> Scenario:
    """Return a scenario at another tariff and over other years, as --set makes it."""
    money_now = question.money.model_dump() | {
        "tariff_per_kwh": tariff,
        "years": years,
    }
    return Scenario.model_validate(question.model_dump() | {"money": money_now})


def shown_figures(page) -> dict[str, str]:
    return dict(
        page.eval_on_selector_all(
            "#figures dd", "nodes => nodes.map(n => [n.dataset.key, n.textContent])"
        )
    )


def told(found: Assessment) -> dict[str, str]:
    return {
        figure.key: figure.text
        for group in figure_groups(found, "EUR")
        for figure in group.figures
        if figure.label
    }


def agree(page, go, front, settings, rows) -> None:
    """Compare all figures and the answer of machines at changed settings."""
    for tariff, years in settings:
        question = changed(front.scenario, tariff, years)
        for row in rows:
            go(page, chosen=row.number, tariff=tariff, years=years)
            found = assess(row.assessment.build, question)
            assert shown_figures(page) == told(found), (tariff, years, row.number)
            answer = page.locator("#answer").text_content()
            amounts = costs(found, "EUR").rpartition("as listed, ")[2]
            assert answer.endswith(amounts), (tariff, years)
            assert money(found.total_cost, "EUR") in answer


@pytest.mark.parametrize("name", ["flat", "bands"])
def test_every_figure_agrees_to_the_last_digit(opened, go, name):
    front = subject(MONEY if name == "bands" else None)
    rows = front.frontier.rows
    agree(opened(name), go, front, SETTINGS[:2], rows[:2])
    agree(opened(name), go, front, SETTINGS[2:6], rows[3:4])


def test_drives_that_sleep_together_agree_as_well(opened, go):
    """Stripes have all asleep and all up as states of their own."""
    stripe = assess(together("striped", 1), asked(MONEY))
    pairs = assess(together("pairs", timeout_min=15), asked(MONEY))
    front = subject_of(stripe, [pairs])
    page = opened("together", text=render(front))
    agree(page, go, front, [(0.42, 3), (0.1, 11)], front.frontier.rows)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["flat", "bands"])
def test_every_figure_of_every_machine_agrees(opened, go, name):
    front = subject(MONEY if name == "bands" else None)
    many = [(n / 137, 1 + n % 30) for n in range(1, 60)]
    agree(opened(name), go, front, [*SETTINGS, *many], front.frontier.rows)


def test_other_timeouts_and_modes_agree(opened, go):
    """Lines below the picture against the text answer's alternatives."""
    front, page = subject(MONEY), opened("bands")
    for tariff, years, place in [(0.31, 6, 0), (0.44, 4, 3), (0.2, 12, 2), (0.1, 2, 4)]:
        row = front.frontier.rows[place]
        go(page, chosen=row.number, tariff=tariff, years=years)
        lines = dict(
            page.eval_on_selector_all(
                "#run [data-way]",
                "nodes => nodes.map(n => [n.dataset.way, n.textContent])",
            )
        )
        found = assess(row.assessment.build, changed(front.scenario, tariff, years))
        for variant in variants(found):
            line = lines[variant.words]
            if variant.fault:
                assert "not allowed" in line
            else:
                words = difference(variant, "EUR")
                assert line.endswith(words), (tariff, years, row.number)


def test_a_tariff_that_joins_bands_is_flagged(opened, go):
    """At 0.24 the day's hours cost what the weekend's do: hours of rest are averaged."""
    page = opened("bands", "#tariff=0.24")
    assert "last digit" in page.locator("#resolve").text_content()
    go(page, tariff=0.25)
    assert "last digit" not in page.locator("#resolve").text_content()


def test_wear_over_more_years_is_told(opened):
    """As the rule of wear tells it at those years, in the same words."""
    front = subject()
    years = 30
    question = changed(front.scenario, 0.3, years)
    row = front.frontier.row(front.frontier.plan_number)
    found = assess(row.assessment.build, question)
    worn = [f for f in found.errors if f.rule == "W1"]
    page = opened("flat", f"#years={years}")
    settle = page.locator("#settle li").all_text_contents()
    assert len([t for t in settle if "starts after" in t]) == len(worn)
    for finding in worn:
        assert finding.evidence.replace("%", " %") in settle


def test_capacity_in_both_units_agrees(opened):
    front, page = subject(), opened()
    found = front.frontier.row(front.frontier.plan_number).assessment
    tb, tib = both_capacities(found.capacity.usable_tb).removesuffix(")").split(" (")
    shown = page.locator('[data-capacity="to be filled with files"]')
    assert shown.text_content() == tb
    page.locator("#unit-TiB").check()
    assert shown.text_content() == tib
    assert tib in page.locator("#bar-figures").text_content()


def test_what_needs_a_search_is_named_with_its_command(opened):
    page = opened()
    assert page.locator("#resolve").text_content() == ""
    page.locator("#tariff").fill("0.42")
    page.locator("#years").fill("8")
    command = page.locator("#resolve code").text_content()
    assert command == (
        "optibox page cupboard.toml --set money.tariff_per_kwh=0.42 "
        "--set money.years=8 -o page.html"
    )
    page.locator("#as-asked").click()
    assert page.locator("#resolve").text_content() == ""
    assert page.locator("#answer").text_content().startswith("Proven cheapest")


VALUES = [0, 0.5, 1.5, 2.5, -0.5, 0.125, 0.375, 2.675, 1234.5, 12345.678, 9999.995]
VALUES += [1e-9, -0.004, 19.995, 20, 19.99, 99.95, 9.995, 1e6, 123456.5, 0.045]


def test_numbers_are_rounded_as_python_does():
    """Python rounds the exact binary value, ties to even; decimal is the witness."""
    for value in VALUES:
        exact = Decimal(value).quantize(Decimal("0.01"), ROUND_HALF_EVEN)
        assert f"{value:.2f}" == f"{exact:.2f}"


def test_numbers_read_as_on_the_command_line(browser):
    """The page's own functions beside the text answer's, on awkward values."""
    tab = browser.new_page()
    tab.evaluate(
        "source => { const page = { currency: 'EUR' }; const state = { unit: 'TB' };"
        " globalThis.told = new Function('page', 'state', source +"
        " '; return { number, money, share }')(page, state) }",
        FORMAT_JS.read_text(encoding="utf-8"),
    )
    script = (
        "values => values.map(v => [...[0, 1, 2, 3].map(d => told.number(v, d)),"
        " told.money(v), told.share(v)])"
    )
    for value, got in zip(VALUES, tab.evaluate(script, VALUES), strict=True):
        expected = [number(value, digits) for digits in range(4)]
        assert got == [*expected, money(value, "EUR"), share(value)], value
    tab.close()
