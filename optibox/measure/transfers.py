"""Transfer tests: what each would give, and sizes that memory and fast regions cannot fake."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from optibox.catalog.columns import Figure, Level
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.chains import (
    Chain,
    burst,
    cache_chain,
    cache_region,
    chain,
    drive_rates,
    network_stages,
    usable_cache,
)
from optibox.machine import DriveView, Machine
from optibox.measure.records import RATE_ERROR, Transfer, TransferReading, Way
from optibox.physics.chain import Stage
from optibox.units import MB_PER_GB

if TYPE_CHECKING:
    from optibox.scenario.records import WriteMode

GB_PER_GIB = 2**30 / 1e9
MEMORY_TIMES = 2.0
"""A test shorter than so many times the memory may never leave it."""
FAST_TIMES = 1.5
"""Sizes beside a fast region from which most of a test lies beyond it; judgement."""
SMALL_SHARE = 4.0
"""A file of a quarter of the memory stays in it; judgement."""
_Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferTest:
    """One transfer test of the sheet.

    Attributes
    ----------
    expected_mb_s, low_mb_s, high_mb_s : float
        Predicted rate and its 95 % range with the test's own error. [MB/s]
    stage : str
        What is expected to bind.
    minutes : float
        Time that it takes at that rate. [min]
    """

    operation: Transfer
    way: Way
    size_gb: float
    n_drives: int
    target: str
    mode: str
    expected_mb_s: float
    low_mb_s: float
    high_mb_s: float
    stage: str
    minutes: float
    purpose: str


def least_size_gb(machine: Machine) -> float:
    """Return the smallest test that memory cannot have answered. [GB]."""
    return MEMORY_TIMES * machine.memory_gib * GB_PER_GIB


def transfer_tests(machine: Machine) -> tuple[TransferTest, ...]:
    """Return the transfer tests that separate a machine's stages, shortest first."""
    return tuple(_tests(machine))


def _tests(machine: Machine) -> Iterator[TransferTest]:
    data = machine.in_role("data")
    if not data:
        return
    memory = _round_up(least_size_gb(machine))
    one = _asked("read", "local", memory, target=data[0].name)
    yield _test(machine, one, "the drive and its cable alone, from its outer edge")
    n = len(machine.array)
    if n > 1:
        each = _asked("read", "local", max(memory, 10.0 * n), n_drives=n)
        yield _test(machine, each, "links that drives share; give the sum")
    small = max(1.0, math.floor(machine.memory_gib / SMALL_SHARE))
    way = _asked("network", "network", small)
    yield _test(machine, way, "network and processor alone: read a small file twice")
    over = _asked("read", "network", memory)
    yield _test(machine, over, "one file over the whole chain")
    for mode in _modes(machine):
        write = _asked("write", "local", memory, mode=mode)
        yield _test(machine, write, f"writing in {mode} mode" if mode else "writing")
    yield from _cache_tests(machine, memory)


def _modes(machine: Machine) -> tuple[str, ...]:
    if machine.operation.write_mode == "plain":
        return ("",)
    own: WriteMode = machine.operation.write_mode
    return (own, *(m for m in ("read-modify-write", "reconstruct") if m != own))


def _cache_tests(machine: Machine, memory_gb: float) -> Iterator[TransferTest]:
    parts = [d.part for d in machine.in_role("cache")]
    fast = [p.fast_gb for p in parts if isinstance(p, SolidStateDrive)]
    if not fast:
        yield _test(machine, _asked("ingest", "network", memory_gb), "the whole chain")
        return
    room = usable_cache(machine) / MB_PER_GB
    size = max(memory_gb, _round_up(FAST_TIMES * max(fast) if max(fast) else 0.0))
    size = min(size, _round_up(room, down=True))
    words = "the cache beyond its fast region" if max(fast) else "the cache"
    yield _test(machine, _asked("ingest", "network", size), words)
    yield _test(machine, _asked("flush", "local", size), "cache to array, nothing else")


def _round_up(size_gb: float, *, down: bool = False) -> float:
    """Return a size in whole steps of 5 GB."""
    turn = math.floor if down else math.ceil
    return max(5.0, 5.0 * turn(size_gb / 5.0))


def _asked(
    operation: Transfer,
    way: Way,
    size_gb: float,
    *,
    n_drives: int = 1,
    target: str = "",
    mode: str = "",
) -> TransferReading:
    return TransferReading(
        line=0,
        operation=operation,
        size_gb=size_gb,
        mb_s=0.0,
        n_drives=n_drives,
        is_synced=True,
        way=way,
        target=target,
        mode=mode,
    )


def _test(machine: Machine, asked: TransferReading, purpose: str) -> TransferTest:
    binds = slowest(stages_of(machine, asked))
    low, high = (
        slowest(stages_of(at_level(machine, level), asked)).rate_mb_s
        for level in ("low", "high")
    )
    spread = math.hypot((high - low) / 2.0, _Z95 * RATE_ERROR * binds.rate_mb_s)
    rate = binds.rate_mb_s
    return TransferTest(
        operation=asked.operation,
        way=asked.way,
        size_gb=asked.size_gb,
        n_drives=asked.n_drives,
        target=asked.target,
        mode=asked.mode,
        expected_mb_s=rate,
        low_mb_s=max(0.0, rate - spread),
        high_mb_s=rate + spread,
        stage=binds.name,
        minutes=asked.size_gb * MB_PER_GB / rate / 60.0 if rate else math.inf,
        purpose=purpose,
    )


