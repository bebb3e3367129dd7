"""A search that knows every build: what the frontier's own answers are held against."""

from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.criteria import AXES
from optibox.frontier.storage import Ask, Found
from optibox.rules.demands import exceeds, misses
from optibox.scenario import Scenario


@dataclass
class BruteSearch:
    """Answers questions about a list of builds by looking at each of them."""

    fit: list[Assessment]
    n_asked: int = 0

    def best(self, _scenario: Scenario, ask: Ask, on_build=None) -> Found:
        self.n_asked += 1
        inside = [found for found in self.fit if keeps(found, ask.limits)]
        values = [(self.value(found, ask), n) for n, found in enumerate(inside)]
        if not values or min(values)[0] >= ask.cutoff:
            bound = min(values)[0] if values else float("inf")
            return Found(outcome="none", assessment=None, bound=bound, n_solves=1)
        value, n = min(values)
        if on_build:
            on_build(inside[n])
        return Found(outcome="best", assessment=inside[n], bound=value, n_solves=1)

    def value(self, found: Assessment, ask: Ask) -> float:
        return sum(w * AXES[name].value_of(found) for name, w in ask.weights.items())


def keeps(found: Assessment, limits) -> bool:
    for name, limit in limits.items():
        axis = AXES[name]
        value = axis.value_of(found)
        if misses(value, limit) if axis.is_maximised else exceeds(value, limit):
            return False
    return True
