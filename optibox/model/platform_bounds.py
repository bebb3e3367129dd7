"""The least that everything but the array's drives can cost, kind by kind.

Kinds are bounded one by one, slot conflicts ignored: the sum is a lower bound, and an
item whose own cost lifts it above a known build is in no better build.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from optibox.build import Item
from optibox.catalog.attachment import (
    Card,
    Controller,
    NetworkCard,
    NetworkLead,
)
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import (
    Board,
    Memory,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium
from optibox.machine.view import multiplier_leg
from optibox.model.aims import Weights
from optibox.model.draft import berths, fits
from optibox.model.offers import Offers
from optibox.rules.platform import module_suits

INF = float("inf")
MOST_PORTS = 32
"""More ports than any build asks of cards; beyond, the bound stays at this many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What an entry wants of the platform."""

    n_ports: int
    """Drives on data cables; a boot medium may add one more."""
    n_bays: int
    """Drives that sit in bays."""
    network_gbit_s: float


@dataclass(frozen=True, kw_only=True)
class Platforms:
    """Bounds for every board of an offer under one set of weights."""

    offers: Offers
    weights: Weights
    watt_weight: float

    @cached_property
    def slope(self) -> float:
        """Return the least factor between a watt at the parts and at the wall."""
        losses = [
            s.part.loss_share.mid
            for s in self.offers.of(PowerSupply)
            if isinstance(s.part, PowerSupply)
        ]
        return 1.0 + min(losses, default=0.0)

    @property
    def floor_watt(self) -> float:
        """Return what a watt at the parts throughout the year is worth at least."""
        return self.watt_weight * self.slope

    @cached_property
    def in_boxes(self) -> dict[str, int]:
        """Return what boxes can bring at most, per box, by key."""
        found: dict[str, int] = {}
        for item in self.offers.items:
            for key, count in box_from_text(item.part.comes_with).items():
                found[key] = max(found.get(key, 0), count)
        return found

    def cost(self, item: Item) -> float:
        """Return what one piece of an item adds to the aim at least."""
        price = 0.0 if item.key in self.in_boxes else self.weights.price(item)
        watts = self.watt_weight * self.slope * item.part.idle_dc_w
        return price + self.weights.piece(item) + watts

    @cached_property
    def costs(self) -> dict[str, float]:
        """Return the cost of every item by key."""
        return {item.key: self.cost(item) for item in self.offers.items}

    def least(
        self, record: type[Part], accept: Callable[[Part], bool] | None = None
    ) -> float:
        """Return the least cost of one piece of a kind that passes a test."""
        return min(
            (
                self.costs[item.key]
                for item in self.offers.of(record)
                if accept is None or accept(item.part)
            ),
            default=INF,
        )

    def processors(self, board: Board) -> list[Item]:
        """Return the processors that suit a board."""
        limit = board.processor_tdp_max_w
        return [
            item
            for item in self.offers.of(Processor)
            if isinstance(item.part, Processor)
            and item.part.socket == board.socket
            and (limit is None or item.part.tdp_w.mid <= limit.mid)
        ]

    def modules(self, board: Board) -> list[tuple[Item, int]]:
        """Return the memory modules that suit a board with their whole GiB."""
        return [
            (item, int(-(-item.part.gib // 1)))
            for item in self.offers.of(Memory)
            if isinstance(item.part, Memory) and module_suits(item.part, board)
        ]

    def memory(self, board: Board) -> list[float]:
        """Return the least cost of at least g GiB of memory, g from 0 to the need."""
        key = (
            board.memory_type,
            board.memory_form,
            board.takes_registered,
            board.module_max_gib,
        )
        if key not in self._memory:
            need = max(1, int(-(-self.offers.scenario.needs.memory_gib // 1)))
            best = [0.0] + [INF] * need
            for size in range(1, need + 1):
                for item, gib in self.modules(board):
                    ahead = best[max(0, size - gib)]
                    best[size] = min(best[size], ahead + self.costs[item.key])
            self._memory[key] = best
        return self._memory[key]

    @cached_property
    def _memory(self) -> dict[object, list[float]]:
        return {}

    def supplies(self, board: Board) -> list[Item]:
        """Return the supplies that suit a board."""
        return [
            item
            for item in self.offers.of(PowerSupply)
            if isinstance(item.part, PowerSupply)
            and item.part.power_plug == board.power_inlet
            and (
                item.part.power_plug == "dc"
                or item.part.cpu_power_plugs >= board.cpu_power_plugs
            )
        ]

    @cached_property
    def clean_plug(self) -> float:
        """Return the least cost of one more SATA power plug without 3.3 V."""
        options = [
            0.0
            if item.is_owned or item.key in self.in_boxes
            else (self.weights.price(item) + self.weights.piece(item))
            / item.part.fan_out
            for item in self.offers.of(PowerLead)
            if isinstance(item.part, PowerLead)
            and item.part.gives_plug == "sata"
            and not item.part.carries_3v3
        ]
        return min(options, default=1e6)

    @cached_property
    def boot(self) -> float:
        """Return the least cost of a boot medium."""
        return self.least(BootMedium)

    def lead(self, gbit_s: float) -> float:
        """Return the least cost of a network lead of a speed."""
        medium = self.offers.scenario.needs.other_end_medium
        return self.least(
            NetworkLead,
            lambda p: (
                isinstance(p, NetworkLead)
                and p.medium == medium
                and p.network_gbit_s >= gbit_s
            ),
        )

    def network_suffices(self, board: Board, gbit_s: float) -> bool:
        """Return whether the board's own port reaches a speed at the other end's plug."""
        medium = self.offers.scenario.needs.other_end_medium
        return (
            board.network_medium == medium and (board.network_gbit_s or 0.0) >= gbit_s
        )

    def native_ports(self, part: Controller) -> int:
        """Return the ports of a controller that count, all if multipliers may be used."""
        if part.id not in self._native_ports:
            self._native_ports[part.id] = self._ports_of(part)
        return self._native_ports[part.id]

    @cached_property
    def _native_ports(self) -> dict[str, int]:
        return {}

    def _ports_of(self, part: Controller) -> int:
        if self.offers.scenario.choices.allow_multipliers:
            return part.n_ports
        return sum(multiplier_leg(part, i) is None for i in range(part.n_ports))

    def card_table(self, board: Board) -> "CardTable":
        """Return the least cost of cards on a board, by ports and number of cards."""
        key = board.id
        if key not in self._card_tables:
            self._card_tables[key] = self._make_card_table(board)
        return self._card_tables[key]

    @cached_property
    def _card_tables(self) -> dict[str, "CardTable"]:
        return {}

    def _make_card_table(self, board: Board) -> "CardTable":
        places = berths(board)
        options = [
            (self.native_ports(i.part), self.costs[i.key], i.part.is_deep_idle_blocker)
            for i in self.controllers(board)
            if isinstance(i.part, Controller)
        ]
        medium = self.offers.scenario.needs.other_end_medium
        networks = [
            (i.part.network_gbit_s, self.costs[i.key], i.part.is_deep_idle_blocker)
            for i in self.offers.of(NetworkCard)
            if isinstance(i.part, NetworkCard)
            and i.part.medium == medium
            and any(fits(i.part, p) for p in places)
        ]
        slots = len({p.slot.name for p in places})
        ports = {
            blockers: _port_table(
                [(n, c) for n, c, b in options if n and (blockers or not b)], slots
            )
            for blockers in (False, True)
        }
        return CardTable(ports=ports, networks=networks, n_slots=slots)

    def cards(self, board: Board, wants: Wants) -> float:
        """Return the least cost of controllers and network card, deep idle included."""
        missing = wants.n_ports - board.sata_ports
        has_network = self.network_suffices(board, wants.network_gbit_s)
        if missing <= 0 and has_network:
            return 0.0
        table = self.card_table(board)
        loss = self.watt_weight * self.slope * board.deep_idle_loss_w.mid
        gbit_s = None if has_network else wants.network_gbit_s
        return min(
            table.least(missing, gbit_s, blockers=False),
            table.least(missing, gbit_s, blockers=True) + loss,
        )

    def card_floor(self, item: Item, board: Board, wants: Wants) -> float:
        """Return the least cost of all cards where one of an item is among them."""
        part, own = item.part, self.costs[item.key]
        table = self.card_table(board)
        if isinstance(part, Card) and part.is_deep_idle_blocker:
            own += self.watt_weight * self.slope * board.deep_idle_loss_w.mid
        missing = wants.n_ports - board.sata_ports
        if isinstance(part, Controller):
            missing -= self.native_ports(part)
        has_network = self.network_suffices(board, wants.network_gbit_s)
        is_network = isinstance(part, NetworkCard)
        gbit_s = None if has_network or is_network else wants.network_gbit_s
        return own + table.least(missing, gbit_s, blockers=True)

    def with_controller(
        self, board: Board, wants: Wants, accept: Callable[[Controller], bool]
    ) -> float:
        """Return the least cost of all cards with some controller among them."""
        return min(
            (
                self.card_floor(item, board, wants)
                for item in self.controllers(board)
                if isinstance(item.part, Controller) and accept(item.part)
            ),
            default=INF,
        )

    def controllers(self, board: Board) -> list[Item]:
        """Return the controllers that have a place on a board."""
        if board.id not in self._controllers:
            places = berths(board)
            self._controllers[board.id] = [
                item
                for item in self.offers.of(Controller)
                if isinstance(item.part, Controller)
                and any(fits(item.part, place) for place in places)
            ]
        return self._controllers[board.id]

    @cached_property
    def _controllers(self) -> dict[str, list[Item]]:
        return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class CardTable:
    """Least cost of cards on one board."""

    ports: dict[bool, list[list[float]]]
    """By whether deep-idle blockers may be used, number of cards, ports."""
    networks: list[tuple[float, float, bool]]
    """Speed, cost and whether it blocks deep idle, of each network card that fits."""
    n_slots: int

    def least(self, n_ports: int, gbit_s: float | None, *, blockers: bool) -> float:
        """Return the least cost of ports and, where a speed is given, a network card."""
        network, left = 0.0, self.n_slots
        if gbit_s is not None:
            left -= 1
            network = min(
                (
                    cost
                    for speed, cost, blocks in self.networks
                    if speed >= gbit_s and (blockers or not blocks)
                ),
                default=INF,
            )
        if left < 0:
            return INF
        return network + self.ports[blockers][left][min(MOST_PORTS, max(0, n_ports))]


def _port_table(options: list[tuple[int, float]], n_cards: int) -> list[list[float]]:
    """Return the least cost of n ports on at most k cards, shape (k+1, ports+1)."""
    table = [[0.0] + [INF] * MOST_PORTS]
    for _ in range(n_cards):
        before, row = table[-1], list(table[-1])
        for size in range(1, MOST_PORTS + 1):
            for ports, cost in options:
                row[size] = min(row[size], before[max(0, size - ports)] + cost)
        table.append(row)
    return table
