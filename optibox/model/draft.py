"""The variables of one program: an entry of the menu on one board.

Every family of rows reads and extends the same draft; the draft itself has no rows.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from optibox.build import BOARD, Item
from optibox.catalog.attachment import Card, Controller, Riser
from optibox.catalog.columns import Part
from optibox.catalog.notation import CONNECTOR_LANES, Slot
from optibox.catalog.platform import Board
from optibox.catalog.storage import BootMedium, HardDrive, SolidStateDrive
from optibox.machine.view import multiplier_leg, trained
from optibox.model.eligible import is_eligible
from optibox.model.menu import Entry, cache_usable_mb
from optibox.model.solver import Expression, Program
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.rules.demands import misses
from optibox.rules.lanes import (
    SOCKET_LANES,
    card_fits_slot,
    module_fits,
    module_mode,
)
from optibox.scenario import Scenario
from optibox.units import MB_PER_GB


@dataclass(frozen=True, slots=True)
class Berth:
    """A slot of the board at the lanes that a sharing state leaves to it."""

    slot: Slot
    lanes: int

    @property
    def view(self) -> Slot:
        """Return the slot with the lanes of this state."""
        return replace(self.slot, lanes=self.lanes)

    @property
    def name(self) -> str:
        """Return a name for variables."""
        return f"{self.slot.name}@{self.lanes}"


@dataclass(frozen=True, slots=True)
class Shape:
    """What of a drive decides which ports take it."""

    form: str
    interface: str
    is_large: bool
    is_behind_ok: bool
    """Whether it still reaches the needed rates behind a multiplier."""


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Ports of one host that are alike: onboard, a card's native ones, or its leg."""

    host: str
    item: Item | None
    berth: Berth | None
    n_ports: int
    connector: str
    is_leg: bool = False

    @property
    def name(self) -> str:
        """Return a name for variables."""
        place = self.berth.name if self.berth else ""
        return f"{self.host}{place}{'~leg' if self.is_leg else ''}"

    def takes(self, shape: Shape) -> bool:
        """Return whether the ports take a drive of some shape."""
        part = self.item.part if self.item else None
        if not isinstance(part, Controller):
            return shape.interface == "sata"
        if shape.interface == "sas" and not part.speaks_sas:
            return False
        if shape.is_large and part.has_32_bit_addresses:
            return False
        return shape.is_behind_ok or not self.is_leg


