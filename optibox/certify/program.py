"""The flat program: everything in one piece, with what it aims at.

Columns are in ``columns``, rows of fit in ``fit`` and ``wires``; here are purchase,
energy and wear, the tangents of the supplies' curves, the solver and the MPS file.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pulp

from optibox.build import Item
from optibox.catalog.attachment import (
    Controller,
    NetworkCard,
    NetworkLead,
)
from optibox.catalog.catalog import Catalog
from optibox.catalog.notation import box_from_text
from optibox.catalog.platform import Board, Memory, PowerSupply, Processor
from optibox.catalog.storage import Drive, HardDrive, SolidStateDrive
from optibox.certify import columns, fit, wires
from optibox.certify.columns import ONE, Flat, Row, plus, sum_of
from optibox.certify.domain import ItemOf, domain_of
from optibox.certify.menu import Choice, Menu, Terms, worth_of
from optibox.figures.money import replacement_rate
from optibox.figures.power import is_blocker, loss_curve
from optibox.physics.power import dc_from_wall, marginal_factor, wall_w
from optibox.physics.wear import cache_wear_price
from optibox.scenario import Scenario
from optibox.units import DAYS_PER_YEAR, MB_PER_GB, MB_PER_TB

FIRST_POINTS_W = (6.0, 12.0, 20.0, 32.0, 50.0, 80.0)
GAP = 1e-6


@dataclass(frozen=True)
class Solved:
    """What a solver came back with."""

    is_proven: bool
    objective: float
    values: dict[str, float]


def flat_program(
    catalog: Catalog,
    scenario: Scenario,
    aim: str = "",
    wanted: Callable[[Choice], bool] = lambda _: True,
) -> Flat:
    """Return the flat program of a catalog under a scenario.

    Its optimum is a lower bound of what any build is worth by the evaluator: hours are
    counted at their shortest and supplies by a few tangents.
    """
    domain = domain_of(catalog, scenario)
    worth = worth_of(scenario, aim or scenario.choices.aim)
    flat = Flat(domain, Menu(domain, worth, wanted))
    columns.make_columns(flat)
    for family in fit.FAMILIES + wires.FAMILIES:
        family(flat)
    _purchase(flat, dict(catalog.postage))
    _energy(flat)
    _wear(flat)
    _limits(flat)
    return flat


def _purchase(flat: Flat, postage: dict[str, float]) -> None:
    """Add up what is paid: packs less what is in boxes, spares, postage."""
    boxes = _boxes(flat)
    for seller in {i.part.seller for i in flat.domain.items} & set(postage):
        plus(flat.pay, flat.var(f"order:{seller}"), postage[seller])
    for item in flat.domain.items:
        if item.is_owned:
            flat.row("owned", dict(flat.counts[item.key]), "<=", float(item.limit or 0))
            continue
        packs = _packs(flat, item, boxes.get(item.key, {}))
        if item.limit is not None:
            flat.row("stock", dict(packs), "<=", item.limit / item.part.pack)
        plus(flat.pay, packs, item.pack_price)
        if item.part.seller in postage:
            order = {f"order:{item.part.seller}": -1000.0}
            flat.row("postage", plus(dict(packs), order), "<=", 0.0)


def _boxes(flat: Flat) -> dict[str, Row]:
    """Pieces that come in the boxes of bought parts, by key."""
    found: dict[str, Row] = {}
    for item in flat.domain.items:
        if not item.is_owned:
            for key, n in box_from_text(item.part.comes_with).items():
                plus(found.setdefault(key, {}), flat.counts[item.key], float(n))
    return found


def _packs(flat: Flat, item: Item, boxed: Row) -> Row:
    """Packs to buy of an item: used and spare pieces, less those in boxes."""
    spares = sum(s.count for s in flat.scenario.spares if s.id == item.key)
    need = plus(dict(flat.counts[item.key]), {ONE: float(spares)})
    if item.part.pack == 1 and not boxed:
        return need
    bought = flat.var(f"bought:{item.key}", 1000.0)
    flat.row("bought", plus(plus(need, boxed, -1.0), bought, -1.0), "<=", 0.0)
    packs = flat.var(f"packs:{item.key}", 1000.0)
    flat.row("packs", plus(bought, packs, -float(item.part.pack)), "<=", 0.0)
    return packs


def _groups(flat: Flat) -> dict[str, Row]:
    """Idle watts of all but array drives, and what work adds, by who works."""
    idle: Row = {}
    work: dict[str, Row] = {"processor": {}, "network": {}, "cache": {}}
    for item in flat.domain.items:
        part = item.part
        if isinstance(part, HardDrive):
            continue
        count = flat.counts[item.key]
        plus(idle, count, part.idle_dc_w)
        which = ""
        if isinstance(part, SolidStateDrive):
            which = "cache"
        elif isinstance(part, Board | Processor | Memory | Controller):
            which = "processor"
        elif isinstance(part, NetworkCard | NetworkLead):
            which = "network"
        if which:
            plus(work[which], count, part.active_dc_w - part.idle_dc_w)
    plus(idle, _deep_idle(flat))
    # one column for each sum: it stands in the rows of every menu entry
    sums = {}
    for name, row in {"idle": idle, **work}.items():
        sums[name] = flat.var(f"watts {name}", flat.largest(row), whole=False)
        flat.row("watts", plus(dict(row), sums[name], -1.0), "=", 0.0)
    return sums


def _deep_idle(flat: Flat) -> Row:
    """Watts that the board loses where any card blocks deep idle."""
    lost: Row = {}
    blockers = {i.key for i in flat.domain.items if is_blocker(i.part)}
    for board in flat.of(Board):
        cards = [
            n
            for n in flat.names("c")
            if n.split(":")[1] in blockers and n.split(":")[2] == board.key
        ]
        if cards:
            blocked = flat.var(f"blocked:{board.key}", whole=False)
            for name in cards:
                flat.row("blocked", plus({name: 1.0}, blocked, -1.0), "<=", 0.0)
            plus(lost, blocked, board.part.deep_idle_loss_w.mid)
    return lost


def watts(flat: Flat, terms: Sequence[Terms], wakes: float = 1.0) -> tuple[Row, Row]:
    """Weighted DC watts of a year: of all but the array's drives, and of those.

    Of several possible years each part takes its least.
    """
    groups = flat.watt_groups
    rest: Row = {}
    drives: Row = {}
    plus(rest, groups["idle"], min(t.weight for t in terms))
    for which in ("processor", "network", "cache"):
        plus(rest, groups[which], min(t.active(which) for t in terms))
    for item in flat.menu.drives:
        for role in ("data", "parity"):
            worth = min(t.drive(item.part, role, wakes=wakes) for t in terms)
            plus(drives, flat.drives(item, role), worth)
    return rest, drives


def wakes_share(short: Terms, long: Terms) -> float:
    """Return the least share of the wakes at the shortest hours that can be left."""
    shares = [
        long.wakes(role) / short.wakes(role)
        for role in ("data", "parity")
        if short.wakes(role) > 0
    ]
    return min([1.0, *shares])


def _energy(flat: Flat) -> None:
    """Energy held up by entry and by supply.

    ``rest`` and ``spun`` are the year's weighted DC watts of drives and of all else;
    the energy at the wall lies above each supply's tangents at the year's mean watts,
    since the curve is convex.
    """
    flat.watt_groups = _groups(flat)
    menu = flat.menu
    if not menu.worth.money + menu.worth.kwh + menu.worth.asleep or not menu.choices:
        flat.weight = 0.0
        return
    rest = flat.var("rest", 1e7, whole=False)
    spun = flat.var("spun", 1e7, whole=False)
    energy = flat.var("energy", 1e8, whole=False)
    short = {c: menu.terms(c, menu.short(c)) for c in menu.choices}
    weights = [t.weight for t in short.values()]
    flat.weight = min(weights)
    if max(weights) > flat.weight * (1 + 1e-9):
        msg = "states of some entry do not fill the year"
        raise ArithmeticError(msg)
    share = {c: wakes_share(t, menu.terms(c, menu.long(c))) for c, t in short.items()}
    rows = {c: watts(flat, [t], share[c]) for c, t in short.items()}
    _held(flat, rest, {c: r for c, (r, _) in rows.items()})
    _held(flat, spun, {c: d for c, (_, d) in rows.items()})
    both = plus(dict(rest), spun)
    supplies = flat.of(PowerSupply)
    fixed: Row = {}
    slope = min((u.part.loss_share.mid for u in supplies), default=0.0)
    for u in supplies:
        plus(fixed, {f"n:{u.key}": flat.weight * u.part.loss_fixed_w.mid})
        for point in FIRST_POINTS_W:
            mean_tangent(flat, u, point)
    plus(fixed, both, 1 + slope)
    flat.row("energy", plus(fixed, energy, -1.0), "<=", 0.0)


def _held(flat: Flat, what: Row, by_entry: dict[Choice, Row]) -> None:
    """Hold a variable above the row of the entry that is chosen.

    Each coefficient's least over the entries holds always; so does what the chosen
    entry adds at least, per drive of it.
    """
    names = set().union(*by_entry.values())
    least = {n: min(r.get(n, 0.0) for r in by_entry.values()) for n in names}
    base = dict(least)
    for c, row in by_entry.items():
        beyond = {n: row.get(n, 0.0) - least[n] for n in row}
        drives = [(n, v) for n, v in beyond.items() if n.startswith("k:")]
        extra = 0.0
        for role, n in (("data", c.n_data), ("parity", c.n_parity_drives)):
            extra += n * min(
                (v for name, v in drives if name.endswith(f":{role}")), default=0.0
            )
        plus(base, flat.chosen(c), extra)
        indicator(flat, row, what, [flat.chosen(c)])
    flat.row("held", plus(base, what, -1.0), "<=", 0.0)


def indicator(
    flat: Flat, row: Row, what: Row, ones: Sequence[Row], zeros: Row | None = None
) -> None:
    """Require ``row <= what`` where all of ``ones`` are 1 and all of ``zeros`` are 0."""
    big = max(0.0, flat.largest(row))
    left = plus(plus(dict(row), what, -1.0), zeros or {}, -big)
    for one in ones:
        plus(left, one, big)
    flat.row("indicator", left, "<=", big * len(ones))


def mean_tangent(flat: Flat, supply: ItemOf[PowerSupply], mean_w: float) -> None:
    """Hold energy above a supply's tangent at so many mean watts of the year."""
    curve, weight = loss_curve(supply.part), flat.weight
    slope = marginal_factor(mean_w, curve)
    at = wall_w(mean_w, curve) - slope * mean_w
    row = {"rest": slope, "spun": slope, ONE: weight * at}
    left = {**row, "energy": -1.0}
    big = weight * 1500.0
    plus(left, {f"n:{supply.key}": big})
    flat.row("tangent", left, "<=", big)


