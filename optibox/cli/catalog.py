"""Commands on catalogs: check, show, add, columns, template."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

if TYPE_CHECKING:
    from datetime import date

    from optibox.catalog.catalog import Catalog
    from optibox.catalog.columns import Part

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Check, show and extend catalogs of parts.",
)


class Format(StrEnum):
    """How an answer is written."""

    table = "table"
    csv = "csv"
    json = "json"


Catalogs = Annotated[
    list[str],
    typer.Argument(help="Catalog folders or shipped names, later ones win."),
]
OneKind = Annotated[str, typer.Argument(help="A kind of part, such as 'hard drive'.")]
AnyKind = Annotated[
    str | None, typer.Argument(help="A kind of part; all of them if left out.")
]
KindOption = Annotated[str | None, typer.Option("--kind", help="This kind only.")]
FormatOption = Annotated[Format, typer.Option("--format", help="Form of the answer.")]
FullOption = Annotated[bool, typer.Option("--full", help="All columns.")]


@app.command()
def check(catalogs: Catalogs) -> None:
    """Read catalogs and say what they hold; all faults are listed together."""
    from optibox.catalog import listing

    found = _read(catalogs)
    typer.echo(listing.summary(found))
    for line in listing.remarks(found, _today()):
        typer.echo(line, err=True)


@app.command()
def show(
    catalogs: Catalogs,
    kind: KindOption = None,
    form: FormatOption = Format.table,
) -> None:
    """Show the parts of catalogs, blanks filled."""
    from optibox.catalog import listing
    from optibox.catalog.kinds import KINDS

    found = _read(catalogs)
    kinds = [_record(kind)] if kind else list(KINDS)
    writers = {
        Format.table: listing.parts_table,
        Format.csv: listing.parts_csv,
        Format.json: listing.parts_json,
    }
    typer.echo(writers[form](found, kinds), nl=False)


@app.command()
def add(
    folder: Annotated[Path, typer.Argument(help="The catalog folder.")],
    kind: OneKind,
    cells: Annotated[list[str], typer.Argument(help="Cells: id=a1 price=80 ...")],
) -> None:
    """Append one part to a catalog, if the catalog still reads well with it."""
    from optibox.catalog.append import append_row
    from optibox.catalog.kinds import file_name

    part = append_row(folder, kind, dict(_cell(text) for text in cells))
    filled = len(part.defaulted)
    typer.echo(
        f"{part.id} added to {folder / file_name(kind)}; "
        f"{filled} blanks filled from its class"
    )


@app.command()
def columns(kind: AnyKind = None, form: FormatOption = Format.table) -> None:
    """Explain every column: type, unit, range, what a blank means."""
    from optibox.catalog import listing
    from optibox.catalog.kinds import KINDS

    kinds = [_record(kind)] if kind else list(KINDS)
    writers = {
        Format.table: listing.columns_text,
        Format.csv: listing.columns_csv,
        Format.json: listing.columns_json,
    }
    typer.echo(writers[form](kinds), nl=False)


@app.command()
def template(kind: OneKind, is_full: FullOption = False) -> None:
    """Write a blank file of a kind to stdout, its columns explained."""
    from optibox.catalog.classes import built_in_classes
    from optibox.catalog.template import template as blank_file

    typer.echo(blank_file(_record(kind), built_in_classes(), is_full=is_full), nl=False)


def _read(names: list[str]) -> "Catalog":
    from optibox.catalog.locate import find_catalogs
    from optibox.catalog.read import read_catalog

    return read_catalog(find_catalogs(names, Path()))


def _today() -> "date":
    from datetime import UTC, datetime

    return datetime.now(tz=UTC).date()


def _record(kind: str) -> "type[Part]":
    from optibox.catalog.kinds import KIND_BY_NAME
    from optibox.catalog.nearest import nearest

    if kind not in KIND_BY_NAME:
        _refuse("kind", kind, "is no kind of part", nearest(kind, KIND_BY_NAME))
    return KIND_BY_NAME[kind]


def _cell(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        _refuse("cell", text, "is no cell; expected name=value", "Write price=80.")
    return name.strip().lower(), value.strip()


def _refuse(where: str, value: str, problem: str, remedy: str) -> NoReturn:
    from optibox.errors import Fault, InputError

    raise InputError([Fault(path=where, value=value, problem=problem, remedy=remedy)])
