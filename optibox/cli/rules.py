"""The rules of fit: what is checked, how grave it is, what comes of it."""

from typing import Annotated

import typer

from optibox.cli.options import Format, FormatOption, Output
from optibox.cli.run import give

OneRule = Annotated[
    list[str] | None, typer.Argument(help="Ids such as C3, or a letter; none = all.")
]

EPILOG = (
    "F mechanics and air, C ports, cables and power plugs, L slots and lanes, M memory "
    "and processor, B boot and controllers, P supply, A array, N network, D what the "
    "scenario asks for, K completeness, W wear, T time, S moving data."
)


def rules(
    ids: OneRule = None, *, form: FormatOption = Format.table, output: Output = None
) -> None:
    """List the rules of fit with what happens where they are broken."""
    from optibox.report.rules import RulesReport, rule_rows

    give(RulesReport(rows=rule_rows(ids or ())), form, output)
