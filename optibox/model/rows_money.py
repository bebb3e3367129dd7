"""Rows: purchase in packs with postage, energy through the supply, wear, the aim."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from optibox.build import Item
from optibox.catalog.notation import box_from_text
from optibox.catalog.storage import HardDrive, SolidStateDrive
from optibox.criteria import Weights
from optibox.figures.money import cache_written_tb_per_year
from optibox.figures.power import loss_curve
from optibox.model.draft import Draft
from optibox.model.menu import Entry, cache_usable_mb
from optibox.model.rows_power import state_watts, supplies
from optibox.model.solver import Expression, total
from optibox.physics.power import Supply, tangent
from optibox.physics.wear import cache_wear_price
from optibox.scenario import Scenario

MANY = 100.0
"""More packs of one item than any build holds: the big-M of postage."""


@dataclass(frozen=True, slots=True)
class Held:
    """The energy of one measure: a floor, and a rest that tangents hold up."""

    floor: Expression
    """What no supply undercuts: its fixed loss and the least slope of any."""
    extra: Expression
    states: list[tuple[Expression, float]]
    """Direct-current watts of each state with its weight."""
    entry: Entry
    """The entry with the measure's weights."""

    @property
    def energy(self) -> Expression:
        """Return the energy."""
        return self.floor.copy().plus(self.extra)


def purchase(draft: Draft) -> tuple[Expression, Expression]:
    """Return the purchase price and the pieces bought, packs and postage included."""
    program = draft.program
    in_box = _boxes(draft)
    paid, n_bought = Expression(), Expression()
    sellers: dict[str, list[Expression]] = {}
    for item in draft.everything():
        if item.is_owned:
            continue
        need = draft.count(item).copy().plus(float(draft.spares.get(item.key, 0)))
        boxed = in_box.get(item.key)
        if boxed is not None:
            bought = program.variable(f"b {item.key}", None)
            program.require(
                "bought", need.plus(boxed, -1.0).plus(bought, -1.0), "<=", 0.0
            )
            need = bought
        n_bought.plus(need)
        packs = _packs(draft, item, need)
        paid.plus(packs, item.pack_price)
        if item.part.seller in draft.postage:
            sellers.setdefault(item.part.seller, []).append(packs)
    for seller, parcels in sellers.items():
        flag = program.variable(f"order {seller}", 1.0)
        for packs in parcels:
            row = packs.copy().plus(flag, -_most(draft, packs))
            program.require("postage", row, "<=", 0.0)
        paid.plus(flag, draft.postage[seller])
    return paid, n_bought


def _most(draft: Draft, packs: Expression) -> float:
    """Return the most that a sum of counts can be: the big-M of postage."""
    most = packs.constant
    for name, factor in packs.terms.items():
        upper = draft.program.columns[name][1]
        if upper is None:
            return MANY
        most += max(0.0, factor) * upper
    return min(MANY, most)


def _packs(draft: Draft, item: Item, need: Expression) -> Expression:
    size = item.part.pack
    if size == 1:
        return need
    packs = draft.program.variable(f"packs {item.key}", None)
    draft.program.require("packs", need.copy().plus(packs, -float(size)), "<=", 0.0)
    return packs


def _boxes(draft: Draft) -> dict[str, Expression]:
    """Return the pieces that come in the boxes of bought items, by key."""
    found: dict[str, Expression] = {}
    for item in draft.everything():
        if not item.is_owned and item.part.comes_with:
            for key, count in box_from_text(item.part.comes_with).items():
                found.setdefault(key, Expression()).plus(
                    draft.count(item), float(count)
                )
    return found


def wear(draft: Draft, entry: Entry) -> Expression:
    """Return drive wear, cache wear and replacements by an entry's weights."""
    result, weights = Expression(), entry.weights
    by_key = {item.key: item for item in draft.of(HardDrive)}
    for (key, role), count in draft.drives.items():
        result.plus(count, weights.wake(by_key[key]) * entry.wakes(role))
    for item in draft.everything():
        rate = weights.piece(item) - (0.0 if item.is_owned else weights.part)
        if rate:
            result.plus(draft.count(item), rate)
    return result.plus(cache_wear_of(entry.scenario, entry.cache, weights))


def cache_wear_of(
    scenario: Scenario, cache: tuple[Item, ...], weights: Weights
) -> float:
    """Return the wear of a set of cache drives in the aim's unit."""
    if not cache:
        return 0.0
    usable = cache_usable_mb(scenario, cache)
    written = cache_written_tb_per_year(scenario, usable)
    return weights.cache_wear * sum(
        cache_wear_price(item.replacement_price, written, item.part.tbw.mid)
        for item in cache
        if isinstance(item.part, SolidStateDrive)
    )


