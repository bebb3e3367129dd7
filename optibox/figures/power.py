"""Direct-current power of parts by state, and the same at the wall.

The per-part functions are the program's coefficients as well.
"""

import math
from dataclasses import dataclass

from optibox.catalog.attachment import Card, Controller, NetworkCard, NetworkLead
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Chassis, Memory, PowerSupply, Processor
from optibox.catalog.storage import BootMedium, Drive, HardDrive, SolidStateDrive
from optibox.machine import Machine
from optibox.physics.operation import Mix, StateYear
from optibox.physics.power import Supply, wall_w, worst_rail_a
from optibox.units import SECONDS_PER_HOUR

_PROCESSOR_SIDE = (Board, Processor, Memory, Controller)
VOLTS_12, VOLTS_5 = 12.0, 5.0
LEAST_RATING_W = 0.1
"""A supply that is said to give nothing still has a loss curve. [W]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Which parts beside the array's drives are at work."""

    processor: bool = False
    network: bool = False
    cache: bool = False
    rest: bool = False
    """Whatever else has an active figure: risers, display cards, boot media."""


ALL_ACTIVE = Activity(processor=True, network=True, cache=True, rest=True)
AT_REST = Activity()
ASLEEP, SPINNING, WORKING = Mix(), Mix(idle=1.0), Mix(active=1.0)


def activity_of(state: StateYear) -> Activity:
    """Return which parts work in a state."""
    return Activity(
        processor=state.processor_active,
        network=state.network_active,
        cache=state.cache_active,
    )


def part_dc_w(part: Part, activity: Activity) -> float:
    """Return the power of one piece that is no array drive. [W DC]."""
    if activity.rest:
        return part.active_dc_w
    if isinstance(part, SolidStateDrive):
        return part.active_dc_w if activity.cache else part.idle_dc_w
    if isinstance(part, _PROCESSOR_SIDE):
        return part.active_dc_w if activity.processor else part.idle_dc_w
    if isinstance(part, NetworkCard | NetworkLead):
        return part.active_dc_w if activity.network else part.idle_dc_w
    return part.idle_dc_w


def drive_dc_w(part: HardDrive, mix: Mix) -> float:
    """Return the mean power of one array drive, wakes included. [W DC]."""
    return (
        mix.active * part.active_dc_w
        + mix.idle * part.idle_w.mid
        + mix.standby * part.standby_w.mid
        + mix.wakes_per_h * part.spin_up_j.mid / SECONDS_PER_HOUR
    )


def spin_up_dc_w(part: HardDrive) -> float:
    """Return the power of a drive while it spins up. [W DC]."""
    return part.spin_up_12v_a.mid * VOLTS_12 + part.run_5v_a.mid * VOLTS_5


def loss_curve(part: PowerSupply) -> Supply:
    """Return a supply's loss curve."""
    return Supply(
        part.loss_fixed_w.mid,
        part.loss_share.mid,
        part.loss_square.mid,
        max(part.rated_w.mid, LEAST_RATING_W),
    )


def is_blocker(part: Part) -> bool:
    """Return whether a part keeps the processor out of deep idle."""
    return isinstance(part, Card) and part.is_deep_idle_blocker


def deep_idle_loss_w(machine: Machine) -> float:
    """Return what the board loses because something blocks deep idle. [W DC]."""
    if machine.board is None:
        return 0.0
    blocked = any(is_blocker(entry.item.part) for entry in machine.build.items)
    return machine.board.deep_idle_loss_w.mid if blocked else 0.0


def state_dc_w(machine: Machine, data: Mix, parity: Mix, activity: Activity) -> float:
    """Return the machine's power in a state. [W DC]."""
    total = deep_idle_loss_w(machine)
    for entry in machine.build.items:
        if not isinstance(entry.item.part, HardDrive):
            total += entry.count * part_dc_w(entry.item.part, activity)
    for drive in machine.drives:
        if isinstance(drive.part, HardDrive):
            mix = parity if drive.role == "parity" else data
            total += drive_dc_w(drive.part, mix)
    return total


def wake_group(machine: Machine) -> int:
    """Return how many drives can start at the same instant.

    At power-on all do unless every port host starts them in turn; on a wake all of a
    stripe, of pairs or of a reconstruct write do, otherwise the target and parity.
    """
    n_array = len(machine.array)
    if not starts_in_turn(machine):
        return n_array
    plan = machine.operation
    if plan.wakes_together and not machine.scenario.choices.sequential_wake_verified:
        return n_array
    return min(n_array, 1 + plan.n_parity)


def starts_in_turn(machine: Machine) -> bool:
    """Return whether every host of array drives staggers spin-up at power-on."""
    hosts = {d.connection.host for d in machine.array if d.connection is not None}
    return all(host_staggers(machine, host) for host in hosts)


