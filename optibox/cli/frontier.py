"""The alternatives: what a little more money, watts or time would buy."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import (
    Catalogs,
    Format,
    FormatOption,
    Output,
    ScenarioFile,
    SecondThoughts,
    Settings,
    TimeLimit,
)
from optibox.cli.run import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    clear_progress,
    give,
    progress,
    read,
)

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.frontier.compute import Wanted
    from optibox.frontier.records import Frontier
    from optibox.frontier.second import SecondThoughts as Thoughts
    from optibox.scenario import Scenario

Axes = Annotated[
    str,
    typer.Option(
        "--axes",
        help="Two or three of purchase, running, total, kwh, asleep, ingest, write, "
        "read, usable, commas between.",
    ),
]
Cover = Annotated[
    str | None,
    typer.Option(
        "--cover",
        help="As many rows as it takes that every machine is so near to one: 1%.",
    ),
]
Exact = Annotated[
    bool, typer.Option("--exact", help="All machines that nothing beats, to a step.")
]
MostRows = Annotated[
    int, typer.Option("--rows", min=1, max=1000, help="Rows of a short cover at most.")
]
Resolution = Annotated[
    str | None,
    typer.Option("--resolution", help="Steps of axes: purchase=5,kwh=1,ingest=10."),
]
BreakPoints = Annotated[
    bool,
    typer.Option(
        "--break-points",
        help="Which machine of the whole catalog is cheapest at which price of a kWh.",
    ),
]
Save = Annotated[
    tuple[int, Path] | None,
    typer.Option("--save", help="Write the machine of a row: --save 3 build.toml."),
]
Picture = Annotated[
    Path | None, typer.Option("--picture", help="Draw the rows: FILE.png or FILE.svg.")
]
Everything = Annotated[bool, typer.Option("--all", help="All rows.")]

EPILOG = (
    "A row is a complete machine that was judged by the evaluator; --save hands it to "
    "other commands. Ctrl-C shows what is proven so far. Exit codes: 0 proven, 2 bad "
    "input, 3 no machine meets all needs within all limits, 4 stopped without proof."
)


def frontier(
    scenario: ScenarioFile,
    *,
    settings: Settings = None,
    catalogs: Catalogs = None,
    axes: Axes = "purchase,running,ingest",
    cover: Cover = None,
    is_exact: Exact = False,
    rows: MostRows = 40,
    resolution: Resolution = None,
    has_breaks: BreakPoints = False,
    has_second_thoughts: SecondThoughts = False,
    time_limit: TimeLimit = None,
    is_all: Everything = False,
    form: FormatOption = Format.table,
    save: Save = None,
    picture: Picture = None,
    output: Output = None,
) -> None:
    """Show the machines worth considering, and how far that is proven.

    Each row is better than every other row on some axis.
    """
    from optibox.cli.frontier_options import Options, wanted_of
    from optibox.report.answer import currency_of
    from optibox.report.frontier import FrontierReport

    wanted = wanted_of(
        Options(
            axes=axes,
            cover=cover,
            is_exact=is_exact,
            rows=rows,
            resolution=resolution,
            picture=picture,
            has_breaks=has_breaks,
            time_limit_s=time_limit,
        )
    )
    asked, catalog = read(scenario, settings, catalogs)
    found = search(catalog, asked, wanted)
    report = FrontierReport(
        found=found,
        currency=currency_of(asked, catalog),
        stamp=_stamp(found, asked, catalog),
        second=_second(found, asked, catalog) if has_second_thoughts else None,
        is_all=is_all,
    )
    give(report, form, output)
    _keep(found, catalog, save)
    if picture is not None:
        _draw(found, asked, catalog, picture)
    codes = {"proven": DONE, "infeasible": INFEASIBLE}
    raise typer.Exit(codes.get(found.status, UNPROVEN))


def search(catalog: "Catalog", asked: "Scenario", wanted: "Wanted") -> "Frontier":
    """Search; Ctrl-C ends it with what is proven by then."""
    import signal

    from optibox.frontier.compute import frontier as answer

    pressed: list[int] = []

    def stop(*_: object) -> None:
        pressed.append(1)
        raise KeyboardInterrupt

    old = signal.signal(signal.SIGINT, stop)
    try:
        return answer(
            catalog,
            asked,
            wanted,
            on_progress=progress(),
            is_stopped=lambda: bool(pressed),
        )
    finally:
        signal.signal(signal.SIGINT, old)
        clear_progress()


def _stamp(found: "Frontier", asked: "Scenario", catalog: "Catalog") -> str:
    """Return how far the catalog can be trusted, as the plan's page says it."""
    from optibox.report.answer import Report

    if found.plan is None:
        return catalog.name
    return Report(plan=found.plan, scenario=asked, catalog=catalog).stamp


def _second(
    found: "Frontier", asked: "Scenario", catalog: "Catalog"
) -> "Thoughts | None":
    """Return what stands beside the plan; rows that are known save searches."""
    from optibox.frontier.second import PRICED_AIMS, second_thoughts

    plan = found.plan
    if plan is None or plan.assessment is None:
        return None
    if plan.status != "optimal" or plan.aim not in PRICED_AIMS:
        typer.echo(
            "no second thoughts: they want a proven plan by total cost or purchase",
            err=True,
        )
        return None
    pool = [row.assessment for row in found.rows]
    thoughts = second_thoughts(
        catalog, asked, plan.assessment, pool=pool, on_progress=progress()
    )
    clear_progress()
    return thoughts


def _keep(found: "Frontier", catalog: "Catalog", save: tuple[int, Path] | None) -> None:
    """Write the machine of a row to a file."""
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp
    from optibox.errors import Fault, InputError
    from optibox.report.answer import currency_of

    if save is None:
        return
    number, path = save
    try:
        row = found.row(number)
    except KeyError:
        n = len(found.rows)
        fault = Fault(
            path="--save",
            value=str(number),
            problem=f"is no row; {f'rows are 1 to {n}' if n else 'there are no rows'}",
            remedy="Rows count from the top of the table; --all shows them.",
        )
        raise InputError([fault]) from None
    currency = currency_of(row.assessment.scenario, catalog)
    label = Label(stamp=stamp(catalog), currency=currency)
    save_build(row.assessment.build, path, label, row.assessment.scenario)
    typer.echo(f"row {number} is kept in {path}", err=True)


def _draw(found: "Frontier", asked: "Scenario", catalog: "Catalog", path: Path) -> None:
    """Draw the rows to a file."""
    from optibox.catalog.check import stamp
    from optibox.files import write_bytes
    from optibox.report.answer import currency_of
    from optibox.report.frontier_picture import picture

    if not found.rows:
        typer.echo(f"no row to draw; {path} is not written", err=True)
        return
    form = path.suffix.lower().removeprefix(".")
    data = picture(found, currency_of(asked, catalog), form, stamp(catalog))
    write_bytes(path, data)
