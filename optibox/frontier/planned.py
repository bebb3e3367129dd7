"""The search of a frontier's questions by means of single plans.

Each question is a scenario of its own: limits on axes become its limits and needs, the
weights its way of counting money. What a scenario cannot say is left out of the weights
and named in the answer.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from optibox.assess import Assessment, assess
from optibox.catalog.catalog import Catalog
from optibox.frontier.axes import AXES, AxisName
from optibox.frontier.storage import Ask, Found, OnBuild
from optibox.physics.money import annuity
from optibox.rules.demands import exceeds
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Plan

COUNTED: tuple[AxisName, ...] = ("running", "total cost", "kwh")
"""Axes that no need or limit of a program holds: they are minimised instead, and the
least value then says whether anything keeps the limit."""

ROUNDING = 0.01
"""What a plan's bound may be above the true one: its price of parts in ties, which
stays below a minor unit. [currency]"""

LEANING, LEANINGS = 3.0, 4
"""How far the first weighted sum leans towards a low purchase, and how often it leans
four times more towards a low running cost before that alone is minimised."""

Solve = Callable[..., Plan]


@dataclass(frozen=True)
class Wish:
    """A question as a scenario, and how its value is read back."""

    scenario: Scenario
    weights: Mapping[AxisName, float]
    """Weights that the plan's value stands for."""
    unit: float
    """What one unit of the plan's value is worth by these weights."""
    rounding: float


@dataclass
class PlanSearch:
    """Answers questions with ``optibox.search.plan.plan``, each once."""

    catalog: Catalog
    solve: Solve = plan
    _known: dict[Any, Found] = field(default_factory=dict)

    def best(
        self, scenario: Scenario, ask: Ask, on_build: OnBuild | None = None
    ) -> Found:
        """Return the best build, or that there is none."""
        if any(limit < 0 for limit in ask.limits.values()):
            return _none()
        if {"purchase", "running"} <= ask.limits.keys():
            return self._both_limited(scenario, ask, on_build)
        return self._asked(scenario, ask, wish_of(scenario, ask), on_build)

    def _both_limited(
        self, scenario: Scenario, ask: Ask, on_build: OnBuild | None
    ) -> Found:
        """Return a build within limits of purchase and running cost.

        A program holds the purchase alone. A weighted sum of both is minimised, with
        ever more weight on the running cost: the sum is quickly found, it mostly keeps
        both limits or is above what they allow together, and then nothing keeps them.
        """
        most, least = ask.limits["purchase"], ask.limits["running"]
        ratio = max(most, 1.0) / max(least, 1.0) / LEANING
        n_solves = 0
        for _ in range(LEANINGS):
            weights: dict[AxisName, float] = {"purchase": 1.0, "running": ratio}
            inner = replace(ask, weights=weights, limits=_without_running(ask.limits))
            wish = wish_of(scenario, inner)
            found = self._asked(scenario, inner, wish, on_build)
            n_solves += found.n_solves
            told = replace(found, n_solves=n_solves)
            if found.outcome != "best" or found.assessment is None:
                return told
            if not exceeds(AXES["running"].value_of(found.assessment), least):
                return told
            if found.bound > most + ratio * least:
                return replace(told, outcome="none", assessment=None)
            ratio *= 4
        found = self._asked(scenario, ask, wish_of(scenario, ask), on_build)
        return replace(found, n_solves=n_solves + found.n_solves)

    def _asked(
        self, scenario: Scenario, ask: Ask, wish: "Wish", on_build: OnBuild | None
    ) -> Found:
        """Return the answer to one wish, planned unless it is known."""
        key = (wish.scenario.model_dump_json(), tuple(sorted(wish.weights.items())))
        is_new = key not in self._known
        if is_new:
            left = ask.deadline - time.monotonic()
            plan_found = self.solve(
                self.catalog,
                wish.scenario,
                time_limit_s=None if left == float("inf") else max(left, 0.0),
            )
            answer = _read_back(plan_found, scenario, wish)
            if answer.outcome == "stopped":
                if on_build and answer.assessment is not None:
                    on_build(answer.assessment)
                return answer
            self._known[key] = answer
        known = self._known[key]
        if on_build and known.assessment is not None:
            on_build(known.assessment)
        told = known if is_new else replace(known, n_solves=0)
        return _within(told, ask, wish)


def _without_running(limits: Mapping[AxisName, float]) -> dict[AxisName, float]:
    return {name: limit for name, limit in limits.items() if name != "running"}


def _none(bound: float = float("inf"), **more: Any) -> Found:  # noqa: ANN401
    return Found(outcome="none", assessment=None, bound=bound, **more)


def _read_back(found: Plan, scenario: Scenario, wish: Wish) -> Found:
    """Return a plan as an answer under the scenario that was asked with."""
    n_solves = 1
    best: Assessment | None = None
    if found.assessment is not None:
        best = assess(found.assessment.build, scenario)
    if found.status == "infeasible":
        return _none(weights=wish.weights, n_solves=n_solves)
    return Found(
        outcome="best" if found.status == "optimal" else "stopped",
        assessment=best,
        bound=found.proof.bound * wish.unit - wish.rounding,
        weights=wish.weights,
        n_solves=n_solves,
    )


