"""Readings as records: what was fitted, what it did, what the meter said."""

import math
from dataclasses import dataclass, field
from typing import Literal, get_args

from optibox.errors import Fault

State = Literal["asleep", "spinning", "reading", "ingesting", "flushing", "checking"]
STATES: tuple[State, ...] = get_args(State)
Transfer = Literal["read", "write", "ingest", "flush", "network"]
"""``network`` is a file that memory holds, read over the network: nothing else."""
TRANSFERS: tuple[Transfer, ...] = get_args(Transfer)
Way = Literal["network", "local"]

RESOLUTION_W = 0.1
"""Step of the display of a usual plug-in meter; common practice, no source. [W]"""
REPEATABILITY_W = 0.3
"""Standard deviation of the same reading taken again on another boot; judgement. [W]"""
RATE_ERROR = 0.03
"""Standard deviation of a transfer test taken again, as a share; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """What a wall meter can tell.

    Attributes
    ----------
    resolution_w : float
        Step of its display. [W]
    repeatability_w : float
        Standard deviation of one reading taken again. [W]
    """

    resolution_w: float = RESOLUTION_W
    repeatability_w: float = REPEATABILITY_W

    def error_w(self, repeats: int = 1) -> float:
        """Return the standard error of the mean of some repeats. [W].

        A display's step is as wrong the second time as the first, so that repeats
        only narrow the other part; a value anywhere within a step has a standard
        deviation of step / sqrt(12).

        Examples
        --------
        >>> round(Meter(resolution_w=0.0, repeatability_w=0.3).error_w(4), 3)
        0.15
        """
        step = self.resolution_w / math.sqrt(12.0)
        return math.hypot(step, self.repeatability_w / math.sqrt(repeats))


def difference_interval_w(error_w: float) -> float:
    """Return by how much the difference of two readings is uncertain, 95 %. [W].

    Parameters
    ----------
    error_w : float
        Standard error of each reading. [W]

    Examples
    --------
    >>> round(difference_interval_w(0.3), 2)
    0.83
    """
    return 1.96 * math.sqrt(2.0) * error_w


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """What was fitted while a reading was taken, and what the machine did.

    Attributes
    ----------
    fitted : tuple of (str, int)
        Pieces by item key.
    state : str
        What the machine did.
    at_work : int or None
        Array drives that moved data; nothing = as many as the operating plan says.
    standing : int
        Array drives that stood still while others spun.
    """

    fitted: tuple[tuple[str, int], ...]
    state: State
    at_work: int | None = None
    standing: int = 0

    def count(self, key: str) -> int:
        """Return how many pieces of an item were fitted."""
        return dict(self.fitted).get(key, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerReading:
    """One reading of the wall meter.

    Attributes
    ----------
    line : int
        Line of the file.
    situation : Situation
        What was fitted and what it did.
    watts : float
        Mean power at the wall. [W]
    error_w : float
        Its standard error. [W]
    minute : float
        When it was taken: minutes since the first one, or its place in the file.
    """

    line: int
    situation: Situation
    watts: float
    error_w: float
    minute: float
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferReading:
    """One transfer test.

    Attributes
    ----------
    line : int
        Line of the file.
    operation : str
        What was done.
    size_gb, mb_s : float
        Data moved and the rate. [GB], [MB/s]
    fill : float
        How full the drives were, 0 to 1.
    n_drives : int
        Drives that took part, or files on as many drives at once.
    is_synced : bool or None
        Writes: the time until data were on the drives counted. Reads: the memory had
        been emptied of the file before.
    client_mb_s : float or None
        What the other end can give or take by itself. [MB/s]
    way : str
        Over the network or within the machine.
    target : str
        The drive, where one was chosen.
    mode : str
        Write mode, where it was not the plan's.
    """

    line: int
    operation: Transfer
    size_gb: float
    mb_s: float
    fill: float = 0.0
    n_drives: int = 1
    is_synced: bool | None = None
    client_mb_s: float | None = None
    way: Way = "network"
    target: str = ""
    mode: str = ""
    error: float = RATE_ERROR
    """Standard error as a share of the rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterReading:
    """What a drive counts about itself."""

    line: int
    drive: str
    starts: int | None = None
    hours: float | None = None
    pending_sectors: int | None = None
    reallocated_sectors: int | None = None
    interface_errors: int | None = None


@dataclass(slots=True, kw_only=True)
class Readings:
    """The readings of one file with everything that is wrong with it."""

    path: str
    power: list[PowerReading] = field(default_factory=list)
    transfers: list[TransferReading] = field(default_factory=list)
    counters: list[CounterReading] = field(default_factory=list)
    n_blank: int = 0
    """Rows whose boxes are still empty."""

    faults: list[Fault] = field(default_factory=list)
