"""The least cost of drives in a chassis' bays, adapters included."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Bays:
    """The bays of frames, of which few kinds exist.

    Attributes
    ----------
    kinds : list of triples
        Numbers of 3.5 and of 2.5 inch bays, and the class of chassis that says which
        drives the latter are too low for.
    kind_of_row : array, shape (n_rows,)
        The place of each frame's bays among the kinds.
    adapter_price : float
        What putting a 2.5 inch drive into a 3.5 inch bay costs at least.
    """

    kinds: list[tuple[int, int, int]]
    kind_of_row: Ints
    adapter_price: float

    def table(self, costs: Floats, n_small: int) -> Floats:
        """Return the least cost of drives that the bays take.

        Parameters
        ----------
        costs : array, shape (..., n_classes or 1, n_array + 1)
            Least cost of the array's drives with k of them in 3.5 inch bays.
        n_small : int
            Other drives, all of them 2.5 inch wide.

        Returns
        -------
        array, shape (..., n_kinds, n_array + 2)
            A column for each number of wide drives that there may be at most; the
            first for not even none.
        """
        *others, n_classes, n_columns = costs.shape
        table = np.full((*others, len(self.kinds), n_columns + 1), np.inf)
        mine = costs[..., self._class_of_kind, :] if n_classes > 1 else costs
        np.add(self._adapters(n_columns - 1, n_small), mine, out=table[..., 1:])
        np.minimum.accumulate(table, axis=-1, out=table)
        return table

    @cached_property
    def _class_of_kind(self) -> Ints:
        return np.array([number for _, _, number in self.kinds], dtype=np.int64)

    @staticmethod
    def column(most: Floats, n_array: int) -> Ints:
        """Return the columns of a table for at most so many wide drives, -1 for none."""
        found: Ints = np.minimum(most, n_array).astype(np.int64) + 1
        return found

    def _adapters(self, n_array: int, n_small: int) -> Floats:
        """Return the price of adapters by kind of bays and number of wide drives.

        Infinite where they do not go in.
        """
        key = (n_array, n_small)
        if key not in self._tables:
            table = np.full((len(self.kinds), n_array + 1), np.inf)
            for row, (bays_35, bays_25, _) in zip(table, self.kinds, strict=True):
                for k in range(min(n_array, bays_35) + 1):
                    adapted = max(0, n_array - k + n_small - bays_25)
                    if k + adapted <= bays_35:
                        row[k] = adapted * self.adapter_price if adapted else 0.0
            self._tables[key] = table
        return self._tables[key]

    @cached_property
    def _tables(self) -> dict[tuple[int, int], Floats]:
        return {}
