"""A build's year: transfer hours, states, energy, wakes."""

import math
from dataclasses import dataclass

from optibox.catalog.storage import HardDrive
from optibox.figures.chains import burst, chain, check_hours, usable_cache
from optibox.figures.power import activity_of, at_wall_w, state_dc_w
from optibox.machine import Machine
from optibox.physics.cache import flush_hours, transfer_hours
from optibox.physics.operation import (
    ArrayShape,
    DayUse,
    OperatingYear,
    Transfers,
    operating_year,
)
from optibox.scenario import Scenario
from optibox.units import MB_PER_GB, SECONDS_PER_HOUR

LONGEST_H = 8760.0
"""A transfer that never ends (rate 0) is counted as a year: the figures stay finite."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StateRow:
    """One state of the year at the wall."""

    name: str
    hours: float
    dc_w: float
    wall_w: float
    money: float
    """Energy price of the state's hours in the first year. [currency]"""

    @property
    def kwh(self) -> float:
        """Return the state's energy in a year. [kWh]."""
        return self.hours * self.wall_w / 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Year:
    """What a year of a build looks like."""

    transfers: Transfers
    states: tuple[StateRow, ...]
    operating: OperatingYear

    @property
    def kwh(self) -> float:
        """Return the energy at the wall in a year. [kWh]."""
        return sum(state.kwh for state in self.states)

    @property
    def energy_money(self) -> float:
        """Return the first year's energy price. [currency]."""
        return sum(state.money for state in self.states)


def day_use(scenario: Scenario, flush_hour: float, checks_per_year: float) -> DayUse:
    """Return a scenario's usage as plain numbers for the duty functions."""
    usage = scenario.usage
    return DayUse(
        sessions_per_h=usage.sessions_per_day / 24.0,
        metadata_per_h=usage.metadata_sessions_per_day / 24.0,
        accesses=float(usage.accesses_per_session),
        gap_h=usage.minutes_between / 60.0,
        service_h=usage.seconds_per_access / SECONDS_PER_HOUR,
        ingest_hour=usage.ingest_hour,
        flush_hour=flush_hour,
        check_hour=usage.check_hour,
        checks_per_year=checks_per_year,
        spinning_fraction=usage.spinning_fraction,
        prices=scenario.money.prices_by_hour(),
    )


def transfers_of(machine: Machine) -> Transfers:
    """Return the hours that a day's transfers and one check take on a machine. [h]."""
    fill = machine.scenario.needs.fill_fraction
    volume_mb = machine.scenario.usage.ingest_gb_per_day * MB_PER_GB
    check_h = _bounded(check_hours(machine))
    if not machine.in_role("cache"):
        rate = chain(machine, "write", fill).rate_mb_s
        return Transfers(
            ingest_h=_bounded(transfer_hours(volume_mb, rate)), check_h=check_h
        )
    fast, slow, overflow = burst(machine, volume_mb, fill).phases
    flush_rate = chain(machine, "flush", fill).rate_mb_s
    return Transfers(
        ingest_h=_bounded(fast.hours + slow.hours),
        overflow_h=_bounded(overflow.hours),
        flush_h=_bounded(flush_hours(volume_mb, usable_cache(machine), flush_rate)),
        check_h=check_h,
    )


def _bounded(hours: float) -> float:
    return LONGEST_H if math.isnan(hours) else min(hours, LONGEST_H)


def shape_of(machine: Machine) -> ArrayShape:
    """Return what of the operating plan decides who spins."""
    plan = machine.operation
    return ArrayShape(
        layout=plan.layout,
        reconstructs=plan.write_mode == "reconstruct",
        n_data=max(1, len(machine.in_role("data"))),
        n_parity=len(machine.in_role("parity")),
        has_cache=bool(machine.in_role("cache")),
        timeout_h=plan.timeout_h,
    )


def year_of(machine: Machine) -> Year:
    """Return a machine's year under its scenario."""
    plan = machine.operation
    use = day_use(machine.scenario, plan.flush_hour, plan.checks_per_year)
    transfers = transfers_of(machine)
    operating = operating_year(use, shape_of(machine), transfers)
    rows = []
    for state in operating.states:
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
    return Year(transfers=transfers, states=tuple(rows), operating=operating)


def wakes_of(year: Year, role: str) -> float:
    """Return the wakes a year of one drive in a role."""
    drive = year.operating.parity if role == "parity" else year.operating.data
    return drive.wakes


def rating_of(part: HardDrive) -> float:
    """Return the scarcer of a drive's two cycle ratings."""
    return min(part.start_stop_rating.mid, part.load_unload_rating.mid)
