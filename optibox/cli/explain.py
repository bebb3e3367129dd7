"""Why nothing fits and what nearly does; or what each requirement costs."""

from typing import Annotated

import typer

from optibox.cli.options import (
    Aim,
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
)

TimeLimit = Annotated[
    float | None,
    typer.Option(
        "--time-limit",
        min=0.1,
        help="Seconds for all searches together; what is open by then is said.",
    ),
]

EPILOG = (
    "Where no machine exists: which needs, limits and bans conflict, the value of each "
    "at which a machine exists, all of them eased together, and gaps of the catalog. "
    "Where one exists: what each requirement costs. Every value is the outcome of "
    "searches on both sides of it. Exit codes: 0 a machine exists, 2 bad input, 3 none "
    "exists, 4 the time was over before that was known."
)


def explain(
    scenario: ScenarioFile,
    *,
    settings: Settings = None,
    catalogs: Catalogs = None,
    aim: Aim = None,
    time_limit: TimeLimit = None,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Explain a scenario: what conflicts and by how much, or what each wish costs."""
    from optibox.explain import Refusal
    from optibox.explain import explain as search
    from optibox.report.answer import currency_of
    from optibox.report.explain import Explanation

    asked, catalog = read(scenario, settings, catalogs, aim)
    found = search(catalog, asked, time_limit_s=time_limit, on_progress=progress())
    clear_progress()
    if found is None:
        typer.echo("not known in time whether there is a machine", err=True)
        raise typer.Exit(UNPROVEN)
    currency = currency_of(asked, catalog)
    answer = Explanation(found=found, currency=currency, years=asked.money.years)
    give(answer, form, output)
    raise typer.Exit(INFEASIBLE if isinstance(found, Refusal) else DONE)
