"""The least cost of what sits in a board's slots: cards, and risers for modules.

Each slot takes one thing that fits it. That some slots share lanes, or switch each other
off, is left out, so that the bound may fill them all.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import Card, Controller, NetworkCard, Riser
from optibox.catalog.notation import Slot
from optibox.catalog.platform import Board
from optibox.catalog.storage import SolidStateDrive
from optibox.machine.view import multiplier_leg
from optibox.model.draft import Berth, berths, fits, network_fits, riser_sockets
from optibox.model.offers import Offers
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.rules.demands import misses
from optibox.rules.lanes import (
    SOCKET_LANES,
    module_fits,
    module_fits_riser,
    module_mode,
)
from optibox.scenario import Scenario

Floats = npt.NDArray[np.float64]
INF = math.inf
MOST_PORTS = 32
"""More ports than any build asks of cards; beyond, the bound stays at this many."""
MOST_MODULES = 2
"""Modules of a cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is to sit in slots, or to hang on what does."""

    n_ports: int = 0
    gbit_s: float | None = None
    """Speed of a network card, where one is needed."""
    n_nvme: int = 0
    n_sata_modules: int = 0
    socket_mb_s: float = 0.0
    """What the socket of each module must carry."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that a slot may take: what it brings, and what it costs at least."""

    cost: float
    n_ports: int = 0
    n_nvme: int = 0
    n_sata: int = 0
    is_network: bool = False

    @property
    def kind(self) -> tuple[bool, bool, bool, bool]:
        """Return which of the things it brings."""
        return bool(self.n_ports), bool(self.n_nvme), bool(self.n_sata), self.is_network

    def replaces(self, other: "Choice") -> bool:
        """Return whether it brings no less of the same at no more cost."""
        return (
            self.kind == other.kind
            and self.cost <= other.cost
            and self.n_ports >= other.n_ports
            and self.n_nvme >= other.n_nvme
        )


