"""Factors of the model and rates of drives that transfer tests determine."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optibox.catalog.columns import Figure
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.chains import drive_rates
from optibox.machine import DriveView, Machine
from optibox.measure.rates import Judged, hard_part
from optibox.measure.records import TransferReading
from optibox.measure.transfers import in_mode
from optibox.physics.zones import zone_rate_mb_s

_Z95 = 1.96
SLOW_PORT_MB_S = 300.0
"""Between what ports of 3 and of 6 Gb/s give. [MB/s]"""
OUTER_FILL, INNER_FILL = 0.5, 0.7
"""Fills up to which a test tells the outer rate, from which the inner one; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFactor:
    """One factor, or one figure of a part, as the tests give it.

    Attributes
    ----------
    key : str
        Item key; empty for a factor of the model.
    name : str
        Column of the part, or name of the factor.
    value, low, high : float
        Estimate with its 95 % interval.
    figure : Figure
        What was believed before.
    lines : tuple of int
        Readings that it rests on.
    """

    key: str
    name: str
    value: float
    low: float
    high: float
    figure: Figure
    lines: tuple[int, ...]

    @property
    def agrees(self) -> bool:
        """Return whether the interval meets what was believed."""
        return self.low <= self.figure.high and self.figure.low <= self.high


@dataclass(frozen=True, slots=True)
class _Sample:
    """One test's value of one factor."""

    key: str
    name: str
    value: float
    error: float
    line: int
    figure: Figure


def fit_factors(machine: Machine, judged: Sequence[Judged]) -> tuple[FittedFactor, ...]:
    """Return the factors that the tests determine.

    A test gives the factor of the stage that binds it, where it met that stage's
    figure or fell short of it with no other suspect in its place; refused tests give
    none. Several tests of one factor are averaged by their errors.
    """
    samples: dict[tuple[str, str], list[_Sample]] = {}
    drives = tuple(_drive_samples(machine, judged))
    outer = {s.key: s.value for s in drives if s.name == "outer_rate_mb_s"}
    inner = _inner_samples(machine, judged, outer)
    for sample in (*drives, *inner, *_others(machine, judged, outer)):
        samples.setdefault((sample.key, sample.name), []).append(sample)
    return tuple(_mean(found) for found in samples.values())


def _mean(samples: Sequence[_Sample]) -> FittedFactor:
    weights = [1.0 / (s.value * s.error) ** 2 for s in samples]
    total = math.fsum(weights)
    value = (
        math.fsum(w * s.value for w, s in zip(weights, samples, strict=True)) / total
    )
    spread = math.fsum(
        w * (s.value - value) ** 2 for w, s in zip(weights, samples, strict=True)
    )
    wide = max(1.0, math.sqrt(spread / max(1, len(samples) - 1)))
    half = _Z95 * wide / math.sqrt(total)
    first = samples[0]
    return FittedFactor(
        key=first.key,
        name=first.name,
        value=value,
        low=max(0.0, value - half),
        high=value + half,
        figure=first.figure,
        lines=tuple(s.line for s in samples),
    )


def _is_of(found: Judged, *kinds: str) -> bool:
    """Return whether a test speaks of a stage: planned to bind, or short of it alone."""
    if found.refused:
        return False
    if found.is_as_planned:
        return True
    culprit = found.culprit
    return culprit is None or culprit.kind in kinds


def _drive_samples(machine: Machine, judged: Sequence[Judged]) -> Iterator[_Sample]:
    """Yield what drives read alone tell; one slower than its peers tells nothing."""
    for found in judged:
        reading = found.reading
        if reading.operation != "read" or not reading.target or found.pattern:
            continue
        drives = [d for d in machine.drives if d.name == reading.target]
        if found.planned.name == "drive" and _is_of(found, "drives", "kind"):
            yield from _one_drive(machine, drives[0], reading)


def _one_drive(
    machine: Machine, drive: DriveView, reading: TransferReading
) -> Iterator[_Sample]:
    """Yield the figure that binds one drive read alone: its zone, its port, its leg."""
    part = drive.part
    if not isinstance(part, HardDrive):
        return
    own = zone_rate_mb_s(part.outer_rate_mb_s.mid, part.inner_ratio.mid, reading.fill)

    def sample(key: str, name: str, value: float, figure: Figure) -> _Sample:
        return _Sample(key, name, value, reading.error, reading.line, figure)

    if own > drive.port_mb_s:
        name = f"sata_{3 if drive.port_mb_s <= SLOW_PORT_MB_S else 6}g_mb_s"
        yield sample("", name, reading.mb_s, getattr(machine.factors, name))
    elif drive.is_multiplied:
        value, name = min(1.0, reading.mb_s / own), "multiplier_single_drive"
        yield sample("", name, value, machine.factors.multiplier_single_drive)
    elif reading.fill <= OUTER_FILL:
        outer = part.outer_rate_mb_s
        value = reading.mb_s * outer.mid / own
        yield sample(drive.item.key, "outer_rate_mb_s", value, outer)


