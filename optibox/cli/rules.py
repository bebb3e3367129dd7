"""The rules of fit: what is checked, how grave it is, what comes of it."""

from typing import Annotated

import typer

from optibox.cli.catalog import Format, FormatOption
from optibox.cli.check import give_lines, give_text
from optibox.cli.plan import Output

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
    from optibox.present.check_rules import (
        rule_rows,
        rules_csv,
        rules_json,
        rules_lines,
    )

    rows = rule_rows(ids or ())
    if form is Format.table:
        give_lines(lambda width: rules_lines(rows, width), output)
    else:
        give_text((rules_json if form is Format.json else rules_csv)(rows), output)
