"""The main command: a scenario into the best machine, told on one page."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optibox.cli.catalog import Format, FormatOption

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from optibox.catalog.catalog import Catalog
    from optibox.present.report import Report
    from optibox.scenario import Assumed, Scenario
    from optibox.search.result import Plan

DONE, INFEASIBLE, UNPROVEN, UNSETTLED, REFUTED = 0, 3, 4, 5, 6


class AimOption(StrEnum):
    """What is made best."""

    total_cost = "total-cost"
    purchase = "purchase"
    annual_energy = "annual-energy"
    asleep_watts = "asleep-watts"
    ingest = "ingest"
    read = "read"


class SolverOption(StrEnum):
    """Who gives the second opinion."""

    cbc = "cbc"
    highs = "highs"


ScenarioFile = Annotated[Path, typer.Argument(help="A scenario file.")]
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
Aim = Annotated[AimOption | None, typer.Option("--aim", help="What is made best.")]
TimeLimit = Annotated[
    float | None,
    typer.Option(
        "--time-limit", min=0.1, help="Stop after so many seconds with the best so far."
    ),
]
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
SecondThoughts = Annotated[
    bool,
    typer.Option(
        "--second-thoughts",
        help="Also the nearest machine with other parts, and for each part to buy the "
        "price at which another machine wins; two searches and more for each part.",
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
Output = Annotated[
    Path | None, typer.Option("--output", "-o", help="Write the answer to this file.")
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
    from optibox.scenario import assumed_defaults, read_scenario
    from optibox.search.plan import plan as search

    sections = _sections(section, is_all=is_all)
    asked, catalog = read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ()), *_aim_setting(aim)]
    )
    found = search(
        catalog, asked, time_limit_s=time_limit, on_progress=_progress_writer()
    )
    report = _report(found, asked, catalog, assumed_defaults(asked))
    if has_second_thoughts:
        report = _with_second_thoughts(report)
    if found.status == "infeasible" and form is not Format.csv:
        report = _with_refusal(report, time_limit)
    if is_certified:
        report = _with_certificate(report, certify_time, certify_solver)
        found = report.plan
    _give(report, form, sections, output)
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


def code_of(found: "Plan") -> int:
    """Return the exit code that an answer ends in."""
    codes = {"optimal": DONE, "infeasible": INFEASIBLE}
    return codes.get(found.status, UNPROVEN)


def _report(
    found: "Plan", asked: "Scenario", catalog: "Catalog", assumed: "Iterable[Assumed]"
) -> "Report":
    from datetime import UTC, datetime

    from optibox.present.report import Report

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
    asker = Asker(report.catalog, left, _progress_writer())
    return replace(report, refusal=refusal(asker, report.scenario, is_short=True))


def _with_second_thoughts(report: "Report") -> "Report":
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
        report.catalog, report.scenario, best, on_progress=_progress_writer()
    )
    return replace(report, second=second)


def _catalog_setting(names: list[str] | None) -> list[str]:
    """Return catalogs named on the command line as a setting: paths from here."""
    if not names:
        return []
    import json

    from optibox.catalog.locate import find_catalogs

    paths = [str(path.resolve()) for path in find_catalogs(names, Path.cwd())]
    return [f"catalogs={json.dumps(paths)}"]


def _aim_setting(aim: AimOption | None) -> list[str]:
    return [] if aim is None else [f'choices.aim="{aim.value.replace("-", " ")}"']


def _sections(text: str | None, *, is_all: bool) -> "Sequence[str]":
    """Return the sections asked for; unknown ones are refused together."""
    from optibox.catalog.nearest import nearest
    from optibox.errors import Fault, InputError
    from optibox.present.sections import SECTIONS
    from optibox.present.text import DEFAULT_SECTIONS

    if is_all:
        return tuple(SECTIONS)
    if text is None:
        return DEFAULT_SECTIONS
    names = [name.strip().lower() for name in text.split(",") if name.strip()]
    faults = [
        Fault(
            path="--section",
            value=name,
            problem=f"is no section; there are {', '.join(SECTIONS)}",
            remedy=nearest(name, SECTIONS),
        )
        for name in names
        if name not in SECTIONS
    ]
    if faults:
        raise InputError(faults)
    return names


def _progress_writer() -> "Callable[[str], None] | None":
    """Return what shows progress on one line of a terminal; nothing elsewhere."""
    import sys

    if not sys.stderr.isatty():
        return None

    def show(line: str) -> None:
        sys.stderr.write(f"\r\x1b[K{line[:78]}")
        sys.stderr.flush()

    return show


def _clear_progress() -> None:
    import sys

    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


def _give(
    report: "Report", form: Format, sections: "Sequence[str]", output: Path | None
) -> None:
    """Write the answer to stdout or to a file."""
    from optibox.files import write_text
    from optibox.present.as_csv import as_csv
    from optibox.present.as_json import as_json
    from optibox.present.text import answer, plain_text

    _clear_progress()
    if form is Format.table and output is None:
        _show(report, sections)
        return
    if form is Format.table:
        text = plain_text(answer(report, sections=sections))
    else:
        text = (as_json if form is Format.json else as_csv)(report)
    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)


def _show(report: "Report", sections: "Sequence[str]") -> None:
    """Print the answer: as wide as the terminal, styled there alone."""
    import os
    import sys

    from optibox.present.text import answer, plain_text

    if not sys.stdout.isatty():
        typer.echo(plain_text(answer(report, sections=sections)), nl=False)
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    lines = answer(report, console.width, sections)
    if os.environ.get("NO_COLOR"):
        typer.echo(plain_text(lines), nl=False)
        return
    styles = {"strong": "bold", "caution": "yellow", "plain": ""}
    for line in lines:
        console.print(Text(line.text, style=styles[line.style]), soft_wrap=True)


def _save(found: "Plan", path: Path, catalog: "Catalog") -> None:
    from optibox.build import Label, save_build
    from optibox.catalog.check import stamp
    from optibox.present.report import currency_of

    if found.assessment is None:
        typer.echo(f"no build to save; {path} is not written", err=True)
        return
    currency = currency_of(found.assessment.scenario, catalog)
    label = Label(stamp=stamp(catalog), currency=currency)
    save_build(found.assessment.build, path, label, found.assessment.scenario)
