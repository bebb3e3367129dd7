"""Trying what stands beside an answer, operation in full and the rest while time lasts."""

import time
from collections.abc import Callable
from dataclasses import dataclass

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.build.items import items_of
from optibox.catalog.catalog import Catalog
from optibox.guard.neighbours import Neighbour, neighbours


@dataclass(frozen=True, slots=True, kw_only=True)
class Guarded:
    """What came of holding an answer against its neighbourhood."""

    n_tried: int
    n_neighbours: int
    better: Assessment | None = None
    """The best build found that refutes the answer; nothing where none does."""
    what: str = ""
    """How it differs."""


def guarded(
    found: Assessment,
    catalog: Catalog,
    is_better: Callable[[Assessment, Assessment], bool],
    *,
    time_s: float,
) -> Guarded:
    """Hold an answer against the builds beside it.

    Parameters
    ----------
    found : Assessment
        The answer, with the scenario that it is for.
    catalog : Catalog
        What exists.
    is_better : callable
        Whether the first build is better than the second by more than a proof allows.
    time_s : float
        After so long no further exchange is tried; operation is tried in full. [s].
    """
    deadline = time.monotonic() + time_s
    beside = neighbours(found, catalog)
    limits = {item.key: item.limit for item in items_of(catalog, found.scenario)}
    best, what, tried = found, "", 0
    for neighbour in beside:
        if neighbour.kind != "operation" and time.monotonic() > deadline:
            continue
        tried += 1
        judged = _judged(neighbour, found, limits)
        if judged is not None and is_better(judged, best):
            best, what = judged, neighbour.what
    return Guarded(
        n_tried=tried,
        n_neighbours=len(beside),
        better=None if best is found else best,
        what=what,
    )


def _judged(
    neighbour: Neighbour, found: Assessment, limits: dict[str, int | None]
) -> Assessment | None:
    """Return the first fit way of a neighbour that is made of what is on offer."""
    for build in neighbour.ways():
        if _is_on_offer(build, limits):
            judged = assess(build, found.scenario)
            if judged.is_fit:
                return judged
    return None


def _is_on_offer(build: Build, limits: dict[str, int | None]) -> bool:
    for entry in build.items:
        limit = limits.get(entry.item.key, 0)
        if limit is not None and entry.count > limit:
            return False
    return True
