"""The questions of a frontier, put to the search for the best build."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from optibox.assess import Assessment, assess
from optibox.catalog.catalog import Catalog
from optibox.criteria import AXES, Weights
from optibox.frontier.storage import Ask, Found, OnBuild
from optibox.model.aims import Ceiling
from optibox.model.ground import Ground
from optibox.scenario import Scenario
from optibox.search.best import Answer, Question, best

SAME = 0.01
"""Share of a resolution's worth by which bound and value may differ: a minor unit where
the step is one unit of money."""
PART_SHARE = 0.01
"""What a bought piece adds, as a share of that: ties go to fewer parts."""
MOST_PIECES = 100
"""Pieces of any build, far more than there are: what ties can add to a bound."""


@dataclass(frozen=True)
class BestSearch:
    """Answers questions with ``optibox.search.best.best``."""

    catalog: Catalog
    _grounds: list[Ground] = field(default_factory=list)
    """Bounds of the scenario asked about last, for the questions to come."""

    def best(
        self, scenario: Scenario, ask: Ask, on_build: OnBuild | None = None
    ) -> Found:
        """Return the best build, or that there is none."""
        weights: Mapping[str, float] = ask.weights or {"total cost": 1.0}
        same = SAME * max(w * AXES[name].resolution for name, w in weights.items())
        question = Question(
            scenario=_needing(scenario, ask.limits),
            weights=_summed(scenario, weights, part=same * PART_SHARE),
            value_of=_value_of(weights, same * PART_SHARE),
            tolerance=same,
            ceilings=tuple(_ceilings(scenario, ask.limits)),
            cutoff=ask.cutoff,
            slack=ask.slack,
            deadline=ask.deadline,
        )
        answer = best(
            self.catalog,
            question,
            on_build=_told(scenario, on_build),
            ground=self._ground(scenario, question.scenario),
        )
        return _found(answer, scenario, weights, same)

    def _ground(self, scenario: Scenario, asked: Scenario) -> Ground | None:
        """Return the bounds that a question shares with others, if it may."""
        if asked.needs.capacity_tb != scenario.needs.capacity_tb:
            return None
        if not self._grounds or self._grounds[0].scenario != scenario:
            self._grounds[:] = [Ground(catalog=self.catalog, scenario=scenario)]
        return self._grounds[0]


def _found(
    answer: Answer, scenario: Scenario, weights: Mapping[str, float], same: float
) -> Found:
    known = answer.assessment
    return Found(
        outcome=answer.outcome,
        assessment=None if known is None else assess(known.build, scenario),
        # ties add to the value of a build, so that they are taken off its bound
        bound=answer.bound - same * PART_SHARE * MOST_PIECES,
        weights=weights,
        n_solves=1,
    )


def _told(scenario: Scenario, on_build: OnBuild | None) -> OnBuild | None:
    """Return what passes builds on as the scenario itself judges them."""
    if on_build is None:
        return None

    def tell(found: Assessment) -> None:
        judged = assess(found.build, scenario)
        if judged.is_fit:
            on_build(judged)

    return tell


def _needing(scenario: Scenario, limits: Mapping[str, float]) -> Scenario:
    """Return a scenario that needs at least what limits on rates and room say."""
    raised: dict[str, float | None] = {}
    for name, least in limits.items():
        criterion = AXES[name]
        asked = criterion.asked_of(scenario) if criterion.need else None
        if asked is not None and least > asked:
            raised[criterion.need] = least
    if "usable_tb" in raised:
        raised["usable_tib"] = None
    needs = scenario.needs.model_copy(update=raised)
    return scenario.model_copy(update={"needs": needs})


def axis_weights(scenario: Scenario, name: str) -> Weights:
    """Return the terms that an axis' value is made of.

    Raises
    ------
    KeyError
        If a program can only be asked to reach the axis.
    """
    weights = AXES[name].weights
    if weights is None:
        raise KeyError(name)
    return weights(scenario)


def _summed(scenario: Scenario, weights: Mapping[str, float], part: float) -> Weights:
    total = Weights(part=part)
    for name, weight in weights.items():
        total = total.plus(axis_weights(scenario, name), weight)
    return total


def _value_of(
    weights: Mapping[str, float], part: float
) -> Callable[[Assessment], float]:
    """Return the evaluator's value of a weighted sum, with the price of ties."""

    def value(found: Assessment) -> float:
        used = sum(e.count for e in found.build.items if not e.item.is_owned)
        return part * used + sum(
            weight * AXES[name].value_of(found) for name, weight in weights.items()
        )

    return value


def _ceilings(scenario: Scenario, limits: Mapping[str, float]) -> list[Ceiling]:
    return [
        Ceiling(
            weights=axis_weights(scenario, name),
            most=most,
            value_of=AXES[name].value_of,
        )
        for name, most in limits.items()
        if not AXES[name].is_maximised
    ]
