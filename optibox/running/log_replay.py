"""A log replayed on the drives of a build: what each would have spun and woken."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from optibox.errors import Fault, InputError
from optibox.files import fault_of
from optibox.physics.calendar import HOURS_OF_DAY, HOURS_OF_WEEK
from optibox.physics.operation import DayUse
from optibox.physics.replay import Replayed
from optibox.physics.replay_stream import Trace, advanced, blank_trace, replayed
from optibox.running.log_read import Floats, LogReader, Piece
from optibox.scenario.records import TIMEOUTS_MIN
from optibox.units import HOURS_PER_YEAR, SECONDS_PER_HOUR

DISORDER_S = 3600.0
"""Rows may be this much older than rows before them: a log is often written when an
access ends, and clocks are set back. [s]"""
DEAL_GAP_S = 1800.0
"""Quiet time after which the next access counts as another visit, where a log does
not say which drive it reached; judgement. [s]"""
SHORTEST_S = 86_400.0
"""Span of the shortest log that is taken for more than a moment. [s]"""
SECONDS_PER_MINUTE = 60.0
_HOUR_OF_1970 = 3 * HOURS_OF_DAY
"""1 January 1970 was a Thursday."""
BYTES_PER_MB = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Which drives an access reaches, where the log does not name its drive.

    Attributes
    ----------
    drives : tuple of str
        Data drives of the build.
    is_shared : bool
        Every access reaches all of them (stripes); else visits are dealt in turn.
    service_s : float
        What an access takes, where the log has no bytes. [s]
    rate_mb_s : float
        At which bytes are read. [MB/s]
    """

    drives: tuple[str, ...]
    is_shared: bool
    service_s: float
    rate_mb_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReplay:
    """A whole log, replayed.

    Attributes
    ----------
    traces : dict of str to Trace
        By data drive; times count from the start of the log. [s]
    n_rows, n_writes : int
        Rows in all, and those left out because they write.
    span_s : float
        From the first access to the last. [s]
    how : str
        How accesses came to drives, in words.
    """

    traces: dict[str, Trace]
    n_rows: int
    n_writes: int
    span_s: float
    service_s: float
    how: str
    by_hour: tuple[int, ...] = (0,) * HOURS_OF_WEEK

    @property
    def span_h(self) -> float:
        """Return the span of the log. [h]."""
        return self.span_s / SECONDS_PER_HOUR

    def of_drive_at(self, name: str, timeout_min: float | None) -> Replayed:
        """Return how one drive would have spun under a timeout."""
        timeout_s = float("inf") if timeout_min is None else timeout_min * 60.0
        return replayed(self.traces[name], timeout_s, self.span_s)

    def of_mean_at(self, timeout_min: float | None) -> tuple[float, float]:
        """Return the mean drive's share spinning and wakes an hour. [1/h]."""
        found = [self.of_drive_at(name, timeout_min) for name in self.traces]
        share = sum(r.spinning_share for r in found) / len(found)
        return share, sum(r.wakes_per_hour for r in found) / len(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogDuty:
    """Puts a replayed log into a day's use in place of its sessions."""

    log: LogReplay
    is_shared: bool

    def of_mean_drive(self, use: DayUse, timeout_min: float | None) -> DayUse:
        """Return a day's use with the duty of the mean data drive."""
        return self._with(use, self.log.of_mean_at(timeout_min))

    def of_drive(self, name: str, use: DayUse, timeout_min: float | None) -> DayUse:
        """Return a day's use with the duty of one data drive."""
        if name not in self.log.traces:
            return self.of_mean_drive(use, timeout_min)
        found = self.log.of_drive_at(name, timeout_min)
        return self._with(use, (found.spinning_share, found.wakes_per_hour))

    def accesses_per_year_in(self, hours_of_week: Sequence[bool]) -> float:
        """Return the accesses a year that fell into some hours of the week."""
        pairs = zip(self.log.by_hour, hours_of_week, strict=True)
        return sum(n for n, is_in in pairs if is_in) / self.log.span_h * HOURS_PER_YEAR

    def _with(self, use: DayUse, duty: tuple[float, float]) -> DayUse:
        traces = list(self.log.traces.values())
        # what reaches all drives is one access
        share = len(traces) if self.is_shared else 1
        n_each = sum(trace.n for trace in traces) / share
        busy_s = sum(trace.busy_s for trace in traces) / share
        return replace(
            use,
            sessions_per_h=n_each / self.log.span_h,
            metadata_per_h=0.0,
            accesses=1.0,
            gap_h=0.0,
            # accesses that overlap keep a drive busy once
            service_h=busy_s / max(1.0, n_each) / SECONDS_PER_HOUR,
            spinning_fraction=None,
            replayed=duty,
        )


def replay_log(
    path: Path, reach: Reach, timeouts_min: Sequence[float] = TIMEOUTS_MIN
) -> LogReplay:
    """Return a log replayed on the drives of a build, in one pass over the file.

    Rows that write are counted and left out: writing is a scheduled block of the
    scenario. Drives sleep at the first access and are followed up to the last.

    Parameters
    ----------
    path : Path
        The log.
    reach : Reach
        The build's data drives, and how accesses reach them.
    timeouts_min : sequence of float
        Timeouts to replay under. [min]

    Raises
    ------
    InputError
        If the log cannot be read, is out of order, holds fewer than two accesses or
        names other drives than the build has.
    """
    player = _Player(path, reach, [t * SECONDS_PER_MINUTE for t in timeouts_min])
    reader = LogReader(path)
    for piece in _ordered(reader, path):
        player.play(piece, reader.names)
    return player.finished(reader)


class _Player:
    """Hands accesses to drives; the only state of a pass over a log."""

    def __init__(self, path: Path, reach: Reach, timeouts_s: Sequence[float]) -> None:
        self.path, self.reach, self.timeouts_s = path, reach, timeouts_s
        self.traces: dict[str, Trace] = {}
        self.start_s: float | None = None
        self.last_s = self.served_until_s = float("-inf")
        self.n_rows = self.n_writes = self.turn = 0
        self.busy_s, self.n_reads = 0.0, 0
        self.by_hour = np.zeros(HOURS_OF_WEEK, np.int64)

    def play(self, piece: Piece, names: Sequence[str]) -> None:
        """Replay the reads of a piece; times count from the log's first row."""
        self.n_rows += piece.time_s.size
        if piece.is_write is not None:
            self.n_writes += int(piece.is_write.sum())
            piece = _subset(piece, ~piece.is_write)
        if not piece.time_s.size:
            return
        if self.start_s is None:
            self.start_s = float(piece.time_s[0])
        start_s = piece.time_s - self.start_s
        service_s = self._service_s(piece)
        self.last_s = float(start_s[-1])
        self.n_reads += start_s.size
        hours = (piece.time_s // SECONDS_PER_HOUR).astype(np.int64)
        of_week = (hours + _HOUR_OF_1970) % HOURS_OF_WEEK
        self.by_hour += np.bincount(of_week, minlength=HOURS_OF_WEEK)
        self.busy_s += float(service_s.sum())
        if self.reach.is_shared:
            self._advance("all", start_s, service_s)
        elif piece.drive is None:
            self._dealt(start_s, service_s)
        else:
            for number in np.unique(piece.drive):
                mine = piece.drive == number
                self._advance(names[number], start_s[mine], service_s[mine])

    def _service_s(self, piece: Piece) -> Floats:
        if piece.size_bytes is None:
            return np.full(piece.time_s.size, self.reach.service_s)
        return piece.size_bytes / (self.reach.rate_mb_s * BYTES_PER_MB)

    def _advance(self, name: str, start_s: Floats, service_s: Floats) -> None:
        before = self.traces.get(name) or blank_trace(self.timeouts_s)
        self.traces[name] = advanced(before, start_s, service_s)

    def _dealt(self, start_s: Floats, service_s: Floats) -> None:
        """Hand each visit to the next drive."""
        served = np.maximum.accumulate(start_s + service_s)
        np.maximum(served, self.served_until_s, out=served)
        until = np.concatenate(([self.served_until_s], served[:-1]))
        visit = self.turn + np.cumsum(start_s - until > DEAL_GAP_S)
        self.turn, self.served_until_s = int(visit[-1]), float(served[-1])
        drive = (visit - 1) % len(self.reach.drives)
        for number in np.unique(drive):
            mine = drive == number
            self._advance(self.reach.drives[number], start_s[mine], service_s[mine])

    def finished(self, reader: LogReader) -> LogReplay:
        """Return what came out, by data drive of the build."""
        if self.n_reads < 2 or self.last_s <= 0:
            problem = f"holds {self.n_reads} accesses that read, at one time"
            remedy = "Expected at least two accesses some time apart."
            raise fault_of(self.path, problem, remedy)
        if self.last_s < SHORTEST_S:
            problem = f"spans {self.last_s / SECONDS_PER_HOUR:.1f} h"
            remedy = "Expected a day at least, better months: a year is made of it."
            raise fault_of(self.path, problem, remedy)
        drives = self.reach.drives
        blank = blank_trace(self.timeouts_s)
        if self.reach.is_shared:
            traces = dict.fromkeys(drives, self.traces["all"])
            how = "every access reaches all drives of a stripe"
        elif "drive" not in reader.columns:
            traces = {name: self.traces.get(name, blank) for name in drives}
            quiet = DEAL_GAP_S / SECONDS_PER_MINUTE
            how = (
                "the log names no drives: visits, parted by "
                f"{quiet:g} quiet minutes, are dealt to the data drives in turn"
            )
        else:
            traces, how = self._matched(blank)
        return LogReplay(
            traces=traces,
            n_rows=self.n_rows,
            n_writes=self.n_writes,
            span_s=self.last_s,
            service_s=self.busy_s / self.n_reads,
            how=how,
            by_hour=tuple(self.by_hour.tolist()),
        )

    def _matched(self, blank: Trace) -> tuple[dict[str, Trace], str]:
        """Return the traces by the build's names for its drives."""
        drives, read = self.reach.drives, sorted(self.traces)
        if set(read) <= set(drives):
            found = {name: self.traces.get(name, blank) for name in drives}
            return found, "each access reaches the drive that the log names"
        if len(read) > len(drives):
            fault = Fault(
                path=str(self.path),
                field="drive",
                value=", ".join(read[:6]),
                problem=f"are {len(read)} drives; the build has {len(drives)} for data",
                remedy=f"Name data drives alone: {', '.join(drives)}.",
            )
            raise InputError([fault])
        pairs = dict(zip(drives, read, strict=False))
        found = {
            name: self.traces[pairs[name]] if name in pairs else blank
            for name in drives
        }
        words = ", ".join(f"{theirs} as {mine}" for mine, theirs in pairs.items())
        return found, f"drives are taken in the order of their names: {words}"


def _ordered(reader: LogReader, path: Path) -> Iterator[Piece]:
    """Yield a log's rows in the order of time, small disorder put right.

    The last hour of what was read is held back until it is known to be complete.
    """
    held: Piece | None = None
    done_s = float("-inf")
    for piece in reader.pieces():
        joined = _sorted(piece if held is None else _joined(held, piece))
        if not joined.time_s.size:
            continue
        if joined.time_s[0] < done_s:
            raise _out_of_order(path, piece, done_s)
        ready = joined.time_s <= joined.time_s[-1] - DISORDER_S
        held = _subset(joined, ~ready)
        out = _subset(joined, ready)
        if out.time_s.size:
            done_s = float(out.time_s[-1])
            yield out
    if held is not None and held.time_s.size:
        yield held


def _out_of_order(path: Path, piece: Piece, done_s: float) -> InputError:
    row = int(np.argmax(piece.time_s < done_s))
    problem = "goes back in time by more than an hour"
    remedy = "Sort the rows by time first."
    return fault_of(path, problem, remedy, line=piece.first_line + row)


Index = npt.NDArray[np.bool_] | npt.NDArray[np.int64]


def _subset(piece: Piece, index: Index) -> Piece:
    return Piece(
        first_line=piece.first_line,
        time_s=piece.time_s[index],
        drive=None if piece.drive is None else piece.drive[index],
        size_bytes=None if piece.size_bytes is None else piece.size_bytes[index],
        is_write=None if piece.is_write is None else piece.is_write[index],
    )


def _sorted(piece: Piece) -> Piece:
    if (np.diff(piece.time_s) >= 0).all():
        return piece
    return _subset(piece, np.argsort(piece.time_s, kind="stable"))


def _joined(first: Piece, second: Piece) -> Piece:
    def both(name: str) -> npt.NDArray[np.float64]:
        return np.concatenate((getattr(first, name), getattr(second, name)))

    columns = ("time_s", "drive", "size_bytes", "is_write")
    known = {n: both(n) for n in columns if getattr(first, n) is not None}
    return Piece(first_line=second.first_line, **known)  # type: ignore[arg-type]
