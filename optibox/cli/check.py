"""Checking a build: what is wrong with it, what mends it, every figure."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.catalog import Format, FormatOption
from optibox.cli.plan import Output, Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optibox.completion.opening import Opened
    from optibox.present.check_report import CheckReport
    from optibox.present.text import Line
    from optibox.scenario import Scenario

DONE, UNFIT = 0, 3

BuildFile = Annotated[
    Path, typer.Argument(help="A build: saved by plan, or written by hand.")
]
ScenarioOption = Annotated[
    Path | None,
    typer.Option("--scenario", help="What the machine is for; else nothing is asked."),
]
CatalogOption = Annotated[
    list[str] | None,
    typer.Option(
        "--catalog", help="Where ids are looked up and mending parts come from."
    ),
]
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
    build: BuildFile,
    *,
    scenario: ScenarioOption = None,
    settings: Settings = None,
    catalogs: CatalogOption = None,
    form: FormatOption = Format.table,
    section: SectionOption = None,
    save: SaveWhole = None,
    output: Output = None,
) -> None:
    """Check a machine part by part: findings, what mends them, and every figure.

    Figures are given even where it does not work; they then say what would be.
    """
    from optibox.completion.opening import open_build, question

    asked = question(scenario, settings or (), catalogs or ())
    opened = open_build(build, asked)
    report = _report(opened)
    sections = _sections(section)
    if save is not None:
        _save(report, opened, save, asked.scenario)
    _give(report, form, sections, output)
    raise typer.Exit(DONE if report.is_fit else UNFIT)


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
    from optibox.present.check_report import CheckReport
    from optibox.present.report import currency_of
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


def _sections(text: str | None) -> "Sequence[str]":
    """Return the sections asked for; unknown ones are refused together."""
    from optibox.catalog.nearest import nearest
    from optibox.errors import Fault, InputError
    from optibox.present.check_text import CHECK_SECTIONS

    if text is None:
        return ()
    names = [name.strip().lower() for name in text.split(",") if name.strip()]
    faults = [
        Fault(
            path="--section",
            value=name,
            problem=f"is no section; there are {', '.join(CHECK_SECTIONS)}",
            remedy=nearest(name, CHECK_SECTIONS),
        )
        for name in names
        if name not in CHECK_SECTIONS
    ]
    if faults:
        raise InputError(faults)
    return names


def _give(
    report: "CheckReport", form: Format, sections: "Sequence[str]", output: Path | None
) -> None:
    """Write the answer to stdout or to a file."""
    from optibox.present.check_data import check_csv, check_json
    from optibox.present.check_text import check_answer

    if form is Format.table:
        give_lines(lambda width: check_answer(report, width, sections), output)
    else:
        give_text((check_json if form is Format.json else check_csv)(report), output)


def give_text(text: str, output: Path | None) -> None:
    """Write a text to stdout or to a file."""
    from optibox.files import write_text

    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)


def give_lines(lines: "Callable[[int], list[Line]]", output: Path | None) -> None:
    """Write lines: as wide as the terminal and styled there, plain elsewhere."""
    import os
    import sys

    from optibox.present.text import PIPED_WIDTH, plain_text

    is_terminal = output is None and sys.stdout.isatty()
    if not is_terminal or os.environ.get("NO_COLOR"):
        give_text(plain_text(lines(PIPED_WIDTH)), output)
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    styles = {"strong": "bold", "caution": "yellow", "plain": ""}
    for line in lines(console.width):
        console.print(Text(line.text, style=styles[line.style]), soft_wrap=True)
