"""The verdict: what the machine costs, draws, holds and moves, in two sentences."""

from optibox.assess import Assessment
from optibox.present.report import Report
from optibox.present.words import both_capacities, counted, money, rate, share, watts

NO_BUILD = "No machine of this catalog meets all needs within all limits."
NOT_FOUND = "No machine was found in the time given; one may exist."


def verdict(report: Report) -> list[str]:
    """Return the verdict as sentences, the most important first."""
    found = report.assessment
    if found is None:
        return [NO_BUILD if report.plan.status == "infeasible" else NOT_FOUND]
    return [standing(report), *sentences(found, report.currency)]


def standing(report: Report) -> str:
    """Return how good the build is known to be."""
    plan = report.plan
    best = {
        "total cost": f"Cheapest over {_years(report)}",
        "purchase": "Cheapest to buy",
        "annual energy": "Least energy a year",
        "asleep watts": "Fewest watts asleep",
        "ingest": "Fastest to take data in",
        "read": "Fastest to read",
    }[plan.aim]
    if plan.status == "optimal":
        return f"{best}, proven for this catalog and scenario."
    return (
        f"Stopped before the proof: {_lower_first(best)} of what was tried; a better "
        f"one may exist, by {share(plan.proof.gap)} at most."
    )


def _years(report: Report) -> str:
    return counted(report.scenario.money.years, "year")


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]


def sentences(found: Assessment, currency: str) -> list[str]:
    """Return what a machine costs and draws, and what it holds and moves."""
    would = "" if found.is_fit else "It would not work (see the errors). As listed: "
    paid = found.cost.purchase
    buy = f"Buy for {money(paid, currency)}" if paid > 0 else "Nothing to buy"
    years = counted(found.scenario.money.years, "year")
    survives = found.machine.operation.failures_survived
    fill = share(found.scenario.needs.fill_fraction)
    rates = found.rates
    return [
        f"{would}{buy}; it draws {watts(found.wall.asleep_w)} asleep, costs "
        f"{money(found.running_cost_per_year, currency)} a year in energy and wear, "
        f"{money(found.total_cost, currency)} over {years}.",
        f"It holds {both_capacities(found.capacity.usable_tb)}, survives "
        f"{counted(survives, 'failed drive') if survives else 'no failed drive'}, "
        f"takes in {rate(rates.ingest_mb_s)} and reads {rate(rates.read_mb_s)} "
        f"({fill} full).",
    ]
