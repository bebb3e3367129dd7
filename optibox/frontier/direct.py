"""The frontier's questions, handed to the search as they are.

Weights on axes become weights of terms; limits become the scenario's own needs and
limits, or a ceiling where the scenario has no word for them.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.catalog.catalog import Catalog
from optibox.figures.money import plain_annuity
from optibox.frontier.axes import AXES, AxisName
from optibox.frontier.storage import Ask, Found, OnBuild
from optibox.model.aims import Ceiling, Weights, total_cost_weights, without_ties
from optibox.scenario import Scenario
from optibox.search.best import Answer, Question, best

ANY = 1e9
"""Slack with which the first build found will do."""
SHARE = 0.01
"""Part of an axis' step to within which an answer is exact."""
_NEEDS: Mapping[AxisName, str] = {
    "ingest": "ingest_mb_s",
    "write": "write_mb_s",
    "read": "read_mb_s",
}
_LIMITS: Mapping[AxisName, str] = {
    "purchase": "budget",
    "asleep": "asleep_w",
    "kwh": "annual_kwh",
    "total cost": "total_cost",
}


@dataclass
class DirectSearch:
    """Answers questions with ``optibox.search.best.best``, each once."""

    catalog: Catalog
    _known: dict[tuple[str, str], Found] = field(default_factory=dict)

    def best(
        self, scenario: Scenario, ask: Ask, on_build: OnBuild | None = None
    ) -> Found:
        """Return the best build, or that there is none."""
        if any(limit < 0 for limit in ask.limits.values()):
            return Found(outcome="none", assessment=None, bound=math.inf)
        key = (scenario.model_dump_json(), repr(replace(ask, deadline=math.inf)))
        if key in self._known:
            found = replace(self._known[key], n_solves=0)
            if on_build and found.assessment is not None:
                on_build(found.assessment)
            return found
        found = self._asked(scenario, ask, on_build)
        if found.outcome != "stopped":
            self._known[key] = found
        return found

    def _asked(self, scenario: Scenario, ask: Ask, on_build: OnBuild | None) -> Found:
        def under_its_own(found: Assessment) -> Assessment:
            return assess(found.build, scenario)

        def seen(found: Assessment) -> None:
            if on_build:
                on_build(under_its_own(found))

        answer = best(self.catalog, question_of(scenario, ask), on_build=seen)
        build = answer.assessment
        return _found(answer, under_its_own(build) if build else None)


def _found(answer: Answer, build: Assessment | None) -> Found:
    return Found(
        outcome=answer.outcome,
        assessment=build,
        bound=answer.bound,
        n_solves=answer.n_solves,
    )


def question_of(scenario: Scenario, ask: Ask) -> Question:
    """Return what the search is asked, from weights and limits on axes."""
    weights = {name: w for name, w in ask.weights.items() if w > 0}
    axes = [AXES[name] for name in weights]
    terms = Weights(part=0.0)
    for name, weight in weights.items():
        terms = terms.plus(weights_of(scenario, name), weight)
    if not weights:
        terms = weights_of(scenario, "purchase")

    def value(found: Assessment) -> float:
        if not weights:
            return found.cost.purchase
        return sum(weights[axis.name] * axis.value_of(found) for axis in axes)

    steps = [weights[axis.name] * axis.resolution for axis in axes] or [1.0]
    return Question(
        scenario=limited(scenario, ask.limits),
        weights=terms,
        value_of=value,
        tolerance=SHARE * min(steps),
        ceilings=tuple(
            Ceiling(
                weights=weights_of(scenario, name),
                most=most,
                value_of=AXES[name].value_of,
            )
            for name, most in ask.limits.items()
            if name == "running"
        ),
        cutoff=ask.cutoff,
        slack=ask.slack if weights else ANY,
        deadline=ask.deadline,
    )


def weights_of(scenario: Scenario, name: AxisName) -> Weights:
    """Return a minimised axis as weights of terms."""
    money = scenario.money
    if name == "total cost":
        return without_ties(total_cost_weights(scenario))
    if name == "running":
        wear = plain_annuity(money) / money.years
        return Weights(money_energy=1.0, wear=wear, cache_wear=wear, part=0.0)
    return {
        "purchase": Weights(purchase=1.0, part=0.0),
        "kwh": Weights(kwh=1.0, part=0.0),
        "asleep": Weights(asleep_w=1.0, part=0.0),
    }[name]


def limited(scenario: Scenario, limits: Mapping[AxisName, float]) -> Scenario:
    """Return a scenario with limits on axes as its own needs and limits."""
    needs, own = scenario.needs, scenario.limits
    raised: dict[str, float | None] = {
        key: max(float(getattr(needs, key)), limits[name])
        for name, key in _NEEDS.items()
        if name in limits
    }
    if "usable" in limits and limits["usable"] > needs.capacity_tb:
        raised |= {"usable_tb": limits["usable"], "usable_tib": None}
    lowered = {
        key: min(math.inf if (x := getattr(own, key)) is None else x, limits[name])
        for name, key in _LIMITS.items()
        if name in limits
    }
    return scenario.model_copy(
        update={
            "needs": needs.model_copy(update=raised),
            "limits": own.model_copy(update=lowered),
        }
    )
