"""The page: the alternatives of a scenario in one file to look at, choose and print."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.frontier import Axes, MostRows
from optibox.cli.frontier import search as search_rows
from optibox.cli.options import (
    Aim,
    AimOption,
    Catalogs,
    ScenarioFile,
    SecondThoughts,
    Settings,
    TimeLimit,
)
from optibox.cli.plan import report_of, with_second_thoughts
from optibox.cli.run import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    clear_progress,
    progress,
    read,
)

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.frontier.compute import Wanted
    from optibox.frontier.records import Frontier
    from optibox.scenario import Scenario

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
    axes: Axes = "purchase,running,ingest",
    rows: MostRows = 40,
    is_single: Single = False,
    has_second_thoughts: SecondThoughts = False,
) -> None:
    """Make one self-contained HTML file: look, choose, print, build."""
    from optibox.files import write_text
    from optibox.page.data import Subject
    from optibox.page.render import render
    from optibox.scenario import assumed_defaults

    _check_target(output)
    asked, catalog = read(scenario, settings, catalogs, aim)
    front = _front(catalog, asked, _wanted(axes, rows, time_limit), is_single=is_single)
    found = front.plan
    if found is None or found.assessment is None:
        _say_why(front, asked, catalog)
        raise typer.Exit(_code(front))
    report = report_of(found, asked, catalog, assumed_defaults(asked))
    if has_second_thoughts:
        report = with_second_thoughts(report)
    clear_progress()
    subject = Subject(
        frontier=front,
        report=report,
        command=_command(scenario, settings, catalogs, aim),
    )
    write_text(output, render(subject))
    typer.echo(_done(output, front))
    raise typer.Exit(_code(front))


def _check_target(path: Path) -> None:
    """Refuse a target that cannot be written before a search of minutes is made."""
    from optibox.files import fault_of

    if path.is_dir():
        raise fault_of(path, "is a folder; expected a file to write", "Name a file.")
    if not path.parent.is_dir():
        problem = f"cannot be written: the folder {path.parent} does not exist"
        raise fault_of(path, problem, "Make the folder first.")


def _wanted(axes: str, rows: int, time_limit: float | None) -> "Wanted":
    from optibox.cli.frontier_options import Options, wanted_of

    return wanted_of(
        Options(
            axes=axes,
            cover=None,
            is_exact=False,
            rows=rows,
            resolution=None,
            picture=None,
            has_breaks=False,
            time_limit_s=time_limit,
        )
    )


def _front(
    catalog: "Catalog", asked: "Scenario", wanted: "Wanted", *, is_single: bool
) -> "Frontier":
    """Return the machines of the page: the plan's own among them, if there is any."""
    from optibox.page.rows import frontier_of, with_plan
    from optibox.search.plan import plan as search

    if not is_single:
        return with_plan(search_rows(catalog, asked, wanted))
    limit = wanted.time_limit_s
    found = search(catalog, asked, time_limit_s=limit, on_progress=progress())
    return frontier_of(found)


def _code(front: "Frontier") -> int:
    """Return the exit code: proven where the plan and all alternatives are."""
    if front.plan is None or front.plan.status != "optimal":
        return UNPROVEN if front.status != "infeasible" else INFEASIBLE
    return DONE if len(front.rows) == 1 or front.status == "proven" else UNPROVEN


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


def _say_why(front: "Frontier", asked: "Scenario", catalog: "Catalog") -> None:
    """Say on stderr why there is no page."""
    from optibox.report.plan import PlanAnswer
    from optibox.report.text import as_text

    clear_progress()
    if front.plan is not None:
        report = report_of(front.plan, asked, catalog, ())
        typer.echo(as_text(PlanAnswer(report=report).page(100)), nl=False, err=True)
    typer.echo("No page is written.", err=True)


def _done(path: Path, front: "Frontier") -> str:
    from optibox.report.words import counted

    size_kb = path.stat().st_size / 1000
    machines = counted(len(front.rows), "machine")
    return f"{path}: {machines}, {size_kb:.0f} kB; open it in a browser"
