"""Slots for cards and modules that are in none yet."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from optibox.build import Build, Item, OperatingPlan, SlotUse
from optibox.build.sketch import SlotSketch
from optibox.catalog.attachment import Card, Riser
from optibox.catalog.columns import Part
from optibox.catalog.notation import Slot
from optibox.catalog.platform import Board
from optibox.machine.view import Machine, trained
from optibox.rules.lanes import card_fits_slot, module_fits, module_fits_riser
from optibox.scenario import Scenario

MOST_TRIED = 20_000
"""Ways to fill the slots that are looked at; a machine has a few dozen."""

MOST_KEPT = 12
_WRONG_FORM, _OUTSIDE = 2.5, 3.0
"""Misfit of a piece in a place of another form, and of one that stays outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotPlan:
    """One way to fill the slots."""

    uses: tuple[SlotUse, ...]
    homeless: tuple[str, ...]
    """Names for which no slot is left."""


@dataclass(frozen=True, slots=True)
class _Asker:
    """A card or module that wants a slot."""

    sketch: SlotSketch
    item: Item


def slot_plans(
    base: Build, sketches: Sequence[SlotSketch], scenario: Scenario
) -> list[SlotPlan]:
    """Return the best ways to give every card and module a slot.

    Parameters
    ----------
    base : Build
        The parts, without any slot in use.
    sketches : sequence of SlotSketch
        Cards and modules; those with a slot keep it, right or wrong.
    scenario : Scenario
        Factors of links.

    Returns
    -------
    list of SlotPlan
        Those that fit alike best: fewest misfits first, then least lost to sharing,
        then most bandwidth. Never empty.
    """
    items = {entry.item.key: entry.item for entry in base.items}
    told = [s for s in sketches if s.slot]
    open_ = [_Asker(s, items[s.key]) for s in sketches if not s.slot]
    open_.sort(key=lambda asker: (_is_plain(asker), -_edge(asker), asker.sketch.name))
    fixed = [SlotUse(name=s.name, key=s.key, slot=s.slot or "") for s in told]
    places = [*_board_slots(base), *_riser_sockets(sketches, items)]
    found: list[tuple[tuple[float, ...], SlotPlan]] = []
    for uses in islice(_ways(base, open_, places, fixed, len(fixed)), MOST_TRIED):
        score = _score(base, uses, open_, scenario)
        placed = {use.name for use in uses}
        homeless = tuple(a.sketch.name for a in open_ if a.sketch.name not in placed)
        found.append((score, SlotPlan(uses=uses, homeless=homeless)))
    found.sort(key=lambda pair: pair[0])
    best = found[0][0][0]
    return [plan for score, plan in found if score[0] == best][:MOST_KEPT]


def _is_plain(asker: _Asker) -> bool:
    """Return whether a piece is no riser: risers come first, they bring sockets."""
    return not isinstance(asker.item.part, Riser)


def _edge(asker: _Asker) -> int:
    return int(getattr(asker.item.part, "lanes", 1) or 1)


def _board_slots(base: Build) -> list[str]:
    board = base.one(Board)
    return [slot.name for slot in board.slots] if board else []


def _riser_sockets(
    sketches: Sequence[SlotSketch], items: Mapping[str, Item]
) -> Iterator[str]:
    for sketch in sketches:
        part = items[sketch.key].part
        if isinstance(part, Riser):
            yield from (f"{sketch.name}.{n}" for n in range(1, part.n_sockets + 1))


def _ways(
    base: Build,
    open_: Sequence[_Asker],
    places: Sequence[str],
    taken: Sequence[SlotUse],
    n_told: int,
) -> Iterator[tuple[SlotUse, ...]]:
    """Yield every way to put pieces into free places.

    A piece goes where it does not fit, or nowhere, only where no fitting place is
    free. Equal pieces take places in rising order, so that no way comes twice.
    """
    if not open_:
        yield tuple(taken)
        return
    asker, rest = open_[0], open_[1:]
    used = {use.slot for use in taken}
    same = [use.slot for use in taken[n_told:] if use.key == asker.sketch.key]
    start = max((places.index(slot) for slot in same), default=-1)
    free = [place for place in places[start + 1 :] if place not in used]
    risers = {use.name: base.item(use.key).part for use in taken}
    suits = {place: _misfit_at(base, asker.item.part, place, risers) for place in free}
    options = [place for place in free if suits[place] == 0]
    options = options or [place for place in free if suits[place] < _WRONG_FORM]
    for place in options:
        use = SlotUse(name=asker.sketch.name, key=asker.sketch.key, slot=place)
        yield from _ways(base, rest, places, [*taken, use], n_told)
    if not any(suits[place] == 0 for place in options):
        yield from _ways(base, rest, places, taken, n_told)


def _misfit_at(
    base: Build, part: Part, place: str, risers: Mapping[str, Part]
) -> float:
    """Return how badly a piece fits a place: 0 where it does."""
    board = base.one(Board)
    by_name = {slot.name: slot for slot in board.slots} if board else {}
    if place in by_name:
        return _misfit(part, by_name[place])
    riser = risers.get(place.rpartition(".")[0])
    fits = isinstance(riser, Riser) and module_fits_riser(part, riser)
    return 0.0 if fits else _WRONG_FORM


def _score(
    base: Build, uses: tuple[SlotUse, ...], open_: Sequence[_Asker], scenario: Scenario
) -> tuple[float, ...]:
    """Return misfits, ports and slots lost, bandwidth missing: least is best."""
    machine = Machine(build=replace(base, slots=uses), scenario=scenario)
    parts = {asker.sketch.name: asker.item.part for asker in open_}
    misfit, missing = 0.0, 0.0
    placed = {use.name: use for use in uses}
    risers = {use.name: base.item(use.key).part for use in uses}
    for name, part in parts.items():
        use = placed.get(name)
        if use is None:
            misfit += _OUTSIDE
            continue
        slot = machine.slots.get(use.slot)
        if slot is not None:
            misfit += _misfit(part, slot)
            missing += _missing(part, slot)
        else:
            misfit += _misfit_at(base, part, use.slot, risers)
            missing += 0.1
    lost = sum(
        slot.lanes == 0 for n, slot in machine.slots.items() if n in used_of(uses)
    )
    ports = machine.board.sata_ports - machine.onboard_ports if machine.board else 0
    return misfit + 2.0 * lost, float(ports), missing


def used_of(uses: Sequence[SlotUse]) -> set[str]:
    """Return the slots in use."""
    return {use.slot for use in uses}


def _misfit(part: Part, slot: Slot) -> float:
    if isinstance(part, Card):
        fits = card_fits_slot(part, slot)
    else:
        fits = module_fits(part, slot)
    if fits:
        return 0.0
    is_m2 = getattr(part, "bus", "") == "m2" or not isinstance(part, Card)
    return 1.0 if (slot.form == "m2") == is_m2 else _WRONG_FORM


def _missing(part: Part, slot: Slot) -> float:
    """Return the share of a piece's own lanes that a slot does not give."""
    own = getattr(part, "generation", 0) * getattr(part, "lanes", 0)
    if not own:
        return 0.0
    generation, lanes = trained(part, slot)
    return 1.0 - generation * lanes / own


def empty_plan() -> OperatingPlan:
    """Return a plan for builds of which only parts and slots are looked at."""
    return OperatingPlan(layout="independent")
