"""The least cost of what sits in a board's slots: cards, and risers for modules.

Each slot takes one thing that fits it. That some slots share lanes, or switch each other
off, is left out, so that the bound may fill them all.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import Controller, NetworkCard, Riser
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
    network_mb_s: float = 0.0
    """What the slot of the network card must carry."""


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


Look = tuple[Slot, tuple[int, ...]]
"""A slot without its name, and the lanes that sharing can leave to it."""


def look_of(board: Board, slot: Slot) -> Look:
    """Return what decides what a slot takes."""
    lanes = tuple(b.lanes for b in berths(board) if b.slot.name == slot.name)
    return replace(slot, name=""), lanes


def _places(look: Look) -> list[Berth]:
    return [Berth(look[0], lanes) for lanes in look[1]]


class SlotFits:
    """Which items on offer go into which slots, whatever they cost."""

    def __init__(self, offers: Offers) -> None:
        self.offers = offers
        self._controllers: dict[Look, list[Item]] = {}
        self._network_cards: dict[tuple[Look, float], list[Item]] = {}
        self._sockets: dict[tuple[Look, float], list[tuple[str, int, int]]] = {}

    def controllers(self, look: Look) -> list[Item]:
        """Return the controllers that go into a slot."""
        if look not in self._controllers:
            self._controllers[look] = [
                item
                for item in self.offers.of(Controller)
                if any(fits(item.part, place) for place in _places(look))
            ]
        return self._controllers[look]

    def network_cards(self, look: Look, least_mb_s: float) -> list[Item]:
        """Return the network cards of the right plug that go into a slot as fast."""
        key, scenario = (look, least_mb_s), self.offers.scenario
        if key not in self._network_cards:
            self._network_cards[key] = [
                item
                for item in self.offers.of(NetworkCard)
                if isinstance(item.part, NetworkCard)
                and item.part.medium == scenario.needs.other_end_medium
                and any(
                    network_fits(item.part, place, scenario, least_mb_s)
                    for place in _places(look)
                )
            ]
        return self._network_cards[key]

    def modules(self, look: Look, socket_mb_s: float) -> list[tuple[str, int, int]]:
        """Return modules in a slot itself and risers in it, as it carries so much.

        Each is the riser's key, or none, with NVMe and SATA modules that it takes.
        """
        key = (look, socket_mb_s)
        if key not in self._sockets:
            self._sockets[key] = list(self._modules(*key))
        return self._sockets[key]

    def _modules(
        self, look: Look, socket_mb_s: float
    ) -> Iterator[tuple[str, int, int]]:
        slot, offers = look[0], self.offers
        modules = [item.part for item in offers.of(SolidStateDrive)]
        if self._carries(slot, slot.lanes, socket_mb_s):
            modes = {module_mode(m) for m in modules if module_fits(m, slot)}
            if "nvme" in modes:
                yield "", 1, 0
            if "sata" in modes:
                yield "", 0, 1
        for item in offers.of(Riser):
            part = item.part
            if not isinstance(part, Riser):
                continue
            sockets = [
                riser_sockets(item, place)
                for place in _places(look)
                if fits(part, place)
                and self._carries(
                    slot, min(place.lanes, part.socket_lanes), socket_mb_s
                )
            ]
            if any(sockets) and any(module_fits_riser(m, part) for m in modules):
                yield item.key, max(sockets), 0

    def _carries(self, slot: Slot, lanes: int, socket_mb_s: float) -> bool:
        factor = self.offers.scenario.overrides.pcie.mid
        budget = pcie_planning_mb_s(slot.generation, min(lanes, SOCKET_LANES), factor)
        return not misses(budget, socket_mb_s)


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
        return float(self._by_ports(wish, blockers=blockers)[_capped(wish.n_ports)])

    def with_controller(self, wish: Wish, ability: str, loss: float) -> float:
        """Return ``least`` with some controller among the cards that has an ability.

        That it takes a slot from the others is left out. ``loss`` is what a card costs
        that keeps the processor from deep idle.
        """
        able = [c for c in self.controllers if getattr(c.part, ability)]
        if not able:
            return INF
        by_ports = self._by_ports(wish, blockers=True)
        return min(
            self.costs[item.key]
            + (loss if item.part.is_deep_idle_blocker else 0.0)  # type: ignore[attr-defined]
            + float(by_ports[_capped(wish.n_ports - self.ports[item.key])])
            for item in able
        )

    @cached_property
    def controllers(self) -> list[Item]:
        """Return the controllers that have a place on the board."""
        found = {
            item.key: item
            for look in self._looks
            for item in self._fits.controllers(look)
        }
        return list(found.values())

    @cached_property
    def ports(self) -> dict[str, int]:
        """Return the ports of each of them that count."""
        scenario = self.offers.scenario
        return {
            item.key: usable_ports(scenario, item.part)
            for item in self.controllers
            if isinstance(item.part, Controller)
        }

    @cached_property
    def _fits(self) -> SlotFits:
        return self.offers.shared(SlotFits)

    @cached_property
    def _looks(self) -> list[Look]:
        return [look_of(self.board, slot) for slot in self.board.slots]

    def _by_ports(self, wish: Wish, *, blockers: bool) -> Floats:
        """Return the least cost of a wish by its ports."""
        key = (wish.gbit_s, wish.socket_mb_s, wish.network_mb_s, blockers)
        if key not in self._tables:
            self._tables[key] = self._table(wish, blockers=blockers)
        has_card = int(wish.gbit_s is not None)
        found: Floats = self._tables[key][wish.n_nvme, wish.n_sata_modules, has_card]
        return found

    @cached_property
    def _tables(self) -> dict[tuple[float | None, float, float, bool], Floats]:
        return {}

    def _table(self, wish: Wish, *, blockers: bool) -> Floats:
        """Return costs by NVMe and SATA modules, network card and ports, at least.

        Shape (MOST_MODULES + 1, MOST_MODULES + 1, 2, MOST_PORTS + 1).
        """
        shape = (MOST_MODULES + 1, MOST_MODULES + 1, 2, MOST_PORTS + 1)
        best = np.full(shape, INF)
        best[0, 0, 0, 0] = 0.0
        for look in self._looks:
            before = best.copy()
            for choice in self._choices(look, wish, blockers=blockers):
                _take(best, before, choice)
        # what brings more than is asked for will do
        for axis in range(best.ndim):
            best = np.flip(np.minimum.accumulate(np.flip(best, axis), axis), axis)
        return best

    def _choices(self, look: Look, wish: Wish, *, blockers: bool) -> list[Choice]:
        """Return what a slot may take, without what something else replaces."""
        found = [
            Choice(self.costs[key] if key else 0.0, n_nvme=n_nvme, n_sata=n_sata)
            for key, n_nvme, n_sata in self._fits.modules(look, wish.socket_mb_s)
        ]
        cards = self._fits.controllers(look)
        if wish.gbit_s is not None:
            fast = self._fits.network_cards(look, wish.network_mb_s)
            cards = cards + [c for c in fast if c.part.network_gbit_s >= wish.gbit_s]  # type: ignore[attr-defined]
        for item in cards:
            part, cost = item.part, self.costs[item.key]
            if part.is_deep_idle_blocker and not blockers:  # type: ignore[attr-defined]
                continue
            is_network = isinstance(part, NetworkCard)
            n_ports = 0 if is_network else self.ports[item.key]
            if is_network or n_ports:
                found.append(Choice(cost, n_ports=n_ports, is_network=is_network))
        kept: list[Choice] = []
        for choice in sorted(found, key=lambda c: (c.cost, -c.n_ports, -c.n_nvme)):
            if not any(other.replaces(choice) for other in kept):
                kept.append(choice)
        return kept


def _capped(n_ports: int) -> int:
    return min(MOST_PORTS, max(0, n_ports))


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
