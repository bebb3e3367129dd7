"""Rows: roles, capacity of each layout, parity size, sector sizes."""

from optibox.build import Item
from optibox.catalog.storage import HardDrive
from optibox.model.draft import Draft
from optibox.model.menu import need_bytes
from optibox.model.solver import Expression, total
from optibox.units import BYTES_PER_TB


def _of_role(draft: Draft, role: str) -> list[tuple[Item, Expression]]:
    return [
        (item, draft.drives[item.key, role])
        for item in draft.of(HardDrive)
        if (item.key, role) in draft.drives
    ]


def drive_counts(draft: Draft) -> None:
    """Fix the numbers of data and parity drives; share owned ones among roles."""
    storage, require = draft.entry.storage, draft.program.require
    for role, n in (("data", storage.n_data), ("parity", storage.n_parity_drives)):
        drives = total((count, 1.0) for _, count in _of_role(draft, role))
        if n or drives.terms:
            require(f"{role}_drives", drives, "=", float(n))
    for item in draft.of(HardDrive):
        if item.limit is not None:
            require("item_limit", draft.count(item), "<=", float(item.limit))


def capacity_met(draft: Draft) -> None:
    """Require the capacity, in TB, of the entry's layout."""
    layout = draft.entry.storage.layout
    if layout == "independent":
        held = total((c, _tb(item)) for item, c in _of_role(draft, "data"))
        draft.capacity_tb = held.copy()
        draft.program.require("capacity_met", held, ">=", _need_tb(draft))
    elif layout == "striped":
        _striped(draft)
    else:
        _pairs(draft)


def _tb(item: Item) -> float:
    return item.capacity_bytes / BYTES_PER_TB


def _need_tb(draft: Draft) -> float:
    """Return the need in TB, less rounding: the evaluator allows as much."""
    return need_bytes(draft.entry.scenario) / BYTES_PER_TB * (1 - 1e-9)


def _striped(draft: Draft) -> None:
    """Ban drives smaller than an equal share: the smallest sets the stripe."""
    storage = draft.entry.storage
    share = 1.0 - storage.n_parity / storage.n_data
    drives = _of_role(draft, "data")
    draft.capacity_tb = total((c, _tb(item) * share) for item, c in drives)
    least = _need_tb(draft) / (storage.n_data - storage.n_parity)
    for item, count in drives:
        if _tb(item) < least:
            draft.program.require("capacity_met", count, "<=", 0.0)


def _pairs(draft: Draft) -> None:
    """Sum the pairs over size steps: drives of at least a size pair up whole."""
    drives = _of_role(draft, "data")
    sizes = sorted({_tb(item) for item, _ in drives})
    held, below = Expression(), 0.0
    for index, size in enumerate(sizes):
        n_pairs = draft.program.variable(
            f"pairs {index}", float(draft.entry.storage.n_data // 2)
        )
        at_least = total((c, -0.5) for item, c in drives if _tb(item) >= size)
        draft.program.require("pairs_whole", n_pairs.copy().plus(at_least), "<=", 0.0)
        held.plus(n_pairs, size - below)
        below = size
    draft.capacity_tb = held.copy()
    draft.program.require("capacity_met", held, ">=", _need_tb(draft))


def parity_largest(draft: Draft) -> None:
    """Keep every data drive within every parity drive, byte by byte.

    One threshold for each size: with it on, no data drive is larger than the size and
    no parity drive smaller.
    """
    if not draft.entry.storage.n_parity_drives:
        return
    data, parity = _of_role(draft, "data"), _of_role(draft, "parity")
    sizes = sorted({item.capacity_bytes for item, _ in parity})
    n_data = float(draft.entry.storage.n_data)
    n_parity = float(draft.entry.storage.n_parity_drives)
    on = [draft.program.variable(f"largest {size}", 1.0) for size in sizes]
    one = total((flag, 1.0) for flag in on)
    draft.program.require("one_threshold", one, "=", 1.0)
    for size, flag in zip(sizes, on, strict=True):
        larger = total((c, 1.0) for item, c in data if item.capacity_bytes > size)
        smaller = total((c, 1.0) for item, c in parity if item.capacity_bytes < size)
        if larger.terms:
            draft.program.require(
                "parity_largest", larger.plus(flag, n_data), "<=", n_data
            )
        if smaller.terms:
            draft.program.require(
                "parity_largest", smaller.plus(flag, n_parity), "<=", n_parity
            )


def sectors_alike(draft: Draft) -> None:
    """Keep logical sector sizes from mixing where there is redundancy."""
    storage = draft.entry.storage
    if storage.layout == "independent" and storage.n_parity == 0:
        return
    by_size: dict[int, Expression] = {}
    for (key, _), count in draft.drives.items():
        part = next(i.part for i in draft.of(HardDrive) if i.key == key)
        if isinstance(part, HardDrive):
            by_size.setdefault(part.sector_logical_b, Expression()).plus(count)
    if len(by_size) < 2:
        return
    flag, n = draft.program.variable("sectors of 4096", 1.0), float(storage.n_array)
    draft.program.require("sectors_alike", by_size[4096].plus(flag, -n), "<=", 0.0)
    draft.program.require("sectors_alike", by_size[512].plus(flag, n), "<=", n)
