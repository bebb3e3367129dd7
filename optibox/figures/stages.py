"""Rates of the stages of a chain, as functions of parts and factors alone."""

from collections.abc import Sequence

from optibox.catalog.platform import Board, Processor
from optibox.catalog.storage import HardDrive
from optibox.physics.arrays import (
    pairs_read_mb_s,
    pairs_write_mb_s,
    read_modify_write_mb_s,
    reconstruct_mb_s,
    striped_mb_s,
)
from optibox.physics.network import network_file_mb_s
from optibox.physics.zones import zone_rate_mb_s
from optibox.scenario import Factors, Needs


def drive_mb_s(
    part: HardDrive,
    fill: float,
    factors: Factors,
    port_mb_s: float,
    *,
    is_multiplied: bool,
) -> float:
    """Return what one drive moves at a fill, on its port. [MB/s]."""
    rate = zone_rate_mb_s(part.outer_rate_mb_s.mid, part.inner_ratio.mid, fill)
    if is_multiplied:
        rate *= factors.multiplier_single_drive.mid
    return min(rate, port_mb_s)


def array_write_mb_s(
    layout: str,
    n_parity: int,
    *,
    reconstructs: bool,
    data: Sequence[float],
    parity: Sequence[float],
    factors: Factors,
) -> float:
    """Return the drives' own limit on writing, for the worst target. [MB/s]."""
    if layout == "striped":
        return striped_mb_s(len(data), n_parity, min(data), factors.stripe.mid)
    if layout == "pairs":
        return pairs_write_mb_s(data)
    if layout == "striped pairs":
        return pairs_write_mb_s(data, max(1, len(data) // 2)) * factors.stripe.mid
    if n_parity == 0:
        return min(data)
    if reconstructs:
        return reconstruct_mb_s(factors.reconstruct.mid, [*data, *parity])
    return read_modify_write_mb_s(
        factors.read_modify_write.mid, min(data), min(parity, default=min(data))
    )


def array_read_mb_s(
    layout: str, n_parity: int, data: Sequence[float], factors: Factors
) -> float:
    """Return the drives' own limit on reading one file, for the worst one. [MB/s]."""
    if layout == "striped":
        return striped_mb_s(len(data), n_parity, min(data), factors.stripe.mid)
    if layout == "striped pairs":
        return pairs_read_mb_s(data, max(1, len(data) // 2)) * factors.stripe.mid
    return min(data)


def network_mb_s(gbit_s: float, factors: Factors) -> float:
    """Return what file sharing moves over a network. [MB/s]."""
    return network_file_mb_s(gbit_s, factors.network_sharing.mid)


def processor_mb_s(
    part: Board | Processor, needs: Needs, *, has_network: bool, has_parity: bool
) -> float:
    """Return what one core keeps up with. [MB/s]."""
    limits = [float("inf")]
    if has_network:
        limits.append(part.file_sharing_gb_s.mid * 1000.0)
    if has_parity:
        limits.append(part.parity_gb_s_per_core.mid * 1000.0)
    if needs.encryption:
        limits.append(part.encryption_gb_s_per_core.mid * 1000.0)
    return min(limits)
