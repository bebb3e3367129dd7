"""Rules of the array and its cache."""

from collections.abc import Iterator

from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.money import wear_limit_ok
from optibox.figures.year import rating_of, wakes_of
from optibox.machine import DriveView
from optibox.rules.context import Context
from optibox.rules.register import Finding, error, information, rule, warning

OLD_YEARS, OLD_HOURS = 5.0, 40_000.0


def _hard(context: Context, *roles: str) -> list[tuple[DriveView, HardDrive]]:
    return [
        (d, d.part)
        for d in context.machine.in_role(*roles)
        if isinstance(d.part, HardDrive)
    ]


@rule(
    "A0",
    "Roles and layout agree",
    "A layout has its own numbers of drives: with others it cannot be made.",
    remedy="Change roles or layout so that they agree.",
)
def roles(context: Context) -> Iterator[Finding]:
    """Yield errors where drive counts do not suit the layout."""
    plan = context.machine.operation
    n_data, n_parity = (len(context.machine.in_role(r)) for r in ("data", "parity"))
    wanted = plan.n_parity if plan.layout == "independent" else 0
    if n_parity != wanted:
        yield error("A0", f"{n_parity} parity drives, the layout has {wanted}")
    if plan.layout == "striped" and n_data < plan.n_parity + 2:
        yield error("A0", f"{n_data} drives in a stripe with {plan.n_parity} parity")
    if "pairs" in plan.layout and (n_data < 2 or n_data % 2):
        yield error("A0", f"{n_data} drives do not make pairs")
    if plan.layout == "striped pairs" and n_data < 4:
        yield error("A0", "striped pairs need two pairs at least")
    n_cache = len(context.machine.in_role("cache"))
    if n_cache != {"none": 0, "single": 1, "mirror": 2}[plan.cache]:
        yield error(
            "A0", f"{n_cache} cache drives for a cache arrangement '{plan.cache}'"
        )
    others = [
        d.name for d in context.machine.array if not isinstance(d.part, HardDrive)
    ]
    if others:
        yield error("A0", f"{', '.join(others)}: only hard drives form the array")


@rule(
    "A1",
    "Parity drives are the largest",
    "Parity covers every sector of every data drive: what lies beyond its end would be unprotected, so the array refuses to start.",
    remedy="Make the largest drive parity.",
)
def parity_size(context: Context) -> Iterator[Finding]:
    """Yield errors for parity drives smaller than a data drive, in bytes."""
    data = [drive for drive, _ in _hard(context, "data")]
    if context.machine.operation.layout != "independent" or not data:
        return
    largest = max(data, key=lambda d: d.item.capacity_bytes)
    for drive, _ in _hard(context, "parity"):
        missing = largest.item.capacity_bytes - drive.item.capacity_bytes
        if missing > 0:
            yield error(
                "A1", f"{drive.name} is {missing:,} bytes smaller than {largest.name}"
            )


@rule(
    "A2",
    "Capacity that the layout wastes",
    "Stripes and pairs use every member as far as the smallest goes.",
    severities=("information",),
)
def waste(context: Context) -> Iterator[Finding]:
    """Yield information about capacity that cannot be used."""
    if context.capacity.wasted_tb > 0.05:
        yield information(
            "A2", f"{context.capacity.wasted_tb:.1f} TB of larger drives stay unused"
        )


@rule(
    "A3",
    "One sector size in a parity group",
    "Drives of 512 and of 4096 bytes a sector cannot share a parity group: the larger ones cannot write half a sector.",
    remedy="Use drives of one logical sector size.",
)
def sector_sizes(context: Context) -> Iterator[Finding]:
    """Yield an error where logical sector sizes mix in a group with redundancy."""
    if context.machine.operation.failures_survived == 0 and (
        context.machine.operation.layout == "independent"
    ):
        return
    sizes = {part.sector_logical_b for _, part in _hard(context, "data", "parity")}
    if len(sizes) > 1:
        yield error(
            "A3", "drives of 512 and of 4096 bytes a sector in one parity group"
        )


