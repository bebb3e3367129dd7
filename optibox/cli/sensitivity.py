"""Which inputs change the decision, where it flips, and the robust pick."""

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
    TimeLimit,
    _catalog_setting,
    _clear_progress,
    _progress_writer,
)
from optibox.cli.spindown import _give_lines, _give_text, _width

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optibox.catalog.catalog import Catalog
    from optibox.present.sensitivity_text import SensitivityReport
    from optibox.running.sensitivity_inputs import Corner, Input, Spreads
    from optibox.scenario import Scenario

BuildFile = Annotated[
    Path | None,
    typer.Option(
        "--build",
        help="A build: what to change in it is the question, not what to buy.",
    ),
]
Inputs = Annotated[
    str | None,
    typer.Option(
        "--input",
        help="These only, commas between: tariff, prices, usage, watts, factors, "
        "factors.fill_limit, factors.each.",
    ),
]
SpreadsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--spread",
        help="By which share an input without bounds moves: tariff=0.4.",
    ),
]
Corners = Annotated[
    list[str] | None,
    typer.Option(
        "--corner", help="A corner for the robust pick: tariff=high,prices=low. Repeat."
    ),
]
Picture = Annotated[
    Path | None,
    typer.Option("--picture", help="Draw the strips to this SVG or PNG file."),
]

EPILOG = (
    "Inputs: tariff, prices, usage, watts, factors (or single ones, such as "
    "factors.fill_limit; factors.each for each of them); each moves between the bounds of its "
    "figures, and where there are none by a share of itself (tariff 0.25, prices 0.1, "
    "usage 0.5, watts 0.1). Without --build every position takes a search of the whole "
    "catalog; with it the machine's swaps are compared. --corner names where inputs may "
    "stand together; the robust pick is the machine with the smallest worst regret over "
    "the corners. Exit codes: 0 done, 2 bad input, 3 no machine meets all needs, 4 a "
    "search was stopped early."
)


def sensitivity(
    scenario: ScenarioFile,
    *,
    build: BuildFile = None,
    settings: Settings = None,
    catalogs: Catalogs = None,
    inputs: Inputs = None,
    spread: SpreadsOption = None,
    corner: Corners = None,
    picture: Picture = None,
    time_limit: TimeLimit = None,
    form: FormatOption = Format.table,
    output: Output = None,
) -> None:
    """Show which inputs change the decision, and at which value it flips."""
    from optibox.running.sensitivity_ask import (
        asked_corners,
        asked_inputs,
        asked_spreads,
    )
    from optibox.scenario import read_scenario

    names = asked_inputs(inputs)
    spreads, corners = asked_spreads(spread or ()), asked_corners(corner or ())
    draws = _drawer(picture)
    asked, catalog = read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ())]
    )
    if build is not None:
        report, code = _of_build(build, asked, catalog, names, spreads, corners)
    else:
        report, code = _of_catalog(asked, catalog, names, spreads, corners, time_limit)
    _clear_progress()
    if report is None:
        typer.echo("no machine meets all needs as they are", err=True)
        raise typer.Exit(INFEASIBLE)
    _answer(report, form, output)
    if draws is not None and picture is not None:
        draws(report, picture, catalog)
    raise typer.Exit(code)


def _of_build(
    path: Path,
    asked: "Scenario",
    catalog: "Catalog",
    names: "Sequence[Input]",
    spreads: "Spreads",
    corners: "dict[str, Corner]",
) -> "tuple[SensitivityReport | None, int]":
    from optibox.cli.watt import opened
    from optibox.present.report import currency_of
    from optibox.present.sensitivity_text import SensitivityReport
    from optibox.present.swaps_words import swap_words
    from optibox.running.regret import robust_pick
    from optibox.running.sensitivity import sensitivity as answer
    from optibox.running.sensitivity_ask import with_plain_corner
    from optibox.running.sensitivity_decision import Option
    from optibox.running.sensitivity_question import swap_options
    from optibox.running.swaps import swap_list

    swaps = swap_list(
        opened(path, asked, catalog), catalog, asked, on_progress=_progress_writer()
    )
    options = swap_options(swaps, spreads)
    found = answer(options.decision, names)
    if found is None:
        return None, INFEASIBLE

    def describe(option: Option) -> str:
        swap = options.swap_of(option)
        return swap_words(swap.changes) if swap else option.name

    left = f" {options.n_left} more changes pay less." if options.n_left else ""
    report = SensitivityReport(
        found=found,
        scenario=asked,
        spreads=spreads,
        currency=currency_of(asked, catalog),
        describe=describe,
        what="what to change",
        remark=f"Choices: to do nothing, and {len(options.by_option)} changes that "
        f"keep the machine valid.{left}",
        robust=(
            robust_pick(options.decision, with_plain_corner(corners))
            if corners
            else None
        ),
    )
    return report, DONE


