"""What each requirement costs: the optimum without it, beside the optimum with it.

Requirements that cost nothing are settled together: where dropping several at once
gains nothing, none of them costs anything. Where it gains, they are halved.
"""

from dataclasses import dataclass, field

from optibox.assess import Assessment
from optibox.criteria import AIMS, Criterion
from optibox.explain.asker import INFINITE, Asker, StoppedError
from optibox.explain.records import Price
from optibox.explain.requirements import Requirement, without_all
from optibox.scenario import Scenario

SAME_IN_TOLERANCES = 3.0
"""Differences up to which two optima are the same: three times the search's own
tolerance, since both may be off by it and ties go to fewer parts."""


@dataclass
class _Teller:
    """Settles what each requirement of one scenario costs."""

    asker: Asker
    scenario: Scenario
    aim: Criterion
    value: float
    prices: list[Price] = field(default_factory=list)
    left: list[Requirement] = field(default_factory=list)

    def gain(self, value: float) -> float:
        """Return by how much a value of the aim is better than that of all asked."""
        gain = self.aim.sign * (self.value - value)
        return gain if gain > SAME_IN_TOLERANCES * self.aim.tolerance else 0.0

    def settle(self, group: tuple[Requirement, ...], patience_s: float | None) -> None:
        """Find the price of each of some requirements."""
        words = " and ".join(r.key for r in group)
        eased = without_all(self.scenario, group)
        text = f"best without {words}"
        found = self.asker.best(eased, self.aim.aim, text, patience_s).assessment
        if found is None:
            msg = f"no machine without {words}, although there is one with it"
            raise AssertionError(msg)
        value = self.aim.value_of(found)
        gain = self.gain(value)
        if len(group) == 1:
            self.add(group[0], gain, value, found)
        elif gain <= 0:
            for requirement in group:
                self.add(requirement, 0.0, self.value, None)
        else:
            middle = len(group) // 2
            for part in (group[:middle], group[middle:]):
                self.attempt(part, patience_s)

    def attempt(self, group: tuple[Requirement, ...], patience_s: float | None) -> None:
        """Settle a group, or note what is known of it where the time is over."""
        try:
            self.settle(group, patience_s)
        except StoppedError as stopped:
            if len(group) == 1 and self.roughly(group[0], stopped.bound):
                return
            known = {price.requirement for price in self.prices}
            self.left += [r for r in group if r not in known and r not in self.left]

    def roughly(self, requirement: Requirement, bound: float) -> bool:
        """Note what a machine that is known saves at least; say whether there is one."""
        found = self.asker.closest(
            requirement.without(self.scenario),
            lambda machine: self.aim.sign * self.aim.value_of(machine),
        )
        if found is None or bound == -INFINITE or self.aim.is_maximised:
            return False
        value = self.aim.value_of(found)
        self.prices.append(
            Price(
                requirement=requirement,
                cost=self.gain(value),
                value=value,
                found=found,
                most=max(self.gain(bound), self.gain(value)),
            )
        )
        return True

    def add(
        self,
        requirement: Requirement,
        cost: float,
        value: float,
        found: Assessment | None,
    ) -> None:
        """Note a price."""
        self.prices.append(
            Price(requirement=requirement, cost=cost, value=value, found=found)
        )


def prices_of(
    asker: Asker,
    scenario: Scenario,
    requirements: tuple[Requirement, ...],
    found: Assessment,
) -> tuple[tuple[Price, ...], tuple[Requirement, ...]]:
    """Return what each requirement costs, the dearest first, and what stays open.

    Parameters
    ----------
    asker : Asker
        Asks the planner.
    scenario : Scenario
        All that is asked.
    requirements : tuple of Requirement
        Those to price.
    found : Assessment
        The proven best machine of the scenario.
    """
    aim = AIMS[scenario.choices.aim]
    teller = _Teller(asker=asker, scenario=scenario, aim=aim, value=aim.value_of(found))
    loose = tuple(r for r in requirements if not _binds(r, found))
    groups = [(r,) for r in requirements if r not in loose] + ([loose] if loose else [])
    for number, group in enumerate(groups):
        teller.attempt(group, asker.share(len(groups) - number))
    ordered = sorted(teller.prices, key=lambda p: (-p.cost, p.requirement.key))
    return tuple(ordered), tuple(teller.left)


def _binds(requirement: Requirement, found: Assessment) -> bool:
    """Return whether a machine only just keeps a requirement, or that cannot be seen.

    A guess at what will cost something, which decides the order of questions alone.
    """
    if requirement.criterion is None:
        return requirement.kind not in ("ban", "choice")
    return requirement.ratio(requirement.criterion.value_of(found)) > 1 - 0.03 and (
        abs(requirement.criterion.value_of(found) - (requirement.value or 0.0))
        <= 0.03 * (requirement.value or 0.0)
    )
