"""How much of each link is in use when its busiest operation runs at full rate."""

import math
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.storage import SolidStateDrive
from optibox.figures.chains import Chain, cache_chain, drive_rates
from optibox.physics.chain import Stage
from optibox.report.quantity import rate, share


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A link's planning rate and what of it is in use."""

    budget_mb_s: float
    share: float = 0.0
    operation: str = ""
    """The operation that uses it most."""

    @property
    def used_mb_s(self) -> float:
        """Return what crosses the link. [MB/s]."""
        return self.budget_mb_s * self.share

    @property
    def rate_words(self) -> str:
        """Return the planning rate."""
        return rate(self.budget_mb_s)

    @property
    def user(self) -> str:
        """Return the operation that uses it most."""
        return f"by {self.operation}" if self.operation else "not in use"

    @property
    def rate_and_share(self) -> str:
        """Return the planning rate and the share of it in use."""
        used = f", {share(self.share)}" if self.operation else ""
        return self.rate_words + used

    @property
    def share_words(self) -> str:
        """Return the share in use, and by what."""
        return f"{share(self.share)} {self.user}" if self.operation else self.user

    @property
    def words(self) -> str:
        """Return both on one line."""
        return f"{self.rate_words}, {self.share_words}"


def through_cache(found: Assessment) -> Chain:
    """Return the chain of a burst into the cache, the cache's own regions with it."""
    regions = tuple(
        Stage(f"cache drives, {phase.name} region", phase.rate_mb_s)
        for phase in found.burst.phases
        if phase.volume_mb > 0 and phase.name != "overflow"
    )
    stages = cache_chain(found.machine).stages
    return Chain(operation="cache ingest", stages=(*stages, *regions))


def link_loads(found: Assessment) -> dict[str, Load]:
    """Return every shared link's load under its busiest operation.

    A stage of a chain says which rate the link would allow; the operation's own rate
    divided by it is the share of the link that the operation takes.
    """
    machine, fill = found.machine, found.scenario.needs.fill_fraction
    chains = list(found.chains(fill))
    if machine.in_role("cache"):
        chains.append(through_cache(found))
    loads = {
        name: Load(budget_mb_s=link.budget_mb_s) for name, link in machine.links.items()
    }
    for row in chains:
        for stage in row.stages:
            for name, link in machine.links.items():
                if link.words != stage.name or not math.isfinite(stage.rate_mb_s):
                    continue
                used = row.rate_mb_s / stage.rate_mb_s if stage.rate_mb_s else 0.0
                if used > loads[name].share:
                    loads[name] = Load(
                        budget_mb_s=link.budget_mb_s,
                        share=used,
                        operation=row.operation,
                    )
    return loads


def drive_load(found: Assessment, name: str) -> Load | None:
    """Return how much of its own port a drive fills when it works at full rate."""
    machine = found.machine
    drive = next((d for d in machine.drives if d.name == name), None)
    if drive is None or not math.isfinite(drive.port_mb_s) or drive.port_mb_s <= 0:
        return None
    own = drive_rates(machine, [drive], found.scenario.needs.fill_fraction)
    if isinstance(drive.part, SolidStateDrive):
        own = [min(drive.part.write_mb_s.mid, drive.port_mb_s)]
    if not own:
        return None
    return Load(
        budget_mb_s=drive.port_mb_s, share=own[0] / drive.port_mb_s, operation="drive"
    )


def network_load(found: Assessment) -> Load | None:
    """Return the load of the network port under its busiest operation."""
    chains = list(found.chains(found.scenario.needs.fill_fraction))
    if found.machine.in_role("cache"):
        chains.append(through_cache(found))
    loads = [
        Load(
            budget_mb_s=stage.rate_mb_s,
            share=row.rate_mb_s / stage.rate_mb_s,
            operation=row.operation,
        )
        for row in chains
        for stage in row.stages
        if stage.name.startswith("network port of") and stage.rate_mb_s > 0
    ]
    return max(loads, key=lambda load: load.share, default=None)