def _of_catalog(
    asked: "Scenario",
    catalog: "Catalog",
    names: "Sequence[Input]",
    spreads: "Spreads",
    corners: "dict[str, Corner]",
    time_limit: float | None,
) -> "tuple[SensitivityReport | None, int]":
    from optibox.present.report import currency_of
    from optibox.present.sensitivity_text import SensitivityReport
    from optibox.present.sensitivity_words import difference_words, machine_words
    from optibox.running.regret import robust_pick
    from optibox.running.sensitivity import sensitivity as answer
    from optibox.running.sensitivity_ask import with_plain_corner
    from optibox.running.sensitivity_decision import Option, PlanDecision

    decision = PlanDecision(
        catalog=catalog,
        scenario=asked,
        spreads=spreads,
        time_limit_s=time_limit,
        on_progress=_progress_writer(),
    )
    found = answer(decision, names)
    if found is None:
        return None, INFEASIBLE if not decision.n_unproven else UNPROVEN

    def describe(option: Option) -> str:
        if option.parts_key == found.option.parts_key:
            return machine_words(option.build)
        return difference_words(found.option.build, option.build)

    robust = robust_pick(decision, with_plain_corner(corners)) if corners else None
    unproven = (
        f" {decision.n_unproven} of them stopped without proof."
        if decision.n_unproven
        else ""
    )
    report = SensitivityReport(
        found=found,
        scenario=asked,
        spreads=spreads,
        currency=currency_of(asked, catalog),
        describe=describe,
        what="the machine",
        remark=f"{decision.n_searches} searches of the whole catalog.{unproven} Flips "
        "of tariff and prices are exact; of the other inputs a machine that is best in "
        "a short stretch alone could be missed.",
        robust=robust,
    )
    return report, UNPROVEN if decision.n_unproven else DONE


def _answer(report: "SensitivityReport", form: Format, output: Path | None) -> None:
    from optibox.present.sensitivity_data import sensitivity_csv, sensitivity_json
    from optibox.present.sensitivity_text import sensitivity_lines

    if form is Format.table:
        _give_lines(sensitivity_lines(report, _width(output)), output)
    else:
        write = sensitivity_json if form is Format.json else sensitivity_csv
        _give_text(write(report), output)


def _drawer(
    path: Path | None,
) -> "Callable[[SensitivityReport, Path, Catalog], None] | None":
    """Return what draws the picture; faults of its name come before any search."""
    if path is None:
        return None
    from importlib.util import find_spec

    from optibox.errors import Fault, InputError

    form = path.suffix.lower().removeprefix(".")
    problem = remedy = ""
    if form not in ("svg", "png"):
        problem = "is no picture; expected a name that ends in .svg or .png"
        remedy = "Name it flips.svg."
    elif find_spec("matplotlib") is None:
        problem = "cannot be drawn without matplotlib"
        remedy = "Install it: pip install 'optibox[pictures]'."
    if problem:
        raise InputError([Fault(path=str(path), problem=problem, remedy=remedy)])
    return _draw


def _draw(report: "SensitivityReport", path: Path, catalog: "Catalog") -> None:
    from optibox.catalog.check import stamp
    from optibox.files import write_bytes
    from optibox.present.sensitivity_picture import sensitivity_picture

    form = path.suffix.lower().removeprefix(".")
    write_bytes(path, sensitivity_picture(report, form, stamp(catalog)))
