"""The verdict: what the machine costs, draws, holds and moves, in two sentences."""

from optibox.assess import Assessment
from optibox.criteria import AIMS
from optibox.report.answer import Report
from optibox.report.explain import NO_BUILD, NOT_FOUND
from optibox.report.quantity import both_capacities, money, rate, share, watts
from optibox.report.words import counted
from optibox.search.result import Plan, Proof


def verdict(report: Report) -> list[str]:
    """Return the verdict as sentences, the most important first."""
    found = report.assessment
    if found is None:
        return [nothing(report.plan)]
    return [f"{standing(report)}: {costs(found, report.currency)}", does(found)]


def nothing(plan: Plan) -> str:
    """Return why there is no build: none exists, no time, no solver that ends."""
    if plan.status == "infeasible":
        return NO_BUILD
    if plan.proof.n_unsolved:
        return f"No machine was found, one may exist: {gave_up(plan.proof)}"
    return NOT_FOUND


def gave_up(proof: Proof) -> str:
    """Return on how many programs the solvers gave up, and what to do."""
    return (
        f"the solvers came to no end on {counted(proof.n_unsolved, 'program')}. Change "
        f"a need or a limit a little, or say --certify to ask another formulation."
    )


def standing(report: Report) -> str:
    """Return how good the build is known to be, with its cost over the years."""
    plan, total = report.plan, ""
    if report.assessment is not None:
        cost = money(report.assessment.total_cost, report.currency)
        total = f" ({cost} over {_years(report)})"
    if plan.status == "optimal":
        return f"Proven {AIMS[plan.aim].best}{total}"
    gap = share(plan.proof.gap)
    return (
        f"Best found, not proven: the {AIMS[plan.aim].best} may be {gap} better{total}"
    )


def _years(report: Report) -> str:
    return counted(report.scenario.money.years, "year")


def costs(found: Assessment, currency: str) -> str:
    """Return what a machine costs and draws."""
    would = "" if found.is_fit else "it would not work (see the errors); as listed, "
    paid = found.cost.purchase
    buy = f"buy for {money(paid, currency)}" if paid > 0 else "nothing to buy"
    return (
        f"{would}{buy}, draws {watts(found.wall.asleep_w)} asleep, costs "
        f"{money(found.running_cost_per_year, currency)} a year in energy and wear."
    )


def does(found: Assessment) -> str:
    """Return what a machine holds and moves."""
    survives = found.machine.operation.failures_survived
    fill = share(found.scenario.needs.fill_fraction)
    return (
        f"Holds {both_capacities(found.capacity.usable_tb)}, survives "
        f"{counted(survives, 'failed drive') if survives else 'no failed drive'}, "
        f"takes in {rate(found.rates.ingest_mb_s)} and reads "
        f"{rate(found.rates.read_mb_s)} (drives {fill} full)."
    )
