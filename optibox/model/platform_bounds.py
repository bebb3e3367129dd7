"""The least that everything but the array's drives can cost, kind by kind.

Kinds are bounded one by one, slot conflicts ignored: the sum is a lower bound, and an
item whose own cost lifts it above a known build is in no better build.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

from optibox.build import Item
from optibox.catalog.attachment import (
    Cable,
    Card,
    Controller,
    NetworkCard,
    NetworkLead,
)
from optibox.catalog.columns import Part
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium
from optibox.machine.view import multiplier_leg
from optibox.model.aims import Weights
from optibox.model.offers import Offers
from optibox.rules.mechanics import card_fits
from optibox.rules.platform import cooler_suits, module_suits

INF = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What an entry wants of the platform."""

    n_ports: int
    """Drives on data cables; a boot medium may add one more."""
    n_bays: int
    """Drives that sit in bays."""
    network_gbit_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatformBound:
    """Least cost of each kind on one board, and of all together."""

    board: float
    processor: float
    cooler: float
    memory: float
    chassis: float
    supply: float
    cards: float
    boot: float
    lead: float
    cables: float

    @property
    def value(self) -> float:
        """Return the sum."""
        return (
            self.board
            + self.processor
            + self.cooler
            + self.memory
            + self.chassis
            + self.supply
            + self.cards
            + self.boot
            + self.lead
            + self.cables
        )


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

    def bound(self, board: Item, wants: Wants) -> PlatformBound:
        """Return the least cost of a platform on a board."""
        part = board.part
        if not isinstance(part, Board):
            msg = f"{board.key} is no board"
            raise TypeError(msg)
        soldered = part.has_soldered_processor
        processors = [] if soldered else self.processors(part)
        return PlatformBound(
            board=self.costs[board.key],
            processor=0.0
            if soldered
            else min((self.costs[p.key] for p in processors), default=INF),
            cooler=0.0 if soldered else self._cooler(processors),
            memory=self.memory(part)[-1],
            chassis=self._chassis(part, wants),
            supply=self._supply(part),
            cards=self._cards(part, wants),
            boot=self._boot,
            lead=self._lead(wants.network_gbit_s),
            cables=self._cables(board, wants.n_ports),
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

    def _cooler(self, processors: Iterable[Item]) -> float:
        parts = [p.part for p in processors]
        return self.least(
            Cooler,
            lambda c: any(
                cooler_suits(c, p)
                for p in parts
                if isinstance(p, Processor) and isinstance(c, Cooler)
            ),
        )

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

    def _chassis(self, board: Board, wants: Wants) -> float:
        key = (board.form, wants.n_bays)
        if key not in self._chassis_cache:
            self._chassis_cache[key] = min(
                (self.costs[item.key] for item in self.chassis(board, wants)),
                default=INF,
            )
        return self._chassis_cache[key]

    @cached_property
    def _chassis_cache(self) -> dict[object, float]:
        return {}

    def chassis(self, board: Board, wants: Wants) -> list[Item]:
        """Return the chassis that take a board and so many drives."""
        return [
            item
            for item in self.offers.of(Chassis)
            if isinstance(item.part, Chassis)
            and board.form in item.part.board_forms
            and item.part.bays_35 + item.part.bays_25 >= wants.n_bays
        ]

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

    def supply_cost(self, item: Item, board: Board) -> float:
        """Return what a supply adds: price, fixed loss, loss above the least slope."""
        part = item.part
        if not isinstance(part, PowerSupply):
            return 0.0
        above = part.loss_share.mid - (self.slope - 1.0)
        watts = board.idle_w.mid
        square = part.loss_square.mid * watts * watts / part.rated_w.mid
        loss = part.loss_fixed_w.mid + above * watts + square
        price = 0.0 if item.key in self.in_boxes else self.weights.price(item)
        return price + self.weights.piece(item) + self.watt_weight * loss

    def _supply(self, board: Board) -> float:
        return min(
            (self.supply_cost(item, board) for item in self.supplies(board)),
            default=INF,
        )

    @cached_property
    def _boot(self) -> float:
        return self.least(BootMedium)

    def _lead(self, gbit_s: float) -> float:
        medium = self.offers.scenario.needs.other_end_medium
        return self.least(
            NetworkLead,
            lambda p: (
                isinstance(p, NetworkLead)
                and p.medium == medium
                and p.network_gbit_s >= gbit_s
            ),
        )

    def _cables(self, board: Item, n_ports: int) -> float:
        """Return the least price of cables beyond those that boxes can bring."""
        cables = [i for i in self.offers.of(Cable) if isinstance(i.part, Cable)]
        if not cables:
            return INF if n_ports else 0.0
        boxed = _boxed_drives(self.offers, board, {c.key: c for c in cables})
        each = min(
            (self.weights.price(c) + self.weights.piece(c)) / c.part.n_drives  # type: ignore[attr-defined]
            for c in cables
        )
        owned = any(c.is_owned for c in cables)
        return 0.0 if owned else max(0.0, (n_ports - boxed) * each)

    def network_suffices(self, board: Board, gbit_s: float) -> bool:
        """Return whether the board's own port reaches a speed at the other end's plug."""
        medium = self.offers.scenario.needs.other_end_medium
        return (
            board.network_medium == medium and (board.network_gbit_s or 0.0) >= gbit_s
        )

    def native_ports(self, part: Controller) -> int:
        """Return the ports of a controller that count, all if multipliers may be used."""
        if self.offers.scenario.choices.allow_multipliers:
            return part.n_ports
        return sum(multiplier_leg(part, i) is None for i in range(part.n_ports))

    @cached_property
    def controllers(self) -> list[tuple[Item, int, bool]]:
        """Return controllers with usable ports and whether they block deep idle."""
        return [
            (item, self.native_ports(item.part), item.part.is_deep_idle_blocker)
            for item in self.offers.of(Controller)
            if isinstance(item.part, Controller) and self.native_ports(item.part)
        ]

    @cached_property
    def _ports(self) -> dict[bool, list[float]]:
        """Return the least cost of n ports on cards, all cards or non-blocking ones."""
        return {
            blockers: self._port_table(blockers=blockers) for blockers in (False, True)
        }

    def _port_table(self, *, blockers: bool) -> list[float]:
        most = 64
        best = [0.0] + [INF] * most
        options = [
            (n, self.costs[item.key])
            for item, n, blocks in self.controllers
            if blockers or not blocks
        ]
        for size in range(1, most + 1):
            best[size] = min(
                (best[max(0, size - n)] + cost for n, cost in options), default=INF
            )
        return best

    def ports(self, count: int, *, blockers: bool) -> float:
        """Return the least cost of so many ports on cards."""
        return self._ports[blockers][min(64, max(0, count))]

    def _network_card(self, gbit_s: float, *, blockers: bool) -> float:
        medium = self.offers.scenario.needs.other_end_medium
        return self.least(
            NetworkCard,
            lambda p: (
                isinstance(p, NetworkCard)
                and p.medium == medium
                and p.network_gbit_s >= gbit_s
                and (blockers or not p.is_deep_idle_blocker)
            ),
        )

    def _cards(self, board: Board, wants: Wants) -> float:
        """Return the least cost of controllers and network card, deep idle included."""
        missing = wants.n_ports - board.sata_ports
        has_network = self.network_suffices(board, wants.network_gbit_s)
        if missing <= 0 and has_network:
            return 0.0
        loss = self.watt_weight * self.slope * board.deep_idle_loss_w.mid
        values = []
        for blockers in (False, True):
            value = self.ports(missing, blockers=blockers)
            if not has_network:
                value += self.cached_network_card(
                    wants.network_gbit_s, blockers=blockers
                )
            values.append(value + (loss if blockers else 0.0))
        return min(values)

    def cached_network_card(self, gbit_s: float, *, blockers: bool) -> float:
        """Return the least cost of a network card, remembered."""
        key = (gbit_s, blockers)
        if key not in self._network_cache:
            self._network_cache[key] = self._network_card(gbit_s, blockers=blockers)
        return self._network_cache[key]

    @cached_property
    def _network_cache(self) -> dict[tuple[float, bool], float]:
        return {}

    def card_floor(self, item: Item, board: Board, wants: Wants) -> float:
        """Return the least cost of all cards where one of an item is among them."""
        part = item.part
        own = self.costs[item.key]
        if isinstance(part, Card) and part.is_deep_idle_blocker:
            own += self.watt_weight * self.slope * board.deep_idle_loss_w.mid
        missing = wants.n_ports - board.sata_ports
        has_network = self.network_suffices(board, wants.network_gbit_s)
        if isinstance(part, Controller):
            rest = self.ports(missing - self.native_ports(part), blockers=True)
            if not has_network:
                rest += self.cached_network_card(wants.network_gbit_s, blockers=True)
            return own + rest
        rest = self.ports(missing, blockers=True)
        if isinstance(part, NetworkCard):
            return own + rest
        if not has_network:
            rest += self.cached_network_card(wants.network_gbit_s, blockers=True)
        return own + rest


def _boxed_drives(offers: Offers, board: Item, cables: dict[str, Item]) -> int:
    """Return the drives that cables from boxes can serve at most."""

    def served(item: Item) -> int:
        box = box_from_text(item.part.comes_with)
        return sum(
            count * cables[key].part.n_drives  # type: ignore[attr-defined]
            for key, count in box.items()
            if key in cables
        )

    total = 0
    for record, items in offers.by_kind.items():
        if record is Board:
            total += served(board)
        else:
            most = max((served(item) for item in items), default=0)
            total += most * (8 if record is Controller else 1)
    return total


__all__ = ["PlatformBound", "Platforms", "Wants", "card_fits"]
