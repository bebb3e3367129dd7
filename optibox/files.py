"""Text files: read with clear faults, written whole or not at all."""

import os
import re
import tempfile
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any

from optibox.errors import Fault, InputError

FORMAT = 1
"""Version of every file format that optibox reads and writes."""

_NEW_FILE_MODE = 0o666


def fault_of(path: Path | str, problem: str, remedy: str, line: int = 0) -> InputError:
    """Return the error that says what is wrong with one file."""
    fault = Fault(path=str(path), line=line, problem=problem, remedy=remedy)
    return InputError([fault])


def read_text(path: Path) -> str:
    """Return the text of a UTF-8 file; a byte-order mark is dropped.

    Raises
    ------
    InputError
        If the file is missing, unreadable, a folder, or not UTF-8 text.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise fault_of(
            path, "does not exist", "Check the name and the folder."
        ) from None
    except IsADirectoryError:
        raise fault_of(path, "is a folder; expected a file", "Name a file.") from None
    except OSError as error:
        problem = f"cannot be read ({error.strerror or error})"
        raise fault_of(path, problem, "Check its permissions.") from None
    return _decoded(path, data)


def _decoded(path: Path, data: bytes) -> str:
    save = "Save it again as UTF-8 (spreadsheets call it 'CSV UTF-8')."
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise fault_of(path, "is UTF-16 text; expected UTF-8", save, line=1)
    if b"\0" in data:
        line = _line_of(data, data.index(b"\0"))
        problem = "holds a NUL byte; expected plain UTF-8 text"
        raise fault_of(path, problem, save, line=line)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = _line_of(data, error.start)
        problem = f"holds the byte 0x{data[error.start]:02x}, which is not UTF-8 text"
        raise fault_of(path, problem, save, line=line) from None


def _line_of(data: bytes, position: int) -> int:
    before = data[:position].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return before.count(b"\n") + 1


def read_toml(path: Path) -> dict[str, Any]:
    """Return the table of a TOML file whose format version is known.

    Raises
    ------
    InputError
        As ``read_text``; if the text is not TOML; if ``format`` is not 1.
    """
    return parse_toml(path, read_text(path))


def parse_toml(path: Path, text: str) -> dict[str, Any]:
    """Return the table of a TOML text; ``path`` names it in faults."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        what = re.sub(r"\s*\(at .*\)$", "", str(error))
        problem = f"is not valid TOML here: {what[:1].lower()}{what[1:]}"
        remedy = 'Expected lines such as name = "text", count = 4, rate = 1.5.'
        raise fault_of(path, problem, remedy, line=line) from None
    check_format(path, table.get("format", FORMAT), line_of_key(text, "format"))
    return table


def check_format(path: Path | str, version: object, line: int = 0) -> None:
    """Raise unless ``version`` is the format version that is understood."""
    if version == FORMAT and not isinstance(version, bool):
        return
    problem = f"is of an unknown format version; expected {FORMAT}"
    remedy = f"Write format = {FORMAT}, or use the optibox that wrote the file."
    where = Fault(
        path=str(path),
        line=line,
        field="format",
        value=str(version),
        problem=problem,
        remedy=remedy,
    )
    raise InputError([where])


def line_of_key(text: str, key: str) -> int:
    r"""Return the line on which a TOML key is first set, 0 if nowhere.

    Examples
    --------
    >>> line_of_key("format = 1\nname = 'a'", "name")
    2
    """
    found = re.search(
        rf"^[ \t]*[\"']?{re.escape(key)}[\"']?[ \t]*=", text, re.MULTILINE
    )
    return text.count("\n", 0, found.start()) + 1 if found else 0


def write_text(path: Path, text: str) -> None:
    """Write a UTF-8 file by way of a temporary one, so that it is whole or absent.

    Raises
    ------
    InputError
        If the folder is missing or the file cannot be written.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file by way of a temporary one, so that it is whole or absent.

    Raises
    ------
    InputError
        If the folder is missing or the file cannot be written.
    """
    try:
        _check_target(path)
        _replace(path.resolve(), data)
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        remedy = "Check the permissions of the folder and the space left."
        raise fault_of(path, problem, remedy) from None


def _check_target(path: Path) -> None:
    if path.is_dir():
        raise fault_of(path, "is a folder; expected a file to write", "Name a file.")
    if not path.parent.exists():
        problem = f"cannot be written: the folder {path.parent} does not exist"
        raise fault_of(path, problem, "Make the folder first.")
    if not path.parent.is_dir():
        problem = f"cannot be written: {path.parent} is not a folder"
        raise fault_of(path, problem, "Name another place.")
    if path.exists() and not os.access(path, os.W_OK):
        raise fault_of(path, "is write-protected", "Name another file.")


def _replace(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(_mode_of(path))
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise


def _mode_of(path: Path) -> int:
    """Return the permissions of the file, or those that a new one would get."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return _NEW_FILE_MODE & ~mask
