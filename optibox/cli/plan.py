"""The main command: a scenario into the best machine, told on one page."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.options import (
    Aim,
    Catalogs,
    Format,
    FormatOption,
    Output,
    ScenarioFile,
    SecondThoughts,
    Settings,
    TimeLimit,
)
from optibox.cli.run import code_of, give, progress, read, sections_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from optibox.catalog.catalog import Catalog
    from optibox.report.answer import Report
    from optibox.scenario import Assumed, Scenario
    from optibox.search.result import Plan

UNSETTLED, REFUTED = 5, 6
"""Exit codes of a second opinion, beside those of all commands."""


class SolverOption(StrEnum):
    """Who gives the second opinion."""

    cbc = "cbc"
    highs = "highs"


Save = Annotated[
    Path | None, typer.Option("--save", help="Write the build to this TOML file.")
]
Everything = Annotated[bool, typer.Option("--all", help="All sections.")]
Sections = Annotated[
    str | None,
    typer.Option(
        "--section",
        help="Sections below the page, commas between: order, wiring, run, figures, "
        "slack, moving, warnings, assumptions, cautions, proof.",
    ),
]
Certify = Annotated[
    bool,
    typer.Option(
        "--certify",
        help="A second opinion: another formulation of the whole catalog, given to "
        "another solver, looks for something better. For large catalogs it may not "
        "come to an end.",
    ),
]
CertifyTime = Annotated[
    float,
    typer.Option("--certify-time", min=0.1, help="Seconds for the second opinion."),
]
CertifySolver = Annotated[
    SolverOption,
    typer.Option(
        "--certify-solver",
        help="Who gives it; highs is the planner's own solver.",
    ),
]
EPILOG = (
    "Exit codes: 0 proven, 2 bad input, 3 no machine meets all needs within all limits, "
    "4 stopped without proof (the best machine so far is shown with its gap), 5 proven, "
    "but --certify came to no end in its time, 6 --certify refutes the answer. "
    "--format json gives status, gap, build (parts, drives, wiring, cards, operation), "
    "figures with the unit in each key, findings, proof, order and assumptions; "
    "--format csv gives the order list."
)


def plan(
    scenario: ScenarioFile,
    *,
    settings: Settings = None,
    catalogs: Catalogs = None,
    aim: Aim = None,
    time_limit: TimeLimit = None,
    form: FormatOption = Format.table,
    save: Save = None,
    is_all: Everything = False,
    section: Sections = None,
    has_second_thoughts: SecondThoughts = False,
    is_certified: Certify = False,
    certify_time: CertifyTime = 120.0,
    certify_solver: CertifySolver = SolverOption.cbc,
    output: Output = None,
) -> None:
    """Find the best machine for a scenario: parts, wiring and how to run it.

    The first page says what to buy and what comes out of it; sections follow.
    """
    from optibox.report.plan import DEFAULT_SECTIONS, SECTIONS, PlanAnswer
    from optibox.scenario import assumed_defaults
    from optibox.search.plan import plan as search

    sections = sections_of(section, SECTIONS) if section else DEFAULT_SECTIONS
    asked, catalog = read(scenario, settings, catalogs, aim)
    found = search(catalog, asked, time_limit_s=time_limit, on_progress=progress())
    report = report_of(found, asked, catalog, assumed_defaults(asked))
    if has_second_thoughts:
        report = with_second_thoughts(report)
    if found.status == "infeasible" and form is not Format.csv:
        report = _with_refusal(report, time_limit)
    if is_certified:
        report = _with_certificate(report, certify_time, certify_solver)
        found = report.plan
    shown = tuple(SECTIONS) if is_all else sections
    give(PlanAnswer(report=report, sections=shown), form, output)
    if save is not None:
        _save(found, save, catalog)
    raise typer.Exit(_code_of(report))


def _code_of(report: "Report") -> int:
    """Return the exit code: the plan's, unless the second opinion takes it back."""
    certificate = report.certificate
    if certificate is None or certificate.verdict == "certified":
        return code_of(report.plan)
    return UNSETTLED if certificate.verdict == "not settled" else REFUTED


def _with_certificate(
    report: "Report", time_s: float, solver: SolverOption
) -> "Report":
    """Return a report with a second opinion; a better build takes the plan's place."""
    from dataclasses import replace

    from optibox.certify.certificate import certify
    from optibox.criteria import AIMS

    if report.plan.status not in ("optimal", "infeasible"):
        typer.echo("no certificate: it wants a proven answer", err=True)
        return report
    told = certify(
        report.assessment,
        report.catalog,
        report.scenario,
        time_s=time_s,
        solver=solver.value,
    )
    plan = report.plan
    if told.better is not None:
        value = AIMS[plan.aim].value_of(told.better)
        proof = replace(plan.proof, value=value, bound=0.0, guard=None)
        plan = replace(plan, status="feasible", assessment=told.better, proof=proof)
    elif told.verdict == "void":
        none = plan.assessment is None
        plan = replace(plan, status="unknown" if none else "feasible")
    return replace(report, plan=plan, certificate=told)


def report_of(
    found: "Plan", asked: "Scenario", catalog: "Catalog", assumed: "Iterable[Assumed]"
) -> "Report":
    """Return what an answer is made of, as of today."""
    from datetime import UTC, datetime

    from optibox.report.answer import Report

    return Report(
        plan=found,
        scenario=asked,
        catalog=catalog,
        assumed=tuple(assumed),
        today=datetime.now(tz=UTC).date(),
    )


EXPLAINED_S = 20.0
"""Time for saying why there is no machine, unless a time limit is given; optibox
explain takes as long as it needs."""


def _with_refusal(report: "Report", time_limit_s: float | None) -> "Report":
    """Return a report that says why there is no machine and what nearly does."""
    from dataclasses import replace

    from optibox.explain import Asker, refusal

    left = EXPLAINED_S
    if time_limit_s is not None:
        left = max(1.0, time_limit_s - report.plan.proof.seconds)
    asker = Asker(report.catalog, left, progress())
    return replace(report, refusal=refusal(asker, report.scenario, is_short=True))


def with_second_thoughts(report: "Report") -> "Report":
    """Return a report with what stands beside a proven plan."""
    from dataclasses import replace

    from optibox.frontier.second import PRICED_AIMS, second_thoughts

    best, aim = report.assessment, report.plan.aim
    if best is None or report.plan.status != "optimal" or aim not in PRICED_AIMS:
        if best is not None:
            typer.echo(
                "no second thoughts: they want a proven plan by total cost or purchase",
                err=True,
            )
        return report
    second = second_thoughts(
        report.catalog, report.scenario, best, on_progress=progress()
    )
    return replace(report, second=second)


def _save(found: "Plan", path: Path, catalog: "Catalog") -> None:
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp
    from optibox.report.answer import currency_of

    if found.assessment is None:
        typer.echo(f"no build to save; {path} is not written", err=True)
        return
    currency = currency_of(found.assessment.scenario, catalog)
    label = Label(stamp=stamp(catalog), currency=currency)
    save_build(found.assessment.build, path, label, found.assessment.scenario)
