"""Rates that links and processors on offer carry: what is asked counts in these steps.

Whether a slot or a processor carries a rate that lies between two steps is the same as
for the upper one, so that questions which differ by less share their bounds.
"""

import math
from itertools import product

from optibox.catalog.attachment import Card, Riser
from optibox.catalog.platform import Board, Processor
from optibox.figures.stages import processor_mb_s
from optibox.model.draft import berths
from optibox.model.offers import Offers
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.rules.demands import misses
from optibox.rules.lanes import SOCKET_LANES


class RateSteps:
    """The steps of one offer."""

    def __init__(self, offers: Offers) -> None:
        self._rates = sorted(_link_rates(offers) | _processor_rates(offers))

    def up(self, asked_mb_s: float) -> float:
        """Return the least step that carries a rate; infinite if none does. [MB/s]."""
        if asked_mb_s <= 0:
            return 0.0
        carry = (rate for rate in self._rates if not misses(rate, asked_mb_s))
        return next(carry, math.inf)


def _link_rates(offers: Offers) -> set[float]:
    parts = [item.part for item in offers.items]
    cards = [part for part in parts if isinstance(part, Card)]
    places = [b.view for p in parts if isinstance(p, Board) for b in berths(p)]
    generations = {c.generation for c in cards} | {p.generation for p in places}
    widths = {c.lanes for c in cards} | {p.lanes for p in places} | {SOCKET_LANES}
    widths |= {p.socket_lanes for p in parts if isinstance(p, Riser)}
    factor = offers.scenario.overrides.pcie.mid
    return {
        pcie_planning_mb_s(generation, lanes, factor)
        for generation, lanes in product(generations, widths)
    }


def _processor_rates(offers: Offers) -> set[float]:
    needs = offers.scenario.needs
    return {
        processor_mb_s(item.part, needs, has_network=True, has_parity=False)
        for item in offers.items
        if isinstance(item.part, Processor)
        or (isinstance(item.part, Board) and item.part.has_soldered_processor)
    }