def _within(found: Found, ask: Ask, wish: Wish) -> Found:
    """Return an answer after limits that only a least value can tell."""
    best = found.assessment
    if found.outcome != "best" or best is None:
        return found
    broken = [
        name
        for name in COUNTED
        if name in ask.limits and exceeds(AXES[name].value_of(best), ask.limits[name])
    ]
    if not broken and found.bound < ask.cutoff:
        return found
    if not broken or broken[0] in wish.weights:
        return replace(found, outcome="none", assessment=None)
    # the least value on one axis says nothing about the limit on another
    return replace(found, outcome="stopped")


def wish_of(scenario: Scenario, ask: Ask) -> Wish:
    """Return the scenario whose plan answers a question."""
    counted = [name for name in COUNTED if name in ask.limits]
    limited = _limited(scenario, ask.limits)
    weights = {name: w for name, w in ask.weights.items() if w > 0}
    if counted:
        weights = {counted[0]: 1.0}
        if "kwh" in counted[1:]:
            kwh = limited.limits.model_copy(update={"annual_kwh": ask.limits["kwh"]})
            limited = limited.model_copy(update={"limits": kwh})
    if set(weights) == {"purchase", "running"}:
        return _both(limited, weights)
    if not weights:
        return _single(limited, "total cost")
    return _single(limited, max(weights, key=lambda name: weights[name]))


def _limited(scenario: Scenario, limits: Mapping[AxisName, float]) -> Scenario:
    """Return a scenario with limits on axes as its own limits and needs."""
    needs, own = scenario.needs, scenario.limits
    raised: dict[str, float | None] = {
        key: max(float(getattr(needs, key)), limits[name])
        for name, key in _NEEDS.items()
        if name in limits
    }
    if "usable" in limits and limits["usable"] > needs.capacity_tb:
        raised |= {"usable_tb": limits["usable"], "usable_tib": None}
    lowered = {
        key: min(float("inf") if (x := getattr(own, key)) is None else x, limits[name])
        for name, key in _LIMITS.items()
        if name in limits
    }
    return scenario.model_copy(
        update={
            "needs": needs.model_copy(update=raised),
            "limits": own.model_copy(update=lowered),
        }
    )


_NEEDS: Mapping[AxisName, str] = {
    "ingest": "ingest_mb_s",
    "write": "write_mb_s",
    "read": "read_mb_s",
}
_LIMITS: Mapping[AxisName, str] = {
    "purchase": "budget",
    "asleep": "asleep_w",
}


def _single(scenario: Scenario, name: AxisName) -> Wish:
    """Return the wish for the least value on one axis.

    Money is counted so that the total cost is the axis' value times a unit; the years
    stay, for they say what a drive may wear.
    """
    money, years = scenario.money, float(scenario.money.years)
    if name == "asleep":
        return Wish(_aimed(scenario, "asleep watts"), {name: 1.0}, 1.0, 0.0)
    growth = growth_for(years, money.years, money.discount)
    counted: Any = {
        "purchase": {"terms": ("purchase",)},
        "running": {"terms": ("energy", "wear", "cache wear"), "tariff_growth": growth},
        "kwh": {
            "terms": ("energy",),
            "tariff_growth": growth,
            "tariff_per_kwh": 1.0,
            "bands": (),
        },
        "total cost": {},
    }[name]
    changed = money.model_copy(update=counted)
    aimed = _aimed(scenario.model_copy(update={"money": changed}), "total cost")
    unit = 1 / years if name in ("running", "kwh") else 1.0
    return Wish(aimed, {name: 1.0}, unit, ROUNDING * unit)


def _both(scenario: Scenario, weights: Mapping[AxisName, float]) -> Wish:
    """Return the wish for a weighted sum of purchase and running cost.

    Discount and growth are set so that energy and wear of a year are worth what the
    weights say; the years stay.
    """
    money, ratio = scenario.money, weights["running"] / weights["purchase"]
    plain = annuity(money.years, money.discount)
    discount = discount_for(ratio * plain / money.years, money.years)
    changed = money.model_copy(
        update={
            "terms": ("purchase", "energy", "wear", "cache wear"),
            "discount": discount,
            "tariff_growth": growth_for(ratio, money.years, discount),
        }
    )
    aimed = _aimed(scenario.model_copy(update={"money": changed}), "total cost")
    unit = weights["purchase"]
    return Wish(aimed, dict(weights), unit, ROUNDING * unit)


def _aimed(scenario: Scenario, aim: str) -> Scenario:
    choices = scenario.choices.model_copy(update={"aim": aim})
    return scenario.model_copy(update={"choices": choices})


def growth_for(worth: float, years: int, discount: float) -> float:
    """Return the growth a year at which payments of 1 are worth so much today.

    Examples
    --------
    >>> round(growth_for(5.0, 5, 0.0), 9)
    0.0
    """
    return _root(lambda x: annuity(years, discount, x - 1) - worth) - 1


def discount_for(worth: float, years: int) -> float:
    """Return the discount at which payments of 1 a year are worth so much today.

    Examples
    --------
    >>> round(discount_for(annuity(8, 0.03), 8), 9)
    0.03
    """
    return 1 / _root(lambda x: annuity(years, 1 / x - 1) - worth) - 1


def _root(rising: Callable[[float], float]) -> float:
    """Return where a rising function of a positive number is zero, by halving."""
    low, high = 0.0, 1.0
    while rising(high) < 0:
        high *= 2
    for _ in range(100):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return high
