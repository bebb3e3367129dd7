"""What the data on reused drives adds to the least cost of an array's drives.

Files find room in the end, and the first drive is emptied, only where so many drives of
the array hold nothing, and have room for all that is emptied with it. A multiple of
what a set lacks of that number, added to its cost, leaves the least cost of the sets
that lack nothing where it is or below (Lagrangian relaxation; Fisher, Management
Science 27, 1981): the largest over several multiples is a bound too.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optibox.build import Item
from optibox.model.lots import disk_of, empty_beside, old_arrays, to_save
from optibox.model.menu import Entry, Storage
from optibox.scenario import Scenario
from optibox.units import BYTES_PER_TB

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_SLACK_TB = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Toll:
    """What is added to costs, in rows of prices."""

    each: Floats
    """To the cost of each drive, in any role; shape (n_prices, n_drives)."""
    of_set: Floats
    """To that of a set, shape (n_prices,)."""


@dataclass(frozen=True, kw_only=True)
class Saving:
    """What the drives on offer hold, for one scenario."""

    items: tuple[Item, ...]
    scenario: Scenario

    @cached_property
    def _rows(self) -> Floats:
        """Return room, what is held and what has to be saved with it, by drive. [TB]."""
        arrays = old_arrays(self.scenario)
        known = {key: a for a in arrays.values() for key, _, _ in a.members}
        rows = []
        for item in self.items:
            disk = disk_of(item, self.scenario)
            source_b = to_save(disk, known.get(item.key))
            rows.append((disk.room_b, disk.held_b if source_b else 0, source_b))
        found: Floats = np.array(rows, dtype=float).reshape(-1, 3) / BYTES_PER_TB
        return found

    @cached_property
    def is_held(self) -> Flags:
        """Return which drives have to be emptied first."""
        held: Flags = self._rows[:, 2] > 0
        return held

    @cached_property
    def _beside_tb(self) -> float:
        """Return the room of all drives that could stand beside an array. [TB]."""
        found = empty_beside(self.scenario, self.items)
        return sum(disk.room_b * count for _, disk, count in found) / BYTES_PER_TB

    def can_serve(self, storage: Storage) -> Flags:
        """Return which drives an array can reuse: a stripe is emptied as a whole."""
        if storage.layout != "striped":
            return np.ones(len(self.items), dtype=bool)
        fits: Flags = self._rows[:, 2] <= self._beside_tb + _SLACK_TB
        return fits

    def tolls(self, entry: Entry, data: Floats, parity: Floats) -> Iterator[Toll]:
        """Yield what can be added to costs of sets that reuse a drive with data.

        Multiples are those at which the cheapest drive that holds something and the
        cheapest that holds nothing cost the same, as data and as parity.

        Parameters
        ----------
        entry : Entry
            What the drives are for.
        data, parity : array, shape (n_prices, n_drives)
            Costs in each role; infinite where a drive cannot have it.
        """
        held = self.is_held
        if not held.any():
            return
        least = self._least_free(entry, data, parity)
        yield self._first_turn(np.minimum(data, parity))
        for costs in (data, parity):
            free = costs[:, ~held].min(axis=1, initial=np.inf)
            full = costs[:, held].min(axis=1, initial=np.inf)
            gap = np.zeros(len(costs))
            np.subtract(
                free, full, out=gap, where=np.isfinite(free) & np.isfinite(full)
            )
            gap = np.maximum(0.0, gap)
            if gap.any():
                of_set = np.full(len(costs), np.inf)
                np.multiply(gap, least, out=of_set, where=np.isfinite(least))
                yield Toll(each=np.where(held, 0.0, -gap[:, None]), of_set=of_set)

    def _first_turn(self, costs: Floats) -> Toll:
        """Return what room for the first source adds: all that is emptied with it."""
        held, room = self.is_held, self._rows[:, 0]
        there = np.isfinite(costs)
        full = np.where(there & held, costs, np.inf).min(axis=1, initial=np.inf)
        source = np.where(there & held, self._rows[:, 2], np.inf)
        wanted = source.min(axis=1, initial=np.inf) - self._beside_tb - _SLACK_TB
        more = np.full(costs.shape, np.inf)
        is_both = there & ~held & np.isfinite(full)[:, None]
        np.subtract(costs, full[:, None], out=more, where=is_both)
        per_tb = (more / room).min(axis=1, initial=np.inf)
        per_tb = np.where(
            np.isfinite(per_tb) & (wanted > 0), np.maximum(0.0, per_tb), 0
        )
        of_set = np.zeros(len(costs))
        np.multiply(per_tb, wanted, out=of_set, where=np.isfinite(wanted))
        each = np.where(held, 0.0, -per_tb[:, None] * room)
        return Toll(each=each, of_set=of_set)

    def _least_free(self, entry: Entry, data: Floats, parity: Floats) -> Floats:
        """Return how many drives of a set hold nothing, at least, by row.

        What drives of parity and caches hold has to find room on drives of data beside
        what those hold themselves. Infinite where no set does.
        """
        storage, held = entry.storage, self.is_held
        room, kept, _ = self._rows.T
        share = 0.5 if "pairs" in storage.layout else 1.0
        if storage.layout == "striped":
            share = 1.0 - storage.n_parity / storage.n_data
        in_data = share * room - kept

        def most(flags: Flags) -> Floats:
            there = np.isfinite(data) & flags
            found: Floats = np.where(there, in_data, -np.inf).max(
                axis=1, initial=-np.inf
            )
            return found

        given, spared = most(~held), most(held)
        in_parity = np.where(np.isfinite(parity) & held, kept, np.inf)
        lightest = in_parity.min(axis=1, initial=np.inf)
        least = np.full(len(data), np.inf)
        for n_held in range(storage.n_parity_drives + 1):
            wanted = self._in_caches_tb(entry) - _SLACK_TB
            if n_held:
                wanted = wanted + n_held * lightest
            for n_free in range(storage.n_data, -1, -1):
                there = np.zeros(len(data))
                for n, each in ((n_free, given), (storage.n_data - n_free, spared)):
                    there = there + (n * each if n else 0.0)
                number = n_free + storage.n_parity_drives - n_held
                least = np.where(there >= wanted, np.minimum(least, number), least)
        found: Floats = np.maximum(least, 1.0 if self._beside_tb == 0 else 0.0)
        return found

    def _in_caches_tb(self, entry: Entry) -> float:
        """Return what owned cache drives of an entry hold. [TB]."""
        disks = [disk_of(item, self.scenario) for item in entry.cache]
        return (
            sum(d.held_b for d in disks if not d.has_copy and not d.old_array)
            / BYTES_PER_TB
        )
