"""The alternatives: what a little more money, watts or time would buy."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.catalog import Format, FormatOption
from optibox.cli.plan import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    Catalogs,
    Output,
    ScenarioFile,
    SecondThoughts,
    Settings,
    TimeLimit,
    _catalog_setting,
    _clear_progress,
    _progress_writer,
)

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.frontier.compute import Wanted
    from optibox.frontier.records import Frontier
    from optibox.frontier.second import SecondThoughts as Thoughts
    from optibox.present.text import Line
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
    from optibox.scenario import read_scenario

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
    asked, catalog = read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ())]
    )
    found = _search(catalog, asked, wanted)
    second = _second(found, asked, catalog) if has_second_thoughts else None
    answer = _Answer(found, asked, catalog, second, is_all=is_all)
    _give(answer, form, output)
    _keep(found, catalog, save)
    if picture is not None:
        _draw(found, asked, catalog, picture)
    codes = {"proven": DONE, "infeasible": INFEASIBLE}
    raise typer.Exit(codes.get(found.status, UNPROVEN))


def _search(catalog: "Catalog", asked: "Scenario", wanted: "Wanted") -> "Frontier":
    """Search; Ctrl-C ends it with what is proven by then."""
    import signal

    from optibox.frontier.compute import frontier as search

    pressed: list[int] = []

    def stop(*_: object) -> None:
        pressed.append(1)
        raise KeyboardInterrupt

    old = signal.signal(signal.SIGINT, stop)
    try:
        return search(
            catalog,
            asked,
            wanted,
            on_progress=_progress_writer(),
            is_stopped=lambda: bool(pressed),
        )
    finally:
        signal.signal(signal.SIGINT, old)
        _clear_progress()


class _Answer:
    """What is told, and to whom it belongs."""

    def __init__(
        self,
        found: "Frontier",
        asked: "Scenario",
        catalog: "Catalog",
        second: "Thoughts | None",
        *,
        is_all: bool,
    ) -> None:
        from optibox.present.report import currency_of

        self.found, self.asked, self.catalog = found, asked, catalog
        self.second, self.is_all = second, is_all
        self.currency = currency_of(asked, catalog)

    def lines(self, width: int) -> "list[Line]":
        """Return the answer as lines."""
        from optibox.present.frontier_text import frontier_lines
        from optibox.present.second_text import TITLE, second_lines
        from optibox.present.text import Line

        lines = frontier_lines(
            self.found, self.asked, self.catalog, width=width, is_all=self.is_all
        )
        if self.second is not None:
            lines += [Line(""), Line(f"{TITLE} about the plan's own", "strong")]
            lines += map(Line, second_lines(self.second, self.currency, width))
        return lines


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
        catalog, asked, plan.assessment, pool=pool, on_progress=_progress_writer()
    )
    _clear_progress()
    return thoughts


def _give(answer: "_Answer", form: Format, output: Path | None) -> None:
    """Write the answer to stdout or to a file."""
    from optibox.files import write_text
    from optibox.present.frontier_data import frontier_csv, frontier_json
    from optibox.present.text import PIPED_WIDTH, plain_text

    if form is Format.table and output is None:
        _show(answer)
        return
    if form is Format.table:
        text = plain_text(answer.lines(PIPED_WIDTH))
    elif form is Format.json:
        text = frontier_json(answer.found, answer.currency, answer.second)
    else:
        text = frontier_csv(answer.found, answer.currency)
    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)


def _show(answer: "_Answer") -> None:
    """Print the table: as wide as the terminal, styled there alone."""
    import os
    import sys

    from optibox.present.text import NARROWEST, PIPED_WIDTH, WIDEST, plain_text

    if not sys.stdout.isatty():
        typer.echo(plain_text(answer.lines(PIPED_WIDTH)), nl=False)
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    lines = answer.lines(min(WIDEST, max(NARROWEST, console.width)))
    if os.environ.get("NO_COLOR"):
        typer.echo(plain_text(lines), nl=False)
        return
    styles = {"strong": "bold", "caution": "yellow", "plain": ""}
    for line in lines:
        console.print(Text(line.text, style=styles[line.style]), soft_wrap=True)


def _keep(found: "Frontier", catalog: "Catalog", save: tuple[int, Path] | None) -> None:
    """Write the machine of a row to a file."""
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp
    from optibox.errors import Fault, InputError
    from optibox.present.report import currency_of

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
    save_build(row.assessment.build, path, label)
    typer.echo(f"row {number} is kept in {path}", err=True)


def _draw(found: "Frontier", asked: "Scenario", catalog: "Catalog", path: Path) -> None:
    """Draw the rows to a file."""
    from optibox.catalog.check import stamp
    from optibox.files import write_bytes
    from optibox.present.frontier_picture import picture
    from optibox.present.report import currency_of

    if not found.rows:
        typer.echo(f"no row to draw; {path} is not written", err=True)
        return
    form = path.suffix.lower().removeprefix(".")
    data = picture(found, currency_of(asked, catalog), form, stamp(catalog))
    write_bytes(path, data)
