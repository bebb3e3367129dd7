"""Transfer tests beside the plan: what they measured, who is to blame, which factors.

Every test is compared with its own chain of stages. What is within both errors of the
chain is as planned. What is not is held against suspects, each with the figure that
it would give: what was planned to bind, links at lower speeds, memory, fast regions,
multipliers, the other write mode, the network, the other end.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.chains import drive_rates
from optibox.figures.stages import network_mb_s
from optibox.machine import Machine
from optibox.measure.records import TransferReading
from optibox.measure.transfers import (
    at_level,
    chosen_drives,
    in_mode,
    least_size_gb,
    slowest,
    stages_of,
)
from optibox.physics.chain import Stage

SLOW_LINKS_MB_S = {"3 Gb/s": 275.0, "1.5 Gb/s": 138.0}
"""What a data link gives that trained at a lower rate; judgement, from the planning
rate of 3 Gb/s. [MB/s]"""
NETWORK_STEPS_GBIT_S = (0.1, 1.0, 2.5, 5.0)
"""Rates to which a network port may fall back (IEEE 802.3 twisted-pair rates)."""
LEAST_TOLERANCE = 0.06
"""Share within which a suspect's figure counts as met; judgement."""
ALONE_FINE = 0.9
"""Share of its planned rate from which a drive alone counts as fine; judgement."""
PEER_SHARE = 0.8
"""Share of its peers' rate below which one drive counts as slow; judgement."""
_Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """Something that may have set a rate, and the rate it would give. [MB/s]."""

    kind: str
    words: str
    mb_s: float
    spread: float
    """Half of the 95 % range of that figure, as a share."""

    def distance(self, reading: TransferReading) -> float:
        """Return how far the reading is from it, in tolerances."""
        if self.mb_s <= 0.0:
            return math.inf
        tolerance = max(LEAST_TOLERANCE, math.hypot(_Z95 * reading.error, self.spread))
        return abs(math.log(reading.mb_s / self.mb_s)) / tolerance


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
        _suspects(machine, reading, stages),
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
    if reading.n_drives > 1 and _alone_are_fine(machine, company):
        share = reading.mb_s / slowest(stages_of(machine, reading)).rate_mb_s
        if share < ALONE_FINE:
            words = "fine alone, slow together: a link that they share"
            return words, frozenset({"link", "multiplier"})
    if reading.operation in ("write", "flush") and _reads_are_fine(machine, company):
        words = "reads as planned, writes not: the way of writing"
        return words, frozenset({"write mode"})
    return "", frozenset()


def _single_reads(company: Sequence[TransferReading]) -> list[TransferReading]:
    return [r for r in company if r.operation == "read" and r.target]


def _alone_are_fine(machine: Machine, company: Sequence[TransferReading]) -> bool:
    alone = _single_reads(company)
    return bool(alone) and all(
        r.mb_s >= ALONE_FINE * slowest(stages_of(machine, r)).rate_mb_s for r in alone
    )


def _reads_are_fine(machine: Machine, company: Sequence[TransferReading]) -> bool:
    reads = [r for r in company if r.operation == "read" and not refusal(machine, r)]
    return bool(reads) and all(
        r.mb_s >= ALONE_FINE * slowest(stages_of(machine, r)).rate_mb_s for r in reads
    )


