"""A proven answer held against its neighbourhood before it is called so.

Where a build beside it is better, the bound or the pruning is at fault: then the flat
program, which knows neither, is asked, and where it comes to no end nothing is proven.
"""

from dataclasses import replace

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.criteria import AIMS, Criterion
from optibox.guard import Guarded, guarded
from optibox.search.result import Plan, Status


def is_better_by(aim: Criterion, one: Assessment, other: Assessment) -> bool:
    """Return whether a build is better than a proof by an aim leaves room for."""
    gain = aim.value_of(other) - aim.value_of(one)
    if aim.is_maximised:
        gain = -gain - 1e-6 * aim.value_of(other)
    return gain > 2 * aim.tolerance + 1e-9


def held(answer: Plan, catalog: Catalog, *, guard_s: float, left_s: float) -> Plan:
    """Return a proven answer with what was tried beside it, or a better one.

    Parameters
    ----------
    answer : Plan
        Proven by the search.
    catalog : Catalog
        What exists.
    guard_s : float
        Time for exchanges of parts. [s].
    left_s : float
        Time for the flat program where a better build is found. [s].
    """
    if answer.assessment is None:
        return answer
    aim = AIMS[answer.aim]
    beside = guarded(
        answer.assessment,
        catalog,
        lambda one, other: is_better_by(aim, one, other),
        time_s=guard_s,
    )
    if beside.better is None:
        return replace(answer, proof=replace(answer.proof, guard=beside))
    return _refuted(answer, beside, beside.better, catalog, left_s)


def _refuted(
    answer: Plan, beside: Guarded, better: Assessment, catalog: Catalog, left_s: float
) -> Plan:
    """Return the answer of the flat program in place of one that does not hold."""
    aim = AIMS[answer.aim]
    best, bound, is_proven = better, 0.0, False
    if not aim.is_maximised and left_s > 0:
        # imported where it is wanted: PuLP takes its time and next to no plan wants it
        from optibox.certify.rounds import flat_optimum  # noqa: PLC0415

        flat = flat_optimum(
            catalog, better.scenario, aim.aim, time_limit_s=left_s, known=better
        )
        best, bound, is_proven = flat.best or better, flat.bound, flat.is_proven
    value = aim.value_of(best)
    proof = replace(
        answer.proof,
        value=value,
        bound=min(max(0.0, bound), value),
        guard=beside,
        solver="the flat program" if is_proven else answer.proof.solver,
    )
    status: Status = "optimal" if is_proven else "feasible"
    return replace(answer, status=status, assessment=best, proof=proof)
