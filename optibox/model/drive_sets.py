"""The least cost of a set of drives: dynamic programming over many prices at once.

Drives hold data or parity; what is on offer in limited number counts for both roles
together. Capacity is counted in whole steps, each drive's rounded up and the need too,
so that no set that is enough is left out and a bound never overstates.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

MOST_STEPS = 400
"""Steps in which capacity is counted where sizes have no common measure."""
_MEASURES_BYTES = (1e12, 0.5e12, 0.25e12, 0.1e12)
"""Sizes of which those on the market are multiples, nearly."""
_COARSE = 4e-3
"""Share of a drive's capacity by which rounding may overstate it."""


def step_bytes(capacity_bytes: Floats, need_bytes: float) -> float:
    """Return a measure of capacity in which sizes and need are small whole numbers. [B].

    Any step is right; a good one is large and overstates no size by much.
    """
    for measure in _MEASURES_BYTES:
        if need_bytes / measure > MOST_STEPS or not len(capacity_bytes):
            break
        ratio = capacity_bytes / measure
        step = measure * float((ratio / np.maximum(1.0, np.round(ratio))).max())
        over = np.ceil(capacity_bytes / step * (1 - 1e-9)) * step / capacity_bytes
        if float(over.max()) < 1 + _COARSE:
            return step
    return need_bytes / MOST_STEPS


@dataclass(frozen=True, kw_only=True)
class DriveSets:
    """All sets of drives of an array: so many for data, so many for parity.

    Attributes
    ----------
    capacity_bytes : array, shape (n_drives,)
        Of each drive on offer. [B]
    group : array, shape (n_drives,)
        0 for one that is 3.5 inch wide; for a small one 1 + the first class of chassis
        whose 2.5 inch bays are high enough: in lower ones it takes a 3.5 inch bay.
    n_classes : int
        Classes of chassis, by the height of their 2.5 inch bays.
    framed : array, shape (n_drives,)
        What a small drive's adapter then costs at least.
    limit : array, shape (n_drives,)
        Most pieces of each, both roles together.
    n_data, n_parity : int
        Drives of each role.
    held_bytes : float
        What the data drives must hold together; 0 if any do. [B]
    """

    capacity_bytes: Floats
    group: Ints
    n_classes: int
    framed: Floats
    limit: Floats
    n_data: int
    n_parity: int
    held_bytes: float

    @cached_property
    def _step(self) -> float:
        return step_bytes(self.capacity_bytes, self.held_bytes)

    @cached_property
    def need(self) -> int:
        """Return the steps that the data drives must hold."""
        if self.held_bytes <= 0:
            return 0
        return math.ceil(self.held_bytes / self._step * (1 - 1e-9))

    @cached_property
    def steps(self) -> Ints:
        """Return each drive's steps."""
        if self.need == 0:
            return np.zeros(len(self.capacity_bytes), dtype=np.int64)
        exact = np.ceil(self.capacity_bytes / self._step * (1 - 1e-9))
        return np.minimum(self.need, exact).astype(np.int64)

    def by_width(
        self, data: Floats, parity: Floats, *, is_forced: bool = False
    ) -> Floats:
        """Return the least cost of all drives with k of them in 3.5 inch bays.

        Parameters
        ----------
        data, parity : array, shape (n_prices, n_drives)
            Cost of each drive in each role; infinite where it may not have it.
        is_forced : bool
            Whether sets with one of each drive in turn are asked for, the one beside
            what its limit allows, in place of any sets.

        Returns
        -------
        array, shape (n_prices, n_drives or 1, n_classes, n_data + n_parity + 1)
        """
        groups: dict[int, list[_Kind]] = {}
        for kind in self._kinds(data, parity):
            groups.setdefault(kind.group, []).append(kind)
        small = [self._table(len(data), groups.get(1, []))]
        for number in range(2, self.n_classes + 1):
            small.append(self._table(len(data), groups.get(number, []), small[-1]))
        large = self._table(len(data), groups.get(0, []))
        found: list[Floats] = []
        for number in range(self.n_classes, 0, -1):
            # from the highest bays down, ever more small drives are too tall
            tall = [kind.in_frame for kind in groups.get(number + 1, [])]
            if found and not tall and not is_forced:
                found.append(found[-1])
                continue
            large = self._table(len(data), tall, large)
            both = large, small[number - 1]
            if is_forced:
                found.append(self._with_one(*both, data, parity, number))
            else:
                found.append(_joined(*both)[:, None])
        return np.stack(found[::-1], axis=2)

    def _with_one(
        self, large: Floats, small: Floats, data: Floats, parity: Floats, number: int
    ) -> Floats:
        """Return the least cost of a drive with all others, by how many are large.

        Shape (n_prices, n_drives, n_data + n_parity + 1). The others are one fewer, and
        hold what the one does not.
        """
        n_drives = data.shape[1]
        is_large = (self.group == 0) | (self.group > number)
        framed = np.where(self.group > number, self.framed, 0.0)
        best = np.full((len(data), n_drives, self.n_data + self.n_parity + 1), np.inf)

        def put(members: Flags, others: Floats, costs: Floats) -> None:
            for first, where in ((1, members & is_large), (0, members & ~is_large)):
                places = np.flatnonzero(where)
                if not len(places):
                    continue
                own = (costs + framed)[:, places, None] + others[:, None]
                last = first + others.shape[1]
                before = best[:, places, first:last]
                best[:, places, first:last] = np.minimum(before, own)

        if self.n_data:
            for size in np.unique(self.steps):
                rest = max(0, self.need - int(size))
                pair = (t[:, : self.n_data, :, : rest + 1] for t in (large, small))
                put(self.steps == size, _joined(*pair), data)
        if self.n_parity:
            pair = (t[:, :, : self.n_parity] for t in (large, small))
            put(np.ones(n_drives, dtype=bool), _joined(*pair), parity)
        return best

    def _kinds(self, data: Floats, parity: Floats) -> list["_Kind"]:
        """Return the drives to choose from: those that never run out by size and form.

        Of drives of one size and form that are not limited each role takes the
        cheapest, so that they are one kind however many there are.
        """
        limited = self.limit < self.n_data + self.n_parity
        free = [
            _Kind(
                size=size,
                group=group,
                data=data[:, members].min(axis=1),
                parity=parity[:, members].min(axis=1),
                framed=float(self.framed[members].min()),
            )
            for (size, group), members in self._alike.items()
        ]
        known = {(kind.size, kind.group): kind for kind in free}
        kinds = [kind for kind in free if kind.is_some]
        for i in np.flatnonzero(limited):
            kind = _Kind(
                size=int(self.steps[i]),
                group=int(self.group[i]),
                data=data[:, i],
                parity=parity[:, i],
                framed=float(self.framed[i]),
                limit=int(self.limit[i]),
            )
            other = known.get((kind.size, kind.group))
            if kind.is_some and not (other and other.replaces(kind)):
                kinds.append(kind)
        return kinds

    @cached_property
    def _alike(self) -> dict[tuple[int, int], Ints]:
        """Return the places of drives that never run out, by steps and group."""
        found: dict[tuple[int, int], list[int]] = {}
        for i in np.flatnonzero(self.limit >= self.n_data + self.n_parity):
            key = int(self.steps[i]), int(self.group[i])
            found.setdefault(key, []).append(int(i))
        return {key: np.array(places) for key, places in sorted(found.items())}

    def _table(
        self, n_prices: int, kinds: Sequence["_Kind"], others: Floats | None = None
    ) -> Floats:
        """Return the least cost by data drives, parity drives and steps held at least.

        Of drives of some kinds, and of those that another table is of.
        """
        if others is not None and not kinds:
            return others
        if others is None:
            shape = n_prices, self.n_data + 1, self.n_parity + 1, self.need + 1
            table = np.full(shape, np.inf)
            table[:, 0, 0, 0] = 0.0
        else:
            table = others.copy()
        for kind in kinds:
            if kind.limit is None:
                self._add_any(table, kind)
            for _ in range(kind.limit or 0):
                self._add_one(table, kind)
        return table

    def _add_any(self, table: Floats, kind: "_Kind") -> None:
        """Let any number of drives of a kind into the sets of a table."""
        price, as_parity = kind.data[:, None, None], kind.parity[:, None, None]
        for a in range(1, self.n_data + 1):
            _improve(table[:, a], table[:, a - 1], kind.size, price)
        for b in range(1, self.n_parity + 1):
            row = table[:, :, b]
            np.minimum(row, table[:, :, b - 1] + as_parity, out=row)

    def _add_one(self, table: Floats, kind: "_Kind") -> None:
        """Let one more drive of a kind into the sets of a table."""
        before = table.copy()
        price, as_parity = (c[:, None, None, None] for c in (kind.data, kind.parity))
        _improve(table[:, 1:], before[:, :-1], kind.size, price)
        if self.n_parity:
            row = table[:, :, 1:]
            np.minimum(row, before[:, :, :-1] + as_parity, out=row)


