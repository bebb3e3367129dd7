"""The rate chain of every operation: its stages, the binding one, the slack."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.loads import (
    ArrayOnLink,
    moved_by_degraded_read,
    moved_by_read,
    moved_by_write,
)
from optibox.figures.stages import (
    array_read_mb_s,
    array_write_mb_s,
    drive_mb_s,
    network_mb_s,
    processor_mb_s,
)
from optibox.machine import DriveView, LinkView, Machine
from optibox.physics import moves
from optibox.physics.cache import CachePhases, Ingest, ingest, usable_cache_mb
from optibox.physics.chain import Binding, Stage, binding, link_rate_mb_s
from optibox.physics.moves import Moved
from optibox.physics.zones import Member, lockstep_pass_hours
from optibox.units import BYTES_PER_MB, MB_PER_GB

Operation = Literal["read", "degraded read", "write", "cache ingest", "flush"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """One operation's stages at one fill."""

    operation: Operation
    stages: tuple[Stage, ...]

    @property
    def binding(self) -> Binding:
        """Return the binding stage with the next one and the slack."""
        return binding(self.stages)

    @property
    def rate_mb_s(self) -> float:
        """Return the rate of the operation; 0 where a stage is missing. [MB/s]."""
        return self.binding.rate_mb_s


def on_link(machine: Machine, link: str) -> ArrayOnLink:
    """Return the array as one link sees it."""
    data, parity = machine.in_role("data"), machine.in_role("parity")
    plan = machine.operation
    return ArrayOnLink(
        layout=plan.layout,
        n_parity=plan.n_parity if plan.layout == "striped" else len(parity),
        reconstructs=plan.write_mode == "reconstruct",
        data_on=sum(link in drive.path for drive in data),
        parity_on=sum(link in drive.path for drive in parity),
        data_all=len(data),
    )


def drive_rates(
    machine: Machine, drives: Iterable[DriveView], fill: float
) -> list[float]:
    """Return the rates of array drives on their ports at a fill. [MB/s]."""
    return [
        drive_mb_s(
            drive.part,
            fill,
            machine.factors,
            drive.port_mb_s,
            is_multiplied=drive.is_multiplied,
        )
        for drive in drives
        if isinstance(drive.part, HardDrive)
    ]


def _array_stage(machine: Machine, fill: float, *, writes: bool) -> Stage:
    plan = machine.operation
    data = drive_rates(machine, machine.in_role("data"), fill)
    parity = drive_rates(machine, machine.in_role("parity"), fill)
    if not data:
        return Stage("no array drives", 0.0)
    n_parity = plan.n_parity if plan.layout == "striped" else len(parity)
    if not writes:
        rate = array_read_mb_s(plan.layout, n_parity, data, machine.factors)
        return Stage("drives", max(0.0, rate))
    reconstructs = plan.write_mode == "reconstruct"
    rate = array_write_mb_s(
        plan.layout,
        n_parity,
        reconstructs=reconstructs,
        data=data,
        parity=parity,
        factors=machine.factors,
    )
    name = f"drives in {plan.write_mode} mode" if parity else "drives"
    return Stage(name, max(0.0, rate))


def _link_stages(machine: Machine, moved: dict[str, Moved], fill: float) -> list[Stage]:
    stages = []
    for name, (up, down) in moved.items():
        link = machine.links[name]
        rate = link_rate_mb_s(
            _budget(machine, link, fill), up, down, half_duplex=link.is_half_duplex
        )
        if rate != float("inf"):
            stages.append(Stage(link.words, rate))
    return stages


def _budget(machine: Machine, link: LinkView, fill: float) -> float:
    """Return a link's budget; one that serves one drive at a time has that drive's."""
    if not link.serves_one_at_a_time:
        return link.budget_mb_s
    behind = [drive for drive in machine.array if link.name in drive.path]
    return min([link.budget_mb_s, *drive_rates(machine, behind, fill)])


def network_stages(machine: Machine) -> list[Stage]:
    """Return the stages of the network: the port, the other end, the lead."""
    port = machine.network
    if port is None or port.lead is None:
        return [Stage("no network port" if port is None else "no network lead", 0.0)]
    needs = machine.scenario.needs
    if port.medium != needs.other_end_medium:
        return [Stage("network plugs differ", 0.0)]
    ends = {
        f"network port of {port.name}": port.gbit_s,
        "other end of the network": needs.other_end_gbit_s,
        "network lead": port.lead.network_gbit_s,
    }
    return [
        Stage(name, network_mb_s(gbit_s, machine.factors))
        for name, gbit_s in ends.items()
    ]


def _processor_stage(machine: Machine, *, network: bool, parity: bool) -> Stage:
    part = machine.processor
    if part is None:
        return Stage("no processor", 0.0)
    has_parity = parity and machine.operation.n_parity > 0
    rate = processor_mb_s(
        part, machine.scenario.needs, has_network=network, has_parity=has_parity
    )
    return Stage("processor", rate)


def _network_moved(machine: Machine, link: str, *, receives: bool) -> Moved:
    port = machine.network
    if port is None or link not in port.path:
        return 0.0, 0.0
    return moves.moved_network_receive() if receives else moves.moved_network_send()


