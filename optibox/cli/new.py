"""The command that starts a folder of one's own."""

from pathlib import Path
from typing import Annotated

import typer


def new(
    folder: Annotated[Path, typer.Argument(help="A folder that does not exist yet.")],
) -> None:
    """Start a folder: a scenario, a small catalog of invented parts, a build file."""
    from optibox.cli.starter import starter_files

    _refuse_existing(folder)
    _write_all(folder, starter_files())
    typer.echo(
        f"{folder} holds scenario.toml, catalog/ and build.toml. Next: put your own "
        f"parts and prices into catalog/, then optibox plan {folder / 'scenario.toml'}"
    )


def _refuse_existing(folder: Path) -> None:
    from optibox.files import fault_of

    if folder.exists():
        problem = "exists already and is not overwritten"
        raise fault_of(folder, problem, "Name a new folder.")


def _write_all(folder: Path, texts: dict[str, str]) -> None:
    """Write the files into a folder beside the target, then rename it."""
    import shutil
    import tempfile

    from optibox.files import fault_of, write_text

    target = folder.resolve()
    try:
        scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}."))
    except OSError as error:
        problem = f"cannot be made ({error.strerror or error})"
        raise fault_of(folder, problem, "Make its parent folder first.") from None
    try:
        for name, text in texts.items():
            (scratch / name).parent.mkdir(exist_ok=True)
            write_text(scratch / name, text)
        scratch.chmod(0o777 & ~_mask())
        scratch.rename(target)
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise fault_of(folder, problem, "Choose another place.") from None
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _mask() -> int:
    import os

    mask = os.umask(0)
    os.umask(mask)
    return mask
