"""A build's year under another use of its days than the scenario's sessions give."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from optibox.figures.power import activity_of, at_wall_w, state_dc_w
from optibox.figures.year import StateRow, Year, shape_of
from optibox.machine import Machine
from optibox.physics.operation import DayUse, StateYear, Transfers, operating_year
from optibox.units import DAYS_PER_YEAR, HOURS_PER_DAY

MOST_MOVING = 0.98
"""Share of the day that transfers may fill in all: a log of accesses that overlap all
day long would otherwise leave no hours for anything else; judgement."""


class Duty(Protocol):
    """How often drives are reached, from elsewhere than the scenario's sessions."""

    def of_mean_drive(self, use: DayUse, timeout_min: float | None) -> DayUse:
        """Return a day's use with the duty of the mean data drive."""

    def of_drive(self, name: str, use: DayUse, timeout_min: float | None) -> DayUse:
        """Return a day's use with the duty of one data drive."""

    def accesses_per_year_in(self, hours_of_week: Sequence[bool]) -> float:
        """Return the accesses a year that fell into some hours of the week."""


def use_under(
    duty: Duty | None, use: DayUse, timeout_min: float | None, transfers: Transfers
) -> DayUse:
    """Return a day's use under a duty, reading held to what transfers leave.

    Parameters
    ----------
    duty : Duty or None
        Nothing leaves the use as it is.
    use : DayUse
        By the scenario's sessions.
    timeout_min : float or None
        None is never. [min]
    transfers : Transfers
        Of the machine. [h]
    """
    if duty is None:
        return use
    return reading_held(duty.of_mean_drive(use, timeout_min), transfers)


def reading_held(use: DayUse, transfers: Transfers) -> DayUse:
    """Return a use whose reading fits into the day beside the transfers."""
    daily = transfers.ingest_h + transfers.flush_h + transfers.overflow_h
    moving = daily + transfers.check_h * use.checks_per_year / DAYS_PER_YEAR
    room = max(0.0, MOST_MOVING - moving / HOURS_PER_DAY)
    reading = use.sessions_per_h * use.accesses * use.service_h
    if reading <= room:
        return use
    return replace(use, service_h=use.service_h * room / reading)


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