@rule(
    "A4",
    "No shingled drives where writes are scattered",
    "Shingled drives rewrite whole bands: sustained or scattered writes fall to 25-40 MB/s, and a rebuild takes days or is given up.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use a conventional drive in this role.",
)
def shingled(context: Context) -> Iterator[Finding]:
    """Yield findings for shingled drives and for unknown recording."""
    stripes = "striped" in context.machine.operation.layout
    for drive, part in _hard(context, "data", "parity"):
        if part.recording == "conventional":
            continue
        strict = drive.role == "parity" or (stripes and part.recording == "shingled")
        words = "shingled" if part.recording == "shingled" else "of unknown recording"
        if strict:
            where = "as parity" if drive.role == "parity" else "in a stripe"
            yield error("A4", f"{drive.name} ({part.name}) is {words} {where}")
        else:
            yield warning(
                "A4",
                f"{drive.name} ({part.name}) is {words}: sustained writes may fall to 25-40 MB/s",
            )


@rule(
    "A7",
    "The cache is as safe as asked",
    "Until the flush only the cache holds the newest data: its failure, or a power cut, takes them.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Mirror the cache, with drives that finish writes on a power cut.",
)
def cache(context: Context) -> Iterator[Finding]:
    """Yield findings for unmirrored caches and missing power-loss protection."""
    drives = context.machine.in_role("cache")
    if len(drives) == 1:
        text = "one cache drive: what it holds is unprotected until the flush"
        if context.scenario.needs.needs_cache_mirror:
            yield error(
                "A7", text, "mirror the cache, or set needs.cache_mirror = false"
            )
        else:
            yield warning("A7", text)
    for drive in drives:
        part = drive.part
        if isinstance(part, SolidStateDrive) and not part.has_power_loss_protection:
            yield warning(
                "A7", f"{drive.name} ({part.name}) has no power-loss protection"
            )


@rule(
    "A8",
    "Tired drives are not trusted",
    "Pending and reallocated sectors and great age announce failures, and a rebuild reads every sector of every drive.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Give it a lesser task, or replace it.",
)
def health(context: Context) -> Iterator[Finding]:
    """Yield findings for owned drives with pending sectors or great age."""
    for drive in context.machine.array:
        owned = drive.item.owned
        if owned is None:
            continue
        if owned.pending_sectors > 0:
            yield error(
                "A8",
                f"{drive.name} has {owned.pending_sectors} pending sectors",
                "do not build on it; copy what it holds",
            )
        elif drive.role == "parity" and (
            owned.age_years > OLD_YEARS
            or owned.hours > OLD_HOURS
            or owned.reallocated_sectors
        ):
            yield warning(
                "A8",
                f"{drive.name} is {owned.age_years:g} years old with {owned.hours:g} h and {owned.reallocated_sectors} reallocated sectors: not for parity",
            )


@rule(
    "W1",
    "Wakes stay within the wear budget",
    "Every stop and start uses up a drive's rating: past it, drives fail together.",
    remedy="Use a longer timeout, or never stop them.",
)
def wear(context: Context) -> Iterator[Finding]:
    """Yield an error for drives whose start/stop budget does not last."""
    scenario = context.scenario
    for drive, part in _hard(context, "data", "parity"):
        wakes = wakes_of(context.year, drive.role)
        if not wear_limit_ok(drive.item.starts, wakes, part, scenario):
            total = drive.item.starts + wakes * scenario.money.years
            share = total / rating_of(part)
            yield error(
                "W1",
                f"{drive.name}: {total:.0f} starts after {scenario.money.years} years, {share:.0%} of its rating; {scenario.overrides.wear_budget.mid:.0%} may be used",
                "use a longer timeout",
            )


@rule(
    "T1",
    "Transfers fit into the day",
    "What does not fit into its day piles up until the cache is full.",
    remedy="Raise the writing rate or move less.",
)
def interval(context: Context) -> Iterator[Finding]:
    """Yield an error where ingest and flush leave no margin or hours overflow."""
    if not reaches_out(context):  # nothing comes in at all, which N1 says
        return
    times, factors = context.year.transfers, context.machine.factors
    daily = times.ingest_h + times.flush_h + times.overflow_h
    if daily * factors.interval_margin.mid > 24.0:
        yield error(
            "T1",
            f"ingest and flush take {daily:.1f} h a day, with a margin of {factors.interval_margin.mid:g} more than 24 h",
        )
    total = context.year.operating.transfer_h_per_day
    if total > 24.0:
        yield error("T1", f"all transfers take {total:.1f} h a day")


def reaches_out(context: Context) -> bool:
    """Return whether the machine has a port, plug and lead to the other end."""
    port = context.machine.network
    if port is None or port.lead is None:
        return False
    return port.medium == context.scenario.needs.other_end_medium
