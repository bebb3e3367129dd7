"""Options that several commands share, each with one name, type and help."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Format(StrEnum):
    """How an answer is written."""

    table = "table"
    csv = "csv"
    json = "json"
    html = "html"


class AimOption(StrEnum):
    """What is made best."""

    total_cost = "total-cost"
    purchase = "purchase"
    annual_energy = "annual-energy"
    asleep_watts = "asleep-watts"
    ingest = "ingest"
    read = "read"


ScenarioFile = Annotated[Path, typer.Argument(help="A scenario file.")]
BuildArgument = Annotated[
    Path, typer.Argument(help="A build: saved by plan, or written by hand.")
]
ScenarioOption = Annotated[
    Path | None,
    typer.Option("--scenario", help="What the machine is for; else nothing is asked."),
]
Settings = Annotated[
    list[str] | None,
    typer.Option("--set", help="Change a key for this run: needs.usable_tb=16."),
]
Catalogs = Annotated[
    list[str] | None,
    typer.Option(
        "--catalog", help="Use these catalogs instead of the scenario's; later win."
    ),
]
LookUp = Annotated[
    list[str] | None,
    typer.Option(
        "--catalog", help="Where ids are looked up and mending parts come from."
    ),
]
Aim = Annotated[AimOption | None, typer.Option("--aim", help="What is made best.")]
TimeLimit = Annotated[
    float | None,
    typer.Option(
        "--time-limit", min=0.1, help="Stop after so many seconds with the best so far."
    ),
]
FormatOption = Annotated[
    Format,
    typer.Option("--format", help="Form of the answer; html is a page that prints."),
]
Output = Annotated[
    Path | None, typer.Option("--output", "-o", help="Write the answer to this file.")
]
SecondThoughts = Annotated[
    bool,
    typer.Option(
        "--second-thoughts",
        help="Also the nearest machine with other parts, and for each part to buy the "
        "price at which another machine wins; two searches and more for each part.",
    ),
]
