"""What a board gives once its sharing rules have been applied."""

from collections.abc import Mapping
from dataclasses import replace

from optibox.catalog.notation import SharingRule, Slot
from optibox.catalog.platform import Board


def active_rules(board: Board, used: Mapping[str, str]) -> tuple[SharingRule, ...]:
    """Return the sharing rules in force.

    Parameters
    ----------
    board : Board
        The board.
    used : mapping
        Slot name to the mode it is used in: ``sata`` or ``nvme`` for an M.2 module,
        ``pcie`` for a card.
    """
    return tuple(
        rule
        for rule in board.sharing
        if rule.slot in used and rule.mode in ("", used[rule.slot])
    )


def ports_left(board: Board, rules: tuple[SharingRule, ...]) -> int:
    """Return the onboard ports that work under the rules in force."""
    return max(0, board.sata_ports - sum(rule.ports_lost for rule in rules))


def slots_left(board: Board, rules: tuple[SharingRule, ...]) -> dict[str, Slot]:
    """Return the slots with the lanes left to them; one turned off has none."""
    slots = {slot.name: slot for slot in board.slots}
    for rule in rules:
        if rule.other_slot in slots:
            slot = slots[rule.other_slot]
            lanes = min(slot.lanes, rule.other_lanes)
            slots[rule.other_slot] = replace(slot, lanes=lanes)
    return slots
