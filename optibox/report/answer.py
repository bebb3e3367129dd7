"""What an answer is made of: the plan, where it comes from, what was assumed."""

from dataclasses import dataclass
from datetime import date

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.catalog.check import INVENTED, OLD_AFTER_DAYS, old_prices, stamp
from optibox.certify.records import Certificate
from optibox.criteria import AIMS
from optibox.explain import Refusal
from optibox.frontier.second import SecondThoughts
from optibox.report.words import capital, clean, counted
from optibox.scenario import Assumed, Scenario
from optibox.search.result import Plan

SAME_MONEY = 0.005
"""Half a minor unit: two sums of money this close are the same. [currency]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A plan with all that its answer says beside the build."""

    plan: Plan
    scenario: Scenario
    catalog: Catalog
    assumed: tuple[Assumed, ...] = ()
    today: date | None = None
    """Day from which the age of prices is counted; nothing = ages are not told."""
    second: SecondThoughts | None = None
    """Nearest other machine and walk-away prices, where they were asked for."""
    certificate: Certificate | None = None
    """A second opinion on the plan, where it was asked for."""
    refusal: Refusal | None = None
    """Why there is no machine, and what nearly does."""

    @property
    def assessment(self) -> Assessment | None:
        """Return the shown build with its figures, or nothing."""
        return self.plan.assessment

    @property
    def currency(self) -> str:
        """Return the currency in which money is shown."""
        return currency_of(self.scenario, self.catalog)

    @property
    def stamp(self) -> str:
        """Return how far the catalog can be trusted, old prices of the list named.

        The currency stands at the order list; invented prices need no date.
        """
        pieces = clean(stamp(self.catalog)).split("; ")
        idle = {f"prices in {clean(self.catalog.currency)}"}
        if INVENTED in pieces:
            idle.add("no price dated")
        text = capital("; ".join(piece for piece in pieces if piece not in idle))
        old = old_prices(self.catalog, self.today) if self.today else {}
        used = self._ids & old.keys()
        if used:
            are = "is" if len(used) == 1 else "are"
            text += (
                f"; {counted(len(used), 'price')} of this list {are} older than "
                f"{OLD_AFTER_DAYS} days"
            )
        return text

    @property
    def _ids(self) -> set[str]:
        if self.assessment is None:
            return set()
        build = self.assessment.build
        return {e.item.part.id for e in build.items if not e.item.is_owned}


def currency_of(scenario: Scenario, catalog: Catalog) -> str:
    """Return the scenario's currency, else the catalog's."""
    return clean(scenario.money.currency or catalog.currency)


def aim_value(found: Assessment, aim: str) -> float:
    """Return an assessment's own value of an aim, in the aim's unit.

    Parameters
    ----------
    found : Assessment
        Computed by the evaluator alone.
    aim : str
        One of the scenario's aims.

    Returns
    -------
    float
        Money, kWh, W or MB/s.
    """
    return AIMS[aim].value_of(found)


def agrees(plan: Plan) -> bool:
    """Return whether the evaluator finds the build fit and its value as claimed."""
    found = plan.assessment
    if found is None:
        return False
    near = max(SAME_MONEY * 2, 1e-6 * abs(plan.proof.value))
    return found.is_fit and abs(aim_value(found, plan.aim) - plan.proof.value) <= near
