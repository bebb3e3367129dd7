"""When drives should sleep: policies on a build, or parts and policy together."""

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
    Settings,
    _catalog_setting,
    _clear_progress,
    _progress_writer,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optibox.catalog.catalog import Catalog
    from optibox.present.text import Line
    from optibox.scenario import Scenario

BuildFile = Annotated[
    Path | None,
    typer.Option(
        "--build", help="A saved build; without it parts are chosen for each policy."
    ),
]
LogFile = Annotated[
    Path | None,
    typer.Option(
        "--log",
        help="Accesses as CSV: time, and drive, bytes, operation where known.",
    ),
]
CountersFile = Annotated[
    Path | None,
    typer.Option(
        "--counters",
        help="Counters of drives and meter at two dates, as CSV.",
    ),
]
Everything = Annotated[
    bool, typer.Option("--all", help="Policies that are not allowed row by row too.")
]
TimeLimit = Annotated[
    float | None,
    typer.Option(
        "--time-limit",
        min=0.1,
        help="Seconds for all policies together, where parts are chosen.",
    ),
]

EPILOG = (
    "The first line says whether anything is worth changing. With --build the parts "
    "stay and totals are energy and wear; without it each policy gets the machine that "
    "suits it best, which takes one search for each. Columns of --counters: time, drive "
    "(blank = the meter), starts, load_unload, power_on_h, power_cycles, meter_kwh. "
    "--format json gives every figure, --format csv the table. Exit codes: 0 done, 2 bad input, "
    "3 no machine meets all needs under any policy, 4 stopped before all were tried."
)


def spindown(
    scenario: ScenarioFile,
    *,
    build: BuildFile = None,
    log: LogFile = None,
    counters: CountersFile = None,
    settings: Settings = None,
    catalogs: Catalogs = None,
    time_limit: TimeLimit = None,
    is_all: Everything = False,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Show when drives should sleep: each timeout, write mode and cache in figures."""
    from optibox.scenario import read_scenario

    asked, catalog = read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ())]
    )
    if build is None:
        _refuse_without_build(log, counters)
        _planned(asked, catalog, time_limit, form, output)
    else:
        _on_build(asked, catalog, (build, log, counters), is_all, form, output)


def _refuse_without_build(*files: Path | None) -> None:
    from optibox.errors import Fault, InputError

    if any(file is not None for file in files):
        problem = "has to name a build: log and counters are those of one machine"
        remedy = "Save it with 'optibox plan SCENARIO --save build.toml'."
        raise InputError([Fault(path="--build", problem=problem, remedy=remedy)])


def _on_build(
    asked: "Scenario",
    catalog: "Catalog",
    files: tuple[Path, Path | None, Path | None],
    is_all: bool,
    form: Format,
    output: Path | None,
) -> None:
    from optibox.build import load_build
    from optibox.present.report import currency_of
    from optibox.present.spindown_data import as_csv, as_json
    from optibox.present.spindown_text import spindown_lines
    from optibox.running.spindown import spindown as answer

    currency = currency_of(asked, catalog)
    build, log, counters = files
    found = answer(load_build(build), asked, log=log, counters=counters)
    if form is Format.table:
        _give_lines(
            spindown_lines(found, currency, _width(output), is_whole=is_all), output
        )
    else:
        write = as_json if form is Format.json else as_csv
        _give_text(write(found, currency), output)


def _planned(
    asked: "Scenario",
    catalog: "Catalog",
    time_limit: float | None,
    form: Format,
    output: Path | None,
) -> None:
    from optibox.present.report import currency_of
    from optibox.present.spindown_data import planned_csv, planned_json
    from optibox.present.spindown_plan_text import planned_lines
    from optibox.running.policy_plan import planned_table
    from optibox.running.spindown import spindown as answer

    currency = currency_of(asked, catalog)
    found = planned_table(
        catalog, asked, time_limit_s=time_limit, on_progress=_progress_writer()
    )
    _clear_progress()
    machine = found.best.found if found.best else None
    more = answer(machine.build, found.scenario) if machine else None
    if form is Format.table:
        lines = planned_lines(found, currency, _width(output), more)
        _give_lines(lines, output)
    elif form is Format.json:
        _give_text(planned_json(found, currency, more), output)
    else:
        _give_text(planned_csv(found, currency), output)
    if found.n_tried < len(found.rows):
        raise typer.Exit(UNPROVEN)
    raise typer.Exit(DONE if found.best else INFEASIBLE)


def _width(output: Path | None) -> int:
    """Return the columns of a line: the terminal's, or those of a file."""
    import shutil
    import sys

    from optibox.present.text import NARROWEST, PIPED_WIDTH, WIDEST

    if output is not None or not sys.stdout.isatty():
        return PIPED_WIDTH
    columns = shutil.get_terminal_size((PIPED_WIDTH, 24)).columns
    return min(WIDEST, max(NARROWEST, columns))


def _give_lines(lines: "Sequence[Line]", output: Path | None) -> None:
    """Write lines, styled where a terminal shows them."""
    import os
    import sys

    from optibox.present.text import plain_text

    if output is not None or not sys.stdout.isatty() or os.environ.get("NO_COLOR"):
        _give_text(plain_text(lines), output)
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    styles = {"strong": "bold", "caution": "yellow", "plain": ""}
    for line in lines:
        console.print(Text(line.text, style=styles[line.style]), soft_wrap=True)


def _give_text(text: str, output: Path | None) -> None:
    from optibox.files import write_text

    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)
