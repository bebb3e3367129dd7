"""Which inputs change the decision, where it flips, and the robust pick."""

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
    TimeLimit,
)
from optibox.cli.run import (
    DONE,
    INFEASIBLE,
    UNPROVEN,
    clear_progress,
    give,
    opened,
    picture_form,
    progress,
    read,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optibox.catalog.catalog import Catalog
    from optibox.report.sensitivity import SensitivityReport
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

    names = asked_inputs(inputs)
    spreads, corners = asked_spreads(spread or ()), asked_corners(corner or ())
    drawn = picture_form(picture)
    asked, catalog = read(scenario, settings, catalogs)
    if build is not None:
        report, code = _of_build(build, asked, catalog, names, spreads, corners)
    else:
        report, code = _of_catalog(asked, catalog, names, spreads, corners, time_limit)
    clear_progress()
    if report is None:
        typer.echo("no machine meets all needs as they are", err=True)
        raise typer.Exit(INFEASIBLE)
    give(report, form, output)
    if picture is not None:
        from optibox.catalog.check import stamp
        from optibox.files import write_bytes
        from optibox.report.sensitivity_picture import sensitivity_picture

        write_bytes(picture, sensitivity_picture(report, drawn, stamp(catalog)))
    raise typer.Exit(code)


def _of_build(
    path: Path,
    asked: "Scenario",
    catalog: "Catalog",
    names: "Sequence[Input]",
    spreads: "Spreads",
    corners: "dict[str, Corner]",
) -> "tuple[SensitivityReport | None, int]":
    from optibox.report.answer import currency_of
    from optibox.report.machines import changes
    from optibox.report.sensitivity import SensitivityReport
    from optibox.running.regret import robust_pick
    from optibox.running.sensitivity import sensitivity as answer
    from optibox.running.sensitivity_ask import with_plain_corner
    from optibox.running.sensitivity_decision import Option
    from optibox.running.sensitivity_question import swap_options
    from optibox.running.swaps import swap_list

    swaps = swap_list(
        opened(path, asked, catalog), catalog, asked, on_progress=progress()
    )
    options = swap_options(swaps, spreads)
    found = answer(options.decision, names)
    if found is None:
        return None, INFEASIBLE

    def describe(option: Option) -> str:
        swap = options.swap_of(option)
        return changes(swap.changes) if swap else option.name

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
    from optibox.report.answer import currency_of
    from optibox.report.machines import difference, main_parts
    from optibox.report.sensitivity import SensitivityReport
    from optibox.running.regret import robust_pick
    from optibox.running.sensitivity import sensitivity as answer
    from optibox.running.sensitivity_ask import with_plain_corner
    from optibox.running.sensitivity_decision import Option, PlanDecision

    decision = PlanDecision(
        catalog=catalog,
        scenario=asked,
        spreads=spreads,
        time_limit_s=time_limit,
        on_progress=progress(),
    )
    found = answer(decision, names)
    if found is None:
        return None, INFEASIBLE if not decision.n_unproven else UNPROVEN

    def describe(option: Option) -> str:
        if option.parts_key == found.option.parts_key:
            return main_parts(option.build)
        return difference(found.option.build, option.build)

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
