"""A build's year under another use of its days than the scenario's sessions give."""

from collections.abc import Sequence

from optibox.figures.power import activity_of, at_wall_w, state_dc_w
from optibox.figures.year import StateRow, Year, shape_of
from optibox.machine import Machine
from optibox.physics.operation import DayUse, StateYear, Transfers, operating_year


def year_under(machine: Machine, use: DayUse, transfers: Transfers) -> Year:
    """Return a machine's year for a use of its days and known hours of transfer.

    Parameters
    ----------
    machine : Machine
        The machine, run by its own operating plan.
    use : DayUse
        Sessions or replayed duty, hours, prices.
    transfers : Transfers
        As the evaluator gives them for this machine. [h]
    """
    operating = operating_year(use, shape_of(machine), transfers)
    rows = wall_rows(machine, operating.states)
    return Year(transfers=transfers, states=rows, operating=operating)


def wall_rows(machine: Machine, states: Sequence[StateYear]) -> tuple[StateRow, ...]:
    """Return states with their watts at the wall and their price."""
    rows = []
    for state in states:
        dc_w = state_dc_w(machine, state.data, state.parity, activity_of(state))
        wall = at_wall_w(machine, dc_w)
        rows.append(
            StateRow(
                name=state.name,
                hours=state.hours,
                dc_w=dc_w,
                wall_w=wall,
                money=state.money_per_w * wall,
            )
        )
    return tuple(rows)
