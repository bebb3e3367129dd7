"""Builds that differ from a build in one thing: operation, one part, two roles."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Literal

from optibox.assess import Assessment
from optibox.build import Build, Item, ItemCount, OperatingPlan
from optibox.build.change import without
from optibox.build.items import items_of
from optibox.catalog.attachment import Controller
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Part
from optibox.catalog.platform import Board, Chassis
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.completion.moves import exchanged, wired_again
from optibox.scenario import Scenario
from optibox.scenario.records import CacheKind, WriteMode
from optibox.units import HOURS_PER_YEAR

CACHES: tuple[CacheKind, ...] = ("none", "single", "mirror")
"""Arrangements by their number of drives."""
MODES: tuple[WriteMode, ...] = ("read-modify-write", "reconstruct")
WIRED = (Board, Chassis, Controller, Drive)
"""Kinds after whose exchange the old wiring may not do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """A build beside another, made only when it is asked for."""

    kind: Literal["operation", "part", "roles"]
    what: str
    """What differs, in words."""
    promise: float
    """What it could save at most by price and watts alone. [currency]."""
    ways: Callable[[], Iterator[Build]]
    """Yields the build, first as the old one is wired, then seated anew."""


def neighbours(found: Assessment, catalog: Catalog) -> list[Neighbour]:
    """Return what stands beside a build, operation first, then what promises most.

    Of operation there is all that the scenario allows on the same parts, with fewer
    cache drives as well; of parts each that is cheaper or draws less than one of its
    kind in the build, for all pieces and for one, and each piece left out; of roles
    all exchanges between unlike drives.
    """
    offers = items_of(catalog, found.scenario)
    others = [
        *_parts(found, catalog, offers),
        *_leftovers(found),
        *_roles(found),
    ]
    return [*_operations(found), *sorted(others, key=lambda n: (-n.promise, n.what))]


def _operations(found: Assessment) -> Iterator[Neighbour]:
    scenario, build = found.scenario, found.build
    timeouts: list[float | None] = list(scenario.choices.timeouts_min)
    if scenario.choices.allow_never:
        timeouts.append(None)
    modes = [m for m in MODES if m in scenario.choices.write_modes]
    if build.operation.write_mode not in MODES:
        modes = [build.operation.write_mode]
    for body in _with_fewer_caches(build, scenario):
        for timeout, mode in product(timeouts, modes):
            plan = replace(body.operation, timeout_min=timeout, write_mode=mode)
            if plan != build.operation:
                yield _one(_told(plan), replace(body, operation=plan, power=()))


def _one(what: str, build: Build) -> Neighbour:
    return Neighbour(
        kind="operation", what=what, promise=0.0, ways=lambda: iter((build,))
    )


def _told(plan: OperatingPlan) -> str:
    timeout = "never" if plan.timeout_min is None else f"{plan.timeout_min:g} min"
    return f"drives stop: {timeout}, {plan.write_mode}, cache {plan.cache}"


def _with_fewer_caches(build: Build, scenario: Scenario) -> Iterator[Build]:
    """Yield the build, and what is left of it with fewer of its cache drives."""
    yield build
    names = [use.name for use in build.drives if use.role == "cache"]
    for left in range(len(names)):
        kind = CACHES[left]
        if kind not in scenario.choices.caches:
            continue
        for kept in combinations(names, left):
            fewer = without(build, set(names) - set(kept))
            yield replace(fewer, operation=replace(fewer.operation, cache=kind))


def _parts(
    found: Assessment, catalog: Catalog, offers: Iterable[Item]
) -> Iterator[Neighbour]:
    """Yield exchanges of all pieces of an item, and of one where there are several."""
    worth = worth_of_a_watt(found)
    for entry, new in product(found.build.items, offers):
        old = entry.item
        if type(old.part) is not type(new.part) or old.key == new.key:
            continue
        saved = (old.pack_price / old.part.pack) - (new.pack_price / new.part.pack)
        saved += worth * max(0.0, _most_w(old.part) - _least_w(new.part))
        if saved <= 0:
            continue
        for count in {1, entry.count}:
            if _is_to_be_had(found.build, new, count):
                yield _exchange(found, catalog, entry, new, count, count * saved)


