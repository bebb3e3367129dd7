"""What binds and what is slack: needs, limits, resources and the stages of rates."""

from collections.abc import Iterator
from dataclasses import dataclass

from optibox.assess import Assessment
from optibox.catalog.attachment import Controller
from optibox.catalog.storage import HardDrive
from optibox.criteria import LIMITS, NEEDS, Criterion
from optibox.figures.chains import Chain, cache_chain, chain
from optibox.figures.power import drive_5v_a, peak_dc_w, rail_12v_a, wake_group
from optibox.figures.year import rating_of, wakes_of
from optibox.machine import Machine
from optibox.physics.chain import Stage
from optibox.report.quantity import number, rate, share
from optibox.report.words import and_list, clean
from optibox.rules.power import must_start_together

TIGHT_SHARE = 0.05
"""Slack below this share of the bound counts as tight; judgement, no source."""
_MET_EXACTLY = ("needs.failures_survived",)
"""Needs that every cheapest build meets without slack, which says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slack:
    """How far one figure is from the need or limit that it must keep."""

    key: str
    """The scenario's key, or the name of a resource."""
    words: str
    have: float
    bound: float
    unit: str
    is_need: bool
    """Needs are met from above, limits kept from below."""
    digits: int = 0

    @property
    def slack(self) -> float:
        """Return how far the figure may still move, in its unit."""
        return self.have - self.bound if self.is_need else self.bound - self.have

    @property
    def share(self) -> float:
        """Return the slack as a share of the bound."""
        return self.slack / self.bound if self.bound else float(self.slack > 0)

    @property
    def is_tight(self) -> bool:
        """Return whether next to nothing is left."""
        return self.share < TIGHT_SHARE and self.key not in _MET_EXACTLY

    @property
    def text(self) -> str:
        """Return the figure beside its bound."""
        have, bound = (number(x, self.digits) for x in (self.have, self.bound))
        unit = f" {self.unit}" if self.unit else ""
        of = "needed" if self.is_need else "allowed"
        return f"{self.words} {have} of {bound}{unit} {of}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RateStage:
    """The stage that sets a rate, and what would set it next."""

    operation: str
    stage: str
    rate_mb_s: float
    next_stage: str
    next_mb_s: float | None

    @property
    def text(self) -> str:
        """Return operation, stage and the next one in words."""
        then = ""
        if self.next_mb_s:
            then = f"; next {self.next_stage}, {rate(self.next_mb_s)}"
        return f"{self.operation} set by {self.stage}, {rate(self.rate_mb_s)}{then}"


def slacks(found: Assessment) -> tuple[Slack, ...]:
    """Return every need, limit and resource in play, needs first."""
    return (*_needs(found), *_limits(found), *_resources(found))


def tight(found: Assessment) -> tuple[Slack, ...]:
    """Return the needs, limits and resources of which next to nothing is left."""
    return tuple(row for row in slacks(found) if row.is_tight)


def _needs(found: Assessment) -> Iterator[Slack]:
    for criterion in NEEDS.values():
        if criterion.asked_of(found.scenario):
            yield _of(criterion, found)


def _limits(found: Assessment) -> Iterator[Slack]:
    limits = found.scenario.limits
    for criterion in LIMITS.values():
        row = _of(criterion, found)
        is_set = criterion.asked_of(found.scenario) is not None
        is_default = criterion.limit not in limits.model_fields_set
        if is_set and not (is_default and row.slack > 0):
            yield row


def _of(criterion: Criterion, found: Assessment) -> Slack:
    return Slack(
        key=criterion.scenario_key,
        words=criterion.noun,
        have=criterion.value_of(found),
        bound=criterion.asked_of(found.scenario) or 0.0,
        unit=criterion.unit,
        is_need=bool(criterion.need),
        digits=2 if criterion.is_money or criterion.step < 0.1 else criterion.decimals,
    )


def _limit(
    key: str, words: str, have: float, bound: float, unit: str, digits: int = 0
) -> Slack:
    return Slack(
        key=key,
        words=words,
        have=have,
        bound=bound,
        unit=unit,
        is_need=False,
        digits=digits,
    )


def _resources(found: Assessment) -> Iterator[Slack]:
    machine = found.machine
    yield from _places(machine)
    worst = max(_wear_shares(found), default=None)
    if worst is not None:
        budget = machine.factors.wear_budget.mid
        yield _limit(
            "wear budget", "wear of a drive's rating", worst * 100, budget * 100, "%"
        )
    times = found.year.transfers
    daily = (times.ingest_h + times.flush_h + times.overflow_h) or 0.0
    most = 24.0 / machine.factors.interval_margin.mid
    yield _limit("day", "ingest and flush a day", daily, most, "h", 1)
    yield from _currents(machine)


