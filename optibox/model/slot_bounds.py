"""The least cost of what sits in a board's slots: cards, and risers for modules.

Each slot takes one thing that fits it. That some slots share lanes, or switch each other
off, is left out, so that the bound may fill them all.
"""

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import (
    Card,
    Controller,
    DisplayCard,
    NetworkCard,
    Riser,
)
from optibox.catalog.columns import Part
from optibox.catalog.notation import Slot
from optibox.catalog.platform import Board
from optibox.catalog.storage import SolidStateDrive
from optibox.figures.power import is_blocker
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
Ints = npt.NDArray[np.intp]
INF = math.inf
MOST_PORTS = 32
"""More ports than any build asks of cards; beyond, the bound stays at this many."""
MOST_MODULES = 2
"""Modules of a cache."""


Forced = tuple[Item | None, ...]
"""Items one piece of which is in a build: a bound for each, and for nothing forced."""
NOTHING: Forced = (None,)


def keys_of(forced: Forced) -> tuple[str, ...]:
    """Return the keys of forced items, empty for nothing."""
    return tuple("" if item is None else item.key for item in forced)


SHOWS = "shows"
"""The ability of every display card."""
ABILITIES = ("has_staggered_spin_up", "speaks_sas", SHOWS, "is_management")
"""What may be asked of some card, by the column that says so."""
N_TOLD = 3
"""So many of them are told apart in every table; the last only where it is asked."""


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
    abilities: frozenset[str] = frozenset()
    """Of ``ABILITIES``, each of some card; ``SHOWS`` is that of any display card."""


