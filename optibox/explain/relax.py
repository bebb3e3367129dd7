"""The value of one requirement at which a machine exists, the others as asked.

Where the planner has an aim for it, the best value is that of the proven optimum;
elsewhere values in whole steps are halved between one that is possible and one that is
not. Either way the stated value is held by a machine that was found, and one step
nearer was searched and found impossible.
"""

from collections.abc import Callable

from optibox.assess import Assessment
from optibox.explain.asker import Asker, StoppedError
from optibox.explain.records import Combination, Relaxation
from optibox.explain.requirements import SAVED, Requirement
from optibox.migration import shortage_of, task_of
from optibox.scenario import Scenario

FACTOR_STEP = 0.001
"""Steps in which a common factor is found."""

_LARGEST = {"limits.rack_units": 12.0}
"""Values up to which a limit can be eased, where that is less than to drop it."""


def relaxation_of(
    asker: Asker,
    scenario: Scenario,
    requirement: Requirement,
    patience_s: float | None = None,
) -> Relaxation:
    """Return what one requirement would have to be for a machine to exist.

    Parameters
    ----------
    asker : Asker
        Asks the planner.
    scenario : Scenario
        All that is asked.
    requirement : Requirement
        The one to ease.
    patience_s : float, optional
        Time after which an optimum is given up, and told as a range. [s]
    """
    try:
        words = f"without {requirement.key}"
        found = asker.build_for(requirement.without(scenario), words)
    except StoppedError:
        return Relaxation(requirement=requirement)
    if found is None:
        return Relaxation(requirement=requirement, is_enough=False, is_proven=True)
    if requirement.criterion is None:
        lack = None
        if requirement.key == SAVED:
            lack = shortage_of(task_of(found.build, scenario))
        return Relaxation(
            requirement=requirement,
            is_enough=True,
            is_proven=True,
            found=found,
            lack=lack,
        )
    try:
        return _valued(asker, scenario, requirement, found, patience_s)
    except StoppedError as stopped:
        return _roughly(asker, scenario, requirement, stopped.bound)


def _roughly(
    asker: Asker, scenario: Scenario, requirement: Requirement, bound: float
) -> Relaxation:
    """Return a relaxation by the best machine that is known, without proof."""
    criterion = requirement.criterion
    if criterion is None:
        return Relaxation(requirement=requirement, is_enough=True)
    sign = -1.0 if requirement.is_need else 1.0
    found = asker.closest(
        requirement.without(scenario), lambda a: sign * criterion.value_of(a)
    )
    return Relaxation(
        requirement=requirement,
        is_enough=True,
        value=_stated(requirement, found) if found else None,
        bound=bound if requirement.aim and bound > (requirement.value or 0.0) else None,
        found=found,
    )


def _stated(requirement: Requirement, found: Assessment) -> float | None:
    """Return the value in whole steps that a machine keeps."""
    if requirement.criterion is None:
        return None
    value = requirement.rounded(requirement.criterion.value_of(found))
    is_need_met = not requirement.is_need or value > 0
    return value if is_need_met or requirement.key.endswith("survived") else 0.0


def _valued(
    asker: Asker,
    scenario: Scenario,
    requirement: Requirement,
    found: Assessment,
    patience_s: float | None,
) -> Relaxation:
    criterion = requirement.criterion
    if criterion is None or requirement.value is None:
        msg = f"{requirement.key} is no number"
        raise ValueError(msg)
    if requirement.aim:
        words = f"best {requirement.aim} without {requirement.key}"
        wider = requirement.without(scenario)
        best = asker.best(wider, requirement.aim, words, patience_s)
        found = best.assessment or found
    most = _LARGEST.get(requirement.key)
    if most is not None:
        held = asker.build_for(requirement.eased(scenario, most), requirement.key)
        if held is None:
            return Relaxation(
                requirement=requirement, is_enough=True, is_proven=True, found=found
            )
        found = held

    def at(value: float) -> Assessment | None:
        text = f"{requirement.key} = {value:g}"
        return asker.build_for(requirement.eased(scenario, value), text)

    value, found = _nearest(requirement, found, at)
    return Relaxation(
        requirement=requirement,
        is_enough=True,
        value=value,
        is_proven=True,
        found=found,
    )


def _nearest(
    requirement: Requirement,
    found: Assessment,
    at: Callable[[float], Assessment | None],
) -> tuple[float, Assessment]:
    """Return the possible value nearest to the one asked for, and its machine.

    First one step nearer than the machine at hand is tried: after an aim's optimum
    that is the proof already. Values between are halved.
    """
    asked = requirement.value or 0.0
    step = requirement.criterion.step if requirement.criterion else 1.0
    good = _stated(requirement, found) or 0.0
    bad, tried = asked, requirement.tightened(good)
    while abs(good - bad) > step * 1.5:
        better = at(tried)
        if better is None:
            bad = tried
        else:
            good, found = _closer(requirement, good, better, tried), better
        if abs(good - bad) <= step * 1.5:
            break
        tried = requirement.rounded((good + bad) / 2)
        if tried in (good, bad):
            tried = requirement.tightened(good)
    return good, found


def _closer(
    requirement: Requirement, good: float, better: Assessment, tried: float
) -> float:
    """Return the value that a better machine keeps: what was asked of it, or nearer."""
    kept = _stated(requirement, better)
    values = [v for v in (good, tried, kept) if v is not None]
    return max(values) if requirement.is_need else min(values)


def is_easy(requirement: Requirement) -> bool:
    """Return whether a requirement can be eased by a small share."""
    return (
        requirement.criterion is not None
        and bool(requirement.value)
        and requirement.key not in _WHOLE
    )


_WHOLE = ("needs.failures_survived", "limits.array_drives", "limits.rack_units")


def combination_of(
    asker: Asker,
    scenario: Scenario,
    numbers: tuple[Requirement, ...],
    start: Assessment,
) -> Combination | None:
    """Return the least common factor by which easing several numbers is enough.

    Needs are divided by it, limits multiplied. ``start`` is a machine that keeps all
    else; its own factor is where the search begins.
    """
    good, found = _factor_of(numbers, start), start
    bad, is_proven = 1.0, True
    if good == float("inf"):
        return None
    try:
        while good - bad > FACTOR_STEP:
            middle = (good + bad) / 2
            eased = _eased(scenario, numbers, middle)
            better = asker.build_for(eased, f"all eased by {middle - 1:.2%}")
            if better is None:
                bad = middle
            else:
                good, found = min(middle, _factor_of(numbers, better)), better
    except StoppedError:
        is_proven = False
    values = tuple((r, _kept(r, found)) for r in numbers)
    return Combination(factor=good, is_proven=is_proven, values=values, found=found)


def _kept(requirement: Requirement, found: Assessment) -> float:
    """Return what a requirement comes to with a machine: never beyond what was asked."""
    value, asked = _stated(requirement, found) or 0.0, requirement.value or 0.0
    return min(value, asked) if requirement.is_need else max(value, asked)


def _factor_of(numbers: tuple[Requirement, ...], found: Assessment) -> float:
    factors = [r.ratio(r.criterion.value_of(found)) for r in numbers if r.criterion]
    return max(factors, default=1.0)


def _eased(
    scenario: Scenario, numbers: tuple[Requirement, ...], factor: float
) -> Scenario:
    for requirement in numbers:
        asked = requirement.value or 0.0
        value = asked / factor if requirement.is_need else asked * factor
        scenario = requirement.eased(scenario, value)
    return scenario
