"""Rules that hold a build against the scenario's needs and limits."""

from collections.abc import Iterator

from optibox.catalog.attachment import DisplayCard
from optibox.criteria import LIMITS, NEEDS
from optibox.rules.context import Context
from optibox.rules.register import Finding, error, rule

TOLERANCE = 1e-9
"""Relative slack of comparisons: figures are sums of floats."""


RATES = tuple(NEEDS[key] for key in ("read_mb_s", "write_mb_s", "ingest_mb_s"))


def exceeds(value: float, limit: float | None) -> bool:
    """Return whether a value is above a limit by more than rounding."""
    return limit is not None and value > limit * (1 + TOLERANCE) + TOLERANCE


def misses(value: float, need: float | None) -> bool:
    """Return whether a value is below a need by more than rounding."""
    return need is not None and value < need * (1 - TOLERANCE) - TOLERANCE


@rule(
    "A11",
    "The files fit",
    "The files do not fit: printed terabytes are not usable ones.",
    remedy="Add drives or larger ones.",
)
def capacity(context: Context) -> Iterator[Finding]:
    """Yield an error where usable capacity misses the need, compared in bytes."""
    need = context.scenario.needs.capacity_tb
    if misses(context.capacity.usable_tb, need):
        yield error(
            "A11", f"{context.capacity.usable_tb:.2f} TB usable, {need:.2f} TB needed"
        )


@rule(
    "D1",
    "Enough failures are survived",
    "One more failure than the layout survives loses data.",
    remedy="Choose a layout with more redundancy.",
)
def failures(context: Context) -> Iterator[Finding]:
    """Yield an error where the layout survives fewer failures than asked."""
    have, need = (
        context.machine.operation.failures_survived,
        context.scenario.needs.failures_survived,
    )
    if have < need:
        yield error("D1", f"survives {have} drive failures, {need} needed")


@rule(
    "N1",
    "The chains reach the needed rates",
    "The slowest stage sets the rate: the need is not met however fast the rest is.",
    remedy="See what sets the rate, and change that.",
)
def rates(context: Context) -> Iterator[Finding]:
    """Yield errors for rates that miss their need."""
    needs = context.scenario.needs
    for criterion in RATES:
        have, need = criterion.value_of(context), criterion.asked_of(context.scenario)
        if misses(have, need):
            yield error(
                "N1", f"{criterion.noun} {have:.1f} MB/s, {need:.1f} MB/s needed"
            )
    port = context.machine.network
    if port is None:
        yield error("N1", "no network port")
        return
    if port.medium != needs.other_end_medium:
        yield error(
            "N1", f"network port {port.medium}, other end {needs.other_end_medium}"
        )
    elif port.lead is None:
        yield error("N1", f"no network lead for {port.medium}", "add a lead")
    if misses(port.gbit_s, needs.network_gbit_s):
        yield error(
            "N1", f"network port {port.gbit_s:g} Gb/s, {needs.network_gbit_s:g} needed"
        )


@rule(
    "D2",
    "Limits are kept",
    "The scenario's limit is not kept.",
    remedy="Raise the limit or change the build.",
)
def limits(context: Context) -> Iterator[Finding]:
    """Yield an error for every limit that is exceeded."""
    for criterion in LIMITS.values():
        if criterion.limit == "rack_units":
            continue  # D3 says that, with where the chassis stands
        have, most = criterion.value_of(context), criterion.asked_of(context.scenario)
        if exceeds(have, most):
            unit = f" {criterion.unit}" if criterion.unit else ""
            yield error(
                "D2", f"{criterion.noun} {have:.2f}{unit}, at most {most:g}{unit}"
            )


@rule(
    "D3",
    "The chassis stands where it should",
    "It does not stand where it is to stand.",
    remedy="Choose another chassis.",
)
def stand(context: Context) -> Iterator[Finding]:
    """Yield errors for rack height and shape."""
    chassis, limit = context.machine.chassis, context.scenario.limits
    if chassis is None:
        return
    if limit.rack_units is not None and not 1 <= chassis.rack_units <= limit.rack_units:
        yield error(
            "D3",
            f"{chassis.name} takes {chassis.rack_units} U, at most {limit.rack_units} U in a rack",
        )
    if limit.shape is not None and chassis.shape != limit.shape:
        yield error(
            "D3", f"{chassis.name} is a {chassis.shape}, a {limit.shape} is asked for"
        )


@rule(
    "D4",
    "Features asked for are there",
    "What the scenario asks for is missing.",
    remedy="Add it.",
)
def features(context: Context) -> Iterator[Finding]:
    """Yield errors for memory, management and insisted parts that are missing."""
    machine, needs = context.machine, context.scenario.needs
    if misses(machine.memory_gib, needs.memory_gib):
        yield error(
            "D4",
            f"{machine.memory_gib:g} GiB of memory, {needs.memory_gib:g} GiB needed",
        )
    managed = bool(machine.board and machine.board.has_management) or any(
        card.is_management for card, _ in machine.build.of(DisplayCard)
    )
    if needs.management and not managed:
        yield error("D4", "no remote management")
    keys = {entry.item.key for entry in machine.build.items}
    ids = {e.item.part.id for e in machine.build.items}
    ids |= {e.item.owned.id for e in machine.build.items if e.item.owned}
    for wanted in context.scenario.insist:
        if wanted not in keys | ids:
            yield error("D4", f"{wanted} is insisted on and not in the build")
