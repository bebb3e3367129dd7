"""Where cards and modules sit: kept where they were, else the place that serves best."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optibox.build import SlotUse
from optibox.catalog.attachment import Card, Riser
from optibox.catalog.notation import Slot
from optibox.catalog.platform import Board
from optibox.catalog.storage import SolidStateDrive
from optibox.machine.board import active_rules, ports_left, slots_left
from optibox.machine.view import trained
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.rules.lanes import (
    SOCKET_LANES,
    card_fits_slot,
    module_fits,
    module_fits_riser,
    module_mode,
)
from optibox.running.swap_kit import Kit, Placed

Seats = tuple[SlotUse, ...]
_PLAIN_SHARE = 1.0
"""Rates of places are only compared with each other: no overhead is taken off."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A slot of the board, or a socket of a riser that sits in one."""

    name: str
    slot: Slot | None
    riser: Riser | None = None


def wants_seat(placed: Placed) -> bool:
    """Return whether a part goes into a slot or socket."""
    return isinstance(placed.item.part, Card) or bool(module_mode(placed.item.part))


def seatings(kit: Kit, board: Board, before: Seats) -> Iterator[Seats]:
    """Yield where cards and modules can sit, the most promising first.

    Parameters
    ----------
    kit : Kit
        The chosen parts.
    board : Board
        Its board.
    before : tuple of SlotUse
        Where things sat; on another board the names mean nothing, but do no harm.
    """
    devices = sorted(
        (p for p in kit.placed if wants_seat(p)),
        key=lambda p: (not isinstance(p.item.part, Riser), p.role is not None),
    )
    old = {use.name: use.slot for use in before}
    kept = _seat_all(devices, board, {}, old)
    first = next(kept, None)
    if first is not None:
        yield first
    every = sorted(
        _seat_all(devices, board, {}, None), key=lambda s: _rank(s, kit, board, old)
    )
    yield from (seats for seats in every[:2] if seats != first)


def _seat_all(
    devices: Sequence[Placed],
    board: Board,
    taken: Mapping[str, Placed],
    only: Mapping[str, str] | None,
) -> Iterator[Seats]:
    """Yield every seating; with ``only`` known devices stay where they were."""
    if not devices:
        if _all_have_lanes(board, taken):
            yield tuple(
                SlotUse(name=d.name, key=d.item.key, slot=place)
                for place, d in taken.items()
            )
        return
    first, rest = devices[0], devices[1:]
    for place in _places(board, taken):
        if place.name in taken or not _fits(first, place):
            continue
        if only is not None and only.get(first.name, place.name) != place.name:
            continue
        yield from _seat_all(rest, board, {**taken, place.name: first}, only)


def _places(board: Board, taken: Mapping[str, Placed]) -> Iterator[_Place]:
    for slot in board.slots:
        yield _Place(slot.name, slot)
    for placed in taken.values():
        part = placed.item.part
        if isinstance(part, Riser):
            for number in range(1, part.n_sockets + 1):
                yield _Place(f"{placed.name}.{number}", None, part)


def _fits(device: Placed, place: _Place) -> bool:
    part = device.item.part
    if place.riser is not None:
        return not isinstance(part, Card) and module_fits_riser(part, place.riser)
    if place.slot is None:
        return False
    if isinstance(part, Card):
        return card_fits_slot(part, place.slot)
    return module_fits(part, place.slot)


def used_modes(taken: Mapping[str, Placed]) -> dict[str, str]:
    """Return slots in use with the mode in which the board's sharing sees them."""
    return {
        place: module_mode(device.item.part) or "pcie"
        for place, device in taken.items()
    }


def _all_have_lanes(board: Board, taken: Mapping[str, Placed]) -> bool:
    left = slots_left(board, active_rules(board, used_modes(taken)))
    return all(left[place].lanes > 0 for place in taken if place in left)


def _rank(
    seats: Seats, kit: Kit, board: Board, old: Mapping[str, str]
) -> tuple[float, float, int]:
    """Return ports lost, rate lost and moves of a seating: less is better."""
    by_name = {p.name: p for p in kit.placed}
    taken = {use.slot: by_name[use.name] for use in seats}
    rules = active_rules(board, used_modes(taken))
    left = slots_left(board, rules)
    rate = sum(_rate(device, left.get(place)) for place, device in taken.items())
    moves = sum(old.get(use.name, use.slot) != use.slot for use in seats)
    return board.sata_ports - ports_left(board, rules), -rate, moves


def _rate(device: Placed, slot: Slot | None) -> float:
    if slot is None:
        return 0.0
    part = device.item.part
    if isinstance(part, Card):
        generation, lanes = trained(part, slot)
    else:
        own = part.lanes if isinstance(part, SolidStateDrive) else SOCKET_LANES
        generation, lanes = slot.generation, min(own or SOCKET_LANES, slot.lanes)
    return pcie_planning_mb_s(generation, lanes, _PLAIN_SHARE) if lanes else 0.0


def ports_onboard(kit: Kit, board: Board, seats: Seats) -> int:
    """Return the board's SATA ports that work with a seating."""
    by_name = {p.name: p for p in kit.placed}
    taken = {use.slot: by_name[use.name] for use in seats}
    return ports_left(board, active_rules(board, used_modes(taken)))
