"""The least that a processor with its cooler costs on a board."""

import numpy as np
import numpy.typing as npt

from optibox.catalog.platform import Board, Cooler, Processor
from optibox.figures.power import ALL_ACTIVE, part_dc_w
from optibox.model.platform_bounds import Platforms
from optibox.model.slot_bounds import Forced
from optibox.rules.platform import cooler_suits

Floats = npt.NDArray[np.float64]
_Pair = tuple[float, float, tuple[str, str]]
"""Cost of a processor with a cooler, height of the cooler [mm], keys of both."""


def processors_of(
    platforms: Platforms,
    board: Board,
    asked: tuple[float, bool],
    clearances_mm: Floats,
    forced: Forced,
) -> Floats:
    """Return the least cost of processor and cooler, shape (n_forced, n_clearances).

    Either is the forced item where that is one; infinite where none does.

    Parameters
    ----------
    platforms : Platforms
        What items cost.
    board : Board
        Where it is soldered, there is nothing to pay.
    asked : pair of float and bool
        What it moves over the network [MB/s], and whether it shows the firmware.
    clearances_mm : array, shape (n_clearances,)
        Heights that chassis leave to a cooler. [mm]
    forced : tuple of Item
        Of which one each is in the build.
    """
    least_mb_s, with_graphics = asked
    if board.has_soldered_processor:
        is_two = [
            i is not None and isinstance(i.part, Processor | Cooler) for i in forced
        ]
        is_fast = platforms.keeps_up(board, least_mb_s)
        costs = np.where(np.array(is_two) | (not is_fast), np.inf, 0.0)
        return np.repeat(costs[:, None], len(clearances_mm), axis=1)
    pairs = _pairs(platforms, board, least_mb_s, with_graphics=with_graphics)
    return _least_pair(pairs, clearances_mm, forced)


def _pairs(
    platforms: Platforms, board: Board, least_mb_s: float, *, with_graphics: bool
) -> list[_Pair]:
    """Return the processors that suit a board, each with every cooler for it."""
    return [
        (
            platforms.costs[item.key] + platforms.costs[cooler.key],
            cooler.part_as(Cooler).height_mm,
            (item.key, cooler.key),
        )
        for item in platforms.processors(board)
        for cooler in platforms.offers.of(Cooler)
        if cooler_suits(cooler.part_as(Cooler), item.part_as(Processor))
        and platforms.keeps_up(item.part_as(Processor), least_mb_s)
        and (item.part_as(Processor).has_graphics or not with_graphics)
    ]


def _least_pair(pairs: list[_Pair], clearances_mm: Floats, forced: Forced) -> Floats:
    costs = np.array([cost for cost, _, _ in pairs])
    heights = np.array([height for _, height, _ in pairs])
    fits = heights[:, None] <= clearances_mm
    held = np.array(
        [
            [
                item is None
                or not isinstance(item.part, Processor | Cooler)
                or item.key in keys
                for _, _, keys in pairs
            ]
            for item in forced
        ],
        dtype=bool,
    ).reshape(len(forced), len(pairs))
    every = np.where(held[:, :, None] & fits, costs[:, None], np.inf)
    least: Floats = every.min(axis=1, initial=np.inf)
    return least


def idle_of_processor_w(platforms: Platforms, board: Board) -> float:
    """Return the least idle watts of a processor on a board, 0 if soldered. [W]."""
    if board.has_soldered_processor:
        return 0.0
    every = (p.part.idle_dc_w for p in platforms.processors(board))
    return min(every, default=0.0)


def work_w(platforms: Platforms, board: Board) -> float:
    """Return what board and processor draw more while they work, at least. [W]."""
    extra = part_dc_w(board, ALL_ACTIVE) - board.idle_dc_w
    if board.has_soldered_processor:
        return extra
    every = (
        part_dc_w(p.part, ALL_ACTIVE) - p.part.idle_dc_w
        for p in platforms.processors(board)
    )
    return extra + min(every, default=0.0)
