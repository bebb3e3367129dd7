"""How to get to a build from drives that hold data: the safe order of steps."""

from pathlib import Path
from typing import Annotated

import typer

from optibox.cli.options import (
    BuildArgument,
    Catalogs,
    Format,
    FormatOption,
    Output,
    Settings,
)
from optibox.cli.run import DONE, INFEASIBLE, give

ScenarioOption = Annotated[
    Path | None,
    typer.Option(
        "--scenario",
        help="Scenario that says what owned drives hold; without it the build's own "
        "record of them counts.",
    ),
]

EPILOG = (
    "Say in the scenario, for each owned drive: holds_data or held_tb, second_copy, "
    "sits_in, old_array. A drive of which nothing is said counts as full. Exit codes: "
    "0 there is a safe order, 2 bad input, 3 none: the answer says what to borrow or "
    "buy first."
)


def migrate(
    build: BuildArgument,
    *,
    scenario: ScenarioOption = None,
    settings: Settings = None,
    catalogs: Catalogs = None,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Show how to reach a build when its drives hold data: each step, safe and short."""
    from optibox.assess import route_to
    from optibox.completion.opening import open_build, question
    from optibox.report.migration import MigrationReport

    opened = open_build(build, question(scenario, settings or (), catalogs or ()))
    route = route_to(opened.completion.assessment, opened.scenario)
    give(MigrationReport(route=route), form, output)
    raise typer.Exit(DONE if route.is_safe else INFEASIBLE)
