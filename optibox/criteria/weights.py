"""Weights: what a purchase, a watt in a state, a wake is worth to a measure."""

from dataclasses import dataclass, fields, replace

from optibox.build import Item
from optibox.catalog.storage import HardDrive
from optibox.figures.money import replacement_rate, wear_per_wake
from optibox.figures.terms import TERMS
from optibox.scenario import Money

PART_PRICE = 1e-4
"""What each bought piece adds to the aim: a hundredth of a minor unit, so that of
builds within one minor unit of each other the one with fewer bought parts wins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """The aim's unit per unit of each term.

    A minimised aim is ``purchase * purchase + energy + wear * wear + ...`` where
    energy is the sum over states of the state's weight times its watts at the wall.
    """

    purchase: float = 0.0
    money_energy: float = 0.0
    """Weight of a year's energy money."""
    kwh: float = 0.0
    """Weight of a year's kWh."""
    asleep_w: float = 0.0
    """Weight of the wall watts asleep."""
    spinning_w: float = 0.0
    """Weight of the wall watts spinning."""
    wear: float = 0.0
    """Weight of a year's wear."""
    cache_wear: float = 0.0
    replacements: float = 0.0
    part: float = PART_PRICE

    @property
    def counts_hours(self) -> bool:
        """Return whether anything depends on how long drives spin, or how often."""
        return bool(self.money_energy or self.kwh or self.wear)

    def plus(self, other: "Weights", factor: float) -> "Weights":
        """Return these weights and ``factor`` times others."""
        return Weights(
            **{
                f.name: getattr(self, f.name) + factor * getattr(other, f.name)
                for f in fields(self)
            }
        )

    def piece(self, item: Item) -> float:
        """Return what one piece adds beside its price and watts."""
        failures = self.replacements * replacement_rate(item.part)
        bought = 0.0 if item.is_owned else self.part
        return failures * item.replacement_price + bought

    def price(self, item: Item) -> float:
        """Return the least that one piece's purchase can add."""
        return self.purchase * item.pack_price / item.part.pack

    def wake(self, item: Item) -> float:
        """Return what one wake a year of one drive adds."""
        if not isinstance(item.part, HardDrive):
            return 0.0
        return self.wear * wear_per_wake(item.part, item.replacement_price)


RUNNING = Weights(money_energy=1.0, wear=1.0, cache_wear=1.0, part=0.0)
"""Energy and wear in the first year."""

_FIELDS = {"energy": "money_energy"}
"""Fields of weights that are not named like the amount they weigh."""


def total_cost_weights(money: Money) -> Weights:
    """Return the weights of the cost over the years."""
    weights = Weights()
    for term in TERMS:
        if term.name in money.terms:
            name = _FIELDS.get(term.amount, term.amount)
            times = getattr(weights, name) + term.times(money)
            weights = replace(weights, **{name: times})
    return weights


def without_ties(weights: Weights) -> Weights:
    """Return the weights without the price of a part that breaks ties."""
    return replace(weights, part=0.0)
