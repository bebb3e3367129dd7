"""From chosen parts to a complete build: seats, wires, and all that follows."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, Connection, DriveUse, ItemCount
from optibox.catalog.platform import Board, Chassis, PowerLead, PowerSupply
from optibox.figures.money import purchase
from optibox.figures.year import transfers_of
from optibox.machine import machine_of
from optibox.rules import Finding
from optibox.rules.context import backplane_connector
from optibox.rules.wiring import cable_direction
from optibox.running.swap_follow import (
    Purse,
    adapter_for,
    cables_for,
    leads_for,
    plate_for,
    with_cooler,
    with_network_lead,
)
from optibox.running.swap_kit import Kit, fits_on_paper, without_idle_core
from optibox.running.swap_seats import Seats, seatings
from optibox.running.swap_stock import Stock
from optibox.running.swap_wires import Wire, ports_of, wirings
from optibox.scenario import Scenario
from optibox.wiring.loads import ends_of

Piece = tuple[str, int | str]


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Where machines are changed: the one that stands, and what there is."""

    before: Build
    stock: Stock
    scenario: Scenario

    def builds(self, kit: Kit) -> Iterator[Build]:
        """Yield complete builds of chosen parts, the most promising first."""
        whole = self._completed(kit)
        if whole is None:
            return
        board, chassis = whole.one(Board), whole.one(Chassis)
        if board is None or chassis is None:
            return
        for seats in seatings(whole, board, self.before.slots):
            ports = ports_of(whole, board, seats)
            for wires in wirings(
                whole,
                ports,
                chassis,
                self.before.connections,
                may_share=self.scenario.choices.allow_multipliers,
            ):
                found = self._build(whole, chassis, seats, wires)
                if found is not None:
                    yield found

    def fit(self, kit: Kit) -> Assessment | None:
        """Return the cheapest build of chosen parts in which nothing is wrong.

        Where the first way to wire it is refused for reasons that no wiring mends,
        others are not tried.
        """
        best: Assessment | None = None
        for build in self.builds(kit):
            if best is not None and self._is_no_better(build, best):
                continue
            found = assess(build, self.scenario)
            if found.is_fit:
                if (
                    best is None
                    or found.total_cost < best.total_cost - _NEXT_TO_NOTHING
                ):
                    best = found
            elif best is None and not all(map(_is_of_wiring, found.errors)):
                return None
        return best

    def _is_no_better(self, build: Build, best: Assessment) -> bool:
        """Return whether another wiring of the same parts is seen to cost no less.

        With the same hours of transfer the year is the same, and only what is bought
        can differ.
        """
        if purchase(build) < best.cost.purchase - _NEXT_TO_NOTHING:
            return False
        return transfers_of(machine_of(build, self.scenario)) == best.year.transfers

    def _completed(self, kit: Kit) -> Kit | None:
        core = without_idle_core(kit)
        chassis = core.one(Chassis)
        if chassis is None or not fits_on_paper(core):
            return None
        cooled = with_cooler(core, self.stock, chassis)
        return cooled and with_network_lead(cooled, self.stock, self.scenario)

    def _build(
        self, kit: Kit, chassis: Chassis, seats: Seats, wires: Sequence[Wire]
    ) -> Build | None:
        purse = Purse.for_kit(kit, self.stock)
        supply = kit.one(PowerSupply)
        if supply is None or not plate_for(purse, chassis, supply):
            return None
        bare = self._made(kit, purse, seats, tuple(_uncabled(wire) for wire in wires))
        ends = ends_of(machine_of(bare, self.scenario))
        power = leads_for(purse, ends, self._leads_before())
        if power is None:
            return None
        connections = self._connections(purse, chassis, wires)
        if connections is None:
            return None
        return replace(self._made(kit, purse, seats, connections), power=power)

    def _made(
        self,
        kit: Kit,
        purse: Purse,
        seats: Seats,
        connections: tuple[Connection, ...],
    ) -> Build:
        """Return a machine of all that was taken so far."""
        return Build(
            items=tuple(
                ItemCount(item=self.stock.by_key[key], count=n)
                for key, n in purse.used.items()
                if n
            ),
            drives=tuple(
                DriveUse(name=p.name, key=p.item.key, role=p.role)
                for p in kit.drives
                if p.role is not None
            ),
            connections=connections,
            slots=seats,
            operation=kit.operation,
            spares=self.before.spares,
            postage=self.stock.postage,
            around=self.before.around,
            is_standing=self.before.is_standing,
        )

    def _leads_before(self) -> Counter[str]:
        return Counter(
            {
                e.item.key: e.count
                for e in self.before.items
                if isinstance(e.item.part, PowerLead)
            }
        )

    def _connections(
        self, purse: Purse, chassis: Chassis, wires: Sequence[Wire]
    ) -> tuple[Connection, ...] | None:
        cables = self._cables(purse, chassis, wires)
        if cables is None:
            return None
        old = {c.drive: c.adapter_key for c in self.before.connections}
        found = []
        for wire in wires:
            adapter = None
            if wire.width == "2.5" and wire.bay.startswith("3.5"):
                was = old.get(wire.drive.name, "")
                adapter = adapter_for(purse, wire, chassis, was)
                if adapter is None:
                    return None
            cable = cables[_piece(wire, chassis)]
            found.append(_connection(wire, cable, adapter.key if adapter else None))
        return tuple(found)

    def _cables(
        self, purse: Purse, chassis: Chassis, wires: Sequence[Wire]
    ) -> dict[Piece, tuple[str, str]] | None:
        """Return the name and key of each piece of cable, or nothing if one lacks."""
        old = {c.drive: c.cable_key for c in self.before.connections}
        pieces: dict[tuple[str, str, str], dict[Piece, str]] = {}
        numbers: dict[Piece, str] = {}
        for wire in wires:
            piece = _piece(wire, chassis)
            kind, _ = backplane_connector(chassis, wire.bay)
            host = wire.port.kind
            ends = (cable_direction(host, kind), host, str(kind))
            was = old.get(wire.drive.name, "")
            pieces.setdefault(ends, {}).setdefault(piece, was)
            numbers.setdefault(piece, f"cable-{len(numbers) + 1}")
        found: dict[Piece, tuple[str, str]] = {}
        for ends, wanted in pieces.items():
            items = cables_for(purse, ends, list(wanted.values()))
            if items is None:
                return None
            for piece, item in zip(wanted, items, strict=True):
                found[piece] = (numbers[piece], item.key)
        return found