def _exchange(
    found: Assessment,
    catalog: Catalog,
    entry: ItemCount,
    new: Item,
    count: int,
    promise: float,
) -> Neighbour:
    def ways() -> Iterator[Build]:
        one = _exchanged(found.build, entry, new, count)
        yield one
        if isinstance(new.part, WIRED):
            yield wired_again(one, found, catalog, {entry.item.key, new.key})

    return Neighbour(
        kind="part",
        what=f"{count} {entry.item.key} for {new.key}",
        promise=promise,
        ways=ways,
    )


def _exchanged(build: Build, entry: ItemCount, new: Item, count: int) -> Build:
    """Return a build with pieces of an item exchanged, the first ones by name."""
    if count == entry.count:
        return exchanged(build, entry.item, new)
    key, left = entry.item.key, count

    def named(was: str) -> str:
        nonlocal left
        if was != key or not left:
            return was
        left -= 1
        return new.key

    items = {e.item.key: e for e in build.items}
    more = items.get(new.key, ItemCount(item=new, count=0)).count + count
    items[key] = replace(entry, count=entry.count - count)
    items[new.key] = ItemCount(item=new, count=more)
    body = replace(build, items=tuple(items.values()), power=())
    if isinstance(new.part, Drive):
        body = replace(
            body, drives=tuple(replace(d, key=named(d.key)) for d in build.drives)
        )
        new_keys = {d.name: d.key for d in body.drives}
        slots = (replace(s, key=new_keys.get(s.name, s.key)) for s in build.slots)
        return replace(body, slots=tuple(slots))
    return replace(body, slots=tuple(replace(s, key=named(s.key)) for s in build.slots))


def _leftovers(found: Assessment) -> Iterator[Neighbour]:
    """Yield the build less one piece of what nothing is named after."""
    named = {d.key for d in found.build.drives} | {s.key for s in found.build.slots}
    for entry in found.build.items:
        if entry.item.key in named:
            continue
        items = (
            replace(e, count=e.count - 1) if e is entry else e
            for e in found.build.items
        )
        kept = tuple(e for e in items if e.count)
        fewer = replace(found.build, items=kept, power=())
        yield Neighbour(
            kind="part",
            what=f"one {entry.item.key} less",
            promise=entry.item.pack_price,
            ways=lambda fewer=fewer: iter((fewer,)),  # type: ignore[misc]
        )


def _roles(found: Assessment) -> Iterator[Neighbour]:
    """Yield exchanges of the roles of two unlike array drives."""
    drives = [d for d in found.build.drives if d.role in ("data", "parity")]
    seen = set()
    for one, other in combinations(drives, 2):
        pair = (one.key, one.role, other.key, other.role)
        if one.role == other.role or one.key == other.key or pair in seen:
            continue
        seen.add(pair)
        turned = {one.name: other.role, other.name: one.role}
        build = replace(
            found.build,
            drives=tuple(
                replace(d, role=turned.get(d.name, d.role)) for d in found.build.drives
            ),
        )
        yield Neighbour(
            kind="roles",
            what=f"{one.key} and {other.key} exchange their roles",
            promise=0.0,
            ways=lambda build=build: iter((build,)),  # type: ignore[misc]
        )


def _is_to_be_had(build: Build, item: Item, count: int) -> bool:
    used = sum(e.count for e in build.items if e.item.key == item.key)
    return item.limit is None or used + count <= item.limit


def worth_of_a_watt(found: Assessment) -> float:
    """Return about what a watt at the part costs over the years. [currency/W].

    For the order of trying alone, and generous: as if the supply lost as much again.
    """
    kwh = found.year.kwh
    if kwh <= 0:
        return 0.0
    return 2.0 * found.cost.energy / kwh * HOURS_PER_YEAR / 1000.0


def _most_w(part: Part) -> float:
    if isinstance(part, HardDrive | SolidStateDrive):
        return part.active_dc_w
    return max(part.idle_dc_w, part.active_dc_w)


def _least_w(part: Part) -> float:
    return part.standby_w.mid if isinstance(part, HardDrive) else part.idle_dc_w
