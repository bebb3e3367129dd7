"""The page: the alternatives of a scenario in one file to look at, choose and print."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.plan import (
    Aim,
    AimOption,
    Catalogs,
    ScenarioFile,
    Settings,
    TimeLimit,
    _aim_setting,
    _catalog_setting,
    _clear_progress,
    _progress_writer,
    code_of,
)

if TYPE_CHECKING:
    from datetime import date

    from optibox.catalog.catalog import Catalog
    from optibox.frontier.records import Frontier
    from optibox.scenario import Scenario
    from optibox.search.result import Plan

Target = Annotated[
    Path, typer.Option("--output", "-o", help="Write the page to this file.")
]
Single = Annotated[
    bool,
    typer.Option("--single", help="The best machine alone, without its alternatives."),
]

EPILOG = (
    "The page asks for nothing from outside: it opens by double click, on a phone beside "
    "the machine as well. Tariff, years and TB or TiB can be changed on it; what needs a "
    "new search is named with its command. Exit codes as of optibox plan."
)


def page(
    scenario: ScenarioFile,
    *,
    output: Target,
    settings: Settings = None,
    catalogs: Catalogs = None,
    aim: Aim = None,
    time_limit: TimeLimit = None,
    is_single: Single = False,
) -> None:
    """Make one self-contained HTML file: look, choose, print, build."""
    from optibox.files import write_text
    from optibox.page.data import Subject
    from optibox.page.render import render
    from optibox.scenario import assumed_defaults, read_scenario
    from optibox.search.plan import plan as search

    sets = [*_catalog_setting(catalogs), *(settings or ()), *_aim_setting(aim)]
    asked, catalog = read_scenario(scenario, sets)
    found = search(
        catalog, asked, time_limit_s=time_limit, on_progress=_progress_writer()
    )
    _clear_progress()
    front = _alternatives(
        catalog, asked, found, is_single=is_single, time_limit=time_limit
    )
    if front is None:
        _say_why(found, asked, catalog)
        raise typer.Exit(code_of(found))
    subject = Subject(
        scenario=asked,
        catalog=catalog,
        frontier=front,
        plan=found,
        assumed=tuple(assumed_defaults(asked)),
        today=_today(),
        command=_command(scenario, settings, catalogs, aim),
    )
    write_text(output, render(subject))
    typer.echo(_done(output, len(front.rows)))
    raise typer.Exit(code_of(found))


def _alternatives(
    catalog: "Catalog",
    asked: "Scenario",
    found: "Plan",
    *,
    is_single: bool,
    time_limit: float | None,
) -> "Frontier | None":
    """Return the machines that stand beside the plan's own; nothing without a plan."""
    from optibox.page.rows import frontier_of
    from optibox.search.plan import plan as search

    if found.assessment is None:
        return None
    others = []
    for aim in () if is_single else ("purchase", "annual energy", "ingest", "read"):
        other = asked.model_copy(
            update={"choices": asked.choices.model_copy(update={"aim": aim})}
        )
        best = search(catalog, other, time_limit_s=time_limit).assessment
        if best is not None:
            others.append(best)
    return frontier_of(found.assessment, others)


def _today() -> "date":
    from datetime import UTC, datetime

    return datetime.now(tz=UTC).date()


def _command(
    scenario: Path,
    settings: list[str] | None,
    catalogs: list[str] | None,
    aim: "AimOption | None",
) -> str:
    """Return the command that makes the page, without where it is written."""
    import shlex

    words = ["optibox", "page", str(scenario)]
    for name in catalogs or ():
        words += ["--catalog", name]
    for setting in settings or ():
        words += ["--set", setting]
    if aim is not None:
        words += ["--aim", aim.value]
    return shlex.join(words)


def _say_why(found: "Plan", asked: "Scenario", catalog: "Catalog") -> None:
    """Say on stderr why there is no page."""
    from optibox.present.report import Report
    from optibox.present.text import page as text_page
    from optibox.present.text import plain_text

    report = Report(plan=found, scenario=asked, catalog=catalog)
    typer.echo(plain_text(text_page(report, 100)), nl=False, err=True)
    typer.echo("No page is written.", err=True)


def _done(path: Path, n_rows: int) -> str:
    size_kb = path.stat().st_size / 1000
    machines = "1 machine" if n_rows == 1 else f"{n_rows} machines"
    return f"{path}: {machines}, {size_kb:.0f} kB; open it in a browser"
