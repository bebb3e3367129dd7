"""What a change is worth: exact from two assessments, and guessed from figures alone."""

from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.columns import Part
from optibox.catalog.platform import PowerSupply
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.chains import usable_cache
from optibox.figures.money import (
    cache_wear_per_year,
    energy_annuity,
    plain_annuity,
    replacements_per_year,
    wear_per_wake,
    wear_per_year,
)
from optibox.figures.power import (
    activity_of,
    at_wall_w,
    deep_idle_loss_w,
    drive_dc_w,
    is_blocker,
    loss_curve,
    part_dc_w,
)
from optibox.figures.year import wakes_of
from optibox.physics.operation import StateYear
from optibox.physics.power import marginal_factor, wall_w
from optibox.running.swap_changes import Change


@dataclass(frozen=True, slots=True, kw_only=True)
class Yearly:
    """What a machine costs in its first year, of the terms that count. [currency]."""

    energy: float
    steady: float
    """Wear, cache wear and replacements: they do not grow with the tariff."""

    @property
    def total(self) -> float:
        """Return all of it."""
        return self.energy + self.steady


def yearly_of(found: Assessment) -> Yearly:
    """Return a machine's cost in its first year. [currency/year]."""
    machine, terms = found.machine, found.scenario.money.terms
    usable = usable_cache(machine) if machine.in_role("cache") else 0.0
    steady = {
        "wear": wear_per_year(machine, found.year),
        "cache wear": cache_wear_per_year(machine, usable),
        "replacements": replacements_per_year(found.build),
    }
    return Yearly(
        energy=found.year.energy_money if "energy" in terms else 0.0,
        steady=sum(value for term, value in steady.items() if term in terms),
    )


def promise(found: Assessment, change: Change) -> float:
    """Return about what a change saves over the years, less its bare price.

    Figures alone, at the machine's own hours: whether anything fits is not asked, and
    cables, boxes and rates are left out. It says which changes are worth assessing.

    Returns
    -------
    float
        [currency]
    """
    money = found.scenario.money
    energy = sum(
        state.money_per_w * _wall_saved_w(found, change, state)
        for state in found.year.operating.states
    )
    price = change.price if "purchase" in money.terms else 0.0
    counted = energy * energy_annuity(money) if "energy" in money.terms else 0.0
    return counted + _wear_saved(found, change) * plain_annuity(money) - price


def _wall_saved_w(found: Assessment, change: Change, state: StateYear) -> float:
    dc_w = _dc_of(found, state)
    machine = found.machine
    if change.kind == "power supply" and change.into is not None:
        part = change.into.part
        if isinstance(part, PowerSupply):
            return at_wall_w(machine, dc_w) - wall_w(dc_w, loss_curve(part))
    factor = 1.0
    if machine.supply is not None:
        factor = marginal_factor(dc_w, loss_curve(machine.supply))
    return factor * (_dc_part(change, state, into=False) - _dc_part(change, state))


def _dc_of(found: Assessment, state: StateYear) -> float:
    for row in found.year.states:
        if row.name == state.name and row.hours == state.hours:
            return row.dc_w
    return found.year.states[0].dc_w


def _dc_part(change: Change, state: StateYear, *, into: bool = True) -> float:
    item, n = (change.into, change.n_in) if into else (change.out, change.n_out)
    if item is None:
        return 0.0
    part: Part = item.part
    if isinstance(part, HardDrive):
        return n * drive_dc_w(
            part, state.parity if change.role == "parity" else state.data
        )
    return n * part_dc_w(part, activity_of(state))


def _wear_saved(found: Assessment, change: Change) -> float:
    """Return the wear of the array that a change spares in a year. [currency]."""
    if "wear" not in found.scenario.money.terms or change.kind != "hard drive":
        return 0.0
    wakes = wakes_of(found.year, change.role or "data")
    total = 0.0
    for item, n in ((change.out, change.n_out), (change.into, -change.n_in)):
        if item is not None and isinstance(item.part, HardDrive):
            total += n * wakes * wear_per_wake(item.part, item.replacement_price)
    return total


def slack(found: Assessment) -> float:
    """Return by how much two changes together can beat their promises. [currency].

    The board's deep-idle loss, which goes when the last blocker goes, and a
    twentieth of the running cost for hours that better rates shorten.
    """
    money = found.scenario.money
    board = found.machine.board
    lost_w = (
        board.deep_idle_loss_w.mid if board and deep_idle_loss_w(found.machine) else 0
    )
    per_w = sum(s.money_per_w for s in found.year.operating.states)
    running = yearly_of(found).total
    return 1.2 * lost_w * per_w * energy_annuity(money) + 0.05 * running * money.years


def has_blocker(change: Change) -> bool:
    """Return whether a part that blocks deep idle goes in or out."""
    parts = [item.part for item in (change.out, change.into) if item]
    return any(is_blocker(part) for part in parts)


def is_solid(part: Part | None) -> bool:
    """Return whether a part is a solid-state drive."""
    return isinstance(part, SolidStateDrive)
