"""What was worked out and may be asked for again: the latest of it, within a number."""

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """Values by key; where there are too many, those that were not asked for longest go.

    Parameters
    ----------
    most : int
        How many are kept.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._values: dict[Hashable, T] = {}

    def __len__(self) -> int:
        """Return how many are kept."""
        return len(self._values)

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return a value, made if it is not there."""
        # a value asked for moves to the end: dictionaries keep the order of insertion
        value = self._values.pop(key) if key in self._values else make()
        if len(self._values) >= self.most:
            del self._values[next(iter(self._values))]
        self._values[key] = value
        return value