Shape = tuple[int, int, int, int, int]
Brings = tuple[int, int, int, int, int]
"""Bits of abilities, NVMe and SATA modules, network cards, ports."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that a slot may take: what it brings, and what it costs at least."""

    cost: float
    n_ports: int = 0
    n_nvme: int = 0
    n_sata: int = 0
    is_network: bool = False
    abilities: int = 0
    """Bits of the abilities that it has, in the order of ``ABILITIES``."""

    @property
    def brings(self) -> Brings:
        """Return what it brings, in the order of a table's axes."""
        n_network = int(self.is_network)
        return self.abilities, self.n_nvme, self.n_sata, n_network, self.n_ports

    def replaces(self, other: "Choice") -> bool:
        """Return whether it brings no less of the same at no more cost."""
        return (
            self.cost <= other.cost
            and all(
                a >= b for a, b in zip(self.brings[1:], other.brings[1:], strict=True)
            )
            and other.abilities & ~self.abilities == 0
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
        self._cards: dict[Look, frozenset[str]] = {}
        self._network_cards: dict[tuple[Look, float], frozenset[str]] = {}
        self._sockets: dict[tuple[Look, float], list[tuple[str, int, int]]] = {}

    def cards(self, look: Look) -> frozenset[str]:
        """Return the keys of the cards that go into a slot, of any kind."""
        if look not in self._cards:
            self._cards[look] = frozenset(
                item.key
                for item in self.offers.of(*CARDS)
                if any(fits(item.part, place) for place in _places(look))
            )
        return self._cards[look]

    def network_cards(self, look: Look, least_mb_s: float) -> frozenset[str]:
        """Return the keys of network cards of the right plug that a slot carries."""
        key, scenario = (look, least_mb_s), self.offers.scenario
        if key not in self._network_cards:
            self._network_cards[key] = frozenset(
                item.key
                for item in self.offers.of(NetworkCard)
                if isinstance(item.part, NetworkCard)
                and item.part.medium == scenario.needs.other_end_medium
                and any(
                    network_fits(item.part, place, scenario, least_mb_s)
                    for place in _places(look)
                )
            )
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Deck:
    """What slots may take, and what it costs at least."""

    offers: Offers
    costs: Mapping[str, float]

    @cached_property
    def _fits(self) -> SlotFits:
        return self.offers.shared(SlotFits)

    @cached_property
    def _known(self) -> dict[object, list[Choice]]:
        return {}

    def choices(self, look: Look, wish: Wish, *, blockers: bool) -> list[Choice]:
        """Return what a slot may take, without what something else replaces."""
        asked = wish.gbit_s, wish.socket_mb_s, wish.network_mb_s
        key = (look, asked, blockers)
        if key not in self._known:
            found = [
                Choice(0.0, n_nvme=n_nvme, n_sata=n_sata)
                for riser, n_nvme, n_sata in self._fits.modules(look, wish.socket_mb_s)
                if not riser
            ]
            for item in self.offers.of(*CARDS):
                cards = self.of_card(item, look, wish, blockers=blockers)
                found += [choice for choice in cards if any(choice.brings)]
            self._known[key] = _best_of(found)
        return self._known[key]

    def _of_item(self, item: Item) -> Choice:
        """Return what a card brings wherever it sits."""
        if item.key not in self._items:
            part, n_ports = item.part, 0
            if isinstance(part, Controller):
                n_ports = usable_ports(self.offers.scenario, part)
            self._items[item.key] = Choice(
                self.costs[item.key], n_ports=n_ports, abilities=_bits(_able(part))
            )
        return self._items[item.key]

    @cached_property
    def _items(self) -> dict[str, Choice]:
        return {}

    def of_card(
        self, item: Item, look: Look, wish: Wish, *, blockers: bool
    ) -> Iterator[Choice]:
        """Yield what a card in a slot may bring, as far as it is wished for."""
        fit = self._fits
        if item.key not in fit.cards(look):
            return
        part, plain = item.part, self._of_item(item)
        if is_blocker(part) and not blockers:
            return
        if isinstance(part, Riser):
            yield plain
            for key, n_nvme, n_sata in fit.modules(look, wish.socket_mb_s):
                if key == item.key:
                    yield replace(plain, n_nvme=n_nvme, n_sata=n_sata)
        elif not isinstance(part, NetworkCard) or wish.gbit_s is None:
            yield plain
        elif part.network_gbit_s >= wish.gbit_s and item.key in fit.network_cards(
            look, wish.network_mb_s
        ):
            # a build has one network card: one that is too slow keeps the others out
            yield replace(plain, is_network=True)


def _best_of(choices: list[Choice]) -> list[Choice]:
    """Return the choices that no other replaces."""
    kept: list[Choice] = []
    for choice in sorted(choices, key=lambda c: (c.cost, *(-n for n in c.brings))):
        if not any(other.replaces(choice) for other in kept):
            kept.append(choice)
    return kept


@dataclass(frozen=True, kw_only=True, eq=False)
class SlotTable:
    """Least cost of cards and risers on one board."""

    deck: Deck
    board: Board

    def least(self, wish: Wish, *, blockers: bool, forced: Forced = NOTHING) -> Floats:
        """Return the least cost of all that is wished for; infinite if it has no room.

        ``blockers``: whether cards may be used that keep the processor from deep idle.
        Shape (n_forced,): with a card of each forced item in a slot, which brings what
        it brings and takes what it takes; with nothing of its own where that is no card.
        """
        cards = tuple(i for i in forced if i is not None and isinstance(i.part, Card))
        plain = self._plain(wish, blockers=blockers)
        if not cards:
            return np.full(len(forced), plain)
        capped = replace(wish, n_ports=_capped(wish.n_ports))
        with_card = self._table(capped, cards, blockers=blockers)[1:]
        own = iter(with_card[:, _bits(wish.abilities), -1, -1, -1, -1])
        is_card = (i is not None and isinstance(i.part, Card) for i in forced)
        return np.array([float(next(own)) if is_one else plain for is_one in is_card])

    @cached_property
    def _looks(self) -> list[Look]:
        return [look_of(self.board, slot) for slot in self.board.slots]

    def _plain(self, wish: Wish, *, blockers: bool) -> float:
        """Return the least cost of a wish, from a table of all wishes of its sort."""
        bits = _bits(wish.abilities)
        key = (
            wish.gbit_s,
            wish.socket_mb_s,
            wish.network_mb_s,
            bits >> N_TOLD,
            blockers,
        )
        if key not in self._tables:
            any_number = replace(
                wish,
                n_ports=MOST_PORTS,
                n_nvme=MOST_MODULES,
                n_sata_modules=MOST_MODULES,
            )
            self._tables[key] = self._table(any_number, (), blockers=blockers)[0]
        place = bits, wish.n_nvme, wish.n_sata_modules, int(wish.gbit_s is not None)
        return float(self._tables[key][*place, _capped(wish.n_ports)])

    @cached_property
    def _tables(self) -> dict[tuple[object, ...], Floats]:
        return {}

    def _table(self, most: Wish, forced: tuple[Item, ...], *, blockers: bool) -> Floats:
        """Return the least cost of so much or more, up to what is wished for at most.

        Shape (1 + n_forced, n_abilities, n_nvme + 1, n_sata + 1, 1 or 2, n_ports + 1):
        first without, then with each forced card.
        """
        is_asked = bool(_bits(most.abilities) >> N_TOLD)
        shape = (
            1 << (len(ABILITIES) if is_asked else N_TOLD),
            most.n_nvme + 1,
            most.n_sata_modules + 1,
            1 if most.gbit_s is None else 2,
            most.n_ports + 1,
        )
        best = np.full((1 + len(forced), math.prod(shape)), INF)
        best[0, 0] = 0.0
        for look in self._looks:
            before = best.copy()
            choices = self.deck.choices(look, most, blockers=blockers)
            if choices:
                np.minimum(best, _with_one(before, choices, shape), out=best)
            for place, item in enumerate(forced, 1):
                own = list(self.deck.of_card(item, look, most, blockers=blockers))
                if own:
                    row = best[place : place + 1]
                    np.minimum(row, _with_one(before[:1], own, shape), out=row)
        return best.reshape(1 + len(forced), *shape)


def _with_one(before: Floats, choices: list[Choice], shape: Shape) -> Floats:
    """Return the least cost of so much or more with one of some things beside the rest.

    Parameters
    ----------
    before : array, shape (n, n_states)
        The least cost without it.
    choices : list of Choice
        What may be added.
    shape : tuple of int
        Of the states: how much of everything is there.
    """
    rest = np.stack([_rest(choice.brings, shape) for choice in choices])
    costs = np.array([choice.cost for choice in choices])
    least: Floats = (before[:, rest] + costs[:, None]).min(axis=1)
    return least


@lru_cache(maxsize=4096)
def _rest(brings: Brings, shape: Shape) -> Ints:
    """Return the state that is left to reach, for each state, where a thing is there."""
    has, *counts = np.indices(shape)
    left = [has & ~brings[0]]
    left += [
        np.maximum(0, n - more) for n, more in zip(counts, brings[1:], strict=True)
    ]
    found: Ints = np.ravel_multi_index(tuple(left), shape).ravel()
    return found


CARDS = (Controller, NetworkCard, Riser, DisplayCard)


def _able(part: Part) -> frozenset[str]:
    """Return the abilities of a card."""
    found = {name for name in ABILITIES if getattr(part, name, False)}
    return frozenset(found | ({SHOWS} if isinstance(part, DisplayCard) else set()))


def _bits(abilities: Collection[str]) -> int:
    return sum(1 << place for place, name in enumerate(ABILITIES) if name in abilities)


def _capped(n_ports: int) -> int:
    return min(MOST_PORTS, max(0, n_ports))


def usable_ports(scenario: Scenario, part: Controller) -> int:
    """Return the ports of a controller that count, all if multipliers may be used."""
    if scenario.choices.allow_multipliers:
        return part.n_ports
    return sum(multiplier_leg(part, i) is None for i in range(part.n_ports))