@dataclass(frozen=True, kw_only=True)
class SlotTable:
    """Least cost of cards and risers on one board."""

    offers: Offers
    costs: Mapping[str, float]
    board: Board

    def least(self, wish: Wish, *, blockers: bool) -> float:
        """Return the least cost of all that is wished for; infinite if it has no room.

        ``blockers``: whether cards may be used that keep the processor from deep idle.
        """
        key = (wish.gbit_s, wish.socket_mb_s, blockers)
        if key not in self._tables:
            self._tables[key] = self._table(wish, blockers=blockers)
        n = min(MOST_PORTS, max(0, wish.n_ports))
        has_card = int(wish.gbit_s is not None)
        modules = wish.n_nvme, wish.n_sata_modules
        return float(self._tables[key][(*modules, has_card, n)])

    @cached_property
    def _tables(self) -> dict[tuple[float | None, float, bool], Floats]:
        return {}

    def _table(self, wish: Wish, *, blockers: bool) -> Floats:
        """Return costs by NVMe and SATA modules, network card and ports, at least.

        Shape (MOST_MODULES + 1, MOST_MODULES + 1, 2, MOST_PORTS + 1).
        """
        shape = (MOST_MODULES + 1, MOST_MODULES + 1, 2, MOST_PORTS + 1)
        best = np.full(shape, INF)
        best[0, 0, 0, 0] = 0.0
        for slot in self.board.slots:
            before = best.copy()
            for choice in self._choices(slot, wish, blockers=blockers):
                _take(best, before, choice)
        # what brings more than is asked for will do
        for axis in range(best.ndim):
            best = np.flip(np.minimum.accumulate(np.flip(best, axis), axis), axis)
        return best

    def _choices(self, slot: Slot, wish: Wish, *, blockers: bool) -> list[Choice]:
        """Return what a slot may take, without what something else replaces."""
        found = list(self._controllers(slot, blockers=blockers))
        found += self._modules(slot, wish.socket_mb_s)
        if wish.gbit_s is not None:
            found += self._networks(slot, wish.gbit_s, blockers=blockers)
        kept: list[Choice] = []
        for choice in sorted(found, key=lambda c: (c.cost, -c.n_ports, -c.n_nvme)):
            if not any(other.replaces(choice) for other in kept):
                kept.append(choice)
        return kept

    def _berths(self, slot: Slot) -> list[Berth]:
        return [place for place in self._places if place.slot.name == slot.name]

    @cached_property
    def _places(self) -> tuple[Berth, ...]:
        return berths(self.board)

    def _cards(self, record: type[Card], *, blockers: bool) -> Iterator[Item]:
        for item in self.offers.of(record):
            part = item.part
            if isinstance(part, Card) and (blockers or not part.is_deep_idle_blocker):
                yield item

    def _controllers(self, slot: Slot, *, blockers: bool) -> Iterator[Choice]:
        scenario, places = self.offers.scenario, self._berths(slot)
        for item in self._cards(Controller, blockers=blockers):
            part = item.part
            if isinstance(part, Controller) and any(fits(part, p) for p in places):
                n_ports = usable_ports(scenario, part)
                if n_ports:
                    yield Choice(self.costs[item.key], n_ports=n_ports)

    def _networks(
        self, slot: Slot, gbit_s: float, *, blockers: bool
    ) -> Iterator[Choice]:
        scenario, places = self.offers.scenario, self._berths(slot)
        for item in self._cards(NetworkCard, blockers=blockers):
            part = item.part
            if (
                isinstance(part, NetworkCard)
                and part.medium == scenario.needs.other_end_medium
                and part.network_gbit_s >= gbit_s
                and any(network_fits(part, place, scenario) for place in places)
            ):
                yield Choice(self.costs[item.key], is_network=True)

    def _modules(self, slot: Slot, socket_mb_s: float) -> Iterator[Choice]:
        """Yield modules in the slot itself, and risers that carry some."""
        modules = [item.part for item in self.offers.of(SolidStateDrive)]
        if self._carries(slot, slot.lanes, socket_mb_s):
            modes = {module_mode(m) for m in modules if module_fits(m, slot)}
            if "nvme" in modes:
                yield Choice(0.0, n_nvme=1)
            if "sata" in modes:
                yield Choice(0.0, n_sata=1)
        for item in self._cards(Riser, blockers=True):
            part = item.part
            if not isinstance(part, Riser):
                continue
            sockets = [
                riser_sockets(item, place)
                for place in self._berths(slot)
                if fits(part, place)
                and self._carries(
                    slot, min(place.lanes, part.socket_lanes), socket_mb_s
                )
            ]
            if any(sockets) and any(module_fits_riser(m, part) for m in modules):
                yield Choice(self.costs[item.key], n_nvme=max(sockets))

    def _carries(self, slot: Slot, lanes: int, socket_mb_s: float) -> bool:
        factor = self.offers.scenario.overrides.pcie.mid
        budget = pcie_planning_mb_s(slot.generation, min(lanes, SOCKET_LANES), factor)
        return not misses(budget, socket_mb_s)


def usable_ports(scenario: Scenario, part: Controller) -> int:
    """Return the ports of a controller that count, all if multipliers may be used."""
    if scenario.choices.allow_multipliers:
        return part.n_ports
    return sum(multiplier_leg(part, i) is None for i in range(part.n_ports))


def _take(best: Floats, before: Floats, choice: Choice) -> None:
    """Put one thing into one more slot wherever that is cheaper."""
    after = before + choice.cost
    if choice.n_ports:
        n = min(choice.n_ports, MOST_PORTS)
        np.minimum(best[..., n:], after[..., :-n], out=best[..., n:])
        last = after[..., -n:].min(axis=-1)
        np.minimum(best[..., -1], last, out=best[..., -1])
    elif choice.is_network:
        np.minimum(best[:, :, 1], after[:, :, 0], out=best[:, :, 1])
    else:
        n_nvme, n_sata = choice.n_nvme, choice.n_sata
        for a in range(MOST_MODULES + 1):
            to = min(MOST_MODULES, a + n_nvme)
            if n_nvme:
                np.minimum(best[to], after[a], out=best[to])
            else:
                into = min(MOST_MODULES, a + n_sata)
                np.minimum(best[:, into], after[:, a], out=best[:, into])
