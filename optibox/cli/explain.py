"""Why nothing fits and what nearly does; or what each requirement costs."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.catalog import Format, FormatOption
from optibox.cli.plan import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    Aim,
    Catalogs,
    Output,
    ScenarioFile,
    Settings,
)

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.explain import Bill, Refusal
    from optibox.scenario import Scenario

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
    from optibox.cli.plan import (
        _aim_setting,
        _catalog_setting,
        _clear_progress,
        _progress_writer,
    )
    from optibox.explain import Refusal
    from optibox.explain import explain as search
    from optibox.scenario import read_scenario

    asked, catalog = read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ()), *_aim_setting(aim)]
    )
    found = search(
        catalog, asked, time_limit_s=time_limit, on_progress=_progress_writer()
    )
    _clear_progress()
    if found is None:
        typer.echo("not known in time whether there is a machine", err=True)
        raise typer.Exit(UNPROVEN)
    _give(found, asked, catalog, form, output)
    raise typer.Exit(INFEASIBLE if isinstance(found, Refusal) else DONE)


def _give(
    found: "Refusal | Bill",
    asked: "Scenario",
    catalog: "Catalog",
    form: Format,
    output: Path | None,
) -> None:
    import json
    import shutil

    from optibox.files import write_text
    from optibox.present.explain_json import explanation_csv, explanation_table
    from optibox.present.explain_text import explanation_lines
    from optibox.present.report import currency_of

    currency = currency_of(asked, catalog)
    if form is Format.json:
        table = {"format": 1, "currency": currency, **explanation_table(found)}
        text = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    elif form is Format.csv:
        text = explanation_csv(found)
    else:
        width = shutil.get_terminal_size((100, 24)).columns
        lines = explanation_lines(
            found, currency, asked.money.years, min(120, max(60, width))
        )
        text = "\n".join(lines) + "\n"
    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)
