"""Rules of an array's habits: drives alike, their patience, their number, their pace."""

from collections.abc import Iterator

from optibox.catalog.attachment import Controller
from optibox.catalog.storage import HardDrive
from optibox.figures.chains import drive_rates
from optibox.machine import DriveView
from optibox.rules.context import Context
from optibox.rules.register import Finding, rule, warning

MOST_DATA = {
    ("independent", 1): 8,
    ("independent", 2): 16,
    ("striped", 1): 6,
    ("striped", 2): 10,
}
"""Data drives by layout and parity beyond which a rebuild takes too long beside the
chance of another failure; judgement, no source."""

SAME_PACE = 0.999
"""Share from which two rates count as equal."""


def _members(context: Context) -> list[DriveView]:
    return [d for d in context.machine.array if isinstance(d.part, HardDrive)]


@rule(
    "A5",
    "Not all drives are twins",
    "Drives of one model, batch and age wear alike and tend to fail together, the second "
    "one during the rebuild.",
    severities=("warning",),
    remedy="Mix models, or buy from two sellers and at different times.",
)
def twins(context: Context) -> Iterator[Finding]:
    """Yield a warning where every member has the same model, batch and age."""
    drives = _members(context)
    if len(drives) < 2 or not context.machine.operation.failures_survived:
        return
    if len({_origin(drive) for drive in drives}) == 1:
        owned = drives[0].item.owned
        words = "bought at once" if owned is None else f"{owned.age_years:g} years old"
        if owned is not None and owned.batch:
            words = f"of batch {owned.batch}, {words}"
        yield warning(
            "A5", f"all {len(drives)} drives are {drives[0].part.name}, {words}"
        )


def _origin(drive: DriveView) -> tuple[str, str, float, float]:
    owned = drive.item.owned
    if owned is None:
        return drive.part.id, "", 0.0, 0.0
    return drive.part.id, owned.batch, owned.age_years, owned.hours


@rule(
    "A6",
    "Drives give up on bad sectors in time",
    "A drive that ponders a bad sector for minutes is thrown out of the array by a "
    "controller that waits for seconds. Common practice, no source.",
    severities=("warning",),
    remedy="Set the drives' error recovery to a few seconds, or the controller's "
    "patience above theirs.",
)
def recovery(context: Context) -> Iterator[Finding]:
    """Yield warnings for unbounded error recovery behind SAS controllers."""
    if not context.machine.operation.failures_survived:
        return
    by_host: dict[str, list[str]] = {}
    for drive in _members(context):
        part, wire = drive.part, drive.connection
        card = context.machine.cards.get(wire.host) if wire else None
        host = card.item.part if card else None
        is_impatient = isinstance(host, Controller) and host.speaks_sas
        patient = isinstance(part, HardDrive) and part.has_bounded_recovery != "yes"
        if card is not None and is_impatient and patient:
            by_host.setdefault(card.name, []).append(drive.name)
    for host_name, names in by_host.items():
        yield warning(
            "A6",
            f"{', '.join(names)} on {host_name}: bounded error recovery is not known, and "
            "such controllers wait for seconds only",
        )


@rule(
    "A9",
    "Parity is not stretched over too many drives",
    "With each drive a failure during a rebuild, or an unreadable sector, grows likelier.",
    severities=("warning",),
    remedy="Use fewer and larger drives, or more parity.",
)
def width(context: Context) -> Iterator[Finding]:
    """Yield a warning for many data drives behind little parity."""
    plan = context.machine.operation
    n_data = len(context.machine.in_role("data"))
    if plan.layout == "striped":
        n_data -= plan.n_parity
    most = MOST_DATA.get((plan.layout, plan.n_parity))
    if most is not None and n_data > most:
        words = "independent drives" if plan.layout == "independent" else "a stripe"
        yield warning(
            "A9",
            f"{n_data} drives' worth of data behind {plan.n_parity} parity, at most "
            f"{most} are advised for {words}",
        )


@rule(
    "A10",
    "Parity keeps up with the data drives",
    "Every write waits for parity: one slow parity drive slows all of them.",
    severities=("warning",),
    remedy="Make a drive parity that is at least as fast, on a port of its own.",
)
def parity_pace(context: Context) -> Iterator[Finding]:
    """Yield a warning where a parity drive is slower than every data drive."""
    machine, fill = context.machine, context.scenario.needs.fill_fraction
    data = drive_rates(machine, machine.in_role("data"), fill)
    for drive in machine.in_role("parity"):
        own = drive_rates(machine, [drive], fill)
        if own and data and own[0] < min(data) * SAME_PACE:
            yield warning(
                "A10",
                f"{drive.name} moves {own[0]:.0f} MB/s, the slowest data drive "
                f"{min(data):.0f} MB/s",
            )
