"""Readings against the plan of a build."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import Format, FormatOption, Output
from optibox.cli.run import give, refuse
from optibox.cli.sheet import (
    BuildFile,
    Repeatability,
    Resolution,
    ScenarioOption,
    scenario_of,
)

if TYPE_CHECKING:
    from optibox.measure.reconcile import Reconciliation
    from optibox.measure.replan import Replanned

ReadingsFile = Annotated[Path, typer.Argument(help="A CSV file of readings.")]
Save = Annotated[
    Path | None,
    typer.Option("--save", help="Write the figures to this file; scenarios name it."),
]
Combined = Annotated[
    bool,
    typer.Option(
        "--with-catalog", help="Save the rest too, readings and catalog combined."
    ),
]
Picture = Annotated[
    Path | None, typer.Option("--picture", help="Draw measured against predicted: SVG.")
]
Replan = Annotated[
    bool, typer.Option("--replan", help="Plan the scenario again with the figures.")
]

EPILOG = (
    "READINGS has a header row and one reading a row; other columns stay blank. At the "
    "wall: state (asleep, spinning, reading, ingesting, flushing, checking), watts or "
    "kwh and hours, repeats, meter_error_w (standard error of one), minute; fitted "
    "(all, all but ..., bare, or a list) or removed and refitted since the last row, as "
    "in 'hdd-8 x2 | network-1': part ids, names of drives and cards, kinds. Transfers: "
    "operation (read, write, ingest, flush, network), size_gb, mb_s, fill (0-1), drives "
    "at once, synced, client_mb_s, way (network, local), target, mode. Counters: drive, "
    "starts, power_on_hours, pending_sectors, reallocated_sectors, interface_errors. "
    "Lines beginning # and columns beginning x_ are not read. Exit codes: 0 done, 2 bad "
    "input."
)


def reconcile(
    build: BuildFile,
    readings: ReadingsFile,
    *,
    scenario: ScenarioOption = None,
    resolution: Resolution = None,
    repeatability: Repeatability = None,
    save: Save = None,
    is_combined: Combined = False,
    picture: Picture = None,
    is_replanned: Replan = False,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Turn readings of a build into figures, find what is wrong, say what to read next.

    READINGS is a CSV file: optibox sheet --format csv gives one to fill in. Figures
    are those of the readings alone, with 95 % intervals; what they cannot tell apart
    is not split.
    """
    from optibox.build import load_build
    from optibox.measure.read import read_readings
    from optibox.measure.reconcile import reconcile as work
    from optibox.measure.records import REPEATABILITY_W, RESOLUTION_W, Meter
    from optibox.report.answer import currency_of
    from optibox.report.reconcile import ReconcileReport

    _check_picture(picture)
    machine = load_build(build)
    asked = scenario_of(scenario)
    meter = Meter(
        resolution_w=RESOLUTION_W if resolution is None else resolution,
        repeatability_w=repeatability or REPEATABILITY_W,
    )
    found = work(machine, read_readings(readings, machine, meter), meter, asked)
    again = _replanned(found, scenario, readings) if is_replanned else None
    currency = currency_of(*asked) if asked else ""
    give(ReconcileReport(found=found, currency=currency, again=again), form, output)
    if picture is not None:
        _draw(found, picture)
    if save is not None:
        _save(found, save, readings, is_combined=is_combined)


def _replanned(
    found: "Reconciliation", scenario: Path | None, readings: Path
) -> "Replanned":
    """Return what the next plan of the scenario makes of the figures."""
    from optibox.measure.replan import replan

    if scenario is None:
        remedy = "Name the scenario to plan again: --scenario scenario.toml."
        refuse("--replan", "", "needs a scenario", remedy)
    typer.echo("planning twice, without and with the figures ...", err=True)
    return replan(found, scenario, readings.name)


def _check_picture(path: Path | None) -> None:
    """Refuse a picture in a form that is not drawn, before any work is done."""
    if path is not None and path.suffix.lower() != ".svg":
        problem = "is no SVG file; pictures are drawn as SVG alone"
        name = path.with_suffix(".svg").name
        remedy = f"Name it {name}; browsers turn it into PNG."
        refuse("--picture", str(path), problem, remedy)


def _draw(found: "Reconciliation", path: Path) -> None:
    from optibox.files import write_text
    from optibox.report.measure_picture import picture_svg

    write_text(path, picture_svg(found))


def _save(
    found: "Reconciliation", path: Path, readings: Path, *, is_combined: bool
) -> None:
    from optibox.files import write_text
    from optibox.measure.overrides import override_text

    write_text(path, override_text(found, readings.name, combined=is_combined))