def _joined(large: Floats, small: Floats) -> Floats:
    """Return the least cost of large and small drives together, by how many are large.

    Parameters
    ----------
    large, small : array, shape (n_prices, n_data + 1, n_parity + 1, need + 1)
        Least cost of so many of each that hold so much.

    Returns
    -------
    array, shape (n_prices, n_data + n_parity + 1)
    """
    _, n_data, n_parity, _ = large.shape
    best = np.full((len(large), n_data + n_parity - 1), np.inf)
    both = (large + small[:, ::-1, ::-1, ::-1]).min(axis=3)
    for a in range(n_data):
        for b in range(n_parity):
            np.minimum(best[:, a + b], both[:, a, b], out=best[:, a + b])
    return best


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Kind:
    """Drives of one size and form, with the least cost in each role by price."""

    size: int
    """Steps of capacity."""
    group: int
    data: Floats
    parity: Floats
    framed: float
    limit: int | None = None

    @property
    def in_frame(self) -> "_Kind":
        """Return them with an adapter for each."""
        data, parity = self.data + self.framed, self.parity + self.framed
        return replace(self, data=data, parity=parity)

    @property
    def is_some(self) -> bool:
        """Return whether any of them may have any role."""
        return bool(np.isfinite(self.data).any() or np.isfinite(self.parity).any())

    def replaces(self, other: "_Kind") -> bool:
        """Return whether it never costs more than another of its size and form."""
        as_data = bool((self.data <= other.data).all())
        return as_data and bool((self.parity <= other.parity).all())


def _improve(target: Floats, source: Floats, size: int, cost: Floats) -> None:
    """Let one more drive of a size bring ``source`` to ``target`` where cheaper.

    What holds s steps with it holds s less its size without, or anything at all.
    """
    if size < source.shape[-1]:
        part = target[..., size:]
        np.minimum(part, source[..., : part.shape[-1]] + cost, out=part)
    rest = target[..., :size]
    np.minimum(rest, source[..., :1] + cost, out=rest)
