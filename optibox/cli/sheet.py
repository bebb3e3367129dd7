"""The measuring sheet of a build."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import Format, FormatOption, Output
from optibox.cli.run import give

if TYPE_CHECKING:
    from optibox.catalog.catalog import Catalog
    from optibox.measure.records import Meter
    from optibox.scenario import Scenario

BuildFile = Annotated[Path, typer.Argument(help="A saved build.")]
ScenarioOption = Annotated[
    Path | None,
    typer.Option("--scenario", help="What is to be decided: needs, money, catalogs."),
]
Resolution = Annotated[
    float | None,
    typer.Option(
        "--resolution", min=0.0, max=20, help="Step of the meter's display [W]."
    ),
]
Repeatability = Annotated[
    float | None,
    typer.Option(
        "--repeatability",
        min=0.001,
        max=20,
        help="Standard deviation of a reading taken again [W].",
    ),
]
Minutes = Annotated[
    float | None,
    typer.Option("--minutes", min=20, max=3000, help="Time for wall readings."),
]
OneHour = Annotated[bool, typer.Option("--hour", help="The version for one hour.")]
EPILOG = (
    "Without --minutes, --resolution and --repeatability they are asked for on a "
    "terminal, and assumed elsewhere (240 min, 0.1 W, 0.3 W). Below 120 minutes, as "
    "with --hour, readings settle and average for less, and their errors grow. "
    "Readings that cannot tell anything, or on which no decision turns, are left out and "
    "named. --format html prints on A4, csv is to fill in. Exit codes: 0 done, 2 bad input."
)


def sheet(
    build: BuildFile,
    *,
    scenario: ScenarioOption = None,
    resolution: Resolution = None,
    repeatability: Repeatability = None,
    minutes: Minutes = None,
    is_hour: OneHour = False,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Print a measuring sheet for a build: which readings to take, in which order.

    Chosen so that they settle what is to be decided in the time there is; predicted
    values and tolerances stand beside the boxes. The csv form, filled in, is what
    optibox reconcile reads.
    """
    from optibox.build import load_build
    from optibox.measure.sheet import DEFAULT_MINUTES, ONE_HOUR_MIN, sheet_of
    from optibox.report.sheet import SheetReport

    machine = load_build(build)
    asked = scenario_of(scenario)
    is_assumed = resolution is None and repeatability is None and not _can_ask()
    meter = meter_of(resolution, repeatability)
    if is_hour:
        minutes = ONE_HOUR_MIN
    elif minutes is None:
        minutes = _ask("Minutes for wall readings", DEFAULT_MINUTES, (20.0, 3000.0))
    found = sheet_of(machine, meter, minutes, asked)
    give(SheetReport(sheet=found, is_assumed=is_assumed), form, output)


def scenario_of(path: Path | None) -> "tuple[Scenario, Catalog] | None":
    """Return what a scenario file asks, or nothing."""
    from optibox.scenario import read_scenario

    return None if path is None else read_scenario(path)


def meter_of(resolution: float | None, repeatability: float | None) -> "Meter":
    """Return the meter of the options; what is missing is asked for or assumed."""
    from optibox.measure.records import REPEATABILITY_W, RESOLUTION_W, Meter

    if resolution is None:
        resolution = _ask("Step of the meter's display, W", RESOLUTION_W, (0.0, 20.0))
    if repeatability is None:
        words = "How far the same reading differs when taken again, W"
        repeatability = _ask(words, REPEATABILITY_W, (0.001, 20.0))
    return Meter(resolution_w=resolution, repeatability_w=repeatability)


def _can_ask() -> bool:
    """Return whether a person sits at both ends."""
    import sys

    return sys.stdin.isatty() and sys.stdout.isatty()


def _ask(words: str, default: float, bounds: tuple[float, float]) -> float:
    """Return what a person answers; the default where nobody is there to ask."""
    if not _can_ask():
        return default
    while True:
        value = float(typer.prompt(words, default=default, type=float, err=True))
        if bounds[0] <= value <= bounds[1]:
            return value
        typer.echo(f"expected {bounds[0]:g} to {bounds[1]:g}", err=True)