def slowest(stages: tuple[Stage, ...]) -> Stage:
    """Return the stage that binds; a machine without any moves nothing."""
    return min(stages, key=lambda s: s.rate_mb_s, default=Stage("nothing", 0.0))


def at_level(machine: Machine, level: str) -> Machine:
    """Return a machine with all factors and drive rates at their low or high end."""
    chosen = cast("Level", level)
    factors = machine.factors
    ends = {
        name: _at(getattr(factors, name), chosen) for name in type(factors).model_fields
    }
    scenario = machine.scenario.model_copy(
        update={"overrides": factors.model_copy(update=ends)}
    )
    items = tuple(
        replace(
            entry,
            item=replace(
                entry.item,
                part=entry.item.part.model_copy(
                    update={
                        "outer_rate_mb_s": _at(entry.item.part.outer_rate_mb_s, chosen)
                    }
                ),
            ),
        )
        if isinstance(entry.item.part, HardDrive)
        else entry
        for entry in machine.build.items
    )
    return replace(
        machine, build=replace(machine.build, items=items), scenario=scenario
    )


def _at(figure: Figure, level: Level) -> Figure:
    value = figure.at(level)
    return Figure(value, value, value, figure.source)


def in_mode(machine: Machine, mode: str) -> Machine:
    """Return a machine that writes in another mode; blank = its own."""
    plan = machine.operation
    if not mode or plan.write_mode in ("plain", mode):
        return machine
    plan = replace(plan, write_mode=cast("WriteMode", mode))
    return replace(machine, build=replace(machine.build, operation=plan))


def stages_of(machine: Machine, test: TransferReading) -> tuple[Stage, ...]:
    """Return the stages that a transfer test goes through, with their rates.

    A local test has no network stage; several drives at once share every link that
    they hang on, and their rates add.
    """
    machine = in_mode(machine, test.mode)
    if test.operation == "network":
        return shared_way(machine)
    if test.operation == "ingest" and machine.in_role("cache"):
        return _ingest_stages(machine, test)
    if test.operation == "read" and (test.n_drives > 1 or test.target):
        own = _drive_stages(machine, test)
        return own if test.way == "local" else (*shared_way(machine), *own)
    if test.operation == "flush":
        found = chain(machine, "flush", test.fill)
    else:
        found = chain(
            machine, "read" if test.operation == "read" else "write", test.fill
        )
    return found.stages if test.way == "network" else _without_network(machine, found)


def _without_network(machine: Machine, found: Chain) -> tuple[Stage, ...]:
    names = {stage.name for stage in network_stages(machine)} | {"processor"}
    return tuple(stage for stage in found.stages if stage.name not in names)


def shared_way(machine: Machine) -> tuple[Stage, ...]:
    """Return what every transfer over the network goes through: network, processor."""
    stages = chain(machine, "read", 0.0).stages
    names = {stage.name for stage in network_stages(machine)} | {"processor"}
    return tuple(stage for stage in stages if stage.name in names)


def _ingest_stages(machine: Machine, test: TransferReading) -> tuple[Stage, ...]:
    """Return the stages of a burst; the cache is its mean over fast and slow region."""
    regions = [
        cache_region(drive.part, drive.port_mb_s)
        for drive in machine.in_role("cache")
        if isinstance(drive.part, SolidStateDrive)
    ]
    size_mb = test.size_gb * MB_PER_GB
    fast_mb = min(size_mb, *(region.fast_mb for region in regions))
    slow = min(region.slow_mb_s for region in regions)
    fast = min(region.fast_mb_s for region in regions)
    mean = size_mb / (fast_mb / fast + (size_mb - fast_mb) / slow)
    own = Stage("cache write", mean)
    shared = cache_chain(machine).stages if test.way == "network" else ()
    over = burst(machine, size_mb, test.fill)
    if over.phases[2].volume_mb > 0:
        own = Stage("cache write with overflow to the array", over.mean_mb_s)
    return (*shared, own)


def chosen_drives(machine: Machine, test: TransferReading) -> tuple[DriveView, ...]:
    """Return the drives of a test: the one named, or the first so many."""
    if test.target:
        return tuple(d for d in machine.drives if d.name == test.target)
    return machine.array[: test.n_drives]


def _drive_stages(machine: Machine, test: TransferReading) -> tuple[Stage, ...]:
    """Return drives and links of reading some drives at once, as sums over them."""
    drives = chosen_drives(machine, test)
    rates = drive_rates(machine, drives, test.fill)
    rates += [
        min(d.part.read_mb_s.mid, d.port_mb_s)
        for d in drives
        if isinstance(d.part, SolidStateDrive)
    ]
    words = "drive" if len(drives) == 1 else "drives"
    stages = [Stage(words, sum(rates))]
    for name, link in machine.links.items():
        behind = [drive for drive in drives if name in drive.path]
        if not behind:
            continue
        others = sum(
            rate
            for drive, rate in zip(drives, rates, strict=False)
            if name not in drive.path
        )
        budget = link.budget_mb_s
        if link.serves_one_at_a_time:
            budget = min(budget, *rates)
        stages.append(Stage(link.words, budget + others))
    return tuple(stages)
