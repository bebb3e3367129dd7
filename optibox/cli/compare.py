"""Builds side by side: differences first, years to pay back, prices of today."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import (
    Format,
    FormatOption,
    LookUp,
    Output,
    ScenarioOption,
    Settings,
    TimeLimit,
)
from optibox.cli.run import give

if TYPE_CHECKING:
    from optibox.completion.opening import Opened, Question
    from optibox.report.comparison import Repriced

BuildFiles = Annotated[
    list[Path],
    typer.Argument(help="Builds, saved or by hand; the first is the old one."),
]
Replan = Annotated[
    bool,
    typer.Option(
        "--replan/--no-replan",
        help="With a scenario: plan saved builds again at the prices of today.",
    ),
]

EPILOG = (
    "All machines are held against the same scenario; without one nothing is asked, and "
    "usage is the default. Payback is simple and not discounted. Exit codes: 0 done, 2 "
    "bad input."
)


def compare(
    builds: BuildFiles,
    *,
    scenario: ScenarioOption = None,
    settings: Settings = None,
    catalogs: LookUp = None,
    replan: Replan = True,
    time_limit: TimeLimit = None,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Compare machines: watts, kWh, money, years to pay back, prices then and now."""
    from optibox.completion.opening import open_builds, question
    from optibox.report.answer import currency_of
    from optibox.report.compare import CompareReport
    from optibox.report.comparison import compare as compared

    asked = question(scenario, settings or (), catalogs or ())
    opened = open_builds(builds, asked)
    first = opened[0]
    currency = first.scenario.money.currency
    if first.catalog is not None:
        currency = currency_of(first.scenario, first.catalog)
    plan_s = time_limit if replan else 0.0
    today = _today(opened, asked, plan_s)
    found = compared(opened, currency, today)
    give(CompareReport(found=found), form, output)


def _today(
    opened: "list[Opened]", asked: "Question", time_limit_s: float | None
) -> "list[Repriced]":
    """Return saved builds at the prices of today, planned again where asked."""
    from optibox.report.comparison import repriced
    from optibox.search.plan import plan

    saved = [one for one in opened if not one.is_by_hand and one.catalog is not None]
    best, is_wanted = None, time_limit_s is None or time_limit_s > 0
    if saved and is_wanted and asked.scenario is not None and asked.catalog is not None:
        best = plan(asked.catalog, asked.scenario, time_limit_s=time_limit_s)
    return [
        repriced(one, one.catalog, best) for one in saved if one.catalog is not None
    ]