def _inner_samples(
    machine: Machine, judged: Sequence[Judged], outer: dict[str, float]
) -> Iterator[_Sample]:
    """Yield inner over outer rate from tests far inside, where the edge was read too.

    The squared rate falls in a straight line with the fill.
    """
    for found in judged:
        reading = found.reading
        part = hard_part(machine, reading.target)
        if part is None or reading.fill < INNER_FILL or found.refused:
            continue
        key = next(d.item.key for d in machine.drives if d.name == reading.target)
        if key not in outer:
            continue
        fallen = (1.0 - (reading.mb_s / outer[key]) ** 2) / reading.fill
        if 0.0 < fallen < 1.0:
            ratio = math.sqrt(1.0 - fallen)
            # both rates are uncertain; of a share of their ratio this much follows
            error = reading.error * math.sqrt(2.0)
            error *= (reading.mb_s / outer[key] / ratio) ** 2 / reading.fill
            yield _Sample(
                key, "inner_ratio", ratio, error, reading.line, part.inner_ratio
            )


def _others(
    machine: Machine, judged: Sequence[Judged], outer: dict[str, float]
) -> Iterator[_Sample]:
    for found in judged:
        if found.reading.operation in ("write", "flush"):
            yield from _write(machine, found, outer)
        elif found.reading.operation == "network":
            yield from _network(machine, found)
        elif found.reading.operation == "ingest":
            yield from _cache(machine, found)
        if found.planned.name.startswith(("slot", "shared link")):
            yield from _link(machine, found)


def _with_outer(machine: Machine, found: Judged, outer: dict[str, float]) -> float:
    """Return the least rate of the array's drives, measured ones as measured. [MB/s]."""
    rates = []
    for drive in machine.array:
        if not isinstance(drive.part, HardDrive):
            continue
        rate = drive_rates(machine, [drive], found.reading.fill)[0]
        own = outer.get(drive.item.key)
        rates.append(rate * own / drive.part.outer_rate_mb_s.mid if own else rate)
    return min(rates, default=0.0)


def _write(
    machine: Machine, found: Judged, outer: dict[str, float]
) -> Iterator[_Sample]:
    plan = in_mode(machine, found.reading.mode).operation
    slow = _with_outer(machine, found, outer)
    if not found.planned.name.startswith("drives") or not slow:
        return
    if not _is_of(found, "write mode", "drives"):
        return
    name, base = "", slow
    if plan.write_mode == "read-modify-write":
        name = "read_modify_write"
    elif plan.write_mode == "reconstruct":
        name = "reconstruct"
    elif plan.layout == "striped":
        name, base = "stripe", slow * (len(machine.array) - plan.n_parity)
    if name:
        yield _factor(machine, found, name, found.reading.mb_s / base)


def _factor(machine: Machine, found: Judged, name: str, value: float) -> _Sample:
    return _Sample(
        "",
        name,
        min(1.0, value) if _is_share(name) else value,
        found.reading.error,
        found.reading.line,
        getattr(machine.factors, name),
    )


def _is_share(name: str) -> bool:
    return not name.endswith("_mb_s")


def _network(machine: Machine, found: Judged) -> Iterator[_Sample]:
    name = found.planned.name
    if not _is_of(found, "network") or "network" not in name:
        return
    share = machine.factors.network_sharing.mid
    value = share * found.reading.mb_s / found.planned.rate_mb_s
    yield _factor(machine, found, "network_sharing", value)


def _link(machine: Machine, found: Judged) -> Iterator[_Sample]:
    if not _is_of(found, "link", "multiplier"):
        return
    ratio = found.reading.mb_s / found.planned.rate_mb_s
    name = "pcie" if found.planned.name.startswith("slot") else "multiplier_host_mb_s"
    yield _factor(machine, found, name, getattr(machine.factors, name).mid * ratio)


def _cache(machine: Machine, found: Judged) -> Iterator[_Sample]:
    """Yield the cache's writing rate, where a whole test lay on one side of its region."""
    if found.planned.name != "cache write":
        return
    for drive in machine.in_role("cache")[:1]:
        part = drive.part
        if not isinstance(part, SolidStateDrive):
            return
        name, figure = "write_mb_s", part.write_mb_s
        if part.fast_write_mb_s is not None and part.fast_gb:
            name, figure = "fast_write_mb_s", part.fast_write_mb_s
            if found.reading.size_gb > part.fast_gb:
                return
        if _is_of(found, "cache", "drives", "fast region"):
            reading = found.reading
            yield _Sample(
                drive.item.key, name, reading.mb_s, reading.error, reading.line, figure
            )
