"""Bounds on the pace of an array: what drives allow, what links and processor may take.

A narrow link can only slow things down; how narrow the narrowest is that a leaf's
items allow bounds the slow end.
"""

import math
from collections.abc import Iterable

from optibox.build import Item
from optibox.catalog.attachment import Controller
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Processor
from optibox.catalog.storage import HardDrive
from optibox.figures.stages import array_write_mb_s, processor_mb_s
from optibox.machine.view import trained
from optibox.model.draft import berths, fits
from optibox.model.menu import Entry, Pace, Storage, port_of, rate_of
from optibox.physics.lanes import pcie_planning_mb_s
from optibox.physics.zones import Member, lockstep_pass_hours
from optibox.scenario import Scenario

Items = dict[type[Part], tuple[Item, ...]]


def least_share_mb_s(
    board: Board, items: Items, storage: Storage, scenario: Scenario
) -> float:
    """Return the least rate that a shared link can leave to each drive. [MB/s].

    Every operation moves over a link at most one MB for each drive on it and one for
    the network.
    """
    efficiency, n = scenario.overrides.pcie.mid, storage.n_array + 1
    shares = [math.inf]
    if board.chipset_lanes:
        budget = pcie_planning_mb_s(
            board.chipset_generation, board.chipset_lanes, efficiency
        )
        shares.append(budget / n)
    for item in items.get(Controller, ()):
        part = item.part
        if not isinstance(part, Controller):
            continue
        for berth in berths(board):
            if fits(part, berth):
                generation, lanes = trained(part, berth.view)
                budget = pcie_planning_mb_s(generation, lanes, efficiency)
                shares.append(budget / min(n, part.n_ports))
        if part.is_multiplied and scenario.choices.allow_multipliers:
            shares.append(10.0)
    return min(shares)


def processor_range_mb_s(
    board: Board, items: Items, scenario: Scenario, *, has_network: bool
) -> tuple[float, float]:
    """Return the least and the most that a processor on offer keeps up with. [MB/s].

    The least takes parity into account, the most does not.
    """
    parts: list[Board | Processor] = [board]
    if not board.has_soldered_processor:
        parts = [
            i.part for i in items.get(Processor, ()) if isinstance(i.part, Processor)
        ]
    needs = scenario.needs
    least = [
        processor_mb_s(p, needs, has_network=has_network, has_parity=True)
        for p in parts
    ]
    most = [
        processor_mb_s(p, needs, has_network=has_network, has_parity=False)
        for p in parts
    ]
    return min(least, default=math.inf), max(most, default=math.inf)


def members_of(
    drives: Iterable[Item], share_mb_s: float, scenario: Scenario
) -> list[Member]:
    """Return drives as members of a lockstep pass, each with a share of its link."""
    behind = 1.0
    if scenario.choices.allow_multipliers and math.isfinite(share_mb_s):
        behind = scenario.overrides.multiplier_single_drive.mid
    return [
        Member(
            item.capacity_bytes,
            item.part.outer_rate_mb_s.mid * behind,
            item.part.inner_ratio.mid,
            min(share_mb_s, port_of(item, scenario)),
        )
        for item in drives
        if isinstance(item.part, HardDrive)
    ]


def pace_of_leaf(entry: Entry, board: Board, items: Items) -> Pace:
    """Return an entry's pace with the slow ends that a board and its items allow."""
    scenario, storage = entry.scenario, entry.storage
    share = least_share_mb_s(board, items, storage, scenario)
    drives = items.get(HardDrive, ())
    network = processor_range_mb_s(board, items, scenario, has_network=True)
    slowest = min((rate_of(item, scenario) for item in drives), default=0.0)
    return Pace(
        write_fast_mb_s=min(
            entry.pace.write_fast_mb_s,
            processor_range_mb_s(board, items, scenario, has_network=False)[1],
        ),
        write_slow_mb_s=_slow(entry, [slowest] * storage.n_data, None, board, items),
        check_short_h=entry.pace.check_short_h,
        check_long_h=max(
            entry.pace.check_short_h,
            lockstep_pass_hours(members_of(drives, share, scenario)),
        ),
        network_fast_mb_s=network[1],
        network_slow_mb_s=slow_network_mb_s(scenario, min(network[0], share)),
        share_mb_s=share,
        moved_slow_mb_s=min(
            share, processor_range_mb_s(board, items, scenario, has_network=False)[0]
        ),
    )


def pace_of_drives(
    entry: Entry, drives: list[tuple[Item, str]], board: Board, items: Items
) -> Pace:
    """Return the pace of known drives with their roles on a board."""
    scenario = entry.scenario
    share = least_share_mb_s(board, items, entry.storage, scenario)
    network = processor_range_mb_s(board, items, scenario, has_network=True)
    every = [item for item, _ in drives]
    rates = {
        role: [rate_of(item, scenario) for item, other in drives if other == role]
        for role in ("data", "parity")
    }
    return Pace(
        write_fast_mb_s=_write(entry, rates["data"], rates["parity"]),
        write_slow_mb_s=_slow(entry, rates["data"], rates["parity"], board, items),
        check_short_h=lockstep_pass_hours(members_of(every, math.inf, scenario)),
        check_long_h=lockstep_pass_hours(members_of(every, share, scenario)),
        network_fast_mb_s=network[1],
        network_slow_mb_s=slow_network_mb_s(scenario, min(network[0], share)),
    )


def slow_network_mb_s(scenario: Scenario, least: float) -> float:
    """Return the slow end of what goes over the network: no need may fail."""
    needs = scenario.needs
    return max(1.0, needs.write_mb_s, needs.ingest_mb_s, least)


def _write(entry: Entry, data: list[float], parity: list[float] | None) -> float:
    storage = entry.storage
    n = storage.n_parity_drives
    return array_write_mb_s(
        storage.layout,
        storage.n_parity,
        reconstructs=storage.reconstructs,
        data=data,
        parity=[min(data)] * n if parity is None else parity,
        factors=entry.scenario.overrides,
    )


def _slow(
    entry: Entry,
    data: list[float],
    parity: list[float] | None,
    board: Board,
    items: Items,
) -> float:
    scenario = entry.scenario
    behind = 1.0
    if scenario.choices.allow_multipliers:
        behind = scenario.overrides.multiplier_single_drive.mid
    limits = (
        behind * _write(entry, data, parity),
        least_share_mb_s(board, items, entry.storage, scenario),
        processor_range_mb_s(board, items, scenario, has_network=False)[0],
    )
    return max(1.0, asked_write_mb_s(scenario, entry.storage), min(limits))


def asked_write_mb_s(scenario: Scenario, storage: Storage) -> float:
    """Return the rate below which writing fails a need: such a build is none. [MB/s]."""
    needs = scenario.needs
    if storage.cache == "none":
        return max(needs.write_mb_s, needs.ingest_mb_s)
    return needs.write_mb_s
