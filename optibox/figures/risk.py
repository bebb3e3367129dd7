"""How likely data are lost to failing drives over the years, as a band."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optibox.catalog.columns import Level
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import rebuild_hours
from optibox.machine import DriveView, Machine
from optibox.physics.mttdl import mttdl_double_failure_h, mttdl_double_parity_h
from optibox.physics.risk import (
    Hazard,
    Loss,
    expected_tb_lost,
    loss_of_double_parity,
    loss_of_pairs,
    loss_of_single_parity,
    loss_without_redundancy,
    sector_error_probability,
)
from optibox.units import BYTES_PER_TB, HOURS_PER_YEAR

REPLACEMENT_H = 72.0
"""From a failure until a new drive is in: noticing, buying, fitting. Judgement, 24 to
336 hours. [h]"""

BIT_ERROR_RATES = (1e-16, 1e-15, 1e-14)
"""Unreadable bits per bit read; a datasheet's rate is a ceiling."""

_LEVELS: tuple[Level, Level, Level] = ("low", "mid", "high")

ONE_FILE_TB = 0.001
"""A file, generously: a gigabyte. Judgement, no source. [TB]"""

NOT_COUNTED = (
    "deletion, malware, theft, fire, surges, a failing supply, faulty memory or "
    "software, and pulling the wrong drive"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskCase:
    """The chances at one bit error rate, one level of the drives' failure rates."""

    level: Level
    bit_error_rate: float
    loss: Loss
    tb_lost: float
    """Expected loss over the years. [TB]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """What failing drives may take over the years."""

    years: int
    repair_h: float
    """Time until a failed drive is replaced and rebuilt. [h]"""
    rebuild_h: float
    survives: int
    cases: tuple[RiskCase, ...]
    tb_by_failures: float
    """What is gone where failures are too many. [TB]"""
    mttdl_years: float
    """Textbook mean time to too many failures, which is optimistic. [years]"""

    def case(self, level: Level, bit_error_rate: float) -> RiskCase:
        """Return one case of the band."""
        return next(
            c
            for c in self.cases
            if c.level == level and c.bit_error_rate == bit_error_rate
        )


def risk_of(machine: Machine) -> Risk | None:
    """Return the chance of losing data within the years that are counted.

    Failures are taken to be independent, with one repair at a time; real ones are not,
    so that these are figures to compare layouts by. Mixed drives count with the mean
    of their failure rates.

    Parameters
    ----------
    machine : Machine
        The machine; its scenario says how many years.

    Returns
    -------
    Risk or None
        Nothing where there are no drives.
    """
    drives = [d for d in machine.array if isinstance(d.part, HardDrive)]
    if not drives or not machine.in_role("data"):
        return None
    rebuild_h = min(rebuild_hours(machine), HOURS_PER_YEAR)
    survives = machine.operation.failures_survived
    repair_h = REPLACEMENT_H + (rebuild_h if survives else 0.0)
    cases = tuple(
        _case(machine, drives, repair_h, level, rate)
        for level in _LEVELS
        for rate in BIT_ERROR_RATES
    )
    return Risk(
        years=machine.scenario.money.years,
        repair_h=repair_h,
        rebuild_h=rebuild_h,
        survives=survives,
        cases=cases,
        tb_by_failures=_tb_by_failures(machine, drives),
        mttdl_years=_mttdl_years(machine, drives, repair_h),
    )


def _mttdl_years(
    machine: Machine, drives: Sequence[DriveView], repair_h: float
) -> float:
    """Return the familiar mean time to data loss by failing drives alone. [years]."""
    n, rate = len(drives), _failure_rate(drives, "mid")
    if rate <= 0.0:
        return math.inf
    mttf_h = HOURS_PER_YEAR / rate
    plan = machine.operation
    if "pairs" in plan.layout:
        hours = mttdl_double_failure_h(n, 2, mttf_h, repair_h)
    elif plan.n_parity == 0 or n <= plan.n_parity:
        hours = mttf_h / n
    elif plan.n_parity == 1:
        hours = mttdl_double_failure_h(n, n, mttf_h, repair_h)
    else:
        hours = mttdl_double_parity_h(n, mttf_h, repair_h)
    return hours / HOURS_PER_YEAR


def _failure_rate(drives: Sequence[DriveView], level: Level) -> float:
    """Return the mean annual failure rate of drives at a level."""
    rates = [
        drive.part.annual_failure_rate.at(level)
        for drive in drives
        if isinstance(drive.part, HardDrive)
    ]
    return sum(rates) / len(rates)


def _case(
    machine: Machine,
    drives: Sequence[DriveView],
    repair_h: float,
    level: Level,
    bit_error_rate: float,
) -> RiskCase:
    hazard = Hazard(
        _failure_rate(drives, level),
        float(machine.scenario.money.years),
        repair_h / HOURS_PER_YEAR,
    )
    loss = loss_of(machine, drives, hazard, bit_error_rate)
    lost = expected_tb_lost(
        loss, _tb_by_failures(machine, drives), _tb_by_sector(machine, drives)
    )
    return RiskCase(level=level, bit_error_rate=bit_error_rate, loss=loss, tb_lost=lost)


def loss_of(
    machine: Machine, drives: Sequence[DriveView], hazard: Hazard, bit_error_rate: float
) -> Loss:
    """Return the chances of both ways to lose data, by layout."""
    plan, n = machine.operation, len(drives)
    sizes = sorted((d.item.capacity_bytes for d in drives), reverse=True)
    if "pairs" in plan.layout:
        one = sector_error_probability(sum(sizes) / n, bit_error_rate)
        return loss_of_pairs(n // 2, hazard, one)
    if plan.n_parity == 0 or n <= plan.n_parity:
        return loss_without_redundancy(n, hazard)
    survivors = sum(sizes) * (n - plan.n_parity) / n
    unreadable = sector_error_probability(survivors, bit_error_rate)
    if plan.n_parity == 1:
        return loss_of_single_parity(n, hazard, unreadable)
    return loss_of_double_parity(n, hazard, unreadable)


def _tb_by_failures(machine: Machine, drives: Sequence[DriveView]) -> float:
    """Return what is gone with one failure too many: dead drives' files, or a stripe."""
    plan = machine.operation
    data = [d.item.capacity_bytes for d in drives if d.role == "data"]
    mean = sum(data) / len(data) / BYTES_PER_TB
    if plan.layout == "pairs":
        return mean
    if plan.layout == "independent":
        # a parity drive among the dead holds no files
        dead = plan.n_parity + 1
        return mean * dead * len(data) / len(drives)
    whole = sum(data) / BYTES_PER_TB
    if plan.layout == "striped":
        return whole * (len(data) - plan.n_parity) / len(data)
    return whole / 2


def _tb_by_sector(machine: Machine, drives: Sequence[DriveView]) -> float:
    """Return what an unreadable sector costs while a drive is rebuilt. [TB].

    Of independent drives and pairs the file that it is in; of a stripe all, since many
    rebuilds stop there.
    """
    if "striped" in machine.operation.layout:
        return _tb_by_failures(machine, drives)
    return ONE_FILE_TB