def _piece(wire: Wire, chassis: Chassis) -> Piece:
    """Return what names the piece of cable that a drive shares with others."""
    _, far = backplane_connector(chassis, wire.bay)
    if wire.port.plug is not None:
        return wire.port.plug
    return ("backplane", far) if far else ("drive", wire.drive.name)


def _uncabled(wire: Wire) -> Connection:
    """Return a connection whose cable is still open."""
    return _connection(wire, ("", ""), None)


def _connection(wire: Wire, cable: tuple[str, str], adapter: str | None) -> Connection:
    return Connection(
        drive=wire.drive.name,
        bay=wire.bay,
        cable=cable[0],
        cable_key=cable[1],
        host=wire.port.host,
        connector=wire.port.connector,
        port=wire.port.number,
        adapter_key=adapter or "",
    )


_NEXT_TO_NOTHING = 1e-6
"""A wiring nearer to the present one stays unless another is this much cheaper."""


def _is_of_wiring(finding: Finding) -> bool:
    """Return whether another wiring could mend a finding."""
    if finding.rule == "N1":
        return "MB/s" in finding.evidence  # a rate, not a port or lead that lacks
    return finding.rule in WIRING_RULES


WIRING_RULES = frozenset(
    {"C1", "C3", "C4", "C5", "C8", "C9", "C10", "C11", "F2", "F3", "L4", "L5", "L6"}
    | {"B4", "B5", "P1", "P2", "T1", "C13"}
)
"""Rules that another seat, port or bay could still satisfy."""