def _against_peers(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> tuple[str, frozenset[str]]:
    """Return whether one drive is slow where others of its kind are not."""
    keys = {drive.name: drive.item.key for drive in machine.drives}
    peers = [
        r.mb_s
        for r in _single_reads(company)
        if r.target != reading.target
        and keys.get(r.target) == keys.get(reading.target)
        and abs(r.fill - reading.fill) < 0.1
    ]
    if peers and reading.mb_s < PEER_SHARE * max(peers):
        words = "slower alone than its peers: this drive or its cable"
        return words, frozenset({"drive or cable"})
    return "", frozenset()


def _suspects(
    machine: Machine, reading: TransferReading, stages: Sequence[Stage]
) -> Iterator[Suspect]:
    """Yield who may have set a rate, with the figure that each would give."""
    for stage in stages:
        if math.isfinite(stage.rate_mb_s):
            yield Suspect(
                kind=_kind_of(stage),
                words=stage.name,
                mb_s=stage.rate_mb_s,
                spread=0.1,
            )
    yield from _other_modes(machine, reading)
    yield from _drive_suspects(machine, reading)
    yield from _network_suspects(machine, reading)
    yield from _cache_suspects(machine, reading)


def _kind_of(stage: Stage) -> str:
    name = stage.name
    if "multiplier" in name:
        return "multiplier"
    if name.startswith(("slot", "link")):
        return "link"
    if "network" in name:
        return "network"
    if "mode" in name:
        return "write mode"
    return "processor" if name == "processor" else "drives"


def _other_modes(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    if reading.operation not in ("write", "flush"):
        return
    now = in_mode(machine, reading.mode).operation.write_mode
    for mode in ("read-modify-write", "reconstruct"):
        if now in ("plain", mode):
            continue
        stage = slowest(stages_of(in_mode(machine, mode), reading))
        yield Suspect(
            kind="write mode",
            words=f"it wrote in {mode} mode instead",
            mb_s=stage.rate_mb_s,
            spread=0.1,
        )


def _drive_suspects(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    if reading.operation != "read" or not reading.target:
        return
    drives = chosen_drives(machine, reading)
    rates = drive_rates(machine, drives, reading.fill)
    for words, limit in SLOW_LINKS_MB_S.items():
        if rates and limit < rates[0]:
            yield Suspect(
                kind="drive or cable",
                words=f"its data link trained at {words} (cable, plug or port)",
                mb_s=limit,
                spread=0.06,
            )
    share = machine.factors.multiplier_single_drive
    if rates and not any(drive.is_multiplied for drive in drives):
        yield Suspect(
            kind="multiplier",
            words="a port multiplier that the catalog does not know of",
            mb_s=rates[0] * share.mid,
            spread=(share.high - share.low) / 2.0 / share.mid,
        )
    if rates:
        inner = drive_rates(machine, drives, 1.0)[0]
        yield Suspect(
            kind="drive or cable",
            words="read near the inner edge, not the outer",
            mb_s=inner,
            spread=0.06,
        )


def _network_suspects(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    if reading.way != "network":
        return
    port = machine.network
    for gbit_s in NETWORK_STEPS_GBIT_S:
        if port is not None and gbit_s < port.gbit_s:
            yield Suspect(
                kind="network",
                words=f"the network fell back to {gbit_s:g} Gb/s (lead, plug, switch)",
                mb_s=network_mb_s(gbit_s, machine.factors),
                spread=0.08,
            )
    if reading.client_mb_s:
        yield Suspect(
            kind="other end",
            words="the other end manages no more",
            mb_s=reading.client_mb_s,
            spread=0.05,
        )


def _cache_suspects(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    if reading.operation != "ingest":
        return
    for drive in machine.in_role("cache"):
        part = drive.part
        if not isinstance(part, SolidStateDrive):
            continue
        if part.fast_write_mb_s is not None and part.fast_gb:
            yield Suspect(
                kind="fast region",
                words=f"the fast region of {part.name} alone",
                mb_s=min(part.fast_write_mb_s.mid, drive.port_mb_s),
                spread=0.1,
            )
        yield Suspect(
            kind="cache",
            words=f"{part.name} beyond its fast region",
            mb_s=min(part.write_mb_s.mid, drive.port_mb_s),
            spread=0.1,
        )
    chain = slowest(stages_of(_without_cache(machine), reading))
    yield Suspect(
        kind="overflow",
        words="the cache is passed by, straight to the array",
        mb_s=chain.rate_mb_s,
        spread=0.15,
    )


def _without_cache(machine: Machine) -> Machine:
    drives = tuple(use for use in machine.build.drives if use.role != "cache")
    return replace(machine, build=replace(machine.build, drives=drives))


def hard_part(machine: Machine, target: str) -> HardDrive | None:
    """Return the part of a named drive, where it is a hard drive."""
    for drive in machine.drives:
        if drive.name == target and isinstance(drive.part, HardDrive):
            return drive.part
    return None
