"""What every command does alike: read, show progress, give the answer, end."""

from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, Protocol, runtime_checkable

import typer

from optibox.cli.options import AimOption, Format

if TYPE_CHECKING:
    from optibox.build import Build
    from optibox.catalog.catalog import Catalog
    from optibox.report.document import Document
    from optibox.scenario import Scenario
    from optibox.search.result import Plan

DONE, INTERNAL, BAD_INPUT, INFEASIBLE, UNPROVEN, INTERRUPTED = 0, 1, 2, 3, 4, 130
"""Exit codes; an answer that says what is wrong ends like an infeasible one."""


class Answer(Protocol):
    """What a command found: a document for people, a table for programs."""

    def document(self) -> "Document":
        """Return the answer as a document."""
        ...

    def to_dict(self) -> dict[str, Any] | list[Any]:
        """Return the answer as the table that is written as JSON."""
        ...


def give(answer: Answer, form: Format, output: Path | None) -> None:
    """Write an answer to stdout or a file: as wide as the terminal and styled there."""
    clear_progress()
    if form is Format.json:
        from optibox.report.as_json import as_json

        give_text(as_json(answer.to_dict()), output)
        return
    if form is Format.table:
        _show(answer, output)
        return
    document = answer.document()
    if form is Format.html:
        from optibox.report.as_html import as_html

        give_text(as_html(document), output)
    else:
        from optibox.report.as_csv import as_csv

        if document.data is None:
            refuse("--format", "csv", "has no rows here", "Ask for table or json.")
        give_text(as_csv(document.data, document.data_notes), output)


@runtime_checkable
class Paged(Protocol):
    """An answer that saves lines where the width asks for it."""

    def page(self, width: int) -> "Document":
        """Return the part that is to fit on one screen."""
        ...

    def document(self, width: int = 100) -> "Document":
        """Return the answer for a width."""
        ...


def _show(answer: Answer, output: Path | None) -> None:
    import os
    import shutil
    import sys

    from optibox.report.text import PIPED_WIDTH, as_text, within

    if output is not None or not sys.stdout.isatty():
        give_text(as_text(answer.document()), output)
        return
    width = shutil.get_terminal_size((PIPED_WIDTH, 24)).columns
    is_colored = not os.environ.get("NO_COLOR")
    if isinstance(answer, Paged):
        document = answer.document(within(width))
    else:
        document = answer.document()
    give_text(as_text(document, width, is_colored=is_colored), None)


def give_text(text: str, output: Path | None) -> None:
    """Write a text to stdout or to a file."""
    from optibox.files import write_text

    if output is None:
        typer.echo(text, nl=False)
    else:
        write_text(output, text)


def read(
    scenario: Path,
    settings: Sequence[str] | None,
    catalogs: Sequence[str] | None,
    aim: AimOption | None = None,
) -> "tuple[Scenario, Catalog]":
    """Return a scenario with its changes of the command line, and its catalog."""
    from optibox.scenario import read_scenario

    aims = [] if aim is None else [f'choices.aim="{aim.value.replace("-", " ")}"']
    return read_scenario(
        scenario, [*_catalog_setting(catalogs), *(settings or ()), *aims]
    )


def _catalog_setting(names: Sequence[str] | None) -> list[str]:
    """Return catalogs named on the command line as a setting: paths from here."""
    if not names:
        return []
    import json

    from optibox.catalog.locate import find_catalogs

    paths = [str(path.resolve()) for path in find_catalogs(names, Path.cwd())]
    return [f"catalogs={json.dumps(paths)}"]


def progress() -> Callable[[str], None] | None:
    """Return what shows progress on one line of a terminal; nothing elsewhere."""
    import sys

    if not sys.stderr.isatty():
        return None

    def show(line: str) -> None:
        sys.stderr.write(f"\r\x1b[K{line[:78]}")
        sys.stderr.flush()

    return show


def clear_progress() -> None:
    """Take the line of progress off the terminal."""
    import sys

    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


def code_of(found: "Plan") -> int:
    """Return the exit code that an answer ends in."""
    codes = {"optimal": DONE, "infeasible": INFEASIBLE}
    return codes.get(found.status, UNPROVEN)


def refuse(path: str, value: str, problem: str, remedy: str) -> NoReturn:
    """Refuse what an option says.

    Raises
    ------
    InputError
        Always.
    """
    from optibox.errors import Fault, InputError

    raise InputError([Fault(path=path, value=value, problem=problem, remedy=remedy)])


def sections_of(text: str | None, known: Collection[str]) -> Sequence[str]:
    """Return the sections asked for; unknown ones are refused together.

    Raises
    ------
    InputError
        If a name is no section's.
    """
    from optibox.catalog.nearest import nearest
    from optibox.errors import Fault, InputError

    names = [name.strip().lower() for name in (text or "").split(",") if name.strip()]
    faults = [
        Fault(
            path="--section",
            value=name,
            problem=f"is no section; there are {', '.join(known)}",
            remedy=nearest(name, known),
        )
        for name in names
        if name not in known
    ]
    if faults:
        raise InputError(faults)
    return names


def opened(path: Path, asked: "Scenario", catalog: "Catalog") -> "Build":
    """Return the machine of a build file, made whole where it is written by hand."""
    from optibox.completion.opening import Question, open_build

    question = Question(scenario=asked, catalog=catalog, is_catalog_told=True)
    found = open_build(path, question).completion
    for words in found.assumed:
        typer.echo(f"assumed: {words}", err=True)
    return found.build


def picture_form(path: Path | None, forms: Collection[str] = ("png", "svg")) -> str:
    """Return the form of a picture by its name, before any search; nothing for none.

    Raises
    ------
    InputError
        If the form is not drawn, or what draws it is not installed.
    """
    if path is None:
        return ""
    from importlib.util import find_spec

    form = path.suffix.lower().removeprefix(".")
    if form not in forms:
        ends = " or ".join(f".{form}" for form in forms)
        refuse(
            "--picture",
            str(path),
            f"does not end in {ends}",
            f"Name it x.{[*forms][-1]}.",
        )
    if find_spec("matplotlib") is None:
        problem = "needs matplotlib, which is not installed"
        remedy = "pip install 'optibox[pictures]', or leave the option out."
        refuse("--picture", str(path), problem, remedy)
    return form
