"""Where a catalog is: beside the file that names it, or shipped with optibox."""

from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path

from optibox.catalog.head import HEAD_FILE
from optibox.catalog.nearest import nearest
from optibox.errors import CatalogError, Fault

_PACKAGE = "optibox"
_INSTALLED = "_catalogs"
_REPOSITORY = "catalogs"


def shipped_catalogs() -> dict[str, Path]:
    """Return the folders of the catalogs that come with optibox, by name."""
    package = Path(str(files(_PACKAGE)))
    for root in (package / _INSTALLED, package.parent / _REPOSITORY):
        if root.is_dir():
            found = (path for path in root.iterdir() if (path / HEAD_FILE).is_file())
            return {path.name: path for path in sorted(found)}
    return {}


def find_catalog(name_or_path: str, base: Path) -> Path:
    """Return the catalog that a file or a person names.

    Parameters
    ----------
    name_or_path : str
        A path relative to ``base`` or absolute, else the name of a shipped one.
    base : Path
        Folder of the file that names the catalog.

    Raises
    ------
    CatalogError
        If there is neither; the shipped ones are listed.
    """
    path = _path(name_or_path, base)
    if path is not None:
        return path
    shipped = shipped_catalogs()
    if name_or_path in shipped:
        return shipped[name_or_path]
    names = ", ".join(shipped) or "none"
    fault = Fault(
        path=name_or_path or "catalogs",
        problem=f"is neither a path below {base} nor a shipped catalog ({names})",
        remedy=nearest(name_or_path, shipped),
    )
    raise CatalogError([fault])


def _path(name: str, base: Path) -> Path | None:
    """Return the path that a name stands for, if there is anything."""
    try:
        path = base / Path(name).expanduser()
        return path if name and path.exists() else None
    except (OSError, RuntimeError):  # too long, out of bounds, no such home
        return None


def find_catalogs(names: Iterable[str], base: Path) -> list[Path]:
    """Return the catalogs of several names.

    Raises
    ------
    CatalogError
        With a fault for each name that leads nowhere.
    """
    found, faults = [], list[Fault]()
    for name in names:
        try:
            found.append(find_catalog(name, base))
        except CatalogError as error:
            faults += error.faults
    if faults:
        raise CatalogError(faults)
    return found
