"""The machine that a build describes, resolved once for rules and figures.

Nothing here judges: a build with errors still becomes a view, with what is missing
left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from optibox.build import BOARD, Build, Connection, DriveUse, Item, OperatingPlan
from optibox.catalog.attachment import Card, Controller, NetworkCard, NetworkLead, Riser
from optibox.catalog.notation import CONNECTOR_LANES, Slot
from optibox.catalog.platform import (
    Board,
    Chassis,
    Medium,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, Drive, HardDrive, SolidStateDrive
from optibox.machine.board import active_rules, ports_left, slots_left
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.scenario import Factors, Scenario

CHIPSET = "chipset"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkView:
    """A link that several devices share."""

    name: str
    budget_mb_s: float
    is_half_duplex: bool = False
    words: str = ""
    serves_one_at_a_time: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardView:
    """A card in its slot."""

    name: str
    item: Item
    slot: Slot | None
    path: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveView:
    """A drive with its role and the way to the processor."""

    name: str
    item: Item
    role: str
    connection: Connection | None
    slot: Slot | None
    path: tuple[str, ...]
    port_mb_s: float
    is_multiplied: bool = False

    @property
    def part(self) -> Drive | BootMedium:
        """Return the drive's part."""
        part = self.item.part
        if not isinstance(part, Drive | BootMedium):
            msg = f"{self.item.key} is not a drive"
            raise TypeError(msg)
        return part


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkView:
    """The network port in use."""

    name: str
    gbit_s: float
    medium: Medium
    path: tuple[str, ...]
    lead: NetworkLead | None


def multiplier_leg(controller: Controller, port_index: int) -> int | None:
    """Return the shared leg on which a port hangs, or nothing for a native port.

    Without better knowledge the last native port of the chip feeds all connectors
    beyond the native ones; an unknown chip has one.

    Parameters
    ----------
    controller : Controller
        The card.
    port_index : int
        Port counted over all connectors, from 0.
    """
    if not controller.is_multiplied:
        return None
    native = controller.native_ports or 1
    return None if port_index < native - 1 else 0


