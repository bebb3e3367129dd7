"""What a change could be worth, guessed from figures alone.

Whether anything fits is not asked; cables, boxes and better rates are left out. It
says which changes are worth assessing, never what is shown.
"""

from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.platform import Board, Cooler, PowerSupply, Processor
from optibox.catalog.storage import HardDrive
from optibox.figures.money import replacement_rate, wear_per_wake
from optibox.figures.power import (
    activity_of,
    at_wall_w,
    deep_idle_loss_w,
    drive_dc_w,
    loss_curve,
    part_dc_w,
)
from optibox.figures.terms import energy_annuity
from optibox.figures.year import wakes_of
from optibox.physics.operation import StateYear
from optibox.physics.power import marginal_factor, wall_w
from optibox.running.swap_changes import Change
from optibox.running.swap_worth import yearly_of
from optibox.scenario import Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """About what a change saves in a year, and its bare price. [currency]."""

    energy: float
    steady: float
    price: float

    def value(self, money: Money, start: int = 0) -> float:
        """Return the present value of making the change after so many years."""
        total = -self.price * _worth(money, start)
        for year in range(start, money.years):
            grown = self.energy * (1.0 + money.tariff_growth) ** year
            total += (grown + self.steady) * _worth(money, year + 1)
        return total

    def best_value(self, money: Money) -> float:
        """Return the present value of making the change in the year that suits best."""
        return max(self.value(money, start) for start in range(money.years))


def _worth(money: Money, years: int) -> float:
    """Return what one unit in so many years is worth today."""
    worth: float = (1.0 + money.discount) ** -years
    return worth


def promise(found: Assessment, change: Change) -> Promise:
    """Return about what a change saves, at the machine's own hours and load.

    Parameters
    ----------
    found : Assessment
        The machine.
    change : Change
        One change of it.
    """
    money = found.scenario.money
    energy = sum(
        state.money_per_w * _wall_saved_w(found, change, state)
        for state in found.year.operating.states
    )
    steady = {
        "wear": _wear_saved(found, change),
        "cache wear": _cache_wear_saved(found, change),
        "replacements": _replacements_saved(change),
    }
    return Promise(
        energy=energy if "energy" in money.terms else 0.0,
        steady=sum(value for term, value in steady.items() if term in money.terms),
        price=_price(money, change),
    )


def _price(money: Money, change: Change) -> float:
    """Return the price of what comes in, less what is then not bought. [currency]."""
    if "purchase" not in money.terms:
        return 0.0
    spared = change.out.cost(change.n_out) if change.out else 0.0
    share = 1.0
    if "resale" in money.terms:
        share -= money.resale_fraction * _worth(money, money.years)
    return (change.price - spared) * share


def _cache_wear_saved(found: Assessment, change: Change) -> float:
    """Return the most that a change of the cache spares of its wear in a year."""
    is_cache = change.role == "cache" and change.out is not None
    return found.cost.amounts.cache_wear if is_cache else 0.0


def _replacements_saved(change: Change) -> float:
    total = 0.0
    for item, n in ((change.out, change.n_out), (change.into, -change.n_in)):
        if item is not None:
            total += n * replacement_rate(item.part) * item.replacement_price
    return total


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
    saved_w = _dc_part(change, state, into=False) - _dc_part(change, state)
    if isinstance(change.into and change.into.part, Board):
        saved_w += _board_saved_w(found, change, state)
    return factor * saved_w


def _board_saved_w(found: Assessment, change: Change, state: StateYear) -> float:
    """Return what goes with the old board: its deep-idle loss, an idle processor."""
    board = change.into.part if change.into else None
    if not isinstance(board, Board):
        return 0.0
    lost_w = deep_idle_loss_w(found.machine)
    saved_w = lost_w - board.deep_idle_loss_w.mid if lost_w else 0.0
    if board.has_soldered_processor:
        build = found.build
        gone = [*build.of(Processor), *build.of(Cooler)]
        activity = activity_of(state)
        saved_w += sum(n * part_dc_w(part, activity) for part, n in gone)
    return saved_w


def _dc_of(found: Assessment, state: StateYear) -> float:
    for row in found.year.states:
        if row.name == state.name and row.hours == state.hours:
            return row.dc_w
    return found.year.states[0].dc_w


def _dc_part(change: Change, state: StateYear, *, into: bool = True) -> float:
    item, n = (change.into, change.n_in) if into else (change.out, change.n_out)
    if item is None:
        return 0.0
    part = item.part
    if isinstance(part, HardDrive):
        return n * drive_dc_w(
            part, state.parity if change.role == "parity" else state.data
        )
    return n * part_dc_w(part, activity_of(state))


def _wear_saved(found: Assessment, change: Change) -> float:
    """Return the wear of the array that a change spares in a year. [currency]."""
    if change.kind != "hard drive":
        return 0.0
    wakes = wakes_of(found.year, change.role or "data")
    total = 0.0
    for item, n in ((change.out, change.n_out), (change.into, -change.n_in)):
        if item is not None and isinstance(item.part, HardDrive):
            total += n * wakes * wear_per_wake(item.part, item.replacement_price)
    return total


def slack(found: Assessment) -> float:
    """Return by how much two changes together can beat their promises. [currency].

    The board's deep-idle loss, which goes when the last blocker goes; a twentieth of
    the running cost for hours that better rates shorten; a seller's postage where
    nothing is bought yet.
    """
    money = found.scenario.money
    board = found.machine.board
    lost_w = (
        board.deep_idle_loss_w.mid if board and deep_idle_loss_w(found.machine) else 0
    )
    per_w = sum(s.money_per_w for s in found.year.operating.states)
    running = yearly_of(found).total
    is_bought = any(not entry.item.is_owned for entry in found.build.items)
    post = max((price for _, price in found.build.postage), default=0.0)
    rest = 0.05 * running * money.years + (post if is_bought else 0.0)
    return 1.2 * lost_w * per_w * energy_annuity(money) + rest
