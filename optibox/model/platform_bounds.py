"""The least that everything but the array's drives can cost, kind by kind.

Kinds are bounded one by one, slot conflicts ignored: the sum is a lower bound, and an
item whose own cost lifts it above a known build is in no better build.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.catalog.attachment import Cable, Controller, NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
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
from optibox.model.slot_bounds import NOTHING, Deck, Forced, SlotTable, Wish
from optibox.rules.demands import misses
from optibox.rules.platform import module_suits

INF = float("inf")
Floats = npt.NDArray[np.float64]


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

    @cached_property
    def steepest(self) -> float:
        """Return the largest factor between a watt at the parts and at the wall.

        Of all supplies on offer: what drives cost is known at this end and at the
        least, whichever frames are looked at.
        """
        shares = (
            s.part_as(PowerSupply).loss_share.mid for s in self.offers.of(PowerSupply)
        )
        return 1.0 + max(shares, default=0.0)

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

    def memory(self, board: Board, forced: Forced = NOTHING) -> Floats:
        """Return the least cost of the memory asked for, with a module of each item.

        Shape (n_forced,); without more where that is no memory.
        """
        table, gib = self._memory_table(board), dict(self._gib(board))
        found = []
        for item in forced:
            own, brings = 0.0, 0
            if item is not None and isinstance(item.part, Memory):
                own, brings = self.costs[item.key], gib.get(item.key, -1)
            left = max(0, len(table) - 1 - brings)
            found.append(own + table[left] if brings >= 0 else INF)
        return np.array(found)

    def _gib(self, board: Board) -> Iterator[tuple[str, int]]:
        return ((item.key, gib) for item, gib in self.modules(board))

    def _memory_table(self, board: Board) -> list[float]:
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
        """Return the least cost of one more SATA power plug without 3.3 V.

        A first adapter takes 3.3 V away; splitters on its plugs may multiply them. The
        cost of a plug is least with a splitter on none of them or on all.
        """
        offers = [
            (item.part_as(PowerLead), self._adapter(item))
            for item in self.offers.of(PowerLead)
        ]
        offers = [(part, price) for part, price in offers if part.gives_plug == "sata"]
        firsts = [
            (part.fan_out, price)
            for part, price in offers
            if part.takes_plug == "peripheral" or not part.carries_3v3
        ]
        more = [
            (part.fan_out, price) for part, price in offers if part.takes_plug == "sata"
        ]
        chains = [(n, price) for n, price in firsts if n]
        chains += [
            (n * fan_out, price + n * extra)
            for n, price in firsts
            for fan_out, extra in more
            if n and fan_out
        ]
        return min((price / n for n, price in chains), default=1e6)

    def _adapter(self, item: Item) -> float:
        """Return the least cost of one power adapter."""
        if item.is_owned or item.key in self.in_boxes:
            return 0.0
        return self.weights.price(item) + self.weights.piece(item)

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

    def one_of(
        self,
        record: type[Part],
        forced: Forced = NOTHING,
        accept: Callable[[Part], bool] = lambda _: True,
    ) -> Floats:
        """Return the least cost of the one piece that a build has of a kind.

        Shape (n_forced,): the forced item itself where it is of that kind.
        """
        least = self.least(record, accept)
        return np.array(
            [
                least
                if item is None or not isinstance(item.part, record)
                else (self.costs[item.key] if accept(item.part) else INF)
                for item in forced
            ]
        )

    def boot(self, forced: Forced = NOTHING) -> Floats:
        """Return the least cost of a boot medium, shape (n_forced,)."""
        return self.one_of(BootMedium, forced)

    def lead(self, gbit_s: float, forced: Forced = NOTHING) -> Floats:
        """Return the least cost of a network lead of a speed, shape (n_forced,)."""
        medium = self.offers.scenario.needs.other_end_medium
        return self.one_of(
            NetworkLead,
            forced,
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

    def slots(self, board: Board) -> tuple[SlotTable, ...]:
        """Return the least cost of what sits in a board's slots.

        Once as it is; a second time with each controller at its price less the cables
        in its box, where any has some.
        """
        if board.id not in self._slots:
            self._slots[board.id] = tuple(
                SlotTable(deck=deck, board=board) for deck in self._decks
            )
        return self._slots[board.id]

    @cached_property
    def _slots(self) -> dict[str, tuple[SlotTable, ...]]:
        return {}

    @cached_property
    def _decks(self) -> tuple[Deck, ...]:
        plain = Deck(offers=self.offers, costs=self.costs)
        if not any(self.cables_in_box(i) for i in self.offers.of(Controller)):
            return (plain,)
        return plain, Deck(offers=self.offers, costs=self._costs_boxed)

    @cached_property
    def _costs_boxed(self) -> dict[str, float]:
        """Return the cost of every item less what the cables in its box can save."""
        served, price = self.cables_in_box, self.cable_price
        return {
            item.key: self.costs[item.key]
            - (served(item) * price if served(item) else 0.0)
            for item in self.offers.items
        }

    @cached_property
    def cable_price(self) -> float:
        """Return the least price of a cable for one drive."""
        return min(
            (
                0.0
                if i.is_owned
                else (self.weights.price(i) + self.weights.piece(i))
                / i.part_as(Cable).n_drives
                for i in self.offers.of(Cable)
            ),
            default=INF,
        )

    def cables_in_box(self, item: Item) -> float:
        """Return how many drives the cables in an item's box serve."""
        box = box_from_text(item.part.comes_with)
        drives = self._drives_of_cables
        return float(sum(n * drives[key] for key, n in box.items() if key in drives))

    @cached_property
    def _drives_of_cables(self) -> dict[str, int]:
        return {i.key: i.part_as(Cable).n_drives for i in self.offers.of(Cable)}

    def _wish(self, board: Board, wants: Wants, abilities: frozenset[str]) -> Wish:
        """Return what a board's slots must bring beside what it has itself."""
        own = self.network_suffices(board, wants.network_gbit_s)
        if self.offers.scenario.needs.management and not board.has_management:
            abilities |= {"is_management"}
        return Wish(
            n_ports=max(0, wants.n_ports - board.sata_ports),
            gbit_s=None if own else wants.network_gbit_s,
            n_nvme=wants.n_nvme,
            n_sata_modules=wants.n_sata_modules,
            socket_mb_s=wants.socket_mb_s,
            network_mb_s=0.0 if own else wants.network_mb_s,
            abilities=abilities,
        )

    def cards(
        self,
        board: Board,
        wants: Wants,
        abilities: frozenset[str] = frozenset(),
        forced: Forced = NOTHING,
    ) -> Floats:
        """Return the least cost of cards and risers, deep idle included.

        Shape (2, n_forced): as they are, and each controller less the cables in its box.

        Parameters
        ----------
        board : Board
            Whose slots they sit in.
        wants : Wants
            What they bring with the board's own ports, sockets and network.
        abilities : frozenset of str
            What some card of them must be able to do.
        forced : tuple of Item
            Cards of which one each is among them.
        """
        wish = self._wish(board, wants, abilities)
        if forced == NOTHING and wish == Wish(socket_mb_s=wish.socket_mb_s):
            return np.zeros((2, 1))
        loss = self._deep_idle_loss(board)
        found = [
            np.minimum(
                table.least(wish, blockers=False, forced=forced),
                table.least(wish, blockers=True, forced=forced) + loss,
            )
            for table in self.slots(board)
        ]
        return np.stack([found[0], found[-1]])

    def _deep_idle_loss(self, board: Board) -> float:
        """Return what it costs if a card keeps the processor from deep idle."""
        return self.watt_weight * self.slope * board.deep_idle_loss_w.mid

    def shows(self, board: Board) -> bool:
        """Return whether a board shows the firmware without a card or a processor."""
        return board.has_management or (
            board.has_soldered_processor and board.has_graphics
        )
