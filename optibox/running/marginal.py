"""What one more of each need costs: the difference of two proven plans.

What the best machine gives beyond a need is free. The price of a need is that of going
one unit beyond what the best machine gives: the plan is made again with the need set
there, and the two costs are subtracted.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Chassis
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Plan, Progress

MOST_FAILURES = 2
_ABOVE = 1.0 + 1e-9
"""Needs are met within this much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A need one unit beyond what the best machine gives."""

    key: str
    need: str
    """The need in words."""

    unit: str
    given: float
    """What the best machine gives."""

    asked: float
    scenario: Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginalPrice:
    """What one unit of a need costs beyond what the best machine gives."""

    question: Question
    plan: Plan
    price: float | None
    """Over the years; nothing where no machine gives it. [currency]"""

    purchase: float | None
    """Of it, paid now. [currency]"""

    @property
    def is_proven(self) -> bool:
        """Return whether the second plan is proven (or proven not to exist)."""
        return self.plan.status in ("optimal", "infeasible")


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginalPrices:
    """The best machine by total cost, and the price of one more of each need."""

    base: Plan
    prices: tuple[MarginalPrice, ...]


def marginal_prices(
    catalog: Catalog,
    scenario: Scenario,
    *,
    time_limit_s: float | None = None,
    on_progress: Progress | None = None,
) -> MarginalPrices:
    """Return the price of one more of each need, by a search for each.

    Parameters
    ----------
    catalog : Catalog
        What exists.
    scenario : Scenario
        What is asked; total cost is made best, whatever its aim.
    time_limit_s : float, optional
        For each search. [s]
    on_progress : callable, optional
        Receives a line now and then.
    """
    choices = scenario.choices.model_copy(update={"aim": "total cost"})
    scenario = scenario.model_copy(update={"choices": choices})

    def search(asked: Scenario, words: str) -> Plan:
        def show(line: str) -> None:
            if on_progress:
                on_progress(f"{words}: {line}")

        return plan(catalog, asked, time_limit_s=time_limit_s, on_progress=show)

    base = search(scenario, "best machine")
    found = base.assessment
    if found is None:
        return MarginalPrices(base=base, prices=())
    prices = [
        _price(base, question, search(question.scenario, question.need))
        for question in questions(catalog, found)
    ]
    return MarginalPrices(base=base, prices=tuple(prices))


def _price(base: Plan, question: Question, again: Plan) -> MarginalPrice:
    first, second = base.assessment, again.assessment
    price = purchase = None
    if first is not None and second is not None:
        price = second.total_cost - first.total_cost
        purchase = second.cost.purchase - first.cost.purchase
    return MarginalPrice(question=question, plan=again, price=price, purchase=purchase)


def questions(catalog: Catalog, found: Assessment) -> Iterator[Question]:
    """Yield each need one unit beyond what a machine gives.

    Parameters
    ----------
    catalog : Catalog
        Its chassis with no more bays are left out when one more bay is asked for.
    found : Assessment
        The best machine.
    """
    needs, rates = found.scenario.needs, found.rates
    yield _need(found, "usable_tb", "capacity", "TB", found.capacity.usable_tb)
    for key, words, given in (
        ("read_mb_s", "reading", rates.read_mb_s),
        ("write_mb_s", "writing for hours", rates.write_mb_s),
        ("ingest_mb_s", "taking in a burst", rates.ingest_mb_s),
    ):
        yield _need(found, key, words, "MB/s", given)
    survived = found.machine.operation.failures_survived
    if max(survived, needs.failures_survived) < MOST_FAILURES:
        yield _need(found, "failures_survived", "failures survived", "", survived)
    yield from _one_bay_more(catalog, found)
    yield _limit(found, "asleep_w", "watts asleep, one less", found.wall.asleep_w)
    yield _limit(found, "spinning_w", "watts spinning, one less", found.wall.spinning_w)


def _need(found: Assessment, key: str, words: str, unit: str, given: float) -> Question:
    scenario = found.scenario
    asked = given * _ABOVE + 1.0 if unit else int(given) + 1
    update: dict[str, object] = {key: asked}
    if key == "usable_tb":
        update["usable_tib"] = None
    needs = scenario.needs.model_copy(update=update)
    return Question(
        key=f"needs.{key}",
        need=words,
        unit=unit,
        given=given,
        asked=asked,
        scenario=scenario.model_copy(update={"needs": needs}),
    )


def _limit(found: Assessment, key: str, words: str, given: float) -> Question:
    scenario, asked = found.scenario, given - 1.0
    limits = scenario.limits.model_copy(update={key: asked})
    return Question(
        key=f"limits.{key}",
        need=words,
        unit="W",
        given=given,
        asked=asked,
        scenario=scenario.model_copy(update={"limits": limits}),
    )


def bays_of(chassis: Chassis) -> int:
    """Return the drive bays of a chassis, of both widths."""
    return chassis.bays_35 + chassis.bays_25


def _one_bay_more(catalog: Catalog, found: Assessment) -> Iterator[Question]:
    """Yield the question for a chassis with a bay more: all smaller ones are banned."""
    scenario, chassis = found.scenario, found.machine.chassis
    if chassis is None:
        return
    given = bays_of(chassis)
    owned = [o.part for o in scenario.owned if isinstance(o.part, Chassis)]
    offers = [*catalog.of(Chassis), *owned]
    small = [part.id for part in offers if bays_of(part) <= given]
    ban = tuple(dict.fromkeys((*scenario.ban, *small)))
    yield Question(
        key="chassis.bays",
        need="bays",
        unit="",
        given=given,
        asked=given + 1,
        scenario=scenario.model_copy(update={"ban": ban}),
    )