def chain(machine: Machine, operation: Operation, fill: float) -> Chain:
    """Return the chain of an operation at a fill.

    ``write`` and ``read`` go over the network straight to the array; ``flush`` comes
    from the cache.
    """
    reads = operation in ("read", "degraded read")
    moved = {}
    for name in machine.links:
        array = on_link(machine, name)
        if operation == "degraded read":
            own = moved_by_degraded_read(array)
        else:
            own = moved_by_read(array) if reads else moved_by_write(array)
        if operation == "flush":
            other = _flush_read(machine, name)
        else:
            other = _network_moved(machine, name, receives=not reads)
        moved[name] = moves.added(own, other)
    stages = [] if operation == "flush" else network_stages(machine)
    if operation == "flush":
        stages.append(_cache_read_stage(machine))
    stages.append(
        _processor_stage(machine, network=operation != "flush", parity=not reads)
    )
    stages += _link_stages(machine, moved, fill)
    stages.append(_array_stage(machine, fill, writes=not reads))
    return Chain(operation=operation, stages=tuple(stages))


def _flush_read(machine: Machine, link: str) -> Moved:
    copies = [link in drive.path for drive in machine.in_role("cache")]
    return moves.moved_flush_read(1.0 if any(copies) else 0.0)


def _cache_read_stage(machine: Machine) -> Stage:
    rates = [
        min(drive.part.read_mb_s.mid, drive.port_mb_s)
        for drive in machine.in_role("cache")
        if isinstance(drive.part, SolidStateDrive)
    ]
    return Stage("cache read", min(rates, default=0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class CacheRegion:
    """What one cache drive gives: its fast region and rates."""

    fast_mb: float
    fast_mb_s: float
    slow_mb_s: float


def cache_region(part: SolidStateDrive, port_mb_s: float) -> CacheRegion:
    """Return the regions of one cache drive on its port."""
    slow = min(part.write_mb_s.mid, port_mb_s)
    if part.fast_write_mb_s is None or part.fast_gb <= 0:
        return CacheRegion(fast_mb=0.0, fast_mb_s=slow, slow_mb_s=slow)
    return CacheRegion(
        fast_mb=part.fast_gb * MB_PER_GB,
        fast_mb_s=min(part.fast_write_mb_s.mid, port_mb_s),
        slow_mb_s=slow,
    )


def mirrored_phases(
    regions: list[CacheRegion], usable_mb: float, overflow_mb_s: float
) -> CachePhases:
    """Return a mirror's phases: within each, every member must keep up.

    A member whose fast region is smaller falls back to its slow rate for all beyond.
    """
    return CachePhases(
        fast_mb=min(region.fast_mb for region in regions),
        usable_mb=usable_mb,
        fast_mb_s=min(region.fast_mb_s for region in regions),
        slow_mb_s=min(region.slow_mb_s for region in regions),
        overflow_mb_s=overflow_mb_s,
    )


def usable_cache(machine: Machine) -> float:
    """Return what the cache takes in before it overflows. [MB]."""
    sizes = [
        drive.item.capacity_bytes / BYTES_PER_MB
        for drive in machine.in_role("cache")
        if isinstance(drive.part, SolidStateDrive)
    ]
    return usable_cache_mb(sizes, machine.factors.cache_reserve.mid)


def cache_chain(machine: Machine) -> Chain:
    """Return what limits all phases of a burst into the cache alike."""
    moved = {}
    for name in machine.links:
        copies = sum(name in drive.path for drive in machine.in_role("cache"))
        moved[name] = moves.added(
            moves.moved_cache_ingest(copies),
            _network_moved(machine, name, receives=True),
        )
    stages = network_stages(machine)
    stages.append(_processor_stage(machine, network=True, parity=False))
    stages += _link_stages(machine, moved, machine.scenario.needs.fill_fraction)
    return Chain(operation="cache ingest", stages=tuple(stages))


def burst(machine: Machine, volume_mb: float, fill: float) -> Ingest:
    """Return a burst's phases: through the cache where there is one, else direct."""
    direct = chain(machine, "write", fill).rate_mb_s
    cache = machine.in_role("cache")
    regions = [
        cache_region(drive.part, drive.port_mb_s)
        for drive in cache
        if isinstance(drive.part, SolidStateDrive)
    ]
    if not regions:
        phases = CachePhases(0.0, 0.0, direct, direct, direct)
        return ingest(volume_mb, 0.0, phases)
    phases = mirrored_phases(regions, usable_cache(machine), direct)
    return ingest(volume_mb, 0.0, phases, cache_chain(machine).rate_mb_s)


def _members(machine: Machine, rebuilt: int = 0) -> list[Member]:
    """Return the array's drives with the share of their slowest link."""
    shares = {}
    for name, link in machine.links.items():
        array = on_link(machine, name)
        up, down = moves.moved_check(array.data_on + array.parity_on, rebuilt)
        shares[name] = link_rate_mb_s(
            link.budget_mb_s, up, down, half_duplex=link.is_half_duplex
        )
    members = []
    for drive in machine.array:
        if isinstance(drive.part, HardDrive):
            multiplied = machine.factors.multiplier_single_drive.mid
            factor = multiplied if drive.is_multiplied else 1.0
            known = (shares[name] for name in drive.path if name in shares)
            share = min([drive.port_mb_s, *known])
            members.append(
                Member(
                    drive.item.capacity_bytes,
                    drive.part.outer_rate_mb_s.mid * factor,
                    drive.part.inner_ratio.mid,
                    share,
                )
            )
    return members


def check_hours(machine: Machine) -> float:
    """Return the time of one full check; without redundancy a read of every drive. [h]."""
    return lockstep_pass_hours(_members(machine))


def rebuild_hours(machine: Machine) -> float:
    """Return the time of rebuilding one drive. [h]."""
    return lockstep_pass_hours(_members(machine, rebuilt=1)) if machine.array else 0.0
