"""How to get to a build from drives that hold data: the safe order of steps."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.catalog import Format, FormatOption
from optibox.cli.plan import DONE, INFEASIBLE, Catalogs, Output, Settings

if TYPE_CHECKING:
    from optibox.migration import Route

BuildFile = Annotated[Path, typer.Argument(help="A build, saved or written by hand.")]
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
    build: BuildFile,
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

    opened = open_build(build, question(scenario, settings or (), catalogs or ()))
    route = route_to(opened.completion.assessment, opened.scenario)
    _give(route, form, output)
    raise typer.Exit(DONE if route.is_safe else INFEASIBLE)


def _give(route: "Route", form: Format, output: Path | None) -> None:
    import json
    import shutil

    from optibox.files import write_text
    from optibox.present.migration_json import migration_table
    from optibox.present.migration_text import migration_page

    width = shutil.get_terminal_size((100, 24)).columns
    if form is Format.table:
        text = "\n".join(migration_page(route, min(120, max(60, width)))) + "\n"
    elif form is Format.json:
        table = {"format": 1, **migration_table(route)}
        text = json.dumps(table, indent=2, ensure_ascii=False) + "\n"
    else:
        text = _csv(route)
    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)


def _csv(route: "Route") -> str:
    from optibox.present.migration_json import migration_csv

    return migration_csv(route)