@dataclass(kw_only=True)
class Draft:
    """A program under construction."""

    entry: Entry
    board: Item
    items: dict[type[Part], tuple[Item, ...]]
    spares: dict[str, int]
    postage: dict[str, float]
    program: Program = field(default_factory=Program)
    loose: dict[str, Expression] = field(default_factory=dict)
    """Counts of items that sit in no slot."""
    placed: dict[tuple[str, Berth], Expression] = field(default_factory=dict)
    """One card or module in one berth."""
    on_riser: dict[str, Expression] = field(default_factory=dict)
    drives: dict[tuple[str, str], Expression] = field(default_factory=dict)
    """Hard drives by item key and role."""
    on_port: dict[tuple[str, Shape, Group], Expression] = field(default_factory=dict)
    """Drives by role and shape on a group of ports."""
    to_plain: dict[Group, Expression] = field(default_factory=dict)
    """Drives of a group that end in a plain SATA plug."""
    to_multi: dict[tuple[Group, str], Expression] = field(default_factory=dict)
    """Drives of a group that end in a multi-lane backplane, by connector."""
    pieces: dict[tuple[Group, str, str], Expression] = field(default_factory=dict)
    """Pieces of cable of a group by direction and drive end."""
    groups: list[Group] = field(default_factory=list)
    riser_room: dict[tuple[str, Berth], Expression] = field(default_factory=dict)
    """Modules that a riser in a berth shows on the processor chosen."""
    starts_in_turn: Expression = field(default_factory=Expression)
    counts: dict[str, Expression] = field(default_factory=dict)
    held: list[Any] = field(default_factory=list)
    """Energy of the aim and of limits, as ``rows_money.Held``."""
    blocked: Expression = field(default_factory=Expression)
    adapted: Expression = field(default_factory=Expression)
    capacity_tb: Expression = field(default_factory=Expression)
    """What the array holds at most, before the file system. [TB]"""
    on_backplane: Expression = field(default_factory=Expression)

    @property
    def board_part(self) -> Board:
        """Return the board."""
        return self.board.part_as(Board)

    def of(self, *records: type[Part]) -> Iterator[Item]:
        """Yield the items of some kinds."""
        for record in records:
            yield from self.items.get(record, ())

    def count(self, item: Item) -> Expression:
        """Return the count of an item in the build; copy it before adding to it."""
        return self.counts.get(item.key, _NONE)

    def add_up(self) -> None:
        """Add up the count of every item from its variables, once."""
        counts = {item.key: Expression() for item in self.everything()}
        counts[self.board.key].plus(1.0)
        for key, one in self.loose.items():
            counts[key].plus(one)
        for key, one in self.on_riser.items():
            counts[key].plus(one)
        for (key, _), one in self.placed.items():
            counts[key].plus(one)
        for (key, _), one in self.drives.items():
            counts[key].plus(one)
        for member in self._fixed_cache():
            counts[member.key].plus(1.0)
        self.counts = counts

    def _fixed_cache(self) -> Iterator[Item]:
        """Yield the cache drives that take no variable: those on cables."""
        for item in self.entry.cache:
            part = item.part
            if isinstance(part, SolidStateDrive) and part.form == "2.5":
                yield item

    @cached_property
    def by_key(self) -> dict[str, Item]:
        """Return every item by key."""
        return {item.key: item for item in self.everything()}

    def everything(self) -> Iterator[Item]:
        """Yield every item that can have a count, the board included."""
        yield self.board
        for record, found in self.items.items():
            if record is not Board:
                yield from found


_NONE = Expression()


def berths(board: Board) -> tuple[Berth, ...]:
    """Return every slot at every number of lanes that sharing can leave to it."""
    found = []
    for slot in board.slots:
        left = {slot.lanes}
        for rule in board.sharing:
            if rule.other_slot == slot.name and 0 < rule.other_lanes < slot.lanes:
                left.add(rule.other_lanes)
        found += [Berth(slot, lanes) for lanes in sorted(left, reverse=True)]
    return tuple(found)


def fits(part: Part, berth: Berth) -> bool:
    """Return whether a card or module goes into a berth."""
    if isinstance(part, Card):
        return card_fits_slot(part, berth.view)
    return bool(module_mode(part)) and module_fits(part, berth.view)


def network_fits(
    part: Part, berth: Berth, scenario: Scenario, least_mb_s: float
) -> bool:
    """Return whether a network card fits a berth that carries so much. [MB/s]."""
    if not fits(part, berth):
        return False
    factor = scenario.overrides.pcie.mid
    budget = pcie_planning_mb_s(*trained(part, berth.view), factor)
    return not misses(budget, least_mb_s)


def make_variables(draft: Draft) -> None:
    """Create the variables of items, places and drives."""
    entry, program = draft.entry, draft.program
    places = berths(draft.board_part)
    cache_modules = {
        item.key: sum(other.key == item.key for other in entry.cache)
        for item in entry.cache
        if module_mode(item.part)
    }
    for item in draft.everything():
        part = item.part
        if isinstance(part, Board | HardDrive):
            continue
        if isinstance(part, SolidStateDrive) and item.key not in cache_modules:
            continue
        if isinstance(part, Card) or module_mode(part):
            _place(draft, item, places)
            continue
        upper = _most(item, entry)
        draft.loose[item.key] = program.variable(f"n {item.key}", upper)
    for item in draft.of(HardDrive):
        for role, n in (
            ("data", entry.storage.n_data),
            ("parity", entry.storage.n_parity_drives),
        ):
            if n and is_eligible(item, role, entry):
                upper = n if item.limit is None else min(n, item.limit)
                draft.drives[item.key, role] = program.variable(
                    f"x {item.key} {role}", upper
                )
    draft.add_up()