def _wear(flat: Flat) -> None:
    """Wear of drives by entry; cache wear and replacements; the objective."""
    menu, worth = flat.menu, flat.menu.worth
    aim = plus({}, flat.pay, worth.purchase)
    if "energy" in flat.columns:
        plus(aim, {"energy": 1.0})
    if worth.wear and menu.choices:
        wear = flat.var("wear", 1e7, whole=False)
        rows = {}
        for c in menu.choices:
            long = menu.terms(c, menu.long(c))
            rows[c] = wear_row(flat, long.data_wakes, long.parity_wakes)
        _held(flat, wear, rows)
        plus(aim, wear)
    for cache in flat.of(SolidStateDrive):
        plus(aim, flat.counts[cache.key], worth.cache_wear * _cache_wear(flat, cache))
    for item in flat.domain.items:
        if isinstance(item.part, Drive):
            rate = worth.replacements * replacement_rate(item.part)
            plus(aim, flat.counts[item.key], rate * item.replacement_price)
    flat.aim = aim


def wear_row(flat: Flat, data_wakes: float, parity_wakes: float) -> Row:
    """Weighted wear of all array drives at so many wakes a year."""
    wakes = {"data": data_wakes, "parity": parity_wakes}
    return sum_of(
        plus({}, flat.drives(i, role), flat.menu.wear(i, wakes[role]))
        for i in flat.menu.drives
        for role in wakes
    )