def host_staggers(machine: Machine, host: str) -> bool:
    """Return whether a host of ports starts its drives in turn at power-on."""
    card = machine.cards.get(host)
    part = card.item.part if card else machine.board
    return isinstance(part, Board | Controller) and part.has_staggered_spin_up


def staggered_group(machine: Machine) -> int | None:
    """Return how many drives of a host that staggers may start at the same instant.

    Nothing where one access can wake them all: what a host does at power-on says
    nothing of that. A drive that is written to wakes with its parity drives.
    """
    plan = machine.operation
    verified = machine.scenario.choices.sequential_wake_verified
    if plan.wakes_together and plan.timeout_min is not None and not verified:
        return None
    return 1 + plan.n_parity


def peak_dc_w(machine: Machine) -> float:
    """Return the power of the worst instant: a group spins up, all else works. [W DC]."""
    extra = sorted(
        (
            max(0.0, spin_up_dc_w(drive.part) - drive.part.active_dc_w)
            for drive in machine.array
            if isinstance(drive.part, HardDrive)
        ),
        reverse=True,
    )
    busy = state_dc_w(machine, WORKING, WORKING, ALL_ACTIVE)
    return busy + sum(extra[: wake_group(machine)])


def at_wall_w(machine: Machine, dc_w: float) -> float:
    """Return a power at the wall; without a supply the direct-current figure. [W]."""
    supply = machine.supply
    return dc_w if supply is None else wall_w(dc_w, loss_curve(supply))


def base_12v_a(part: Part) -> float:
    """Return the 12 V current of one piece that is no array drive, at full work. [A].

    Where no current is given, the busy watts are taken to come from 12 V.
    """
    if isinstance(part, Board) and part.base_12v_a is not None:
        return part.base_12v_a.mid
    if isinstance(part, Chassis):
        return part.fan_12v_a.mid
    if isinstance(part, Drive | BootMedium) and not is_module(part):
        return 0.0
    return part_dc_w(part, ALL_ACTIVE) / VOLTS_12


def is_module(part: Part) -> bool:
    """Return whether a part is an M.2 module, fed through the socket it sits in."""
    if isinstance(part, SolidStateDrive):
        return part.form == "m2"
    return isinstance(part, BootMedium) and part.interface == "m2"


def drive_5v_a(part: Part) -> float:
    """Return the 5 V current of one drive. [A]."""
    return part.run_5v_a.mid if isinstance(part, Drive | BootMedium) else 0.0


def low_volts_w(part: Part) -> float:
    """Return what one drive takes from 3.3 and 5 V together. [W].

    An M.2 module takes all it draws from 3.3 V.
    """
    return drive_5v_a(part) * VOLTS_5 + (part.active_dc_w if is_module(part) else 0.0)


def low_volts_most_w(part: PowerSupply) -> float:
    """Return what a supply gives on 3.3 and 5 V together. [W].

    Infinite where the board makes both from one direct voltage.
    """
    if part.power_plug == "dc":
        return math.inf
    if part.combined_w is not None:
        return part.combined_w.mid
    return part.rail_5v_a.mid * VOLTS_5


def rail_12v_a(machine: Machine, group: int) -> float:
    """Return the 12 V current while a group of drives spins up. [A]."""
    drives = [d.part for d in machine.array if isinstance(d.part, HardDrive)]
    base = sum(e.count * base_12v_a(e.item.part) for e in machine.build.items)
    return worst_rail_a(
        base,
        [d.spin_up_12v_a.mid for d in drives],
        [d.run_12v_a.mid for d in drives],
        group,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPower:
    """Power at the wall by state. [W]."""

    asleep_w: float
    spinning_w: float
    reading_w: float
    writing_w: float
    checking_w: float
    peak_w: float


def wall_power(machine: Machine, mixes: tuple[Mix, Mix, Mix, Mix]) -> WallPower:
    """Return the power at the wall by state.

    Parameters
    ----------
    machine : Machine
        The machine.
    mixes : tuple of Mix
        Data and parity while reading, data and parity while writing.
    """
    data_r, parity_r, data_w, parity_w = mixes
    has_cache = bool(machine.in_role("cache"))
    works = Activity(processor=True, network=True)
    writes = Activity(processor=True, network=not has_cache, cache=has_cache)
    checks = Activity(processor=True)

    def wall(data: Mix, parity: Mix, activity: Activity) -> float:
        return at_wall_w(machine, state_dc_w(machine, data, parity, activity))

    return WallPower(
        asleep_w=wall(ASLEEP, ASLEEP, AT_REST),
        spinning_w=wall(SPINNING, SPINNING, AT_REST),
        reading_w=wall(data_r, parity_r, works),
        writing_w=wall(data_w, parity_w, writes),
        checking_w=wall(WORKING, WORKING, checks),
        peak_w=at_wall_w(machine, peak_dc_w(machine)),
    )
