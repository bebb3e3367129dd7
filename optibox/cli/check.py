"""Checking a build: what is wrong with it, what mends it, every figure."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import (
    BuildArgument,
    Format,
    FormatOption,
    LookUp,
    Output,
    ScenarioOption,
    Settings,
)
from optibox.cli.run import DONE, INFEASIBLE, give, sections_of

if TYPE_CHECKING:
    from optibox.completion.opening import Opened
    from optibox.report.check_facts import CheckReport
    from optibox.scenario import Scenario

SectionOption = Annotated[
    str | None,
    typer.Option("--section", help="Only these sections, commas between; see below."),
]
SaveWhole = Annotated[
    Path | None, typer.Option("--save", help="Write the build, made whole, to a file.")
]

EPILOG = (
    "A build by hand lists parts by id or in place and as much of wiring and operation "
    "as is known; the rest is filled in and told. Sections: errors, together, cannot, warnings, "
    "information, assumed, capacity, rates, power, currents, places, year, settings, "
    "risk, defaults, moving, cautions. Exit codes: 0 no errors, 2 bad input, 3 errors found."
)


def check(
    build: BuildArgument,
    *,
    scenario: ScenarioOption = None,
    settings: Settings = None,
    catalogs: LookUp = None,
    form: FormatOption = Format.table,
    section: SectionOption = None,
    save: SaveWhole = None,
    output: Output = None,
) -> None:
    """Check a machine part by part: findings, what mends them, and every figure.

    Figures are given even where it does not work; they then say what would be.
    """
    from optibox.completion.opening import open_build, question
    from optibox.report.check import CHECK_SECTIONS, CheckAnswer

    sections = sections_of(section, CHECK_SECTIONS)
    asked = question(scenario, settings or (), catalogs or ())
    opened = open_build(build, asked)
    report = _report(opened)
    if save is not None:
        _save(report, opened, save, asked.scenario)
    give(CheckAnswer(report=report, sections=sections), form, output)
    raise typer.Exit(DONE if report.is_fit else INFEASIBLE)


def _save(
    report: "CheckReport", opened: "Opened", path: Path, asked: "Scenario | None"
) -> None:
    """Write the machine, with all that a later check needs to say the same."""
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp

    planned_with = opened.stamp or (stamp(opened.catalog) if opened.catalog else "")
    label = Label(stamp=planned_with, name=opened.name, currency=report.currency)
    save_build(report.found.build, path, label, asked)


def _report(opened: "Opened") -> "CheckReport":
    from optibox.catalog.check import stamp
    from optibox.completion.mending import mend_all, mends_of
    from optibox.report.answer import currency_of
    from optibox.report.check_facts import CheckReport
    from optibox.report.words import capital
    from optibox.scenario import assumed_defaults

    catalog, scenario = opened.catalog, opened.scenario
    found = opened.completion.assessment
    own = f"Saved with {opened.stamp}." if opened.stamp else ""
    return CheckReport(
        name=opened.name,
        completion=opened.completion,
        currency=currency_of(scenario, catalog) if catalog else scenario.money.currency,
        stamp=own or (f"{capital(stamp(catalog))}." if catalog else ""),
        is_asked=opened.is_asked,
        defaults=tuple(assumed_defaults(scenario)) if opened.is_asked else (),
        mends=mends_of(found, catalog),
        together=mend_all(found, catalog) if found.errors else None,
        catalog=catalog,
    )
