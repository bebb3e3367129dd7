"""From printed to usable capacity."""

from collections.abc import Sequence
from dataclasses import dataclass

from optibox.catalog.storage import Drive
from optibox.machine import DriveView, Machine
from optibox.physics.arrays import (
    usable_independent_bytes,
    usable_pairs_bytes,
    usable_striped_bytes,
)
from optibox.scenario import Factors
from optibox.units import BYTES_PER_TB


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityLadder:
    """How capacity shrinks from the print on the drives to what files may fill."""

    printed_tb: float
    held_tb: float
    """What data and parity drives hold in bytes."""
    array_tb: float
    """After redundancy."""
    file_system_tb: float
    """After the file system's reserve."""
    usable_tb: float
    """Up to the fill limit: what meets the need."""
    wasted_tb: float
    """Surplus of larger drives that the layout cannot use."""


def usable_share(factors: Factors) -> float:
    """Return the share of the array that files may fill."""
    return (1.0 - factors.filesystem_reserve.mid) * factors.fill_limit.mid


def array_bytes(layout: str, n_parity: int, data_bytes: Sequence[int]) -> int:
    """Return the bytes of an array; stripes give all members as data drives."""
    if not data_bytes:
        return 0
    if layout == "independent":
        return usable_independent_bytes(data_bytes)
    if layout == "striped":
        if len(data_bytes) <= n_parity:
            return 0
        return usable_striped_bytes(data_bytes, n_parity)
    return usable_pairs_bytes(data_bytes)


def capacity_of(machine: Machine) -> CapacityLadder:
    """Return the capacity ladder of a machine. [TB]."""
    plan = machine.operation
    data = _bytes(machine.in_role("data"))
    printed = sum(getattr(drive.part, "tb", 0.0) for drive in machine.array)
    held = sum(_bytes(machine.array))
    whole = array_bytes(plan.layout, plan.n_parity, data)
    factors = machine.factors
    file_system = whole * (1.0 - factors.filesystem_reserve.mid)
    return CapacityLadder(
        printed_tb=printed,
        held_tb=held / BYTES_PER_TB,
        array_tb=whole / BYTES_PER_TB,
        file_system_tb=file_system / BYTES_PER_TB,
        usable_tb=file_system * factors.fill_limit.mid / BYTES_PER_TB,
        wasted_tb=_wasted(plan.layout, data) / BYTES_PER_TB,
    )


def _bytes(drives: Sequence[DriveView]) -> list[int]:
    """Return the bytes of each drive; a boot medium in the array holds none."""
    return [d.item.capacity_bytes for d in drives if isinstance(d.part, Drive)]


def _wasted(layout: str, data: list[int]) -> int:
    if layout == "independent" or not data:
        return 0
    if layout == "striped":
        return sum(data) - len(data) * min(data)
    return sum(data) - 2 * usable_pairs_bytes(data)
