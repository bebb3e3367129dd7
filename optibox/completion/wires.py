"""A distribution of drives as connections: named ports, bays, pieces of cable."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from optibox.build import Connection, Item
from optibox.build.sketch import WireSketch
from optibox.completion.costs import Rider, adapter_fits
from optibox.completion.ports import Search
from optibox.completion.seats import BayGroup, CableKind, PortGroup
from optibox.completion.ways import Option, Way

PieceKey = tuple[str, str]


@dataclass(kw_only=True)
class Wired:
    """The connections of a way, and the small parts that it takes beyond the list."""

    connections: list[Connection] = field(default_factory=list)
    extra: Counter[str] = field(default_factory=Counter)
    """Keys of cables and adapters that nobody listed, with their counts."""
    items: dict[str, Item] = field(default_factory=dict)


def wired(search: Search, way: Way, told: Sequence[WireSketch]) -> Wired:
    """Return the connections of a way, beside those that are told as a whole."""
    return _Wirer(search=search, told=told).run(way)


@dataclass(kw_only=True)
class _Wirer:
    search: Search
    told: Sequence[WireSketch]
    out: Wired = field(default_factory=Wired)
    pieces: dict[PieceKey, tuple[str, str]] = field(default_factory=dict)
    """Name and key of multi-lane pieces by their two ends."""

    def run(self, way: Way) -> Wired:
        search = self.search
        self.ports = [list(group.places) for group in search.ports]
        self.bays = [list(group.places) for group in search.bays]
        self.listed = {kind: list(keys) for kind, keys in search.seats.cables.items()}
        self.adapters = list(search.seats.adapters)
        self.names = (f"cable-{n}" for n in range(1, 10_000))
        self.used = {wire.cable for wire in self.told if wire.cable}
        for rider, option in zip(search.riders, way.options, strict=True):
            wire = self._connection(rider, option)
            if wire is not None:
                self.out.connections.append(wire)
        self._make_do()
        return self.out

    def _connection(self, rider: Rider, option: Option) -> Connection | None:
        if option.port is None:
            return self._without_port(rider)
        port = self.search.ports[option.port]
        bay = self.search.bays[option.bay] if option.bay is not None else None
        number, lane = self.ports[option.port].pop(0)
        name = ""
        if bay is not None and option.bay is not None and bay.places:
            name = self.bays[option.bay].pop(0)
        cable, key = self._cable(rider, port, bay, option.kind)
        return Connection(
            drive=rider.name,
            bay=name,
            cable=cable,
            cable_key=key,
            host=port.host,
            connector=number,
            port=lane,
            adapter_key=self._adapter(rider, bay),
        )

    @staticmethod
    def _without_port(rider: Rider) -> Connection | None:
        """Return the connection that is told although the search found no port."""
        wire = rider.wire
        if wire.host is None or wire.connector is None:
            return None
        return Connection(
            drive=rider.name,
            bay=wire.bay or "",
            cable=wire.cable or "",
            cable_key=wire.cable_key or "",
            host=wire.host,
            connector=wire.connector,
            port=wire.port or 1,
            adapter_key=wire.adapter_key or "",
        )

    def _cable(
        self,
        rider: Rider,
        port: PortGroup,
        bay: BayGroup | None,
        kind: CableKind | None,
    ) -> tuple[str, str]:
        if rider.wire.cable_key is not None:
            return rider.wire.cable or self._name(), rider.wire.cable_key
        if kind is None or bay is None:
            # without a bay nobody knows the far end: a plain plug is the usual one
            kind, bay = self._plain_kind(port), None
        behind = bay.number if bay else 0
        if not port.number and not behind:
            return self._name(), self._take(kind)
        # the legs of a reverse breakout may come from several hosts: still one piece
        source = f"{port.host}:{port.number}" if port.number else "legs"
        ends = (source, str(behind))
        if ends not in self.pieces:
            self.pieces[ends] = self._told_piece(port, behind) or (
                self._name(),
                self._take(kind),
            )
        return self.pieces[ends]

    def _plain_kind(self, port: PortGroup) -> CableKind:
        direction = "forward" if port.number else "single"
        return direction, port.connector, "sata"

    def _told_piece(self, port: PortGroup, behind: int) -> tuple[str, str] | None:
        """Return the piece that a told connection has on the same connector."""
        for wire in self.told:
            same = wire.host == port.host and wire.connector == port.number
            if port.number and same and wire.cable and wire.cable_key:
                return wire.cable, wire.cable_key
        del behind
        return None

    def _name(self) -> str:
        return next(name for name in self.names if name not in self.used)

    def _take(self, kind: CableKind) -> str:
        """Return the key of a piece of a kind: listed, else assumed, else none."""
        pool = self.listed.get(kind)
        if pool:
            return pool.pop(0)
        item = self.search.stock.cables.get(kind)
        return self._assume(item) if item else ""

    def _assume(self, item: Item) -> str:
        self.out.extra[item.key] += 1
        self.out.items[item.key] = item
        return item.key

    def _adapter(self, rider: Rider, bay: BayGroup | None) -> str:
        told = rider.wire.adapter_key
        if told is not None or bay is None:
            return told or ""
        if rider.width != "2.5" or bay.size != "3.5":
            return ""
        for index, (key, part) in enumerate(self.adapters):
            if adapter_fits(rider, bay, part):
                del self.adapters[index]
                return key
        for item in self.search.stock.adapters:
            if adapter_fits(rider, bay, item.part):
                return self._assume(item)
        # a listed one that does not fit is what people have: so it is told
        return self.adapters.pop(0)[0] if self.adapters else ""

    def _make_do(self) -> None:
        """Put left-over cables where none fits, so that it is said what is wrong."""
        left = [key for keys in self.listed.values() for key in keys]
        bare = {wire.cable for wire in self.out.connections if not wire.cable_key}
        stand_in = dict(zip(sorted(bare), self._by_likeness(left), strict=False))
        self.out.connections = [
            replace(wire, cable_key=stand_in.get(wire.cable, ""))
            if not wire.cable_key
            else wire
            for wire in self.out.connections
        ]

    def _by_likeness(self, keys: Sequence[str]) -> Iterator[str]:
        """Yield cables, multi-lane ones first: they are what is bought the wrong way."""
        kinds = {key: kind for kind, pool in self.listed.items() for key in pool}
        return iter(sorted(keys, key=lambda key: (kinds[key][0] == "single", key)))