def measure(
    draft: Draft, paid: Expression, weights: Weights, name: str
) -> tuple[Expression, Held]:
    """Return a measure of a build, and the energy in it that tangents hold up.

    Parameters
    ----------
    draft : Draft
        The program.
    paid : Expression
        The purchase price.
    weights : Weights
        What each term is worth to the measure.
    name : str
        Names the variable.
    """
    entry = replace(draft.entry, weights=weights)
    states = [
        (state_watts(draft, s.data, s.parity, s.activity), s.weight)
        for s in entry.states
    ]
    extra = draft.program.variable(f"{name} beyond", None, is_whole=False)
    held = Held(_floor(draft, states), extra, states, entry)
    draft.held.append(held)
    value = total([(paid, weights.purchase), (held.energy, 1.0)])
    value.plus(wear(draft, entry)).plus(_excess(draft, entry))
    return value.plus(_bought_pieces(draft, weights)), held


def _floor(draft: Draft, states: list[tuple[Expression, float]]) -> Expression:
    """Return the energy that no supply undercuts.

    Every supply loses its fixed watts, and of each watt at least what the best loses.
    Without it, half of one supply and half of another would lose nothing.
    """
    on_offer = supplies(draft)
    slope = 1.0 + min((part.loss_share.mid for _, _, part in on_offer), default=0.0)
    weight = sum(weight for _, weight in states)
    floor = total((watts, weight * slope) for watts, weight in states)
    for _, one, part in on_offer:
        floor.plus(one, weight * part.loss_fixed_w.mid)
    return floor


def _excess(draft: Draft, entry: Entry) -> Expression:
    """Return the energy of drives whose own rate or size makes transfers longer."""
    slope = 1.0 + min(
        (part.loss_share.mid for _, _, part in supplies(draft)), default=0.0
    )
    by_key = draft.by_key
    return total(
        (count, entry.drive_excess(by_key[key], role, slope))
        for (key, role), count in draft.drives.items()
    )


def _bought_pieces(draft: Draft, weights: Weights) -> Expression:
    """Return the price that breaks ties: of pieces in use that are not owned."""
    return total(
        (draft.count(item), weights.part)
        for item in draft.everything()
        if not item.is_owned
    )


def hold_up(
    draft: Draft, held: Held, key: str, curve: Supply, at_w: list[float]
) -> None:
    """Add the tangent of the energy through one supply at some watts.

    ``floor + extra >= sum of weight * tangent`` wherever the supply is chosen;
    elsewhere the row is slack by a big-M that no tangent exceeds the floor by.

    Parameters
    ----------
    draft, held
        The program and the energy of a measure.
    key : str
        Item of the supply.
    curve : Supply
        Its loss curve.
    at_w : list of float
        Direct-current watts of each state at which the tangent touches. [W]
    """
    row = Expression()
    for (watts, weight), point in zip(held.states, at_w, strict=True):
        slope, intercept = tangent(point, curve)
        row.plus(watts, weight * slope).plus(weight * intercept)
    row.plus(held.floor, -1.0)
    slack = largest(draft, row)
    chosen = draft.loose[key]
    row.plus(held.extra, -1.0).plus(chosen, slack)
    draft.program.require("energy_held", row, "<=", slack)


def largest(draft: Draft, expression: Expression) -> float:
    """Return the most that an expression of watts can be: the big-M of a tangent.

    Parts of which a build holds one count once, at their largest.
    """
    columns = draft.program.columns
    singles: dict[str, float] = {}
    most = expression.constant
    for name, factor in expression.terms.items():
        if factor <= 0:
            continue
        group = _single_kind(draft, name)
        if group:
            singles[group] = max(singles.get(group, 0.0), factor)
        else:
            most += factor * (columns[name][1] or 1.0)
    return most + sum(singles.values())


def _single_kind(draft: Draft, name: str) -> str:
    """Return the kind of a variable of which only one can be 1, or nothing."""
    if name.startswith("p "):
        return name.rpartition(" ")[2].partition("@")[0]
    if name.startswith("n "):
        item = draft.by_key.get(name[2:])
        kind = item.part.kind if item else ""
        if kind in ("chassis", "power supply", "processor", "cooler", "boot medium"):
            return kind
    return ""


def start_points(draft: Draft, held: Held) -> list[float]:
    """Return watts for the first tangents: what the least parts of a build draw."""
    return [max(5.0, _guess(draft, watts)) for watts, _ in held.states]


def _guess(draft: Draft, watts: Expression) -> float:
    storage = draft.entry.storage
    known = watts.constant
    drives = [
        watts.terms.get(next(iter(count.terms)), 0.0) for count in draft.drives.values()
    ]
    return known + storage.n_array * min(drives, default=0.0) + 5.0


def supply_curves(draft: Draft) -> Mapping[str, Supply]:
    """Return the loss curve of each supply on offer by key."""
    return {item.key: loss_curve(part) for item, _, part in supplies(draft)}
