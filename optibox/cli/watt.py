"""What a watt is worth in a machine, and what to change next."""

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
    UNPROVEN,
    clear_progress,
    code_of,
    give,
    opened,
    progress,
    read,
    refuse,
)

if TYPE_CHECKING:
    from optibox.build import Build
    from optibox.catalog.catalog import Catalog
    from optibox.report.watt import WattReport
    from optibox.running.swaps import SwapList
    from optibox.scenario import Scenario

BuildFile = Annotated[
    Path | None,
    typer.Option(
        "--build",
        help="A build, saved or written by hand, that stands; without it the best is "
        "planned.",
    ),
]
NotBought = Annotated[
    bool,
    typer.Option(
        "--not-bought",
        help="The build is not bought yet: a part left out saves its price.",
    ),
]
Marginal = Annotated[
    bool,
    typer.Option(
        "--marginal", help="Price of one more of each need: a search for each one."
    ),
]
Budget = Annotated[
    float | None,
    typer.Option(
        "--yearly-budget", min=0, help="Best sequence of changes under this a year."
    ),
]
Everything = Annotated[bool, typer.Option("--all", help="Show every change.")]
AllPairs = Annotated[
    bool,
    typer.Option("--all-pairs", help="Try pairs too that can hardly pay: minutes."),
]
Save = Annotated[
    Path | None,
    typer.Option("--save", help="Write the machine after a change to this TOML file."),
]
Number = Annotated[
    int, typer.Option("--change", min=1, help="Which one --save writes: its net rank.")
]

EPILOG = (
    "The first line says whether anything is worth changing. Every change is a complete "
    "machine, wired anew where it must be, that keeps all needs and limits (the budget "
    "is what a change may cost). Exit codes: 0 done, 2 bad input, 3 no machine meets "
    "all needs, 4 the search for prices stopped early."
)


def watt(
    scenario: ScenarioFile,
    *,
    build: BuildFile = None,
    settings: Settings = None,
    catalogs: Catalogs = None,
    not_bought: NotBought = False,
    is_marginal: Marginal = False,
    yearly_budget: Budget = None,
    everything: Everything = False,
    all_pairs: AllPairs = False,
    time_limit: TimeLimit = None,
    form: FormatOption = Format.table,
    output: Output = None,
    save: Save = None,
    change: Number = 1,
) -> None:
    """Show what a watt costs, what to change next, and what each need costs."""
    from optibox.report.answer import currency_of
    from optibox.running.swaps import swap_list

    asked, catalog = read(scenario, settings, catalogs)
    machine = _machine(build, asked, catalog, time_limit)
    found = swap_list(
        machine,
        catalog,
        asked,
        is_in_hand=not not_bought,
        all_pairs=all_pairs,
        on_progress=progress(),
    )
    report = _report(
        found,
        yearly_budget,
        currency_of(asked, catalog),
        is_all=everything or form is not Format.table,
    )
    if is_marginal:
        report = _with_prices(report, catalog, asked, time_limit)
    give(report, form, output)
    if save is not None:
        _save(found, change, save)
    raise typer.Exit(_code(report))


def _report(
    found: "SwapList", yearly_budget: float | None, currency: str, *, is_all: bool
) -> "WattReport":
    from optibox.report.watt import SHOWN, WattReport, chosen
    from optibox.running.sensitivity_inputs import Spreads
    from optibox.running.swap_payback import paybacks
    from optibox.running.swap_sequence import best_sequence
    from optibox.running.watt import watt_worths

    swaps = chosen(found, None if is_all else SHOWN)
    sequence = None
    if yearly_budget is not None:
        sequence = best_sequence(found, yearly_budget, on_progress=progress())
    return WattReport(
        worths=watt_worths(found.before),
        swaps=found,
        rows=list(zip(swaps, paybacks(swaps, Spreads()), strict=True)),
        currency=currency,
        sequence=sequence,
    )


def _with_prices(
    report: "WattReport",
    catalog: "Catalog",
    asked: "Scenario",
    time_limit: float | None,
) -> "WattReport":
    from dataclasses import replace

    from optibox.running.marginal import marginal_prices

    prices = marginal_prices(
        catalog, asked, time_limit_s=time_limit, on_progress=progress()
    )
    return replace(report, marginal=prices)


def _code(report: "WattReport") -> int:
    """Return the exit code: prices that are not proven are told apart."""
    marginal = report.marginal
    if marginal is None:
        return DONE
    if marginal.base.assessment is None:
        return code_of(marginal.base)
    is_proven = marginal.base.status == "optimal" and all(
        price.is_proven for price in marginal.prices
    )
    return DONE if is_proven else UNPROVEN


def _save(found: "SwapList", change: int, path: Path) -> None:
    """Write the machine that comes out of one change."""
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp
    from optibox.report.answer import currency_of

    if change > len(found.swaps):
        problem = f"is no change; there are {len(found.swaps)}"
        refuse("--change", str(change), problem, "Choose one of them.")
    after = found.swaps[change - 1].after
    currency = currency_of(after.scenario, found.catalog)
    label = Label(stamp=stamp(found.catalog), currency=currency)
    save_build(after.build, path, label)


def _machine(
    path: Path | None, asked: "Scenario", catalog: "Catalog", time_limit: float | None
) -> "Build":
    """Return the machine in question: a saved one, or the best there is."""
    from optibox.search.plan import plan

    if path is not None:
        return opened(path, asked, catalog)
    found = plan(catalog, asked, time_limit_s=time_limit, on_progress=progress())
    clear_progress()
    if found.assessment is None:
        typer.echo("no machine of this catalog meets all needs", err=True)
        raise typer.Exit(code_of(found))
    if found.status != "optimal":
        typer.echo("the machine is the best found so far, not proven", err=True)
    return found.assessment.build
