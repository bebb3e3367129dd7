"""What hangs on the watts of an existing machine: keep or change, with break-even.

Everything in the build is there already. A change costs its new part and saves what
it saves in energy and wear; how much that is moves with the watts of both, which is
what readings are for.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, Item, ItemCount
from optibox.catalog.attachment import Controller, NetworkCard
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Part
from optibox.catalog.platform import Board, PowerSupply
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.power import is_blocker
from optibox.machine import machine_of
from optibox.measure.unknowns import Unknown, unknowns_of
from optibox.rules.register import Finding
from optibox.scenario import Scenario

SWAPPABLE: tuple[type[Part], ...] = (
    Controller,
    NetworkCard,
    PowerSupply,
    SolidStateDrive,
)
"""Kinds exchanged one for one in place; boards and drives with data are no such swap."""

_PROBE_W = 0.5
"""Step by which a figure is moved to see what a decision gains by it. [W]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Keep the machine as it is, or change one thing.

    Attributes
    ----------
    keep, change : str
        Both ways in words.
    gain : float
        Saved over the years by changing, the new part paid, at the catalog's
        figures. [currency]
    slopes : dict of Unknown to float
        By how much the gain grows with each figure. [currency per W]
    build : Build
        The changed machine.
    """

    keep: str
    change: str
    gain: float
    slopes: Mapping[Unknown, float]
    build: Build = field(repr=False)

    def gain_at(self, values: Mapping[Unknown, float]) -> float:
        """Return the gain at other figures than the catalog's. [currency]."""
        return self.gain + sum(
            slope * (values[unknown] - unknown.figure.mid)
            for unknown, slope in self.slopes.items()
            if unknown in values
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """A changed machine with what it costs to get there. [currency]."""

    keep: str
    change: str
    build: Build
    price: float
    part: Part | None = None
    """The part that comes in, where it is a swap."""


def decisions_of(
    build: Build, scenario: Scenario, catalog: Catalog
) -> tuple[Decision, ...]:
    """Return what could be changed about a machine, the best way of each change.

    Parameters
    ----------
    build : Build
        The machine that is there.
    scenario : Scenario
        Needs that a changed machine must meet too, and the money that counts.
    catalog : Catalog
        Parts to swap in.
    """
    now = assess(build, scenario)
    swaps = [_swap_group(build, entry, catalog) for entry in _swappable(build)]
    changes = [
        _best(now, group, scenario)
        for group in [*swaps, list(_timeouts(build, scenario))]
    ]
    changes.append(_without_blockers(now, catalog, scenario))
    found = [_decision(now, best, scenario) for best in changes if best is not None]
    return tuple(sorted(found, key=lambda decision: -decision.gain))


def running_cost(found: Assessment) -> float:
    """Return what a machine costs over the years, purchase and resale left out."""
    terms = tuple(
        t for t in found.scenario.money.terms if t not in ("purchase", "resale")
    )
    return found.cost.total(found.scenario.money.model_copy(update={"terms": terms}))


def _best(
    now: Assessment, changes: Iterable[_Change], scenario: Scenario
) -> _Change | None:
    """Return the change that gains most among those that break nothing."""
    known, cost = _broken(now.errors), running_cost(now)
    best: tuple[float, _Change] | None = None
    for change in changes:
        found = assess(change.build, scenario)
        if not _broken(found.errors) <= known:
            continue
        gain = cost - running_cost(found) - change.price
        if best is None or gain > best[0]:
            best = gain, change
    return best[1] if best else None


def _broken(findings: Iterable[Finding]) -> set[str]:
    return {finding.rule for finding in findings}


def _swappable(build: Build) -> tuple[ItemCount, ...]:
    return tuple(e for e in build.items if isinstance(e.item.part, SWAPPABLE))


def _swap_group(build: Build, entry: ItemCount, catalog: Catalog) -> list[_Change]:
    """Return every way of exchanging one item for another of its kind."""
    part = entry.item.part
    return [
        _swap(build, entry, other)
        for other in catalog.parts
        if type(other) is type(part) and other.id != part.id and other.stock != 0
    ]


def _without_blockers(
    now: Assessment, catalog: Catalog, scenario: Scenario
) -> _Change | None:
    """Return the best way of exchanging every card that keeps the processor awake.

    One of them alone changes nothing about deep idle: it is all or none.
    """
    build, price, names = now.build, 0.0, []
    blockers = [e for e in build.items if is_blocker(e.item.part)]
    if len(blockers) < 2:
        return None
    for entry in blockers:
        group = _swap_group(now.build, entry, catalog)
        calm = [c for c in group if c.part is not None and not is_blocker(c.part)]
        best = _best(now, calm, scenario)
        if best is None or best.part is None:
            return None
        item = Item(key=best.part.id, part=best.part)
        build = with_item(build, entry.item.key, item)
        price += best.price
        count = f"{entry.count} x " if entry.count > 1 else ""
        names.append(f"{count}{entry.item.part.name} for {best.part.name}")
    return _Change(
        keep="keep all cards that keep the processor awake",
        change=f"swap {' and '.join(names)}",
        build=build,
        price=price,
    )


def _swap(build: Build, entry: ItemCount, part: Part) -> _Change:
    item = Item(key=part.id, part=part)
    count = f"{entry.count} x " if entry.count > 1 else ""
    return _Change(
        keep=f"keep {count}{entry.item.part.name}",
        change=f"swap {count}{entry.item.part.name} for {part.name}",
        build=with_item(build, entry.item.key, item),
        price=item.cost(entry.count),
        part=part,
    )


def with_item(build: Build, key: str, item: Item) -> Build:
    """Return a build in which one item stands in the place of another."""

    def renamed(name: str) -> str:
        return item.key if name == key else name

    return replace(
        build,
        items=tuple(
            replace(entry, item=item) if entry.item.key == key else entry
            for entry in build.items
        ),
        drives=tuple(replace(use, key=renamed(use.key)) for use in build.drives),
        slots=tuple(replace(use, key=renamed(use.key)) for use in build.slots),
    )


def _timeouts(build: Build, scenario: Scenario) -> Iterator[_Change]:
    """Yield the machine with other timeouts; never sleeping is one of them."""
    if not any(use.role in ("data", "parity") for use in build.drives):
        return
    now = build.operation.timeout_min
    others: list[float | None] = [*scenario.choices.timeouts_min]
    if scenario.choices.allow_never:
        others.append(None)
    for minutes in others:
        if minutes != now:
            yield _Change(
                keep=f"still {_timeout_words(now)}",
                change=_timeout_words(minutes),
                build=replace(
                    build, operation=replace(build.operation, timeout_min=minutes)
                ),
                price=0.0,
            )


def _timeout_words(minutes: float | None) -> str:
    if minutes is None:
        return "never stop drives"
    return f"stop drives after {minutes:g} min"


def _decision(now: Assessment, best: _Change, scenario: Scenario) -> Decision:
    unknowns = unknowns_of(machine_of(now.build, scenario))
    gain = running_cost(now) - running_cost(assess(best.build, scenario)) - best.price
    slopes = {}
    for unknown in unknowns:
        moved = _gain_moved(now.build, best, scenario, unknown)
        slope = (moved - gain) / _PROBE_W
        if abs(slope) > 1e-6:
            slopes[unknown] = slope
    return Decision(
        keep=best.keep, change=best.change, gain=gain, slopes=slopes, build=best.build
    )


def _gain_moved(
    now: Build, change: _Change, scenario: Scenario, unknown: Unknown
) -> float:
    values = {unknown: unknown.figure.mid + _PROBE_W}
    kept = running_cost(assess(with_values(now, values), scenario))
    changed = running_cost(assess(with_values(change.build, values), scenario))
    return kept - changed - change.price


def with_values(build: Build, values: Mapping[Unknown, float]) -> Build:
    """Return a build with other watts; figures of parts it has not are left out."""
    entries = []
    for entry in build.items:
        own: dict[str, float] = {
            u.aspect: w for u, w in values.items() if u.key == entry.item.key
        }
        part = entry.item.part
        if isinstance(part, Board):
            own |= {u.aspect: w for u, w in values.items() if u.aspect == "deep idle"}
        changed = _changed(part, own)
        entries.append(replace(entry, item=replace(entry.item, part=changed)))
    return replace(build, items=tuple(entries))


def _changed(part: Part, values: Mapping[str, float]) -> Part:
    """Return a part with other watts; what work adds stays as it was unless given."""
    if not values:
        return part
    idle = values.get("idle", part.idle_dc_w)
    adds = values.get("at work", part.active_dc_w - part.idle_dc_w)
    cells: dict[str, Figure] = {}
    if {"idle", "at work"} & values.keys():
        cells["idle_w"] = _exactly(idle)
        if getattr(part, "active_w", None) is not None:
            cells["active_w"] = _exactly(idle + adds)
    if "standby" in values and isinstance(part, HardDrive):
        cells["standby_w"] = _exactly(values["standby"])
    if "deep idle" in values:
        cells["deep_idle_loss_w"] = _exactly(values["deep idle"])
    return part.model_copy(update=cells)


def _exactly(watts: float) -> Figure:
    return Figure(watts, watts, watts, "measured")
