"""The command line: parses, calls, prints.

Everything heavy is imported inside the commands, so that ``--help`` is quick.
stdout carries the answer, stderr the rest. Exit codes: 0 done, 1 a defect of
optibox, 2 bad input, 3 infeasible, 4 stopped without proof, 130 interrupted.
"""

import gc
import os
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from optibox.cli.catalog import app as catalog_app
from optibox.cli.check import EPILOG as CHECK_EPILOG
from optibox.cli.check import check
from optibox.cli.compare import EPILOG as COMPARE_EPILOG
from optibox.cli.compare import compare
from optibox.cli.explain import EPILOG as EXPLAIN_EPILOG
from optibox.cli.explain import explain
from optibox.cli.frontier import EPILOG as FRONTIER_EPILOG
from optibox.cli.frontier import frontier
from optibox.cli.migrate import EPILOG as MIGRATE_EPILOG
from optibox.cli.migrate import migrate
from optibox.cli.new import new
from optibox.cli.page import EPILOG as PAGE_EPILOG
from optibox.cli.page import page
from optibox.cli.plan import EPILOG as PLAN_EPILOG
from optibox.cli.plan import plan
from optibox.cli.reconcile import EPILOG as RECONCILE_EPILOG
from optibox.cli.reconcile import reconcile
from optibox.cli.rules import EPILOG as RULES_EPILOG
from optibox.cli.rules import rules
from optibox.cli.sensitivity import EPILOG as SENSITIVITY_EPILOG
from optibox.cli.sensitivity import sensitivity
from optibox.cli.sheet import EPILOG as SHEET_EPILOG
from optibox.cli.sheet import sheet
from optibox.cli.spindown import EPILOG as SPINDOWN_EPILOG
from optibox.cli.spindown import spindown
from optibox.cli.watt import EPILOG as WATT_EPILOG
from optibox.cli.watt import watt
from optibox.errors import InputError, OptiboxError, SolverLimitError

EXIT_INTERNAL = 1
EXIT_INPUT = 2
EXIT_INFEASIBLE = 3
EXIT_UNPROVEN = 4
EXIT_INTERRUPTED = 130

DEBUG_VARIABLE = "OPTIBOX_DEBUG"
"""When set, defects show their traceback."""


class _Group(TyperGroup):
    """Commands whose errors become messages and exit codes."""

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - typer's own signature
        """Run a command; what optibox refuses ends in a message."""
        try:
            return super().invoke(ctx)
        except OptiboxError as error:
            if os.environ.get(DEBUG_VARIABLE):
                raise
            typer.echo(str(error), err=True)
            raise typer.Exit(exit_code(error)) from None
        except KeyboardInterrupt:
            typer.echo("interrupted", err=True)
            raise typer.Exit(EXIT_INTERRUPTED) from None


def exit_code(error: OptiboxError) -> int:
    """Return the exit code that a refusal ends in."""
    if isinstance(error, InputError):
        return EXIT_INPUT
    return EXIT_UNPROVEN if isinstance(error, SolverLimitError) else EXIT_INTERNAL


app = typer.Typer(
    cls=_Group,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Plan a small archive server: the cheapest parts and operation that fit.",
)
app.add_typer(catalog_app, name="catalog")
app.command()(new)
app.command(epilog=PLAN_EPILOG)(plan)
app.command(epilog=CHECK_EPILOG)(check)
app.command(epilog=COMPARE_EPILOG)(compare)
app.command(epilog=RULES_EPILOG)(rules)
app.command(epilog=FRONTIER_EPILOG)(frontier)
app.command(epilog=MIGRATE_EPILOG)(migrate)
app.command(epilog=EXPLAIN_EPILOG)(explain)
app.command(epilog=PAGE_EPILOG)(page)
app.command(epilog=SPINDOWN_EPILOG)(spindown)
app.command(epilog=WATT_EPILOG)(watt)
app.command(epilog=SENSITIVITY_EPILOG)(sensitivity)
app.command(epilog=SHEET_EPILOG)(sheet)
app.command(epilog=RECONCILE_EPILOG)(reconcile)


def _version(is_asked: bool) -> None:
    if is_asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"optibox {version('optibox')}")
        except PackageNotFoundError:
            typer.echo("optibox, not installed: run from its source")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Show the version."
        ),
    ] = False,
) -> None:
    """Plan a small archive server: the cheapest parts and operation that fit."""


def main() -> None:
    """Run the command line; a defect ends in one line and exit code 1."""
    # a search makes millions of short-lived objects and hardly any cycles: collecting
    # less often takes 5 to 15 % off a plan of the shipped examples
    gc.set_threshold(200_000, 50, 50)
    try:
        app()
    except Exception as error:
        if os.environ.get(DEBUG_VARIABLE):
            raise
        what = " ".join(f"{type(error).__name__}: {error}".split())
        remedy = f"This is a defect of optibox; {DEBUG_VARIABLE}=1 shows where."
        typer.echo(f"internal error: {what}. {remedy}", err=True)
        sys.exit(EXIT_INTERNAL)
