"""Names that people use for what they take out, as pieces of a build's items."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from optibox.build import Build
from optibox.catalog.nearest import nearest
from optibox.catalog.platform import Board, Cooler, Memory, PowerSupply, Processor
from optibox.catalog.storage import BootMedium

ALL, BARE, BUT = "all", "bare", "all but"
_BARE = (Board, Processor, Cooler, Memory, BootMedium, PowerSupply)
_PIECES = re.compile(r"(.+?)(?:\s+x\s*(\d{1,3}))?")
Counts = dict[str, int]


class PiecesError(ValueError):
    """A list of parts cannot be read: problem and remedy."""

    def __init__(self, value: str, problem: str, remedy: str) -> None:
        self.value, self.problem, self.remedy = value, problem, remedy
        super().__init__(problem)


@dataclass(frozen=True)
class Names:
    """What a build's pieces may be called.

    An item key or part id (all its pieces, or ``x2``), the name of one drive or card
    of the build, or a kind of part.
    """

    build: Build

    @cached_property
    def everything(self) -> Counts:
        """Return all pieces of the build by item key."""
        return {entry.item.key: entry.count for entry in self.build.items}

    @cached_property
    def bare(self) -> Counts:
        """Return what runs on a table: board, processor, memory, boot, supply."""
        return {
            entry.item.key: entry.count
            for entry in self.build.items
            if isinstance(entry.item.part, _BARE)
        }

    @cached_property
    def pieces(self) -> Mapping[str, str]:
        """Return the item key of each drive and card by its name."""
        found = {use.name.lower(): use.key for use in self.build.drives}
        return found | {use.name.lower(): use.key for use in self.build.slots}

    @cached_property
    def groups(self) -> Mapping[str, tuple[str, ...]]:
        """Return the item keys of each id, key and kind."""
        found: dict[str, list[str]] = {}
        for entry in self.build.items:
            item = entry.item
            names = {item.key, item.part.id, item.part.kind, f"{item.part.kind}s"}
            for name in names:
                found.setdefault(name.lower(), []).append(item.key)
        return {name: tuple(keys) for name, keys in found.items()}

    @property
    def known(self) -> list[str]:
        """Return the names to choose from, single pieces first."""
        keys = [entry.item.key for entry in self.build.items]
        return [*(use.name for use in self.build.drives), *keys, *self.groups]

    def fitted(self, text: str) -> Counts:
        """Return what a cell says is fitted: a list, ``all``, ``all but``, ``bare``.

        Raises
        ------
        PiecesError
            If a name is unknown or counts more than the build holds.
        """
        text = text.strip()
        if text.lower() == ALL:
            return dict(self.everything)
        if text.lower() == BARE:
            return dict(self.bare)
        if text.lower().startswith(f"{BUT} "):
            return self.without(self.everything, text[len(BUT) :])
        return self.with_added({}, text)

    def without(self, fitted: Mapping[str, int], text: str) -> Counts:
        """Return what is left once the pieces of a list are taken out."""
        left = dict(fitted)
        for name in _split(text):
            for key, count in self._counted(name, left).items():
                if left.get(key, 0) < count:
                    problem = f"takes out {count} where {left.get(key, 0)} are fitted"
                    raise PiecesError(name, problem, "Correct the count or the name.")
                left[key] -= count
        return {key: count for key, count in left.items() if count}

    def with_added(self, fitted: Mapping[str, int], text: str) -> Counts:
        """Return what is fitted once the pieces of a list are put in."""
        found = dict(fitted)
        for name in _split(text):
            room = {
                key: count - found.get(key, 0) for key, count in self.everything.items()
            }
            for key, count in self._counted(name, room).items():
                found[key] = found.get(key, 0) + count
                if found[key] > self.everything[key]:
                    problem = f"fits {found[key]}; the build has {self.everything[key]}"
                    raise PiecesError(name, problem, "Correct the count or the name.")
        return found

    def _counted(self, text: str, there: Mapping[str, int]) -> Counts:
        """Return the pieces that one entry of a list means."""
        match = _PIECES.fullmatch(text)
        name = (match[1] if match else text).strip().lower()
        count = int(match[2]) if match and match[2] else None
        if name in self.pieces and count is None:
            return {self.pieces[name]: 1}
        keys = self.groups.get(name)
        if keys is None:
            remedy = nearest(name, self.known)
            raise PiecesError(text, "is no part of the build", remedy)
        if count is None:
            return {key: there.get(key, 0) for key in keys}
        if len(keys) > 1:
            problem = f"counts pieces of {len(keys)} different parts"
            raise PiecesError(text, problem, f"Name one of {', '.join(keys)}.")
        return {keys[0]: count}


def _split(text: str) -> Iterable[str]:
    return [name.strip() for name in text.split("|") if name.strip()]
