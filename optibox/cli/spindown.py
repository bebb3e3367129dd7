"""When drives should sleep: policies on a build, or parts and policy together."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import (
    Catalogs,
    Format,
    FormatOption,
    Output,
    ScenarioFile,
    Settings,
)
from optibox.cli.run import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    clear_progress,
    give,
    progress,
    read,
    refuse,
)

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.report.spindown_planned import PlannedReport
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
    asked, catalog = read(scenario, settings, catalogs)
    if build is None:
        if log is not None or counters is not None:
            problem = "has to name a build: log and counters are those of one machine"
            remedy = "Save it with 'optibox plan SCENARIO --save build.toml'."
            refuse("--build", "", problem, remedy)
        report = _planned(asked, catalog, time_limit)
        give(report, form, output)
        raise typer.Exit(_code(report))

    from optibox.build import load_build
    from optibox.report.answer import currency_of
    from optibox.report.spindown import SpindownReport
    from optibox.running.spindown import spindown as answer

    found = answer(load_build(build), asked, log=log, counters=counters)
    currency = currency_of(asked, catalog)
    give(SpindownReport(found=found, currency=currency, is_whole=is_all), form, output)


def _planned(
    asked: "Scenario", catalog: "Catalog", time_limit: float | None
) -> "PlannedReport":
    from optibox.report.answer import currency_of
    from optibox.report.spindown_planned import PlannedReport
    from optibox.running.policy_plan import planned_table
    from optibox.running.spindown import spindown as answer

    found = planned_table(
        catalog, asked, time_limit_s=time_limit, on_progress=progress()
    )
    clear_progress()
    machine = found.best.found if found.best else None
    return PlannedReport(
        table=found,
        currency=currency_of(asked, catalog),
        on_best=answer(machine.build, found.scenario) if machine else None,
    )


def _code(report: "PlannedReport") -> int:
    if report.table.n_tried < len(report.table.rows):
        return UNPROVEN
    return DONE if report.table.best else INFEASIBLE
