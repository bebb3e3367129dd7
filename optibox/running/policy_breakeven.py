"""From which gap on sleeping pays, for energy and for wear, by type of drive."""

import math
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.storage import HardDrive
from optibox.figures.money import wear_per_wake
from optibox.figures.power import loss_curve
from optibox.physics.breakeven import Transition, break_even_up_only_s
from optibox.physics.power import marginal_factor
from optibox.physics.wear import wear_break_even_h
from optibox.units import HOURS_PER_DAY, JOULES_PER_KWH


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEven:
    """One type of drive: what a sleep must last to be worth its wake."""

    label: str
    drives: tuple[str, ...]
    saved_dc_w: float
    saved_wall_w: float
    """Spinning less standby, at the wall. [W]"""
    wake_energy_price: float
    wake_wear_price: float
    energy_s: float
    """Gap from which on energy is saved; infinite where standby saves nothing. [s]"""
    wear_h: float
    """Gap from which on the energy saved pays for the wear as well. [h]"""
    most_sleeps_per_day: float
    """Sleeps a day above which evenly spread sleeps are too short to pay."""

    @property
    def ever_pays(self) -> bool:
        """Return whether any sleep is long enough."""
        return math.isfinite(self.wear_h)


def break_evens(found: Assessment) -> tuple[BreakEven, ...]:
    """Return the break-even gaps of each type of array drive in a build.

    Energy alone follows the plan's convention: a wake costs its spin-up energy and
    takes no time. A watt at the part is worth the supply's marginal factor at the
    wall, at the watts of sleep. Prices are the mean of the day.
    """
    kinds: dict[str, list[str]] = {}
    items = {}
    for drive in found.machine.array:
        if isinstance(drive.part, HardDrive):
            kinds.setdefault(drive.item.key, []).append(drive.name)
            items[drive.item.key] = (drive.part, drive.item.replacement_price)
    return tuple(
        _break_even(found, *items[key], tuple(names)) for key, names in kinds.items()
    )


def _break_even(
    found: Assessment, part: HardDrive, replacement: float, names: tuple[str, ...]
) -> BreakEven:
    prices = found.scenario.money.prices_by_hour()
    tariff, factor = sum(prices) / len(prices), factor_at_rest(found)
    idle_w, standby_w = part.idle_w.mid, part.standby_w.mid
    saved_wall_w = (idle_w - standby_w) * factor
    energy_price = part.spin_up_j.mid / JOULES_PER_KWH * factor * tariff
    wear_price = wear_per_wake(part, replacement)
    wear_h = wear_break_even_h(wear_price + energy_price, saved_wall_w, tariff)
    spin_up = Transition(up_j=part.spin_up_j.mid, up_s=part.spin_up_s.mid)
    return BreakEven(
        label=part.label or part.id,
        drives=names,
        saved_dc_w=idle_w - standby_w,
        saved_wall_w=saved_wall_w,
        wake_energy_price=energy_price,
        wake_wear_price=wear_price,
        energy_s=break_even_up_only_s(idle_w, standby_w, spin_up),
        wear_h=wear_h,
        most_sleeps_per_day=HOURS_PER_DAY / wear_h if wear_h > 0 else math.inf,
    )


def factor_at_rest(found: Assessment) -> float:
    """Return what one more DC watt adds at the wall while the machine rests."""
    supply = found.machine.supply
    if supply is None:
        return 1.0
    rest = [s for s in found.year.states if s.name in ("asleep", "spinning")]
    hours = sum(state.hours for state in rest)
    if hours <= 0:
        return 1.0
    dc_w = sum(state.hours * state.dc_w for state in rest) / hours
    return marginal_factor(dc_w, loss_curve(supply))
