"""Why nothing fits and what nearly does, or what each requirement costs."""

from dataclasses import replace

from optibox.catalog.catalog import Catalog
from optibox.explain.asker import Asker, Progress, StoppedError
from optibox.explain.conflict import conflict_of
from optibox.explain.gaps import gaps_of
from optibox.explain.price import prices_of
from optibox.explain.records import (
    Bill,
    Combination,
    Conflict,
    Effort,
    Refusal,
    Relaxation,
)
from optibox.explain.relax import combination_of, is_easy, relaxation_of
from optibox.explain.requirements import (
    Requirement,
    requirements_of,
    without_all,
)
from optibox.scenario import Scenario
from optibox.search.result import Plan


def explain(
    catalog: Catalog,
    scenario: Scenario,
    *,
    time_limit_s: float | None = None,
    on_progress: Progress | None = None,
) -> Refusal | Bill | None:
    """Return why a scenario has no machine, or what each of its requirements costs.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    scenario : Scenario
        What is asked.
    time_limit_s : float, optional
        Time for all searches together; what is not answered by then says so. [s]
    on_progress : callable, optional
        Receives a line for each question.

    Returns
    -------
    Refusal or Bill or None
        Nothing where the time was over before it was known which of them.
    """
    asker = Asker(catalog, time_limit_s, on_progress)
    try:
        found = asker.best(scenario, scenario.choices.aim, "all that is asked")
    except StoppedError:
        return None
    if found.assessment is None:
        return refusal(asker, scenario)
    return bill(asker, scenario, found)


def refusal(asker: Asker, scenario: Scenario, *, is_short: bool = False) -> Refusal:
    """Return why no machine exists for a scenario that is known to have none.

    Parameters
    ----------
    asker : Asker
        Asks the planner.
    scenario : Scenario
        What is asked.
    is_short : bool
        Leave out the combination where one requirement alone can be eased.
    """
    requirements = requirements_of(scenario, asker.catalog)
    conflicts, has_any = _conflicts(asker, scenario, requirements)
    relaxations = _relaxations(asker, scenario, conflicts)
    combination = None
    is_any_enough = any(r.is_enough for r in relaxations)
    if has_any and not (is_short and is_any_enough):
        least = 2 if is_any_enough and len(conflicts) == 1 else 1
        combination = _combination(asker, scenario, conflicts, least)
    gaps = gaps_of(asker, scenario)
    return Refusal(
        effort=_effort(asker),
        conflicts=conflicts,
        relaxations=relaxations,
        combination=combination,
        gaps=gaps,
        has_any=has_any,
    )


def _conflicts(
    asker: Asker, scenario: Scenario, requirements: tuple[Requirement, ...]
) -> tuple[tuple[Conflict, ...], bool | None]:
    """Return conflicts without common members, and whether any machine exists.

    Members of one are dropped before the next is sought, until a machine exists.
    """
    found: list[Conflict] = []
    left = requirements
    try:
        while True:
            conflict = conflict_of(asker, scenario, left)
            if conflict is None:
                return tuple(found), True
            if not conflict.members:
                return tuple(found), False
            found.append(conflict)
            scenario = without_all(scenario, conflict.members)
            left = tuple(r for r in left if r not in conflict.members)
            if asker.build_for(scenario, "without conflicts so far") is not None:
                return tuple(found), True
    except StoppedError:
        return tuple(found), None if not found else True


def _relaxations(
    asker: Asker, scenario: Scenario, conflicts: tuple[Conflict, ...]
) -> tuple[Relaxation, ...]:
    n_left = sum(len(conflict.members) for conflict in conflicts)
    found: list[Relaxation] = []
    for conflict in conflicts:
        others = [m for c in conflicts if c is not conflict for m in c.members]
        asked = without_all(scenario, tuple(others))
        # what is no number takes one question: first, lest the time be over by then
        known: dict[str, Relaxation] = {}
        for member in sorted(conflict.members, key=lambda m: m.criterion is not None):
            patience = asker.share(n_left)
            known[member.key] = relaxation_of(asker, asked, member, patience)
            n_left -= 1
        found += [known[member.key] for member in conflict.members]
    return tuple(found)


def _combination(
    asker: Asker, scenario: Scenario, conflicts: tuple[Conflict, ...], least: int
) -> Combination | None:
    """Return all numbers of all conflicts eased together, as little as possible.

    ``least`` says how many numbers there must be for that to tell anything new.
    """
    members = tuple(m for conflict in conflicts for m in conflict.members)
    numbers = tuple(m for m in members if is_easy(m))
    if len(numbers) < least:
        return None
    hopeless = tuple(
        m for c in conflicts if not any(map(is_easy, c.members)) for m in c.members
    )
    others = tuple(m for m in members if not is_easy(m))
    for dropped in (hopeless, others):
        asked = without_all(scenario, dropped)
        try:
            start = asker.build_for(without_all(asked, numbers), "all numbers eased")
        except StoppedError:
            return None
        if start is not None:
            found = combination_of(asker, asked, numbers, start)
            return replace(found, dropped=dropped) if found else None
    return None


def bill(asker: Asker, scenario: Scenario, found: Plan) -> Bill:
    """Return what each requirement costs, for a scenario with a proven best machine."""
    best = found.assessment
    if best is None:
        msg = "there is no machine to price"
        raise ValueError(msg)
    wanted = tuple(
        r for r in requirements_of(scenario, asker.catalog) if not r.is_default
    )
    prices, left = prices_of(asker, scenario, wanted, best)
    return Bill(
        aim=scenario.choices.aim,
        value=found.proof.value,
        found=best,
        effort=_effort(asker),
        prices=prices,
        open=left,
    )


def _effort(asker: Asker) -> Effort:
    return Effort(
        n_searches=asker.n_searches,
        n_known=asker.n_known,
        seconds=asker.seconds,
        is_complete=not asker.is_stopped,
    )
