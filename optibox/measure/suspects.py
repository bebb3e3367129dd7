"""Who may have set a transfer's rate, each with the figure that it would give."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optibox.catalog.storage import SolidStateDrive
from optibox.figures.chains import drive_rates
from optibox.figures.stages import network_mb_s
from optibox.machine import DriveView, Machine
from optibox.measure.records import TransferReading
from optibox.measure.transfers import (
    chosen_drives,
    in_mode,
    shared_way,
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
SAME_FILL = 0.1
"""Difference of fills within which reads are compared; judgement."""
SLOW_SHARE = 0.8
"""Share of its planned rate below which a drive read alone counts as slow; judgement."""
_Z95 = 1.96
_Shared = tuple[tuple[str, ...], float]
"""Drives that share something, and its budget. [MB/s]"""


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


def suspects_of(
    machine: Machine,
    reading: TransferReading,
    stages: Sequence[Stage],
    company: Sequence[TransferReading],
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
    yield from _slow_drives(machine, reading, company)
    yield from _together(machine, reading)
    yield from _other_modes(machine, reading)
    yield from _drive_suspects(machine, reading)
    yield from _kind_suspects(machine, reading, company)
    yield from _network_suspects(machine, reading)
    yield from _cache_suspects(machine, reading)


def _slow_drives(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> Iterator[Suspect]:
    """Yield drives that were slow alone and drag what all of them take part in."""
    if reading.target or reading.operation not in ("write", "flush", "read"):
        return
    planned = slowest(stages_of(machine, reading))
    for alone in (r for r in company if r.operation == "read" and r.target):
        own = slowest(stages_of(machine, alone)).rate_mb_s
        share = alone.mb_s / own if own else 1.0
        if share >= SLOW_SHARE:
            continue
        dragged = planned.rate_mb_s * share
        if reading.n_drives > 1:
            dragged = planned.rate_mb_s - own + alone.mb_s
        yield Suspect(
            kind="slow drive",
            words=f"{alone.target}, slow by itself, drags the others",
            mb_s=dragged,
            spread=0.06,
        )


def _together(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    """Yield what drives would give together if what they share were worse than planned."""
    if reading.operation != "read" or reading.n_drives < 2:
        return
    drives = chosen_drives(machine, reading)
    rates = dict(
        zip(
            [drive.name for drive in drives],
            drive_rates(machine, drives, reading.fill),
            strict=False,
        )
    )
    for words, kind, budgets in _worse_links(machine, drives):
        total = sum(rates.values())
        for names, budget in budgets:
            own = sum(rates.get(name, 0.0) for name in names)
            total -= max(0.0, own - budget)
        yield Suspect(kind=kind, words=words, mb_s=total, spread=0.1)


def _worse_links(
    machine: Machine, drives: Sequence[DriveView]
) -> Iterator[tuple[str, str, list[_Shared]]]:
    """Yield links that trained lower, and multipliers that nobody knows of."""
    shared = [
        (link.words, tuple(d.name for d in drives if name in d.path), link.budget_mb_s)
        for name, link in machine.links.items()
    ]
    shared = [one for one in shared if len(one[1]) > 1]
    for steps, share in (("one generation", 0.5), ("two generations", 0.25)):
        budgets = [(names, share * budget) for _, names, budget in shared]
        for (words, _, _), own in zip(shared, budgets, strict=True):
            yield f"{words} trained {steps} lower", "link", [own]
        if len(budgets) > 1:
            yield f"every such link trained {steps} lower", "link", budgets
    yield from _unknown_multipliers(machine, drives)


def _unknown_multipliers(
    machine: Machine, drives: Sequence[DriveView]
) -> Iterator[tuple[str, str, list[_Shared]]]:
    hosts: dict[str, list[str]] = {}
    for drive in drives:
        if drive.connection is not None and not drive.is_multiplied:
            hosts.setdefault(drive.connection.host, []).append(drive.name)
    budget = machine.factors.multiplier_host_mb_s.mid
    found = {host: tuple(n) for host, n in hosts.items() if len(n) > 1}
    for host, names in found.items():
        words = f"an unknown port multiplier behind {host}"
        yield words, "multiplier", [(names, budget)]
    if len(found) > 1:
        words = "an unknown port multiplier behind each host"
        yield words, "multiplier", [(names, budget) for names in found.values()]


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


def peers_of(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> list[TransferReading]:
    """Return reads of other drives of the same kind, each alone, at a like fill."""
    keys = {drive.name: drive.item.key for drive in machine.drives}
    return [
        r
        for r in company
        if r.operation == "read"
        and r.target not in ("", reading.target)
        and keys.get(r.target) == keys.get(reading.target)
        and abs(r.fill - reading.fill) < SAME_FILL
    ]


def _kind_suspects(
    machine: Machine, reading: TransferReading, company: Sequence[TransferReading]
) -> Iterator[Suspect]:
    """Yield the kind of drive itself, where several were read alone."""
    if not reading.target:
        return
    rates = [r.mb_s for r in peers_of(machine, reading, company)]
    if rates:
        yield Suspect(
            kind="kind",
            words=f"its {len(rates)} peers give as much: drives of this kind are so",
            mb_s=sum(rates) / len(rates),
            spread=0.06,
        )


def _network_suspects(machine: Machine, reading: TransferReading) -> Iterator[Suspect]:
    if reading.way != "network":
        return
    port = machine.network
    if reading.operation in ("read", "write"):
        yield Suspect(
            kind="memory",
            words="memory answered, the network alone in the way",
            mb_s=slowest(shared_way(machine)).rate_mb_s,
            spread=0.08,
        )
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
