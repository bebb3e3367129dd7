"""A set of requirements that cannot be had together, none of them superfluous.

First it is grown: a machine for the requirements so far shows which others it breaks;
these are added, until no machine is left. Then it is thinned out: each member is
dropped for good where the rest is impossible without it (a deletion filter). What is
left is irreducible, and for each member there is a machine that keeps all the others.
"""

from optibox.assess import Assessment, assess
from optibox.build import items_of
from optibox.explain.asker import Asker, StoppedError, admits
from optibox.explain.records import Conflict
from optibox.explain.requirements import Requirement, without_all
from optibox.scenario import Scenario

BACKGROUND = ("limits.array_drives",)
"""Kept while growing: without it the menu of drive counts is longest."""

_ORDER = ("insist", "ban", "choice", "limit", "need")
"""Kinds in the order in which they are tried to be dropped."""


def conflict_of(
    asker: Asker, scenario: Scenario, requirements: tuple[Requirement, ...]
) -> Conflict | None:
    """Return an irreducible conflict; nothing where there is a machine after all.

    An empty one says that the catalog makes no machine even with nothing asked.

    Raises
    ------
    StoppedError
        If the time was over before any conflict was known.
    """
    alone = _alone(asker, scenario, requirements)
    if alone is not None:
        return Conflict(members=(alone,), is_irreducible=True)
    kept = tuple(r for r in requirements if r.key in BACKGROUND)
    movable = tuple(r for r in requirements if r.key not in BACKGROUND)
    grown = _grown(asker, scenario, movable)
    if grown is None:
        return None
    members, is_done = _thinned(asker, scenario, requirements, grown)
    try:
        for requirement in kept:
            if _build_with(asker, scenario, requirements, members) is not None:
                members = (*members, requirement)
    except StoppedError:
        members, is_done = (*members, *kept), False
    return Conflict(members=members, is_irreducible=is_done)


def _alone(
    asker: Asker, scenario: Scenario, requirements: tuple[Requirement, ...]
) -> Requirement | None:
    """Return a limit that no machine keeps, even if nothing else is asked.

    Only limits that an aim makes least are tried: that is soon known.
    """
    kept = tuple(r for r in requirements if r.key in BACKGROUND)
    for requirement in requirements:
        if not requirement.aim:
            continue
        found = _build_with(asker, scenario, requirements, (requirement, *kept))
        if found is None and _build_with(asker, scenario, requirements, kept):
            # the most drives are a default that could be the cause: seen without it
            if kept and _build_with(asker, scenario, requirements, (requirement,)):
                continue
            return requirement
    return None


def _scenario_of(
    scenario: Scenario,
    requirements: tuple[Requirement, ...],
    members: tuple[Requirement, ...],
) -> Scenario:
    """Return a scenario that asks for some of its requirements alone."""
    return without_all(scenario, tuple(r for r in requirements if r not in members))


def _build_with(
    asker: Asker,
    scenario: Scenario,
    requirements: tuple[Requirement, ...],
    members: tuple[Requirement, ...],
) -> Assessment | None:
    words = " and ".join(r.key for r in members) or "nothing asked"
    asked = _scenario_of(scenario, requirements, members)
    return asker.build_for(asked, f"only {words}", is_aim_first=len(members) < 3)


def _grown(
    asker: Asker, scenario: Scenario, movable: tuple[Requirement, ...]
) -> tuple[Requirement, ...] | None:
    members: tuple[Requirement, ...] = ()
    while True:
        found = _build_with(asker, scenario, movable, members)
        if found is None:
            return members
        broken = [
            r
            for r in movable
            if r not in members and not _keeps(asker, scenario, movable, r, found)
        ]
        if not broken:
            return None
        # stated ones before defaults: a conflict is best told in the user's own words
        stated = [r for r in broken if not r.is_default] or broken
        members = (*members, *stated)


def _keeps(
    asker: Asker,
    scenario: Scenario,
    movable: tuple[Requirement, ...],
    requirement: Requirement,
    found: Assessment,
) -> bool:
    """Return whether a machine keeps one requirement."""
    alone = _scenario_of(scenario, movable, (requirement,))
    keys = {item.key for item in items_of(asker.catalog, alone)}
    return admits(alone, keys, found.build) and assess(found.build, alone).is_fit


def _thinned(
    asker: Asker,
    scenario: Scenario,
    requirements: tuple[Requirement, ...],
    grown: tuple[Requirement, ...],
) -> tuple[tuple[Requirement, ...], bool]:
    """Return the members that are needed, and whether each was tried."""
    background = tuple(r for r in requirements if r.key in BACKGROUND)
    members = grown
    order = sorted(
        grown,
        key=lambda r: (not r.is_default, _ORDER.index(r.kind), r.criterion is None),
    )
    try:
        for requirement in order:
            rest = tuple(r for r in members if r != requirement)
            if _build_with(asker, scenario, requirements, (*rest, *background)) is None:
                members = rest
    except StoppedError:
        return members, False
    return members, True
