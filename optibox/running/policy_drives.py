"""The best timeout of each drive by itself, where drives sleep one by one.

Independent drives have nothing to do with each other but the supply's curve, on which
their watts add up; that is why timeouts are tried together and not one after another.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from optibox.assess import Assessment
from optibox.catalog.storage import HardDrive
from optibox.figures.money import (
    wear_limit_ok,
    wear_per_wake,
)
from optibox.figures.power import ASLEEP, activity_of, at_wall_w, drive_dc_w, state_dc_w
from optibox.figures.terms import energy_annuity, plain_annuity
from optibox.figures.year import day_use, shape_of
from optibox.machine import DriveView
from optibox.physics.operation import OperatingYear, operating_year
from optibox.running.policy import MENU_MIN, timeout_h
from optibox.running.policy_year import Duty, reading_held

_MOST_TOGETHER = 20_000
"""Combinations up to which all are tried; beyond, one group after another in turns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTimeout:
    """Drives that are alike, and the timeout that suits them best."""

    drives: tuple[str, ...]
    role: str
    label: str
    timeout_min: float | None
    """Nothing = never."""
    spinning_h_per_day: float
    wakes_per_year: float
    saving_per_year: float
    """Against the best timeout that all share; of these drives together. [currency]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTimeouts:
    """The best timeout of every drive."""

    groups: tuple[OwnTimeout, ...]
    total: float
    """Energy and wear over the years. [currency]"""
    shared_timeout_min: float | None
    shared_total: float
    """The same with the best timeout that all share."""
    reason: str = ""
    """Why there is nothing to choose, or nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Drives of one role and kind, with what each timeout means for one of them."""

    drives: tuple[DriveView, ...]
    part: HardDrive
    role: str
    extra_w: Mapping[float | None, tuple[float, ...]]
    """Watts above standby, by timeout and state, of all of them. [W DC]"""
    wear: Mapping[float | None, float]
    """Over the years, of all of them. [currency]"""
    years: Mapping[float | None, OperatingYear]
    allowed: tuple[float | None, ...]


def own_timeouts(
    found: Assessment,
    *,
    menu: Sequence[float | None] = MENU_MIN,
    duty: Duty | None = None,
) -> OwnTimeouts:
    """Return the best timeout of each drive of a build, all found together.

    Parameters
    ----------
    found : Assessment
        The build under its scenario.
    menu : sequence of float or None
        Timeouts; None is never. [min]
    duty : Duty, optional
        How often each drive is reached, where a log says so.
    """
    shared = found.machine.operation.timeout_min
    if found.machine.operation.layout != "independent":
        layout = found.machine.operation.layout
        reason = f"drives of {layout} layouts are reached together and sleep together"
        return OwnTimeouts(
            groups=(), total=0, shared_timeout_min=shared, shared_total=0, reason=reason
        )
    groups = tuple(_groups(found, menu, duty))
    bill = _Bill(found, groups)
    common = [t for t in menu if all(t in group.allowed for group in groups)]
    base = min(common, key=lambda t: bill.total((t,) * len(groups)))
    start = (base,) * len(groups)
    best = _best_choice(bill, groups, start)
    rows = tuple(
        _row(bill, group, start, index, choice)
        for index, (group, choice) in enumerate(zip(groups, best, strict=True))
    )
    return OwnTimeouts(
        groups=rows,
        total=bill.total(best),
        shared_timeout_min=base,
        shared_total=bill.total(start),
    )


def _groups(
    found: Assessment, menu: Sequence[float | None], duty: Duty | None
) -> Iterator[_Group]:
    kinds: dict[tuple[str, str, str], list[DriveView]] = {}
    for drive in found.machine.array:
        # only a log can tell drives of one kind apart
        name = drive.name if duty is not None and drive.role == "data" else ""
        kinds.setdefault((drive.role, drive.item.key, name), []).append(drive)
    for (role, _, name), drives in sorted(kinds.items()):
        part = drives[0].part
        if isinstance(part, HardDrive):
            years = {t: _year(found, t, duty, name) for t in menu}
            yield _group(found, tuple(drives), role, part, years)


def _year(
    found: Assessment, timeout_min: float | None, duty: Duty | None, drive: str
) -> OperatingYear:
    plan = found.machine.operation
    use = day_use(found.scenario, plan.flush_hour, plan.checks_per_year)
    if duty is not None:
        use = reading_held(duty.of_drive(drive, use, timeout_min), found.year.transfers)
    shape = replace(shape_of(found.machine), timeout_h=timeout_h(timeout_min))
    return operating_year(use, shape, found.year.transfers)


def _group(
    found: Assessment,
    drives: tuple[DriveView, ...],
    role: str,
    part: HardDrive,
    years: Mapping[float | None, OperatingYear],
) -> _Group:
    asleep_w, wear = drive_dc_w(part, ASLEEP), wear_per_wake
    annuity = plain_annuity(found.scenario.money)
    extra_w, price, allowed = {}, {}, []
    for timeout, year in years.items():
        mixes = [s.parity if role == "parity" else s.data for s in year.states]
        watts = (drive_dc_w(part, mix) - asleep_w for mix in mixes)
        extra_w[timeout] = tuple(len(drives) * w for w in watts)
        wakes = _wakes(year, role)
        price[timeout] = annuity * sum(
            wakes * wear(part, drive.item.replacement_price) for drive in drives
        )
        if all(
            wear_limit_ok(drive.item.starts, wakes, part, found.scenario)
            for drive in drives
        ):
            allowed.append(timeout)
    return _Group(
        drives=drives,
        part=part,
        role=role,
        extra_w=extra_w,
        wear=price,
        years=years,
        allowed=tuple(allowed),
    )


def _wakes(year: OperatingYear, role: str) -> float:
    return (year.parity if role == "parity" else year.data).wakes


class _Bill:
    """What timeouts of all groups together cost over the years."""

    def __init__(self, found: Assessment, groups: Sequence[_Group]) -> None:
        money = found.scenario.money
        self.machine, self.groups, self.terms = found.machine, groups, money.terms
        # states and their hours are the same under every timeout
        some = next(iter(groups[0].years.values())) if groups else None
        states = some.states if some else ()
        self.base_w = [
            state_dc_w(self.machine, ASLEEP, ASLEEP, activity_of(s)) for s in states
        ]
        annuity = energy_annuity(money)
        self.price_per_w = [annuity * state.money_per_w for state in states]

    def total(self, choice: Sequence[float | None]) -> float:
        """Return energy and wear over the years, as far as they count. [currency]."""
        cost = 0.0
        if "energy" in self.terms:
            for index, (base_w, price) in enumerate(
                zip(self.base_w, self.price_per_w, strict=True)
            ):
                extra = sum(
                    group.extra_w[t][index]
                    for group, t in zip(self.groups, choice, strict=True)
                )
                cost += price * at_wall_w(self.machine, base_w + extra)
        if "wear" in self.terms:
            cost += sum(g.wear[t] for g, t in zip(self.groups, choice, strict=True))
        return cost


def _best_choice(
    bill: _Bill, groups: Sequence[_Group], start: tuple[float | None, ...]
) -> tuple[float | None, ...]:
    """Return the cheapest timeouts: of all combinations, or until no group gains."""
    n_choices = 1
    for group in groups:
        n_choices *= max(1, len(group.allowed))
    if n_choices <= _MOST_TOGETHER:
        every = product(*(group.allowed for group in groups))
        return min(every, key=bill.total, default=start)
    best = list(start)
    while True:
        before = tuple(best)
        for index, group in enumerate(groups):
            best[index] = min(
                group.allowed,
                key=lambda t: bill.total((*best[:index], t, *best[index + 1 :])),
            )
        if tuple(best) == before:
            return before


def _row(
    bill: _Bill,
    group: _Group,
    start: tuple[float | None, ...],
    index: int,
    choice: float | None,
) -> OwnTimeout:
    alone = (*start[:index], choice, *start[index + 1 :])
    year = group.years[choice]
    drive_year = year.parity if group.role == "parity" else year.data
    years = bill.machine.scenario.money.years
    return OwnTimeout(
        drives=tuple(drive.name for drive in group.drives),
        role=group.role,
        label=group.part.label or group.part.id,
        timeout_min=choice,
        spinning_h_per_day=drive_year.spinning_h / 365.0,
        wakes_per_year=drive_year.wakes,
        saving_per_year=(bill.total(start) - bill.total(alone)) / years,
    )
