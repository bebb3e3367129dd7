"""What a program weighs: states of the year by their worth, ceilings of measures."""

from collections.abc import Callable
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.criteria import Weights
from optibox.figures.power import ASLEEP, AT_REST, SPINNING, Activity, activity_of
from optibox.physics.operation import Mix, OperatingYear
from optibox.rules.demands import exceeds


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """A measure that may not exceed a limit, beside the scenario's own limits."""

    weights: Weights
    most: float
    value_of: Callable[[Assessment], float]
    """The evaluator's value of the measure."""

    def keeps(self, found: Assessment) -> bool:
        """Return whether a build keeps it."""
        return not exceeds(self.value_of(found), self.most)


@dataclass(frozen=True, slots=True)
class WeighedState:
    """A state with what a watt at the wall in it is worth to the aim."""

    data: Mix
    parity: Mix
    activity: Activity
    weight: float


def weighed_states(
    weights: Weights, operating: OperatingYear
) -> tuple[WeighedState, ...]:
    """Return the states that count for an aim with the weight of a wall watt."""
    found = [
        WeighedState(
            state.data,
            state.parity,
            activity_of(state),
            weights.money_energy * state.money_per_w
            + weights.kwh * state.hours / 1000.0,
        )
        for state in operating.states
    ]
    found.append(WeighedState(ASLEEP, ASLEEP, AT_REST, weights.asleep_w))
    found.append(WeighedState(SPINNING, SPINNING, AT_REST, weights.spinning_w))
    return tuple(state for state in found if state.weight > 0)


def at_most(limit: float) -> float:
    """Return a limit with what rounding may add."""
    return limit * (1 + 1e-9) + 1e-6
