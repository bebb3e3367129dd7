"""What all questions about one scenario stand on: offers, and bounds by weights.

A question may ask for more than the scenario does: a faster ingest, say. What bounds
the scenario bounds the question too, so that bounds are made once for all of them.
"""

from dataclasses import dataclass
from functools import cached_property

from optibox.catalog.catalog import Catalog
from optibox.figures.year import day_use
from optibox.model.aims import Weights
from optibox.model.gauge import Gauge, aim_watt_weight
from optibox.model.menu import Storage
from optibox.model.offers import Offers, offers_of
from optibox.physics.operation import DayUse
from optibox.scenario import Scenario


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """Offers and gauges for a scenario and all that ask for the same or for more."""

    catalog: Catalog
    scenario: Scenario

    @cached_property
    def offers(self) -> Offers:
        """Return the items on offer."""
        return offers_of(self.catalog, self.scenario)

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

    def kindest(self, scenario: Scenario, storage: Storage) -> Scenario:
        """Return the scenario by which an array of a question is bounded.

        Where a cache takes the bursts in, the drives do not see how fast they come.
        """
        asked, mine = scenario.needs, self.scenario.needs
        same = asked.write_mb_s == mine.write_mb_s and asked.read_mb_s == mine.read_mb_s
        is_hidden = storage.cache != "none" or asked.ingest_mb_s == mine.ingest_mb_s
        return self.scenario if same and is_hidden else scenario