def _cache_wear(flat: Flat, item: ItemOf[SolidStateDrive]) -> float:
    """Least wear of one cache drive in a year: what its smallest partner lets in."""
    s = flat.scenario
    smallest = min(i.capacity_bytes for i in flat.of(SolidStateDrive)) / 1e6
    usable = smallest * (1 - s.overrides.cache_reserve.mid)
    daily = min(s.usage.ingest_gb_per_day * MB_PER_GB, usable)
    written = daily / MB_PER_TB * DAYS_PER_YEAR * s.overrides.write_amplification.mid
    return cache_wear_price(item.replacement_price, written, item.part.tbw.mid)


def _limits(flat: Flat) -> None:
    """D2: budget, asleep and spinning watts behind each supply."""
    limits, groups = flat.scenario.limits, flat.watt_groups
    if limits.budget is not None:
        flat.row("budget", dict(flat.pay), "<=", limits.budget + 1e-6)
    for most, figure in ((limits.asleep_w, "standby_w"), (limits.spinning_w, "idle_w")):
        if most is None:
            continue
        dc = dict(groups["idle"])
        for item in flat.menu.drives:
            for role in ("data", "parity"):
                plus(dc, flat.drives(item, role), getattr(item.part, figure).mid)
        big = flat.largest(dc)
        for u in flat.of(PowerSupply):
            curve = loss_curve(u.part)
            fits = wall_w(0.0, curve) < most
            room = dc_from_wall(most, curve) if fits else -1.0
            left = plus(dict(dc), {f"n:{u.key}": big})
            flat.row("D2", left, "<=", big + room + 1e-6)


