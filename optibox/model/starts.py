"""How many wide drives a frame can start at once."""

from dataclasses import dataclass

import numpy as np

from optibox.model.drive_table import Flags, Floats

ANY = 1_000
"""More drives than any build holds: no limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """What the drives of an entry draw while all start, at least.

    Attributes
    ----------
    amps, watts : pair of float
        Of one wide and of one narrow drive; infinite where none may be used. [A], [W]
    n : int
        Drives of the array.
    is_together : bool
        Whether they start at once whatever the ports can do.
    """

    amps: tuple[float, float]
    watts: tuple[float, float]
    n: int
    is_together: bool

    def most_large(self, free_a: Floats, free_w: Floats) -> Floats:
        """Return the most wide drives that may be among those that start at once.

        Parameters
        ----------
        free_a, free_w : array, shape (n_rows,)
            What each frame has left for drives. [A], [W]

        Returns
        -------
        array, shape (n_rows,)
            From -1, not even none, to ``ANY``.
        """
        return np.minimum(
            _most(self.n, self.amps, free_a), _most(self.n, self.watts, free_w)
        )


def _most(n: int, each: tuple[float, float], free: Floats) -> Floats:
    large, small = each
    if not np.isfinite(large):
        return np.full(len(free), float(ANY))
    if not np.isfinite(small) or small >= large:
        # either kind: all or nothing, at the least of both
        fits = n * min(large, small) <= free * (1 + 1e-9)
        return np.where(fits, float(ANY), -1.0)
    most: Floats = np.floor((free * (1 + 1e-9) - n * small) / (large - small) + 1e-9)
    return np.where(most >= n, float(ANY), np.maximum(most, -1.0))


def starts_of(
    amps: Floats, watts: Floats, is_large: Flags, able: Flags, n: int, *, together: bool
) -> Starts:
    """Return what the drives that may be used draw at least while they start."""

    def least(values: Floats, flags: Flags) -> float:
        return float(values[flags & able].min(initial=np.inf))

    return Starts(
        amps=(least(amps, is_large), least(amps, ~is_large)),
        watts=(least(watts, is_large), least(watts, ~is_large)),
        n=n,
        is_together=together,
    )
