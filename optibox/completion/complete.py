"""From a sketch to a build: roles, slots, wiring and operation in the best way there is.

Every way that could be the best by what the parts say is judged by the evaluator: the
one with the fewest errors counts, then the one with the fewest warnings, then the
fastest. What was filled in is told, as is what cannot be.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from optibox.assess import Assessment, assess
from optibox.build import (
    Build,
    Connection,
    DriveUse,
    Item,
    ItemCount,
    OperatingPlan,
)
from optibox.build.hand import shapes_of
from optibox.build.items import OWNED_SUFFIX
from optibox.build.sketch import Sketch, WireSketch
from optibox.catalog.attachment import Cable, NetworkLead
from optibox.catalog.catalog import Catalog
from optibox.catalog.storage import DriveAdapter
from optibox.completion.costs import Rider, Stock
from optibox.completion.ports import Search
from optibox.completion.roles import Roles, roles_for
from optibox.completion.seats import CableKind, kind_of, seats_of
from optibox.completion.slots import SlotPlan, empty_plan, slot_plans
from optibox.completion.telling import cannot_words, small_part_words, wiring_words
from optibox.completion.ways import THOROUGH, Effort
from optibox.completion.wires import Wired, wired
from optibox.machine.bays import needs_port
from optibox.machine.view import Machine
from optibox.rules.context import width_of
from optibox.scenario import OwnedPart, Scenario
from optibox.wiring import completed


@dataclass(frozen=True, slots=True, kw_only=True)
class Completion:
    """A build made whole."""

    assessment: Assessment
    assumed: tuple[str, ...]
    """What was filled in, in words."""
    cannot: tuple[str, ...]
    """What no wiring can do, in words, with the reason."""

    @property
    def build(self) -> Build:
        """Return the build."""
        return self.assessment.build


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    """One whole machine that was considered."""

    found: Assessment
    plan: SlotPlan
    extra: Wired
    riders: tuple[Rider, ...]


def complete(
    sketch: Sketch,
    scenario: Scenario,
    catalog: Catalog | None = None,
    *,
    is_asked: bool = True,
    may_add: bool = False,
    effort: Effort = THOROUGH,
) -> Completion:
    """Return the best build that a sketch can be made into.

    Parameters
    ----------
    sketch : Sketch
        What is known. All that it says is kept, right or wrong.
    scenario : Scenario
        What the machine is for; decides between ways that are alike otherwise.
    catalog : Catalog, optional
        Small parts that the sketch does not list at all (data cables, network lead,
        drive adapters) are taken from it, the cheapest that fit.
    is_asked : bool
        The scenario was given by somebody, so that its needs mean something.
    may_add : bool
        Cables and adapters may be taken beyond those that the sketch lists.
    effort : Effort
        How far the search for the best wiring goes.

    Returns
    -------
    Completion
        The build, judged; what was assumed; what cannot be.
    """
    roles = roles_for(sketch, scenario, is_asked=is_asked)
    stock, lead = _stock(sketch, catalog, scenario, may_add=may_add)
    items = sketch.items + ((ItemCount(item=lead, count=1),) if lead else ())
    base = _base(replace(sketch, items=items), roles)
    candidates = _candidates(sketch, base, scenario, stock, effort)
    best = min(candidates, key=lambda c: _rank(c.found))
    found, settings = _best_settings(best.found, roles.operation)
    found = assess(completed(found.build, scenario), scenario)
    machine = found.machine
    assumed = [
        *roles.assumed,
        *small_part_words(best.extra.extra, best.extra.items, lead),
        *wiring_words(sketch, machine),
        *settings,
    ]
    return Completion(
        assessment=found,
        assumed=tuple(assumed),
        cannot=tuple(cannot_words(machine, best.riders, best.plan.homeless)),
    )


def _rank(found: Assessment) -> tuple[float, ...]:
    """Return how good a machine is: errors, warnings, rates, watts; least is best."""
    warnings = sum(f.severity == "warning" for f in found.findings)
    rates = found.rates
    return (
        len(found.errors),
        warnings,
        -round(rates.write_mb_s, 3),
        -round(rates.ingest_mb_s, 3),
        -round(rates.read_mb_s, 3),
        round(found.wall.spinning_w, 3),
    )


def _base(sketch: Sketch, roles: Roles) -> Build:
    """Return the parts and roles of a sketch as a build without wiring."""
    drives = tuple(
        DriveUse(name=d.name, key=d.key, role=d.role or "data") for d in roles.drives
    )
    return Build(
        items=sketch.items,
        drives=drives,
        connections=(),
        slots=(),
        operation=_first_plan(roles.operation),
        power=sketch.power,
        spares=sketch.spares,
        postage=sketch.postage,
        around=sketch.around,
        is_standing=sketch.is_all_owned,
    )


def _first_plan(known: Mapping[str, Any]) -> OperatingPlan:
    """Return any plan that keeps what is known."""
    shape = next(iter(shapes_of(known)), None)
    if shape is None:
        return empty_plan()
    return OperatingPlan(**{**known, **shape})


def _candidates(
    sketch: Sketch, base: Build, scenario: Scenario, stock: Stock, effort: Effort
) -> Iterator[_Candidate]:
    told = [wire for wire in sketch.wires if wire.is_whole]
    for plan in slot_plans(base, sketch.slots, scenario)[: effort.slot_plans]:
        placed = replace(base, slots=plan.uses)
        machine = Machine(build=placed, scenario=scenario)
        riders = _riders(machine, sketch.wires)
        seats = seats_of(machine, list(sketch.wires))
        search = Search(machine, riders, seats, stock, effort)
        for way in search.ways():
            extra = wired(search, way, told)
            build = _with_wiring(placed, told, extra)
            yield _Candidate(
                found=assess(build, scenario),
                plan=plan,
                extra=extra,
                riders=tuple(riders),
            )


def _riders(machine: Machine, wires: Iterable[WireSketch]) -> list[Rider]:
    """Return the drives that want a port and have not been told all of it."""
    known = {wire.drive: wire for wire in wires}
    riders = [
        Rider(
            name=drive.name,
            item=drive.item,
            role=drive.role,
            width=width_of(drive),
            wire=known.get(drive.name, WireSketch(drive=drive.name)),
        )
        for drive in machine.drives
        if needs_port(drive)
    ]
    open_ = [rider for rider in riders if not rider.wire.is_whole]
    return sorted(open_, key=_order)


def _order(rider: Rider) -> tuple[bool, bool, str, str, str]:
    """Return the order of the search: told drives, picky ones, equal ones together."""
    is_sas = getattr(rider.part, "interface", "") == "sas"
    return (rider.is_free, not is_sas, _width(rider), rider.item.key, rider.role)


def _width(rider: Rider) -> str:
    return {"3.5": "1", "2.5": "2"}.get(rider.width, "3")


def _with_wiring(placed: Build, told: Sequence[WireSketch], extra: Wired) -> Build:
    """Return a build with its connections and the small parts that they take."""
    wires = [_connection(wire) for wire in told] + extra.connections
    order = {use.name: number for number, use in enumerate(placed.drives)}
    known = {entry.item.key for entry in placed.items}
    more = tuple(
        replace(entry, count=entry.count + extra.extra[entry.item.key])
        for entry in placed.items
    )
    added = tuple(
        ItemCount(item=extra.items[key], count=count)
        for key, count in extra.extra.items()
        if key not in known
    )
    return replace(
        placed,
        items=more + added,
        connections=tuple(sorted(wires, key=lambda w: order.get(w.drive, 0))),
    )


def _connection(wire: WireSketch) -> Connection:
    return Connection(
        drive=wire.drive,
        bay=wire.bay or "",
        cable=wire.cable or "",
        cable_key=wire.cable_key or "",
        host=wire.host or "",
        connector=wire.connector or 1,
        port=wire.port or 1,
        adapter_key=wire.adapter_key or "",
    )


def _stock(
    sketch: Sketch, catalog: Catalog | None, scenario: Scenario, *, may_add: bool
) -> tuple[Stock, Item | None]:
    """Return the small parts that may be assumed because no such part is listed."""
    listed = {type(entry.item.part) for entry in sketch.items}
    if catalog is None:
        return Stock(cables={}), None
    cables: dict[CableKind, Item] = {}
    if may_add or Cable not in listed:
        for part in sorted(catalog.of(Cable), key=_price):
            cables.setdefault(kind_of(part), _small(part, sketch))
    adapters: tuple[Item, ...] = ()
    if may_add or DriveAdapter not in listed:
        offers = sorted(catalog.of(DriveAdapter), key=_price)
        adapters = tuple(_small(part, sketch) for part in offers)
    lead = None
    if NetworkLead not in listed:
        lead = _lead(sketch, catalog, scenario)
    return Stock(cables=cables, adapters=adapters), lead


def _price(part: Cable | DriveAdapter | NetworkLead) -> tuple[int, float, str]:
    """Return the order in which small parts are taken: single pieces, cheapest first."""
    return part.pack, part.price.mid, part.id


def _small(part: Cable | DriveAdapter | NetworkLead, sketch: Sketch) -> Item:
    if not sketch.is_all_owned:
        return Item(key=part.id, part=part)
    owned = OwnedPart(id=part.id, count=100, part=part)
    return Item(key=part.id + OWNED_SUFFIX, part=part, owned=owned)


def _lead(sketch: Sketch, catalog: Catalog, scenario: Scenario) -> Item | None:
    """Return the cheapest lead that does not slow the fastest usable port down."""
    base = Build(
        items=sketch.items,
        drives=(),
        connections=(),
        slots=(),
        operation=empty_plan(),
    )
    cards = tuple(s for s in sketch.slots)
    machine = Machine(
        build=replace(
            base,
            slots=slot_plans(base, cards, scenario)[0].uses,
        ),
        scenario=scenario,
    )
    port = machine.network
    if port is None:
        return None
    fits = [lead for lead in catalog.of(NetworkLead) if lead.medium == port.medium]
    fast = [lead for lead in fits if lead.network_gbit_s >= port.gbit_s]
    offers = sorted(fast or fits, key=_price)
    return _small(offers[0], sketch) if offers else None


def _best_settings(
    found: Assessment, known: Mapping[str, Any]
) -> tuple[Assessment, list[str]]:
    """Return the machine run in the cheapest way that its open settings allow."""
    plans = list(_plans(found, known))
    judged = [
        assess(replace(found.build, operation=plan), found.scenario) for plan in plans
    ]
    best = min(judged, key=lambda a: (len(a.errors), round(a.total_cost, 2)))
    return best, list(_setting_words(best.build.operation, known))


def _plans(found: Assessment, known: Mapping[str, Any]) -> Iterator[OperatingPlan]:
    scenario = found.scenario
    timeouts: list[float | None] = [*sorted(set(scenario.choices.timeouts_min))]
    if scenario.choices.allow_never:
        timeouts.append(None)
    if "timeout_min" in known:
        timeouts = [known["timeout_min"]]
    rest = {
        "flush_hour": known.get("flush_hour", scenario.usage.flush_hour),
        "checks_per_year": known.get("checks_per_year", scenario.usage.checks_per_year),
        "cache": known["cache"],
    }
    for shape in shapes_of(known):
        for timeout in timeouts:
            yield OperatingPlan(**shape, **rest, timeout_min=timeout)


def _setting_words(plan: OperatingPlan, known: Mapping[str, Any]) -> Iterator[str]:
    if "write_mode" not in known and plan.write_mode != "plain":
        yield f"write mode: {plan.write_mode}, the cheaper one here"
    if "timeout_min" not in known:
        words = f"{plan.timeout_min:g} min" if plan.timeout_min else "never"
        yield f"drives stop after: {words}, the cheapest here"
    if "flush_hour" not in known and plan.cache != "none":
        yield f"cache flushed at hour {plan.flush_hour:g}"
    if "checks_per_year" not in known:
        yield f"full checks a year: {plan.checks_per_year:g}"
