"""Transfer tests beside the plan: what they measured, who is to blame, which factors.

Every test is compared with its own chain of stages. What is within both errors of the
chain is as planned. What is not is held against suspects, each with the figure that
it would give: what was planned to bind, links at lower speeds, memory, fast regions,
multipliers, the other write mode, the network, the other end.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from optibox.catalog.storage import HardDrive
from optibox.figures.chains import drive_rates
from optibox.machine import Machine
from optibox.measure.records import TransferReading
from optibox.measure.suspects import Suspect, peers_of, suspects_of
from optibox.measure.transfers import (
    at_level,
    chosen_drives,
    least_size_gb,
    slowest,
    stages_of,
)
from optibox.physics.chain import Stage

ALONE_FINE = 0.9
"""Share of its planned rate from which a drive alone counts as fine; judgement."""
ALIKE = 0.08
"""Share within which drives count as alike; judgement."""
PEER_SHARE = 0.8
"""Share of its peers' rate below which one drive counts as slow; judgement."""


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One transfer test with what it says.

    Attributes
    ----------
    planned : Stage
        What was planned to bind, and its rate. [MB/s]
    refused : str
        Why it says nothing about drives; empty where it does.
    pattern : str
        What its company says: alone against together, one against its peers.
    suspects : tuple of Suspect
        Who may be to blame, the likeliest first.
    """

    reading: TransferReading
    planned: Stage
    spread: float
    refused: str = ""
    pattern: str = ""
    suspects: tuple[Suspect, ...] = ()

    @cached_property
    def is_as_planned(self) -> bool:
        """Return whether the test met its plan within both errors."""
        own = Suspect(
            kind="plan",
            words=self.planned.name,
            mb_s=self.planned.rate_mb_s,
            spread=self.spread,
        )
        return not self.refused and own.distance(self.reading) <= 1.0

    @property
    def culprit(self) -> Suspect | None:
        """Return the likeliest suspect whose figure the test meets."""
        if self.is_as_planned or self.refused:
            return None
        close = [s for s in self.suspects if s.distance(self.reading) <= 1.0]
        return close[0] if close else None


def judge(machine: Machine, readings: Sequence[TransferReading]) -> tuple[Judged, ...]:
    """Return what transfer tests say about a machine, each in the company of all."""
    return tuple(_judged(machine, reading, readings) for reading in readings)


def _judged(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> Judged:
    stages = stages_of(machine, reading)
    planned = slowest(stages)
    low, high = (
        slowest(stages_of(at_level(machine, level), reading)).rate_mb_s
        for level in ("low", "high")
    )
    spread = (high - low) / 2.0 / planned.rate_mb_s if planned.rate_mb_s else 0.0
    pattern, first = _pattern(machine, reading, company)
    suspects = sorted(
        suspects_of(machine, reading, stages, company),
        key=lambda s: (s.kind not in first, s.distance(reading)),
    )
    return Judged(
        reading=reading,
        planned=planned,
        spread=spread,
        refused=refusal(machine, reading),
        pattern=pattern,
        suspects=tuple(suspects),
    )


def refusal(machine: Machine, reading: TransferReading) -> str:
    """Return why a test measured memory or a fast region instead of drives, or ""."""
    if reading.operation == "network":
        return ""
    least = least_size_gb(machine)
    if reading.size_gb < least and not reading.is_synced:
        how = "emptying memory before" if reading.operation == "read" else "a sync"
        return (
            f"{reading.size_gb:g} GB without {how} fit into {machine.memory_gib:g} GiB "
            f"of memory: from {math.ceil(least):g} GB on it is a test"
        )
    ceiling = _ceiling(machine, reading)
    if reading.operation != "ingest" and reading.mb_s > ceiling:
        return (
            f"faster than the drives can be, {ceiling:.0f} MB/s at most: memory or a "
            "cache answered"
        )
    return ""


def _ceiling(machine: Machine, reading: TransferReading) -> float:
    """Return what no drive of the test can exceed, a tenth of doubt included. [MB/s]."""
    best = at_level(machine, "high")
    if reading.operation == "read" and (reading.target or reading.n_drives > 1):
        return 1.1 * slowest(stages_of(best, reading)).rate_mb_s
    drives = drive_rates(best, best.array, reading.fill)
    striped = "striped" in machine.operation.layout
    return 1.1 * (sum(drives) if striped else max(drives, default=math.inf))


def _pattern(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> tuple[str, frozenset[str]]:
    """Return what a test's company says, and which suspects that puts first."""
    if reading.operation == "read" and reading.target:
        return _against_peers(machine, reading, company)
    if (
        reading.n_drives > 1
        and _single_reads(company)
        and reading.mb_s < ALONE_FINE * _sum_alone(machine, reading, company)
    ):
        words = "less together than alone: something that they share"
        return words, frozenset({"link", "multiplier"})
    if reading.operation in ("write", "flush") and _reads_are_fine(machine, company):
        words = "reads as planned, writes not: the way of writing"
        return words, frozenset({"write mode"})
    return "", frozenset()


def _single_reads(company: Sequence[TransferReading]) -> list[TransferReading]:
    return [r for r in company if r.operation == "read" and r.target]


def _sum_alone(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> float:
    """Return what drives give one by one: as read alone, else as planned. [MB/s]."""
    alone = {r.target: r.mb_s for r in _single_reads(company)}
    drives = chosen_drives(machine, reading)
    rates = drive_rates(machine, drives, reading.fill)
    sums = sum(
        alone.get(drive.name, rate) for drive, rate in zip(drives, rates, strict=False)
    )
    return min(sums, slowest(stages_of(machine, reading)).rate_mb_s)


def _reads_are_fine(machine: Machine, company: Sequence[TransferReading]) -> bool:
    reads = [r for r in company if r.operation == "read" and not refusal(machine, r)]
    return bool(reads) and all(
        r.mb_s >= ALONE_FINE * slowest(stages_of(machine, r)).rate_mb_s for r in reads
    )


def _against_peers(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> tuple[str, frozenset[str]]:
    """Return whether one drive is slow where others of its kind are not."""
    peers = [r.mb_s for r in peers_of(machine, reading, company)]
    if peers and all(abs(math.log(reading.mb_s / p)) <= ALIKE for p in peers):
        return "", frozenset({"kind"})
    if peers and reading.mb_s < PEER_SHARE * max(peers):
        words = "slower alone than its peers: this drive or its cable"
        return words, frozenset({"drive or cable"})
    return "", frozenset()


def hard_part(machine: Machine, target: str) -> HardDrive | None:
    """Return the part of a named drive, where it is a hard drive."""
    for drive in machine.drives:
        if drive.name == target and isinstance(drive.part, HardDrive):
            return drive.part
    return None
