"""The register of row families, and putting one program together.

A program's rows are named after the function that writes them or the promise they
keep; DEVELOPERS.md tabulates them.
"""

from collections.abc import Callable

from optibox.build import Item
from optibox.catalog.columns import Part
from optibox.criteria import LIMITS
from optibox.model import (
    rows_array,
    rows_links,
    rows_money,
    rows_move,
    rows_parts,
    rows_plugs,
    rows_power,
    rows_wiring,
)
from optibox.model.aims import (
    Ceiling,
    at_most,
)
from optibox.model.draft import Draft, make_variables
from optibox.model.menu import Entry
from optibox.model.solver import Expression

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
    rows_move.moves_safely,
    rows_links.links_carry,
    rows_power.deep_idle,
    rows_power.rails_carry,
    rows_power.wall_limits,
    rows_plugs.plugs_enough,
)
"""Every family, in an order in which each finds the variables it reads."""


def formulate(
    entry: Entry,
    board: Item,
    items: dict[type[Part], tuple[Item, ...]],
    spares: dict[str, int],
    postage: dict[str, float],
    ceilings: tuple[Ceiling, ...] = (),
) -> Draft:
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
    ceilings : tuple of Ceiling
        Limits beside those of the scenario.
    """
    draft = Draft(entry=entry, board=board, items=items, spares=spares, postage=postage)
    make_variables(draft)
    for family in FAMILIES:
        family(draft)
    paid, _ = rows_money.purchase(draft)
    draft.program.objective, _ = rows_money.measure(
        draft, paid, entry.weights, "energy"
    )
    limits(draft, paid)
    for number, ceiling in enumerate(ceilings):
        value, _ = rows_money.measure(draft, paid, ceiling.weights, f"ceiling {number}")
        draft.program.require("ceiling", value, "<=", at_most(ceiling.most))
    curves = rows_money.supply_curves(draft)
    for held in draft.held:
        points = rows_money.start_points(draft, held)
        for key, curve in curves.items():
            rows_money.hold_up(draft, held, key, curve, points)
    return draft


def limits(draft: Draft, paid: Expression) -> None:
    """Keep purchase, total cost and a year's energy within their limits."""
    scenario = draft.entry.scenario
    limit = scenario.limits
    if limit.budget is not None:
        draft.program.require("budget", paid.copy(), "<=", limit.budget + 1e-6)
    _keep(draft, paid, "total_cost")
    _keep(draft, paid, "annual_kwh")


def _keep(draft: Draft, paid: Expression, row: str) -> None:
    """Keep a weighted sum within its limit."""
    criterion = LIMITS[row]
    most = criterion.asked_of(draft.entry.scenario)
    if most is not None and criterion.weights is not None:
        weights = criterion.weights(draft.entry.scenario)
        value, _ = rows_money.measure(draft, paid, weights, criterion.name)
        draft.program.require(row, value, "<=", at_most(most))