@dataclass(frozen=True, kw_only=True)
class Machine:
    """A build under a scenario, resolved."""

    build: Build
    scenario: Scenario

    @property
    def operation(self) -> OperatingPlan:
        """Return how the machine is run."""
        return self.build.operation

    @property
    def factors(self) -> Factors:
        """Return the factors in force."""
        return self.scenario.overrides

    @cached_property
    def board(self) -> Board | None:
        """Return the board."""
        return self.build.one(Board)

    @cached_property
    def chassis(self) -> Chassis | None:
        """Return the chassis."""
        return self.build.one(Chassis)

    @cached_property
    def supply(self) -> PowerSupply | None:
        """Return the supply."""
        return self.build.one(PowerSupply)

    @cached_property
    def processor(self) -> Board | Processor | None:
        """Return what computes: the processor, or the board it is soldered to."""
        if self.board is not None and self.board.has_soldered_processor:
            return self.board
        return self.build.one(Processor)

    @cached_property
    def memory_gib(self) -> float:
        """Return the memory fitted. [GiB]."""
        return sum(part.gib * count for part, count in self.build.of(Memory))

    @cached_property
    def used_slots(self) -> dict[str, str]:
        """Return the board's slots in use with the mode they are used in."""
        used = {}
        for use in self.build.slots:
            part = self.build.item(use.key).part
            used[use.slot] = "pcie"
            if isinstance(part, SolidStateDrive):
                used[use.slot] = part.interface
            elif isinstance(part, BootMedium):
                used[use.slot] = part.module_mode or "sata"
            elif isinstance(part, Card) and part.bus == "m2":
                used[use.slot] = "nvme"
        return used

    @cached_property
    def slots(self) -> dict[str, Slot]:
        """Return the board's slots with the lanes that sharing leaves."""
        if self.board is None:
            return {}
        return slots_left(self.board, active_rules(self.board, self.used_slots))

    @cached_property
    def onboard_ports(self) -> int:
        """Return the onboard SATA ports that work."""
        if self.board is None:
            return 0
        return ports_left(self.board, active_rules(self.board, self.used_slots))

    @cached_property
    def cards(self) -> dict[str, CardView]:
        """Return the cards (not modules) by name."""
        found = {}
        for use in self.build.slots:
            item = self.build.item(use.key)
            if isinstance(item.part, Card):
                slot = self.slots.get(use.slot)
                path = self._slot_path(slot)
                found[use.name] = CardView(
                    name=use.name, item=item, slot=slot, path=path
                )
        return found

    def _slot_path(self, slot: Slot | None) -> tuple[str, ...]:
        if slot is None:
            return ()
        return (slot.name, CHIPSET) if slot.uplink == "chipset" else (slot.name,)

    @cached_property
    def links(self) -> dict[str, LinkView]:
        """Return every shared link by name with its planning rate."""
        found: dict[str, LinkView] = {}
        efficiency = self.factors.pcie.mid
        board = self.board
        if board is not None and board.chipset_lanes:
            found[CHIPSET] = LinkView(
                name=CHIPSET,
                budget_mb_s=pcie_planning_mb_s(
                    board.chipset_generation, board.chipset_lanes, efficiency
                ),
                words="link between chipset and processor",
            )
        for use in self.build.slots:
            slot = self.slots.get(use.slot)
            part = self.build.item(use.key).part
            if slot is None or slot.lanes == 0:
                continue
            generation, lanes = trained(part, slot)
            if lanes:
                found[slot.name] = LinkView(
                    name=slot.name,
                    budget_mb_s=pcie_planning_mb_s(generation, lanes, efficiency),
                    words=f"slot {slot.name} at Gen{generation} x{lanes}",
                )
        for name, card in self.cards.items():
            found |= self._legs(name, card)
        return found

    def _legs(self, name: str, card: CardView) -> dict[str, LinkView]:
        part = card.item.part
        if not isinstance(part, Controller) or not part.is_multiplied:
            return {}
        leg = f"{name} leg"
        share = part.host_link_gbit_s / 6.0
        return {
            leg: LinkView(
                name=leg,
                budget_mb_s=self.factors.multiplier_host_mb_s.mid * share,
                is_half_duplex=True,
                words=f"shared link behind the multiplier of {name}",
                serves_one_at_a_time=part.switching != "fis",
            )
        }

    @cached_property
    def drives(self) -> tuple[DriveView, ...]:
        """Return every drive and boot medium on its path; no other part is one."""
        return tuple(
            self._drive(use)
            for use in self.build.drives
            if isinstance(self.build.item(use.key).part, Drive | BootMedium)
        )

    def _drive(self, use: DriveUse) -> DriveView:
        item = self.build.item(use.key)
        connection = next(
            (c for c in self.build.connections if c.drive == use.name), None
        )
        if connection is not None:
            return self._wired(use, item, connection)
        place = next((s for s in self.build.slots if s.name == use.name), None)
        slot = self._module_slot(place.slot) if place else None
        path, port = self._module_path(place.slot if place else "", slot)
        return DriveView(
            name=use.name,
            item=item,
            role=use.role,
            connection=None,
            slot=slot,
            path=path,
            port_mb_s=port if self._is_nvme(item) else self._sata(6.0),
        )

    @staticmethod
    def _is_nvme(item: Item) -> bool:
        part = item.part
        return isinstance(part, SolidStateDrive) and part.interface == "nvme"

    def _module_slot(self, name: str) -> Slot | None:
        if name in self.slots:
            return self.slots[name]
        riser = self.cards.get(name.rpartition(".")[0])
        return riser.slot if riser else None

    def _module_path(
        self, name: str, slot: Slot | None
    ) -> tuple[tuple[str, ...], float]:
        """Return the links of an M.2 module and the rate of its own socket."""
        if slot is None or slot.lanes == 0:
            return (), float("inf")
        lanes = min(4, slot.lanes)
        riser = self.cards.get(name.rpartition(".")[0])
        if riser is not None and isinstance(riser.item.part, Riser):
            lanes = min(lanes, riser.item.part.socket_lanes)
        rate = pcie_planning_mb_s(slot.generation, lanes, self.factors.pcie.mid)
        return self._slot_path(slot), rate

    def _sata(self, gbit_s: float) -> float:
        factors = self.factors
        if gbit_s >= 6.0:
            return factors.sata_6g_mb_s.mid * (gbit_s // 6.0)
        return factors.sata_3g_mb_s.mid * gbit_s / 3.0

    def _wired(self, use: DriveUse, item: Item, wire: Connection) -> DriveView:
        path, gbit_s, multiplied = self._host_path(wire)
        part = item.part
        own = part.link_gbit_s if isinstance(part, HardDrive) else 6.0
        return DriveView(
            name=use.name,
            item=item,
            role=use.role,
            connection=wire,
            slot=None,
            path=path,
            port_mb_s=self._sata(min(own, gbit_s)),
            is_multiplied=multiplied,
        )

    def _host_path(self, wire: Connection) -> tuple[tuple[str, ...], float, bool]:
        if wire.host == BOARD and self.board is not None:
            path = (CHIPSET,) if self.board.sata_uplink == "chipset" else ()
            return path, self.board.sata_gbit_s, False
        card = self.cards.get(wire.host)
        if card is None or not isinstance(card.item.part, Controller):
            return (), 6.0, False
        part = card.item.part
        per = CONNECTOR_LANES[part.connectors.connector]
        leg = multiplier_leg(part, (wire.connector - 1) * per + wire.port - 1)
        if leg is None:
            return card.path, part.link_gbit_s, False
        return (f"{wire.host} leg", *card.path), part.link_gbit_s, True

    @cached_property
    def network(self) -> NetworkView | None:
        """Return the network port in use: the fastest that the other end can meet."""
        ports = list(self._network_ports())
        if not ports:
            return None
        needs = self.scenario.needs

        def rank(port: NetworkView) -> tuple[bool, float]:
            return port.medium == needs.other_end_medium, port.gbit_s

        return max(ports, key=rank)

    def _network_ports(self) -> Iterable[NetworkView]:
        board = self.board
        if board is not None and board.network_gbit_s:
            path = (CHIPSET,) if board.network_uplink == "chipset" else ()
            yield self._port(BOARD, board.network_gbit_s, board.network_medium, path)
        for name, card in self.cards.items():
            part = card.item.part
            if isinstance(part, NetworkCard):
                yield self._port(name, part.network_gbit_s, part.medium, card.path)

    def _port(
        self, name: str, gbit_s: float, medium: Medium, path: tuple[str, ...]
    ) -> NetworkView:
        leads = [p for p, _ in self.build.of(NetworkLead) if p.medium == medium]
        lead = max(leads, key=lambda part: part.network_gbit_s, default=None)
        return NetworkView(
            name=name, gbit_s=gbit_s, medium=medium, path=path, lead=lead
        )

    def in_role(self, *roles: str) -> tuple[DriveView, ...]:
        """Return the drives of some roles."""
        return tuple(drive for drive in self.drives if drive.role in roles)

    @cached_property
    def array(self) -> tuple[DriveView, ...]:
        """Return the array's drives, data before parity."""
        return self.in_role("data") + self.in_role("parity")


def trained(part: object, slot: Slot) -> tuple[int, int]:
    """Return the generation and lanes at which a part runs in a slot."""
    generation = getattr(part, "generation", 0)
    lanes = getattr(part, "lanes", 0)
    return min(generation, slot.generation), min(lanes, slot.lanes)


def machine_of(build: Build, scenario: Scenario) -> Machine:
    """Return a build as the machine it describes."""
    return Machine(build=build, scenario=scenario)