def problem_of(flat: Flat) -> tuple[pulp.LpProblem, dict[str, pulp.LpVariable]]:
    """Return the program as PuLP holds it, with short names."""
    problem = pulp.LpProblem("flat", pulp.LpMinimize)
    columns = {}
    for index, (name, (upper, whole)) in enumerate(flat.columns.items()):
        category = pulp.LpInteger if whole else pulp.LpContinuous
        columns[name] = problem.add_variable(f"x{index}", 0.0, upper, category)

    def affine(row: Row) -> pulp.LpAffineExpression:
        return pulp.LpAffineExpression([(columns[n], f) for n, f in row.items() if f])

    problem.setObjective(affine(flat.aim))
    rows = list(flat.rows)
    if flat.ceiling is not None:
        rows.append(("ceiling", flat.aim, "<=", flat.ceiling))
    senses = {
        "<=": pulp.LpConstraintLE,
        ">=": pulp.LpConstraintGE,
        "=": pulp.LpConstraintEQ,
    }
    for index, (_, row, sense, right) in enumerate(rows):
        if any(row.values()):
            made = pulp.LpConstraint(affine(row), senses[sense], f"r{index}", right)
        elif _holds(sense, right):
            continue
        else:  # an empty row that does not hold makes the whole infeasible
            made = pulp.LpConstraint(
                affine({ONE: 1.0}), pulp.LpConstraintEQ, f"r{index}", 2.0
            )
        problem.addConstraint(made, f"r{index}")
    return problem, columns


def _holds(sense: str, right: float) -> bool:
    return {"<=": right >= 0, ">=": right <= 0, "=": right == 0}[sense]


def write_mps(catalog: Catalog, scenario: Scenario, path: Path, aim: str = "") -> Flat:
    """Write the flat program of a catalog under a scenario as an MPS file.

    Any solver that reads MPS can be timed on it; the optimum is the bound with which
    the oracle starts. Returns the program, for its numbers of rows and columns.
    """
    flat = flat_program(catalog, scenario, aim)
    problem, _ = problem_of(flat)
    problem.writeMPS(str(path))
    return flat
