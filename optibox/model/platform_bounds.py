"""The least that everything but the array's drives can cost, kind by kind.

Kinds are bounded one by one, slot conflicts ignored: the sum is a lower bound, and an
item whose own cost lifts it above a known build is in no better build.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from optibox.build import Item
from optibox.catalog.attachment import (
    Card,
    Controller,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.columns import Part
from optibox.catalog.platform import (
    Board,
    Chassis,
    Memory,
    MountingPlate,
    PowerLead,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, DriveAdapter
from optibox.criteria import Weights
from optibox.figures.stages import processor_mb_s
from optibox.model.offers import Offers
from optibox.model.slot_bounds import SlotTable, Wish, usable_ports
from optibox.rules.demands import misses
from optibox.rules.platform import module_suits

INF = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What an entry wants of the platform."""

    n_ports: int
    """Drives on data cables; a boot medium may add one more."""
    n_bays: int
    """Drives that sit in bays."""
    network_gbit_s: float
    n_nvme: int = 0
    """Cache modules that speak NVMe: in sockets of the board or on risers."""
    n_sata_modules: int = 0
    """Cache modules that speak SATA: in sockets of the board."""
    socket_mb_s: float = 0.0
    """What each of their sockets must carry."""
    network_mb_s: float = 0.0
    """What must go over the network: through the card's slot, and the processor."""


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

    @property
    def in_boxes(self) -> dict[str, int]:
        """Return what boxes can bring at most, per box, by key."""
        return self.offers.in_boxes

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

    def least_of(self, record: type[Part], figure: Callable[[Part], float]) -> float:
        """Return the least of a figure among the parts of a kind, 0 if there is none."""
        return min((figure(i.part) for i in self.offers.of(record)), default=0.0)

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

    def keeps_up(self, part: Board | Processor, least_mb_s: float) -> bool:
        """Return whether a processor, or the board it is soldered to, is fast enough."""
        needs = self.offers.scenario.needs
        most = processor_mb_s(part, needs, has_network=True, has_parity=False)
        return not misses(most, least_mb_s)

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

    def plate_cost(self, chassis: Chassis, supply: PowerSupply) -> float:
        """Return the least cost of a plate that fits a supply; infinite if none does."""
        key = (chassis.supply_forms, supply.form)
        if key not in self._plate_costs:
            needs_none = supply.form == "brick" or supply.form in chassis.supply_forms
            plates = (
                self.costs[i.key]
                for i in self.offers.of(MountingPlate)
                if isinstance(i.part, MountingPlate)
                and i.part.supply_form == supply.form
                and i.part.opening_form in chassis.supply_forms
            )
            self._plate_costs[key] = 0.0 if needs_none else min(plates, default=INF)
        return self._plate_costs[key]

    @cached_property
    def _plate_costs(self) -> dict[object, float]:
        return {}

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
    def bay_heights_mm(self) -> tuple[float, ...]:
        """Return the heights that 2.5 inch bays of chassis on offer take. [mm].

        The last one takes all.
        """
        parts = [i.part_as(Chassis) for i in self.offers.of(Chassis)]
        heights = {part.bay_25_height_mm for part in parts if part.bays_25}
        return (*sorted(heights), INF)

    def adapter_price(self, height_mm: float = 0.0) -> float:
        """Return the least price of an adapter that takes a drive of some height."""
        return min(
            (
                0.0
                if i.is_owned or i.key in self.in_boxes
                else self.weights.price(i) + self.weights.piece(i)
                for i in self.offers.of(DriveAdapter)
                if i.part_as(DriveAdapter).max_height_mm >= height_mm
            ),
            default=INF,
        )

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

    def slots(self, board: Board) -> SlotTable:
        """Return the least cost of what sits in a board's slots."""
        if board.id not in self._slots:
            self._slots[board.id] = SlotTable(
                offers=self.offers, costs=self.costs, board=board
            )
        return self._slots[board.id]

    @cached_property
    def _slots(self) -> dict[str, SlotTable]:
        return {}

    def _wish(self, board: Board, wants: Wants) -> Wish:
        """Return what a board's slots must bring beside what it has itself."""
        own = self.network_suffices(board, wants.network_gbit_s)
        return Wish(
            n_ports=max(0, wants.n_ports - board.sata_ports),
            gbit_s=None if own else wants.network_gbit_s,
            n_nvme=wants.n_nvme,
            n_sata_modules=wants.n_sata_modules,
            socket_mb_s=wants.socket_mb_s,
            network_mb_s=0.0 if own else wants.network_mb_s,
        )

    def cards(self, board: Board, wants: Wants) -> float:
        """Return the least cost of cards and risers, deep idle included."""
        wish = self._wish(board, wants)
        if wish == Wish(socket_mb_s=wish.socket_mb_s):
            return 0.0
        table = self.slots(board)
        return min(
            table.least(wish, blockers=False),
            table.least(wish, blockers=True) + self._deep_idle_loss(board),
        )

    def _deep_idle_loss(self, board: Board) -> float:
        """Return what it costs if a card keeps the processor from deep idle."""
        return self.watt_weight * self.slope * board.deep_idle_loss_w.mid

    def card_floor(self, item: Item, board: Board, wants: Wants) -> float:
        """Return the least cost of all cards where one of an item is among them.

        That it takes a slot from the others is left out.
        """
        part, own, wish = item.part, self.costs[item.key], self._wish(board, wants)
        if isinstance(part, Card) and part.is_deep_idle_blocker:
            own += self._deep_idle_loss(board)
        if isinstance(part, Controller):
            n_left = max(0, wish.n_ports - usable_ports(self.offers.scenario, part))
            wish = replace(wish, n_ports=n_left)
        elif isinstance(part, Riser):
            wish = replace(wish, n_nvme=max(0, wish.n_nvme - part.n_sockets))
        elif isinstance(part, NetworkCard):
            wish = replace(wish, gbit_s=None)
        return own + self.slots(board).least(wish, blockers=True)

    def with_controller(self, board: Board, wants: Wants, ability: str) -> float:
        """Return the least cost of all cards with a controller that has an ability."""
        wish, loss = self._wish(board, wants), self._deep_idle_loss(board)
        return self.slots(board).with_controller(wish, ability, loss)