def _places(machine: Machine) -> Iterator[Slack]:
    bays = [d.connection.bay for d in machine.drives if d.connection]
    chassis = machine.chassis
    if chassis is not None:
        for size, have in (("3.5", chassis.bays_35), ("2.5", chassis.bays_25)):
            used = sum(bay.startswith(size) for bay in bays)
            if have:
                words = f"{size} inch bays"
                yield _limit(words, words, float(used), float(have), "")
    ports = machine.onboard_ports + sum(
        card.item.part.n_ports
        for card in machine.cards.values()
        if isinstance(card.item.part, Controller)
    )
    used = sum(d.connection is not None for d in machine.drives)
    if ports:
        yield _limit("drive ports", "drive ports", float(used), float(ports), "")


def _wear_shares(found: Assessment) -> Iterator[float]:
    """Yield the share of the scarcer rating that each drive has used at the end."""
    years = found.scenario.money.years
    for drive in found.machine.array:
        if isinstance(drive.part, HardDrive):
            total = drive.item.starts + wakes_of(found.year, drive.role) * years
            yield total / rating_of(drive.part)


def _currents(machine: Machine) -> Iterator[Slack]:
    supply = machine.supply
    if supply is None or not machine.array:
        return
    rail, n = supply.rail_12v_a.mid, len(machine.array)
    if must_start_together(machine):
        have, bound = rail_12v_a(machine, n), rail
    else:
        have = rail_12v_a(machine, wake_group(machine))
        bound = rail * machine.factors.rail_share.mid
    yield _limit("12 V rail", "12 V at spin-up", have, bound, "A", 1)
    taken = sum(drive_5v_a(drive.part) for drive in machine.drives)
    yield _limit("5 V rail", "5 V", taken, supply.rail_5v_a.mid, "A", 1)
    rated = supply.rated_w.mid
    yield _limit("supply", "supply's output at peak", peak_dc_w(machine), rated, "W")


def rate_stages(found: Assessment) -> tuple[RateStage, ...]:
    """Return what sets the rates of reading, taking in and writing."""
    machine, fill = found.machine, found.scenario.needs.fill_fraction
    rows = [_of_chain("read", chain(machine, "read", fill))]
    if machine.in_role("cache"):
        rows.append(_ingest(found))
    rows.append(_of_chain("write", chain(machine, "write", fill)))
    return tuple(rows)


def _of_chain(operation: str, found: Chain) -> RateStage:
    return _stage(operation, found.stages)


def _stage(operation: str, stages: tuple[Stage, ...]) -> RateStage:
    """Return the slowest stage and the next one that is really slower to rise to."""
    ordered = sorted(stages, key=lambda stage: stage.rate_mb_s)
    first = ordered[0]
    equal = [s.name for s in ordered if s.rate_mb_s <= first.rate_mb_s * (1 + 1e-9)]
    later = [s for s in ordered[len(equal) :] if s.rate_mb_s != float("inf")]
    return RateStage(
        operation=operation,
        stage=and_list(_stage_name(name) for name in equal),
        rate_mb_s=first.rate_mb_s,
        next_stage=_stage_name(later[0].name) if later else "",
        next_mb_s=later[0].rate_mb_s if later else None,
    )


def _stage_name(name: str) -> str:
    shown = clean(name)
    return f"the {shown}" if shown.startswith("drives") else shown


def _ingest(found: Assessment) -> RateStage:
    """Return the stage of the burst's longest phase."""
    phase = max(found.burst.phases, key=lambda p: (p.hours, p.volume_mb))
    if phase.name == "overflow" and phase.hours:
        fill = found.scenario.needs.fill_fraction
        row = chain(found.machine, "write", fill)
        return _of_chain("ingest past the cache", row)
    common = cache_chain(found.machine).stages
    name = "fast region of the cache" if phase.name == "fast" else "cache drives"
    own = Stage(name, phase.rate_mb_s)
    limited = min(stage.rate_mb_s for stage in common)
    stages = common if phase.rate_mb_s >= limited else (own, *common)
    return _stage("ingest", stages)


def share_text(row: Slack) -> str:
    """Return the slack as a share in words."""
    return f"{share(row.share)} left" if row.slack > 0 else "none left"