def _place(draft: Draft, item: Item, places: tuple[Berth, ...]) -> None:
    is_cache = any(item.key == other.key for other in draft.entry.cache)
    for berth in places:
        if is_cache and not carries_ingest(draft.entry, berth):
            continue
        if fits(item.part, berth):
            draft.placed[item.key, berth] = draft.program.variable(
                f"p {item.key} {berth.name}", 1
            )
    is_module = bool(module_mode(item.part)) and not isinstance(item.part, Card)
    if is_module and module_mode(item.part) == "nvme":
        draft.on_riser[item.key] = draft.program.variable(f"r {item.key}", 2)


def _most(item: Item, entry: Entry) -> int:
    """Return the most pieces of a loose item that a build has a use for."""
    n = entry.storage.n_array + len(entry.cache) + 2
    most = {
        "memory": 16,
        "cable": n,
        "drive adapter": n,
        "power lead": n,
    }.get(item.part.kind, 1)
    return most if item.limit is None else min(most, item.limit)


def make_groups(draft: Draft) -> None:
    """Create the groups of ports: onboard, and each controller in each berth."""
    board = draft.board_part
    allow = draft.entry.scenario.choices.allow_multipliers
    if board.sata_ports:
        draft.groups.append(Group(BOARD, None, None, board.sata_ports, "sata"))
    for item in draft.of(Controller):
        part = item.part
        if not isinstance(part, Controller):
            continue
        legs = [multiplier_leg(part, index) for index in range(part.n_ports)]
        native, behind = legs.count(None), len(legs) - legs.count(None)
        for key, berth in draft.placed:
            if key != item.key:
                continue
            connector = part.connectors.connector
            if native:
                draft.groups.append(Group(key, item, berth, native, connector))
            if behind and allow:
                draft.groups.append(
                    Group(key, item, berth, behind, connector, is_leg=True)
                )


def n_connectors(group: Group) -> int:
    """Return the multi-lane connectors of a group; 0 for plain ports."""
    lanes = CONNECTOR_LANES[group.connector]
    return 0 if lanes == 1 else -(-group.n_ports // lanes)


def group_presence(draft: Draft, group: Group) -> Expression:
    """Return 1 where the group's host is there."""
    if group.berth is None:
        return Expression(constant=1.0)
    return draft.placed[group.host, group.berth]


def carries_ingest(entry: Entry, berth: Berth, lanes: int = SOCKET_LANES) -> bool:
    """Return whether a cache module in a berth can be fast enough for the ingest asked.

    Every phase of a burst goes through the module or straight to the array; where both
    are slower than the need, so is their mean. What the cache holds goes through it.
    """
    scenario = entry.scenario
    budget = pcie_planning_mb_s(
        berth.slot.generation,
        min(berth.lanes, lanes, SOCKET_LANES),
        scenario.overrides.pcie.mid,
    )
    if scenario.burst_gb * MB_PER_GB > cache_usable_mb(scenario, entry.cache):
        budget = max(budget, min(entry.pace.write_fast_mb_s, entry.network_mb_s))
    return not misses(budget, scenario.needs.ingest_mb_s)


def riser_sockets(item: Item, berth: Berth) -> int:
    """Return the modules that a riser shows in a berth, on the kindest processor."""
    part = item.part
    if not isinstance(part, Riser):
        return 0
    if part.has_switch:
        return part.n_sockets
    if not berth.slot.can_bifurcate:
        return min(1, part.n_sockets)
    return max(1, min(part.n_sockets, min(berth.lanes, part.lanes) // SOCKET_LANES))


def is_usb_boot(part: Part) -> bool:
    """Return whether a part is a boot stick for an inside USB place."""
    return isinstance(part, BootMedium) and part.interface == "usb"
