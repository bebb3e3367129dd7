"""What each drive does, and the layout of the array, where a sketch leaves it open."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from optibox.build import Item
from optibox.build.hand import shapes_of
from optibox.build.sketch import DriveSketch, Sketch
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.scenario import Scenario

_CACHES = ("none", "single", "mirror")
_PREFERENCE = ("independent", "pairs", "striped", "striped pairs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Roles:
    """The drives with their roles, the shape of the array, what was assumed."""

    drives: tuple[DriveSketch, ...]
    operation: Mapping[str, Any]
    assumed: tuple[str, ...]


def roles_for(sketch: Sketch, scenario: Scenario, *, is_asked: bool) -> Roles:
    """Return every drive with a role, and the settings that follow from them.

    Layout and parity follow, in this order, from what the sketch says, from the roles
    of its drives, from the failures to be survived; independent drives come first,
    and the largest sound drive is parity.

    Parameters
    ----------
    sketch : Sketch
        The machine.
    scenario : Scenario
        Its needs say how many failures are to be survived.
    is_asked : bool
        A scenario was given; otherwise one failure is survived where drives allow it.
    """
    items = {entry.item.key: entry.item for entry in sketch.items}
    assumed: list[str] = []
    shape = _shape(sketch, items, scenario, is_asked=is_asked)
    operation = dict(sketch.operation)
    assumed += _shape_words(operation, shape)
    operation |= {key: shape[key] for key in ("layout", "n_parity")}
    drives = list(_hard_roles(sketch.drives, items, shape))
    drives = list(_solid_roles(drives, items))
    for before, after in zip(sketch.drives, drives, strict=True):
        if before.role is None:
            assumed.append(f"{after.name} ({items[after.key].part.name}): {after.role}")
    if "cache" not in operation:
        n_cache = sum(drive.role == "cache" for drive in drives)
        operation["cache"] = _CACHES[min(n_cache, 2)]
        if n_cache:
            assumed.append(f"cache: {operation['cache']}")
    return Roles(drives=tuple(drives), operation=operation, assumed=tuple(assumed))


def _shape(
    sketch: Sketch, items: Mapping[str, Item], scenario: Scenario, *, is_asked: bool
) -> dict[str, Any]:
    """Return the shape that suits drives, roles and needs best."""
    hard = [d for d in sketch.drives if _is_array(d, items)]
    n_told = sum(d.role == "parity" for d in hard)
    wanted = scenario.needs.failures_survived if is_asked else int(len(hard) > 1)

    def rank(shape: dict[str, Any]) -> tuple[bool, int, int]:
        survives = 1 if "pairs" in shape["layout"] else shape["n_parity"]
        misfit = not _goes(shape, len(hard), n_told)
        return misfit, abs(survives - wanted), _PREFERENCE.index(shape["layout"])

    return min(shapes_of(sketch.operation), key=rank)


def _goes(shape: Mapping[str, Any], n_hard: int, n_told: int) -> bool:
    """Return whether so many drives, some told to be parity, can have a shape."""
    layout, n_parity = shape["layout"], shape["n_parity"]
    if layout == "independent":
        is_told = n_told in (0, n_parity)
        return is_told and n_hard > n_parity
    if n_told:
        return False
    if layout == "striped":
        return bool(n_hard >= n_parity + 2)
    return n_hard % 2 == 0 and n_hard >= (4 if layout == "striped pairs" else 2)


def _is_array(drive: DriveSketch, items: Mapping[str, Item]) -> bool:
    is_hard = isinstance(items[drive.key].part, HardDrive)
    return is_hard and drive.role in (None, "data", "parity")


def _shape_words(known: Mapping[str, Any], shape: Mapping[str, Any]) -> Iterator[str]:
    if "layout" not in known:
        yield f"layout: {shape['layout']}"
    if "n_parity" not in known and shape["layout"] in ("independent", "striped"):
        yield f"parity drives: {shape['n_parity']}"


def _hard_roles(
    drives: Sequence[DriveSketch], items: Mapping[str, Item], shape: Mapping[str, Any]
) -> Iterator[DriveSketch]:
    """Yield all drives, the hard ones with roles."""
    told = sum(drive.role == "parity" for drive in drives)
    wanted = shape["n_parity"] if shape["layout"] == "independent" else 0
    open_ = [d for d in drives if d.role is None and _is_array(d, items)]
    open_.reverse()  # of equal drives the last one
    open_.sort(key=lambda drive: _as_parity(items[drive.key]))
    parity = {drive.name for drive in open_[: max(0, wanted - told)]}
    for drive in drives:
        if drive.role is None and _is_array(drive, items):
            yield replace(drive, role="parity" if drive.name in parity else "data")
        else:
            yield drive


def _as_parity(item: Item) -> tuple[int, bool, bool, float]:
    """Return what makes a drive a parity drive: size first, then soundness and speed."""
    part, owned = item.part, item.owned
    if not isinstance(part, HardDrive):
        return 0, True, True, 0.0
    is_tired = bool(owned and (owned.pending_sectors or owned.reallocated_sectors))
    return (
        -item.capacity_bytes,
        part.counts_as_shingled,
        is_tired,
        -part.outer_rate_mb_s.mid,
    )


def _solid_roles(
    drives: Sequence[DriveSketch], items: Mapping[str, Item]
) -> Iterator[DriveSketch]:
    """Yield all drives, solid-state ones as boot device where there is none, or cache."""
    has_boot = any(
        drive.role == "boot" or isinstance(items[drive.key].part, BootMedium)
        for drive in drives
    )
    open_ = [
        drive
        for drive in drives
        if drive.role is None and isinstance(items[drive.key].part, SolidStateDrive)
    ]
    smallest = min(
        open_, key=lambda drive: items[drive.key].capacity_bytes, default=None
    )
    for drive in drives:
        if drive.role is not None:
            yield drive
        elif drive is smallest and not has_boot:
            yield replace(drive, role="boot")
        else:
            yield replace(drive, role="cache")
