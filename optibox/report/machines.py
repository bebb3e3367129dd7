"""Machines and their changes in words: what tells one from another."""

from collections import Counter
from collections.abc import Iterable
from itertools import groupby

from optibox.assess import Assessment
from optibox.build import Build, Item, OperatingPlan
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.report.quantity import money, terabytes, watts
from optibox.report.words import counted, pieces
from optibox.running.swap_changes import Change
from optibox.running.swap_kit import FOLLOWERS

ARROW = "->"
_ROLES = {
    "data": "data drive",
    "parity": "parity drive",
    "cache": "cache drive",
    "boot": "boot medium",
}


def main_parts(build: Build) -> str:
    """Return a machine's drives, board and chassis by name."""
    counts: Counter[str] = Counter()
    for kind in (HardDrive, SolidStateDrive, Board, Chassis):
        for entry in build.items:
            if isinstance(entry.item.part, kind):
                counts[entry.item.part.name] += entry.count
    return ", ".join(pieces(name, n) for name, n in counts.items())


def drives_and_ways(found: Assessment) -> str:
    """Return a machine by the sizes of its drives, layout, cache and timeout."""
    plan, machine = found.build.operation, found.machine
    drives = drives_by_size(found, "data")
    if machine.in_role("parity"):
        drives += f" + parity {drives_by_size(found, 'parity')}"
    words = [drives]
    if plan.layout != "independent":
        parity = f" {plan.n_parity} parity" if plan.n_parity else ""
        words.append(plan.layout + parity)
    if plan.write_mode != "plain":
        words.append(plan.write_mode)
    if machine.in_role("cache"):
        words.append(f"cache {drives_by_size(found, 'cache')}")
    timeout = plan.timeout_min
    words.append("never stops" if timeout is None else f"stops after {timeout:g} min")
    return ", ".join(words)


def drives_by_size(found: Assessment, role: str) -> str:
    """Return the drives of a role by size, owned ones said so."""
    drives = [d for d in found.machine.drives if d.role == role]
    kinds = sorted(
        (d.part.tb, not d.item.is_owned) for d in drives if isinstance(d.part, Drive)
    )
    return ", ".join(
        f"{len(list(group))} x {tb:g} TB{'' if is_new else ' owned'}"
        for (tb, is_new), group in groupby(kinds)
    )


def in_figures(found: Assessment, currency: str) -> str:
    """Return a machine in a few figures."""
    return (
        f"{counted(len(found.machine.array), 'drive')}, "
        f"{terabytes(found.capacity.usable_tb)}, buy for "
        f"{money(found.cost.purchase, currency)}, {watts(found.wall.asleep_w)} asleep, "
        f"total {money(found.total_cost, currency)}"
    )


def difference(before: Build, after: Build) -> str:
    """Return how a machine differs from another: parts out and in, and operation."""
    out, into = _parts(before), _parts(after)
    gone, new = out - into, into - out
    words = []
    if gone or new:
        words.append(f"{_sum(gone) or 'nothing'} {ARROW} {_sum(new) or 'nothing'}")
    words += _operation(before.operation, after.operation)
    return "; ".join(words) or "the same parts, wired otherwise"


def _parts(build: Build) -> Counter[str]:
    counts: Counter[str] = Counter()
    for entry in build.items:
        if not isinstance(entry.item.part, FOLLOWERS):
            counts[entry.item.part.name] += entry.count
    return counts


def _sum(counts: Counter[str]) -> str:
    return " + ".join(pieces(name, n) for name, n in sorted(counts.items()))


def _operation(before: OperatingPlan, after: OperatingPlan) -> list[str]:
    words = []
    if (before.layout, before.n_parity) != (after.layout, after.n_parity):
        parity = f", {after.n_parity} parity" if after.n_parity else ""
        words.append(f"{after.layout}{parity}")
    if after.write_mode not in (before.write_mode, "plain"):
        words.append(after.write_mode)
    if before.cache != after.cache:
        words.append("no cache" if after.cache == "none" else f"{after.cache} cache")
    if before.timeout_min != after.timeout_min:
        timeout = after.timeout_min
        words.append(
            "never asleep" if timeout is None else f"asleep after {timeout:g} min"
        )
    return words


def changes(changed: Iterable[Change]) -> str:
    """Return the changes of a swap in one part of a sentence."""
    return "; ".join(map(_change, changed))


def _change(change: Change) -> str:
    """Return one change as what goes out and what comes in."""
    place = _ROLES.get(change.role or "", change.kind)
    if change.out is None:
        return f"{pieces(place, change.n_in)} put in: {_item(change.into)}"
    if change.into is None:
        return f"{pieces(place, change.n_out)} out: {change.out.part.name}"
    if change.n_in != change.n_out:
        place = f"{change.n_out} {ARROW} {change.n_in} x {place}"
    else:
        place = pieces(place, change.n_out)
    return f"{place}: {change.out.part.name} {ARROW} {_item(change.into)}"


def _item(item: Item | None) -> str:
    if item is None:
        return ""
    return item.part.name + (" (in hand)" if item.is_owned else "")
