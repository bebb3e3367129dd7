"""What all questions about one scenario stand on: offers, and bounds by weights.

A question may ask for more than the scenario does: a faster ingest, say. What bounds
the scenario bounds the question too, so that bounds are made once for all of them.
"""

from dataclasses import dataclass
from functools import cached_property

from optibox.build import Item
from optibox.catalog.catalog import Catalog
from optibox.catalog.platform import Board
from optibox.criteria import Weights
from optibox.figures.year import day_use
from optibox.model.gauge import Gauge, aim_watt_weight
from optibox.model.menu import Entry, Pace, Storage
from optibox.model.offers import Offers, offers_of
from optibox.model.pace import pace_of_leaf
from optibox.physics.operation import DayUse
from optibox.scenario import Scenario


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """Offers and gauges for a scenario and all that ask for the same or for more."""

    catalog: Catalog
    scenario: Scenario
    prunes: bool = True
    """Whether items that others beat are left out; off in tests."""

    @cached_property
    def offers(self) -> Offers:
        """Return the items on offer."""
        offers = offers_of(self.catalog, self.scenario)
        return offers.without_beaten if self.prunes else offers

    @cached_property
    def use(self) -> DayUse:
        """Return the usage as plain numbers."""
        usage = self.scenario.usage
        return day_use(self.scenario, usage.flush_hour, usage.checks_per_year)

    def gauge(self, weights: Weights) -> Gauge:
        """Return the bounds of a measure."""
        if weights not in self._gauges:
            self._gauges[weights] = Gauge(
                offers=self.offers,
                weights=weights,
                watt_weight=aim_watt_weight(weights, self.use.prices),
            )
        return self._gauges[weights]

    @cached_property
    def _gauges(self) -> dict[Weights, Gauge]:
        return {}

    def pace_of(self, entry: Entry, board: Item) -> Pace:
        """Return an entry's pace with the slow ends that a board allows.

        Neither cache nor timeout matter.
        """
        storage = entry.storage.always_on
        key = (storage, entry.pace, entry.scenario.needs.rates, board.key)
        if key not in self._paces:
            part, items = board.part_as(Board), self.offers.by_kind
            self._paces[key] = pace_of_leaf(entry, part, items)
        return self._paces[key]

    @cached_property
    def _paces(self) -> dict[object, Pace]:
        return {}

    def kindest(self, scenario: Scenario, storage: Storage) -> Scenario:
        """Return the scenario by which an array of a question is bounded.

        Where a cache takes the bursts in, the drives do not see how fast they come.
        """
        asked, mine = scenario.needs.rates, self.scenario.needs.rates
        is_hidden = storage.cache != "none" or asked[0] == mine[0]
        return self.scenario if is_hidden and asked[1:] == mine[1:] else scenario
