"""The register of row families, and putting one program together.

A program's rows are named after the function that writes them or the promise they
keep; DEVELOPERS.md tabulates them.
"""

from collections.abc import Callable

from optibox.build import Item
from optibox.catalog.columns import Part
from optibox.model import (
    rows_array,
    rows_links,
    rows_money,
    rows_parts,
    rows_power,
    rows_wiring,
)
from optibox.model.draft import Draft, make_variables
from optibox.model.menu import Entry
from optibox.model.rows_money import Cost

FAMILIES: tuple[Callable[[Draft], None], ...] = (
    rows_parts.one_of_each,
    rows_parts.platform_suits,
    rows_parts.memory_enough,
    rows_parts.slots_shared,
    rows_parts.modules_on_risers,
    rows_parts.processor_lanes,
    rows_parts.display_there,
    rows_parts.network_reached,
    rows_parts.insisted,
    rows_array.drive_counts,
    rows_array.capacity_met,
    rows_array.parity_largest,
    rows_array.sectors_alike,
    rows_wiring.drives_on_ports,
    rows_wiring.ports_enough,
    rows_wiring.cables_reach,
    rows_wiring.bays_enough,
    rows_links.links_carry,
    rows_power.deep_idle,
    rows_power.rails_carry,
    rows_power.wall_limits,
    rows_power.plugs_enough,
)
"""Every family, in an order in which each finds the variables it reads."""


def formulate(
    entry: Entry,
    board: Item,
    items: dict[type[Part], tuple[Item, ...]],
    spares: dict[str, int],
    postage: dict[str, float],
) -> tuple[Draft, Cost]:
    """Return the program of one entry on one board.

    Parameters
    ----------
    entry : Entry
        What is fixed.
    board : Item
        The board.
    items : dict
        Items on offer by kind; those of the cache included.
    spares, postage : dict
        Pieces on the shelf by key; postage by seller.
    """
    draft = Draft(entry=entry, board=board, items=items, spares=spares, postage=postage)
    make_variables(draft)
    for family in FAMILIES:
        family(draft)
    cost = rows_money.set_aim(draft, entry.weights)
    limits(draft, cost)
    points = rows_money.start_points(draft, cost)
    for key, curve in rows_money.supply_curves(draft).items():
        rows_money.hold_up(draft, cost, key, curve, points)
    return draft, cost


def limits(draft: Draft, cost: Cost) -> None:
    """Keep the purchase within the budget."""
    budget = draft.entry.scenario.limits.budget
    if budget is not None:
        draft.program.require("budget", cost.purchase.copy(), "<=", budget + 1e-6)
