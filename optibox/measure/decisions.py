"""What hangs on the watts of an existing machine: keep or change, with break-even.

Everything in the build is there already. A change costs its new part and saves what
it saves in energy and wear; how much that is moves with the watts of both, which is
what readings are for.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import Build, Item, ItemCount
from optibox.catalog.attachment import Controller, NetworkCard
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Part
from optibox.catalog.platform import Board, PowerSupply
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.figures.chains import usable_cache
from optibox.figures.money import cost_terms
from optibox.figures.power import is_blocker
from optibox.figures.year import year_of
from optibox.machine import Machine, machine_of
from optibox.measure.unknowns import Unknown, unknowns_of
from optibox.rules.register import Finding
from optibox.scenario import Scenario, as_it_stands

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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """A changed machine with what it costs to get there. [currency]."""

    keep: str
    change: str
    build: Build
    price: float
    key: str = ""
    """The item that goes out, where it is a swap."""

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
    scenario = as_it_stands(scenario)
    now = assess(build, scenario)
    swaps = [
        _rated(now, _swap_group(build, entry, catalog), scenario)
        for entry in _swappable(build)
    ]
    runs = [
        _rated(now, ways(build, scenario), scenario)
        for ways in (_timeouts, _write_modes)
    ]
    changes = [_best(group) for group in [*swaps, *runs]]
    changes.append(_without_blockers(build, swaps))
    kept = _kept(build, scenario)
    found = [_decision(kept, best, scenario) for best in changes if best is not None]
    return tuple(sorted(found, key=lambda decision: -decision.gain))


def running_cost(machine: Machine) -> float:
    """Return what a machine costs over the years, purchase and resale left out.

    By the evaluator's own functions; findings, which take most of its time, are not
    asked for. [currency]
    """
    usable = usable_cache(machine) if machine.in_role("cache") else 0.0
    cost = cost_terms(machine, year_of(machine), usable)
    money = machine.scenario.money
    terms = tuple(t for t in money.terms if t not in ("purchase", "resale"))
    return cost.total(money.model_copy(update={"terms": terms}))


def running(build: Build, scenario: Scenario) -> float:
    """Return what a build costs over the years, purchase and resale left out."""
    return running_cost(machine_of(build, scenario))


_Rated = list[tuple[float, _Change]]
"""Changes that break nothing with what each gains. [currency]"""


def _rated(now: Assessment, changes: Iterable[_Change], scenario: Scenario) -> _Rated:
    """Return the changes that break nothing, each with its gain."""
    known, cost = _broken(now.errors), running_cost(now.machine)
    rated = []
    for change in changes:
        found = assess(change.build, scenario)
        if _broken(found.errors) <= known:
            rated.append((cost - running_cost(found.machine) - change.price, change))
    return rated


def _best(rated: _Rated) -> _Change | None:
    """Return the change that gains most."""
    return max(rated, key=lambda one: one[0])[1] if rated else None


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


def _without_blockers(build: Build, swaps: Sequence[_Rated]) -> _Change | None:
    """Return the best way of exchanging every card that keeps the processor awake.

    One of them alone changes nothing about deep idle: it is all or none.
    """
    changed, price, names = build, 0.0, []
    blockers = [e for e in build.items if is_blocker(e.item.part)]
    if len(blockers) < 2:
        return None
    for entry in blockers:
        calm = [
            (gain, change)
            for group in swaps
            for gain, change in group
            if change.key == entry.item.key
            and change.part is not None
            and not is_blocker(change.part)
        ]
        best = _best(calm)
        if best is None or best.part is None:
            return None
        item = Item(key=best.part.id, part=best.part)
        changed = with_item(changed, entry.item.key, item)
        price += best.price
        names.append(best.change.removeprefix("swap "))
    return _Change(
        keep="keep all cards that keep the processor awake",
        change=f"swap {' and '.join(names)}",
        build=changed,
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
        key=entry.item.key,
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
        power=(),
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


def _write_modes(build: Build, scenario: Scenario) -> Iterator[_Change]:
    """Yield the machine with the other way of writing parity."""
    now = build.operation.write_mode
    for mode in scenario.choices.write_modes:
        if "plain" not in (now, mode) and mode != now:
            plan = replace(build.operation, write_mode=mode)
            yield _Change(
                keep=f"still write in {now} mode",
                change=f"write in {mode} mode",
                build=replace(build, operation=plan),
                price=0.0,
            )


def _timeout_words(minutes: float | None) -> str:
    if minutes is None:
        return "never stop drives"
    return f"stop drives after {minutes:g} min"


@dataclass(frozen=True, kw_only=True)
class _Kept:
    """What the machine costs as it is, and with each figure moved. [currency]."""

    cost: float
    moved: Mapping[Unknown, float]


def _kept(build: Build, scenario: Scenario) -> _Kept:
    unknowns = unknowns_of(machine_of(build, scenario))
    moved = {u: running(with_values(build, _probe(u)), scenario) for u in unknowns}
    return _Kept(cost=running(build, scenario), moved=moved)


def _probe(unknown: Unknown) -> dict[Unknown, float]:
    return {unknown: unknown.figure.mid + _PROBE_W}


def _decision(kept: _Kept, change: _Change, scenario: Scenario) -> Decision:
    """Return a change with what its gain turns on."""
    gain = kept.cost - running(change.build, scenario) - change.price
    slopes = {}
    for unknown, cost in kept.moved.items():
        changed = running(with_values(change.build, _probe(unknown)), scenario)
        slope = (cost - changed - change.price - gain) / _PROBE_W
        if abs(slope) > 1e-6:
            slopes[unknown] = slope
    return Decision(
        keep=change.keep,
        change=change.change,
        gain=gain,
        slopes=slopes,
        build=change.build,
    )


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
