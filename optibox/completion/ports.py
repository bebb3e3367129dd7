"""An exact search for the best distribution of drives over ports, bays and cables.

Equal ports, bays and drives are counted rather than told apart, so that a machine of
two dozen drives has few truly different ways. The search is depth first with a bound;
should it ever run out of steps, the best ways found so far count.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from optibox.build.sketch import WireSketch
from optibox.catalog.attachment import Cable
from optibox.completion.costs import (
    MIXED_HOSTS,
    NO_ADAPTER,
    NO_BAY,
    NO_CABLE,
    NO_PORT,
    SHORT_CABLE,
    TIE,
    Rider,
    Stock,
    adapter_fits,
    bay_cost,
    cable_kind,
    new_piece_cost,
    port_cost,
)
from optibox.completion.seats import (
    BayGroup,
    CableKind,
    PortGroup,
    Seats,
    ends_of,
    kind_of,
    near_name,
    seats_of,
)
from optibox.completion.ways import Effort, Option, State, Undo, Way
from optibox.machine.view import Machine


class Search:
    """The search over the ways of all drives."""

    def __init__(
        self,
        machine: Machine,
        riders: list[Rider],
        seats: Seats,
        stock: Stock,
        effort: Effort,
    ) -> None:
        self.effort = effort
        self.machine, self.riders, self.seats, self.stock = (
            machine,
            riders,
            seats,
            stock,
        )
        self.ports, self.bays = list(seats.ports), list(seats.bays)
        self.every_bay = seats_of(machine, []).bays
        self.kinds = {
            entry.item.key: kind_of(entry.item.part)
            for entry in machine.build.items
            if isinstance(entry.item.part, Cable)
        }
        self.fixed_ports = [self._fixed_port(rider) for rider in riders]
        self.fixed_bays = [self._fixed_bay(rider) for rider in riders]
        self.static = [self._static(number) for number in range(len(riders))]
        self.found: dict[tuple[object, ...], Way] = {}
        self.best = float("inf")
        self.steps = 0

    def ways(self) -> list[Way]:
        """Return the best ways, least cost first; at least one."""
        state = State(
            ports=[0] * len(self.ports),
            bays=[0] * len(self.bays),
            far=dict(self.seats.far),
            near=dict(self.seats.near),
            listed={kind: list(keys) for kind, keys in self.seats.cables.items()},
            n_adapters=0,
            told=dict(self.seats.told),
        )
        self._descend(0, state)
        close = [w for w in self.found.values() if w.cost <= self.best + TIE]
        return sorted(close, key=lambda way: way.cost)[: self.effort.ways]

    def _fixed_port(self, rider: Rider) -> int | None:
        """Return the group made for a port that is told; it belongs to one rider."""
        wire = rider.wire
        if wire.host is None or wire.connector is None or wire.port is None:
            return None
        kin = [g for g in self.seats.ports if g.host == wire.host]
        lanes = [g for g in kin if g.number in (0, wire.connector)] or kin
        group = PortGroup(
            host=wire.host,
            connector=lanes[0].connector if lanes else "sata",
            number=lanes[0].number if lanes else 0,
            is_multiplied=False,
            places=((wire.connector, wire.port),),
            room=1,
        )
        self.ports.append(group)
        return len(self.ports) - 1

    def _fixed_bay(self, rider: Rider) -> int | None:
        from_seats = self.seats.bays
        bay = rider.wire.bay
        if bay is None:
            return None
        if not bay:
            return 0 if not rider.width else self._own_bay(rider.width, "")
        kin = [g for g in self.every_bay if bay in g.places] or from_seats[:1]
        self.bays.append(replace(kin[0], size=bay[:3], places=(bay,)))
        return len(self.bays) - 1

    def _own_bay(self, size: str, name: str) -> int:
        group = BayGroup(
            size=size,
            connector="sata",
            number=0,
            is_fed=False,
            is_tray=False,
            places=(name,),
        )
        self.bays.append(group)
        return len(self.bays) - 1

    def _static(self, number: int) -> list[Option]:
        """Return a rider's ways with what they cost by themselves, best first."""
        rider = self.riders[number]
        ports = self._port_options(number, rider)
        bays = self._bay_options(number, rider)
        options = []
        for port, port_price in ports:
            for bay, bay_price in bays:
                kind = None
                if port is not None and bay is not None:
                    kind = cable_kind(self.ports[port], self.bays[bay])
                options.append(Option(port, bay, port_price + bay_price, kind))
        return sorted(options, key=lambda option: option.cost)

    def _port_options(
        self, number: int, rider: Rider
    ) -> list[tuple[int | None, float]]:
        fixed, wire = self.fixed_ports[number], rider.wire
        if fixed is not None:
            return [(fixed, 0.0)]
        found: list[tuple[int | None, float]] = [
            (index, port_cost(self.machine, rider, group))
            for index, group in enumerate(self.seats.ports)
            if wire.host in (None, group.host)
            and (not group.number or wire.connector in (None, group.number))
        ]
        return [*found, (None, NO_PORT)]

    def _bay_options(self, number: int, rider: Rider) -> list[tuple[int | None, float]]:
        fixed = self.fixed_bays[number]
        if fixed is not None:
            return [(fixed, 0.0)]
        priced = [
            (index, bay_cost(self.machine, rider, group))
            for index, group in enumerate(self.seats.bays)
        ]
        found: list[tuple[int | None, float]] = [
            (index, price) for index, price in priced if price is not None
        ]
        return found if not rider.width else [*found, (None, NO_BAY)]

    def _descend(self, number: int, state: State) -> None:
        if self.steps > self.effort.steps and self.found:
            return
        self.steps += 1
        if number == len(self.riders):
            self._note(state)
            return
        if state.cost + self._short(number, state) > self.best + TIE:
            return
        for option, price in self._open(number, state):
            undo = self._take(number, option, price, state)
            self._descend(number + 1, state)
            self._give_back(undo, state)

    def _note(self, state: State) -> None:
        mark = self._mark(state)
        known = self.found.get(mark)
        if known is None or state.cost < known.cost:
            self.found[mark] = Way(options=tuple(state.chosen), cost=state.cost)
        self.best = min(self.best, state.cost)

    def _mark(self, state: State) -> tuple[object, ...]:
        """Return what the evaluator can tell two ways apart by."""
        seen: Counter[tuple[object, ...]] = Counter()
        for rider, option in zip(self.riders, state.chosen, strict=True):
            port = self.ports[option.port] if option.port is not None else None
            bay = self.bays[option.bay] if option.bay is not None else None
            where = (port.host, port.is_multiplied) if port else ()
            kind = (bay.size, bay.is_fed, bay.number > 0) if bay else ()
            seen[rider.item.key, rider.role, where, kind] += 1
        return tuple(sorted(seen.items(), key=repr))

    def _short(self, number: int, state: State) -> float:
        """Return what the rest costs at least: places that are simply too few."""
        rest = range(number, len(self.riders))
        wanted = sum(self.fixed_ports[n] is None for n in rest)
        room = sum(
            g.room - used
            for g, used in zip(self.seats.ports, state.ports, strict=False)
        )
        large = sum(
            self.fixed_bays[n] is None and self.riders[n].width == "3.5" for n in rest
        )
        free = sum(
            len(g.places) - used
            for g, used in zip(self.seats.bays, state.bays, strict=False)
            if g.size == "3.5"
        )
        return max(NO_PORT * max(0, wanted - room), NO_BAY * max(0, large - free))

    def _open(self, number: int, state: State) -> Iterator[tuple[Option, float]]:
        """Yield the options that are open, with their whole price, best first."""
        rider, floor = self.riders[number], self._floor(number, state)
        found = []
        opened: set[tuple[object, ...]] = set()
        for option in self.static[number]:
            if (self._rank(option)) < floor:
                continue
            price = self._price(rider, option, state)
            if price is None or self._is_twin(option, state, opened):
                continue
            found.append((option, price))
        yield from sorted(found, key=lambda pair: pair[1])

    def _rank(self, option: Option) -> tuple[int, int]:
        none = 10_000
        return (
            none if option.port is None else option.port,
            none if option.bay is None else option.bay,
        )

    def _floor(self, number: int, state: State) -> tuple[int, int]:
        """Return the least way of a drive whose equal brother has gone before it."""
        if number == 0:
            return (-1, -1)
        mine, other = self.riders[number], self.riders[number - 1]
        is_same = (mine.item.key, mine.role) == (other.item.key, other.role)
        if is_same and mine.is_free and other.is_free:
            return self._rank(state.chosen[-1])
        return (-1, -1)

    def _is_twin(
        self, option: Option, state: State, opened: set[tuple[object, ...]]
    ) -> bool:
        """Return whether an equal untouched connector or backplane was tried before."""
        if option.port is None or option.bay is None:
            return False
        port, bay = self.ports[option.port], self.bays[option.bay]
        if not port.number and not bay.number:
            return False
        is_new_port = bool(port.number) and (port.host, port.number) not in state.far
        is_new_bay = bool(bay.number) and bay.number not in state.near
        near = state.near.get(bay.number, "")
        mark = (
            port.host,
            port.is_multiplied,
            port.room if is_new_port else option.port,
            is_new_port,
            (bay.size, bay.connector, len(bay.places)) if is_new_bay else option.bay,
            near,
        )
        if (is_new_port or is_new_bay) and mark in opened:
            return True
        opened.add(mark)
        return False

    def _price(self, rider: Rider, option: Option, state: State) -> float | None:
        """Return the price of an option as things stand; nothing where it is shut."""
        price = option.cost
        if option.port is not None:
            group = self.ports[option.port]
            if state.ports[option.port] >= group.room:
                return None
        if option.bay is not None:
            bay = self.bays[option.bay]
            if bay.places and state.bays[option.bay] >= len(bay.places):
                return None
            if not bay.places and bay.size:
                return None
            price += self._adapter_price(rider, bay, state)
        if option.port is None or option.bay is None or option.kind is None:
            return price
        port, bay = self.ports[option.port], self.bays[option.bay]
        if rider.wire.cable_key is not None:
            return price + self._told_price(rider.wire, option.kind, port, bay, state)
        piece = self._piece_price(option.kind, port, bay, state)
        return None if piece is None else price + piece

    def _told_price(
        self,
        wire: WireSketch,
        kind: CableKind,
        port: PortGroup,
        bay: BayGroup,
        state: State,
    ) -> float:
        """Return what is wrong with a way for a piece of cable that is told."""
        price = 0.0 if self.kinds.get(wire.cable_key or "") == kind else NO_CABLE
        known = state.told.get(wire.cable or "")
        if known is not None:
            same = known == ends_of(port.host, port.number, bay.number)
            return price if same else price + SHORT_CABLE
        is_taken = bool(port.number) and (port.host, port.number) in state.far
        is_taken |= bool(bay.number) and bay.number in state.near
        return price + SHORT_CABLE if is_taken else price

    def _adapter_price(self, rider: Rider, bay: BayGroup, state: State) -> float:
        if rider.width != "2.5" or bay.size != "3.5" or rider.wire.adapter_key:
            return 0.0
        able = sum(adapter_fits(rider, bay, part) for _, part in self.seats.adapters)
        return 0.0 if able > state.n_adapters or self._spare(rider, bay) else NO_ADAPTER

    def _spare(self, rider: Rider, bay: BayGroup) -> bool:
        """Return whether an adapter may be taken that is not listed."""
        return any(adapter_fits(rider, bay, item.part) for item in self.stock.adapters)

    def _piece_price(
        self, kind: CableKind, port: PortGroup, bay: BayGroup, state: State
    ) -> float | None:
        """Return what the cable costs: nothing on a piece that is there already."""
        new = new_piece_cost(kind, state.listed, self.stock)
        far = state.far.get((port.host, port.number)) if port.number else None
        if port.number and far not in (None, str(bay.number or "sata")):
            return None
        if not bay.number:
            return 0.0 if far else new
        near = state.near.get(bay.number)
        mine = near_name(port.host, port.number)
        if near == mine:
            return 0.0
        if near is None:
            return new
        return None if ":" in near or port.number else MIXED_HOSTS

    def _take(self, number: int, option: Option, price: float, state: State) -> Undo:
        undo = Undo(
            option=option,
            price=price,
            far=dict(state.far),
            near=dict(state.near),
            n_adapters=state.n_adapters,
            listed=list(state.listed.get(option.kind, ())) if option.kind else [],
            told=dict(state.told),
        )
        rider = self.riders[number]
        state.chosen.append(option)
        state.cost += price
        if option.port is not None:
            state.ports[option.port] += 1
        if option.bay is not None:
            state.bays[option.bay] += 1
            is_adapted = rider.width == "2.5" and self.bays[option.bay].size == "3.5"
            state.n_adapters += is_adapted
        self._begin(option, state, rider.wire)
        return undo

    def _begin(self, option: Option, state: State, wire: WireSketch) -> None:
        """Note the piece of cable that an option begins, if it begins one."""
        if option.port is None or option.bay is None or option.kind is None:
            return
        port, bay = self.ports[option.port], self.bays[option.bay]
        is_told = wire.cable_key is not None
        if is_told and wire.cable:
            ends = ends_of(port.host, port.number, bay.number)
            state.told.setdefault(wire.cable, ends)
        is_new = not port.number and not bay.number
        if port.number:
            is_new |= (port.host, port.number) not in state.far
            state.far[port.host, port.number] = str(bay.number or "sata")
        if bay.number:
            is_new |= bay.number not in state.near and not port.number
            state.near.setdefault(bay.number, near_name(port.host, port.number))
        if is_new and not is_told and state.listed.get(option.kind):
            state.listed[option.kind].pop()

    @staticmethod
    def _give_back(undo: Undo, state: State) -> None:
        option = undo.option
        state.chosen.pop()
        state.cost -= undo.price
        if option.port is not None:
            state.ports[option.port] -= 1
        if option.bay is not None:
            state.bays[option.bay] -= 1
        state.far, state.near = undo.far, undo.near
        state.n_adapters = undo.n_adapters
        state.told = undo.told
        if option.kind is not None:
            state.listed[option.kind] = undo.listed
