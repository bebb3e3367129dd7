"""Relations between questions that are alike: what one answer says about another.

A family holds one drawn question with its variants (limits, insisted and banned parts,
prices, order of rows), each with its answer. Whatever build is known to be fit under a
variant, by the evaluator alone, bounds that variant's optimum: an answer that claims to
be proven and is worse, or that nothing fits, is refuted by it. No answer is needed as
a reference.
"""

import copy
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from optibox.assess import Assessment, assess
from optibox.build import Build
from optibox.build.items import Item, items_of
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure
from optibox.criteria import AIMS, LIMITS, Criterion
from optibox.running.policy import policies_for, run_under
from optibox.scenario import Scenario
from optibox.search.plan import plan
from optibox.search.result import Plan
from tests.support.questions import Drawn, Source, Table, asked, drawn

TIES = 0.006
"""What sixty bought parts cost in the price of ties. [currency]"""
TOTAL = AIMS["total cost"]
MONEY = ("total cost", "purchase")
Solve = Callable[[Catalog, Scenario, float], Plan]


def planned(catalog: Catalog, scenario: Scenario, time_limit_s: float) -> Plan:
    return plan(catalog, scenario, time_limit_s=time_limit_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One question of a family, as read from its table."""

    name: str
    table: Table
    scenario: Scenario
    catalog: Catalog
    offers: dict[str, Item]

    @property
    def aim(self) -> Criterion:
        return AIMS[self.scenario.choices.aim]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A variant with what the planner said."""

    variant: Variant
    plan: Plan
    seconds: float
    is_cut: bool
    """The time ran out somewhere, maybe in what only breaks ties of the aim."""

    @property
    def is_proven(self) -> bool:
        return self.plan.status in ("optimal", "infeasible")

    @property
    def found(self) -> Assessment | None:
        return self.plan.assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """A build that refutes an answer, or an answer that refutes itself."""

    seed: int
    variant: Variant
    text: str
    build: Build | None = None


@dataclass(slots=True, kw_only=True)
class Family:
    """Variants of one question, their answers, and all builds that came up."""

    drawn: Drawn
    time_limit_s: float
    solve: Solve = planned
    answers: list[Answer] = field(default_factory=list)
    pool: list[tuple[str, Build]] = field(default_factory=list)
    refuted: list[Contradiction] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def variant(self, name: str, table: Table) -> Variant:
        scenario, catalog = asked(table)
        return variant_of(name, table, scenario, catalog)

    def ask(self, variant: Variant) -> Answer:
        """Return the answer to a variant; its build joins the pool."""
        started = time.monotonic()
        found = self.solve(variant.catalog, variant.scenario, self.time_limit_s)
        seconds = time.monotonic() - started
        answer = Answer(
            variant=variant,
            plan=found,
            seconds=seconds,
            is_cut=seconds > 0.95 * self.time_limit_s,
        )
        self.answers.append(answer)
        if found.assessment is not None:
            self._see_own(answer, found.assessment)
        return answer

    def _see_own(self, answer: Answer, found: Assessment) -> None:
        """See an answer's own build be fit, and the best of its own policies."""
        variant = answer.variant
        again = assess(found.build, variant.scenario)
        if again.errors:
            self.refute(variant, f"its own build is unfit: {again.errors}")
        if again.total_cost != found.total_cost:
            self.refute(variant, "its build costs something else when judged again")
        self.pool.append((f"plan of {variant.name}", found.build))
        for at, policy in enumerate(policies_for(found.build, timeouts(variant))):
            other = run_under(found.build, policy)
            if text := refutation(answer, other):
                self.refute(variant, f"{text}, run under {policy}", other)
                self.pool.append((f"policy {at} of {variant.name}", other))

    def refute(self, variant: Variant, text: str, build: Build | None = None) -> None:
        self.refuted.append(
            Contradiction(seed=self.drawn.seed, variant=variant, text=text, build=build)
        )

    def compare(self) -> None:
        """Hold every answer against every build known."""
        for answer in self.answers:
            for name, build in self.pool:
                text = refutation(answer, build)
                if text:
                    self.refute(answer.variant, f"{text}, by the {name}", build)


def variant_of(
    name: str, table: Table, scenario: Scenario, catalog: Catalog
) -> Variant:
    offers = {item.key: item for item in items_of(catalog, scenario)}
    return Variant(
        name=name, table=table, scenario=scenario, catalog=catalog, offers=offers
    )


def timeouts(variant: Variant) -> tuple[float | None, ...]:
    choices = variant.scenario.choices
    never = (None,) if choices.allow_never else ()
    return (*never, *choices.timeouts_min)


# one answer against one build -----------------------------------------------------


def refutation(answer: Answer, build: Build) -> str:
    """Return how a build refutes an answer, or nothing."""
    known = fit_under(answer.variant, build)
    if known is None:
        return ""
    found, aim = answer.found, answer.variant.aim
    value = aim.value_of(known)
    if answer.plan.status == "infeasible":
        return f"said to be impossible, and {aim.noun} {value:.4f} is there"
    bound = answer.plan.proof.bound
    if aim.weights is not None and value < bound - slack(aim):
        return f"bound {bound:.4f} is above {aim.noun} {value:.4f}"
    if answer.plan.status != "optimal" or found is None:
        return ""
    return _worse(answer, found, known)


def _worse(answer: Answer, found: Assessment, known: Assessment) -> str:
    """Return by what a proven answer is worse than a build, or nothing."""
    aim = answer.variant.aim
    best, value = aim.sign * aim.value_of(found), aim.sign * aim.value_of(known)
    if value < best - slack(aim) - 1e-6 * abs(best) * aim.is_maximised:
        return f"proven at {aim.noun} {abs(best):.4f}, and {abs(value):.4f} is there"
    # the search that breaks ties may have had no time left
    if aim is TOTAL or answer.is_cut or value > best:
        return ""
    if known.total_cost < found.total_cost - slack(TOTAL):
        return (
            f"as good in {aim.noun}, and costs {known.total_cost:.4f} "
            f"instead of {found.total_cost:.4f}"
        )
    return ""


def slack(aim: Criterion) -> float:
    """Return how far a proven value may be off, in the aim's unit."""
    return aim.tolerance + (TIES if aim.name == "total cost" else 1e-9)


def fit_under(variant: Variant, build: Build) -> Assessment | None:
    """Return a build's assessment where the variant allows it and it is fit."""
    moved = offered(variant, build)
    if moved is None or not is_allowed(variant, moved):
        return None
    known = assess(moved, variant.scenario)
    return known if known.is_fit else None


def offered(variant: Variant, build: Build) -> Build | None:
    """Return a build of the variant's own offers; nothing if one is not on offer."""
    offers = variant.offers
    for entry in build.items:
        item = offers.get(entry.item.key)
        if item is None or (item.limit is not None and entry.count > item.limit):
            return None

    def mine(entry):
        return replace(entry, item=offers[entry.item.key])

    spare_offers = {e.item.key for e in build.spares} <= offers.keys()
    if not spare_offers:
        return None
    return replace(
        build,
        items=tuple(mine(e) for e in build.items),
        spares=tuple(mine(e) for e in build.spares),
    )


def is_allowed(variant: Variant, build: Build) -> bool:
    """Return whether the scenario's choices leave a build's operation."""
    choices, operation = variant.scenario.choices, build.operation
    return (
        operation.layout in choices.layouts
        and operation.write_mode in choices.write_modes
        and operation.cache in choices.caches
        and operation.timeout_min in timeouts(variant)
    )


# variants ---------------------------------------------------------------------


def with_limits(table: Table, limits: Table) -> Table:
    """Return a table with more limits, the tighter one where it had one."""
    new = copy.deepcopy(table)
    have = new.setdefault("limits", {})
    for key, value in limits.items():
        have[key] = min(value, have.get(key, value))
    return new


def own_limits(found: Assessment) -> Table:
    """Return all limits at a machine's own figures, as each is judged."""
    limits: Table = {}
    for key, criterion in LIMITS.items():
        value = criterion.value_of(found)
        if key == "array_drives":
            limits[key] = int(value)
        elif key != "rack_units":
            limits[key] = value
    chassis = found.machine.chassis
    if chassis is not None and chassis.rack_units >= 1:
        limits["rack_units"] = chassis.rack_units
    return limits


def with_insisted(table: Table, keys: list[str]) -> Table:
    new = copy.deepcopy(table)
    new["insist"] = sorted({*new.get("insist", ()), *keys})
    return new


def with_bans(table: Table, names: list[str]) -> Table:
    new = copy.deepcopy(table)
    new["ban"] = sorted({*new.get("ban", ()), *names})
    return new


def with_price(table: Table, part: str, price: float) -> Table:
    new = copy.deepcopy(table)
    entries = new.setdefault("parts", [])
    for entry in entries:
        if entry["id"] == part:
            entry["price"] = price
            return new
    entries.append({"id": part, "price": price})
    return new


def reordered(variant: Variant, name: str, seed: int) -> Variant:
    """Return a variant whose catalog has its rows in another order."""
    parts = list(variant.catalog.parts)
    Source(seed).stream("order of rows").shuffle(parts)
    catalog = replace(variant.catalog, parts=tuple(parts))
    return variant_of(name, variant.table, variant.scenario, catalog)


def used_ids(table: Table, build: Build) -> set[str]:
    """Return the ids that may not be banned: in use, in boxes, named."""
    used = {e.item.part.id for e in build.items + build.spares}
    used |= {e.item.key for e in build.items}
    return used | {
        *table.get("insist", ()),
        *(s["id"] for s in table.get("spares", ())),
    }


# the relations of one question ------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How much is asked about each question."""

    time_limit_s: float = 12.0
    n_unchanged: int = 1
    """Of the relations that change nothing."""
    has_prices: bool = True
    """Tune the price of an unused part."""


def family_of(seed: int, effort: Effort, solve: Solve = planned) -> Family:
    """Return a question's family, with all that contradicts itself."""
    question = drawn(seed)
    family = Family(drawn=question, time_limit_s=effort.time_limit_s, solve=solve)
    base = family.ask(family.variant("question", question.table))
    last = near_of(family, base)
    if last.is_proven and last.found is not None:
        makers = unchanged(family, last)
        for at in range(effort.n_unchanged):
            make = makers[(seed + at) % len(makers)]
            see_unchanged(family, last, make())
        if effort.has_prices and last.variant.aim.name in MONEY:
            tune_price(family, last)
    family.compare()
    return family


def near_of(family: Family, base: Answer) -> Answer:
    """Return the answer with limits set near the best, or the one without."""
    near = family.drawn.near
    if near is None or base.found is None:
        return base
    table = copy.deepcopy(base.variant.table)
    table["choices"]["aim"] = near.witness_aim
    witness = family.ask(family.variant(f"aim {near.witness_aim}", table))
    if witness.found is None:
        return base
    limits = {}
    for key in near.keys:
        low = LIMITS[key].value_of(witness.found)
        high = LIMITS[key].value_of(base.found)
        if near.share < 0:
            limits[key] = low * (1 + near.share)
        else:
            limits[key] = max(low, low + near.share * (high - low))
    limited = family.ask(
        family.variant("limited", with_limits(base.variant.table, limits))
    )
    if near.share < 0 and limited.found is not None:
        family.notes.append("fits where the best in the limit did not")
    return limited


def is_binding(family: Family) -> bool:
    """Return whether the last limits rule out what is best without them."""
    by_name = {a.variant.name: a for a in family.answers}
    base, limited = by_name.get("question"), by_name.get("limited")
    if base is None or limited is None or base.found is None or limited.found is None:
        return False
    return fit_under(limited.variant, base.found.build) is None


def unchanged(family: Family, last: Answer) -> list[Callable[[], Variant]]:
    """Return what makes variants under which the plan must stay as good."""
    found, table = last.found, last.variant.table
    assert found is not None
    source = Source(family.drawn.seed)
    build = found.build
    keys = sorted(e.item.key for e in build.items)
    named = used_ids(table, build)
    own = own_limits(found)
    idle = sorted({p.id for p in last.variant.catalog.parts} - named)
    half = sorted(source.stream("banned half").sample(idle, len(idle) // 2))
    few = source.some("insisted own", keys)[:3]
    one = source.pick("own limit", sorted(own))

    def made(name: str, new: Table) -> Variant:
        return family.variant(name, new)

    return [
        lambda: made("all own limits", with_limits(table, own)),
        lambda: made("insisting on its parts", with_insisted(table, keys)),
        lambda: made(f"own {one}", with_limits(table, {one: own[one]})),
        lambda: made("half of the rest banned", with_bans(table, half)),
        lambda: made("insisting on some of its parts", with_insisted(table, few)),
        lambda: reordered(last.variant, "other order", family.drawn.seed),
        lambda: made(
            "limits, parts and bans",
            with_bans(with_insisted(with_limits(table, own), few), half),
        ),
    ]


def see_unchanged(family: Family, last: Answer, variant: Variant) -> None:
    """Ask again where nothing should change; comparing tells whether it did."""
    assert last.found is not None
    if fit_under(variant, last.found.build) is None:
        moved = offered(variant, last.found.build)
        errors = assess(moved, variant.scenario).errors if moved else "not on offer"
        family.refute(variant, f"the plan is refused there: {errors}", moved)
    family.ask(variant)


# prices -------------------------------------------------------------------------

PRICED_KINDS = ("hard drive", "hard drive", "power supply", "chassis", "controller")
"""One unused part of each is nearly given away; the first that is bought is tuned."""
NEARLY_NOTHING = 0.01
STEP = 1.0
"""How far below and above its walk-away price a part is offered. [currency]"""
ROUNDS = 3


def tune_price(family: Family, last: Answer) -> None:
    """Find the price at which an unused part would enter, and ask on both sides.

    At no cost it is in the best build or never will be. The price at which that build
    costs as much as the plan is the walk-away price, unless another build with the
    part wins above it; then that one's is tried.
    """
    table = last.variant.table
    part, answer = given_away(family, last)
    walk = walk_away(family, last, answer, part) if part else None
    for _ in range(ROUNDS):
        if walk is None or walk < STEP + NEARLY_NOTHING:
            return
        for price in (walk - STEP, walk + STEP):
            name = f"{part} for {price:.4f}"
            answer = family.ask(family.variant(name, with_price(table, part, price)))
        if answer.found is None or not holds(answer.found.build, part):
            proof = "" if answer.is_proven else ", not proven"
            family.notes.append(f"switched at {walk:.2f} for {part}{proof}")
            return
        walk = walk_away(family, last, answer, part)


def given_away(family: Family, last: Answer) -> tuple[str, Answer]:
    """Return a part that is bought at next to no price, and the answer then."""
    table, others = last.variant.table, unused_parts(family, last)
    cheap = table
    for name in others:
        cheap = with_price(cheap, name, NEARLY_NOTHING)
    answer = family.ask(family.variant(f"given away: {', '.join(others)}", cheap))
    bought = [n for n in others if answer.found and holds(answer.found.build, n)]
    if not bought:
        family.notes.append("never buys any")
        return "", answer
    if len(bought) > 1:
        alone = with_price(table, bought[0], NEARLY_NOTHING)
        answer = family.ask(family.variant(f"given away: {bought[0]}", alone))
    return bought[0], answer


def unused_parts(family: Family, last: Answer) -> list[str]:
    """Return some parts on offer that the plan does without."""
    found, table = last.found, last.variant.table
    assert found is not None
    taken = used_ids(table, found.build) | {o["id"] for o in table.get("owned", ())}
    source, names = Source(family.drawn.seed), list[str]()
    for at, kind in enumerate(PRICED_KINDS):
        unused = {
            item.part.id
            for item in last.variant.offers.values()
            if item.part.kind == kind and item.part.id not in taken | {*names}
        }
        if unused:
            names.append(source.part(f"tuned {at}", sorted(unused)))
    return names


def walk_away(family: Family, last: Answer, other: Answer, part: str) -> float | None:
    """Return the price at which another build costs as much as the plan, if any."""
    if other.found is None or not other.is_proven or last.found is None:
        return None
    if not holds(other.found.build, part):
        family.notes.append(f"never buys {part}")
        return None
    values = []
    for price in (0.0, 1000.0):
        row = last.variant.catalog.by_id[part]
        row = row.model_copy(update={"price": Figure(price, price, price)})
        catalog = last.variant.catalog.with_parts([row])
        variant = variant_of("line", last.variant.table, last.variant.scenario, catalog)
        moved = offered(variant, other.found.build)
        if moved is None:
            return None
        values.append(last.variant.aim.value_of(assess(moved, variant.scenario)))
    slope = (values[1] - values[0]) / 1000.0
    if slope <= 0:
        return None
    return (last.variant.aim.value_of(last.found) - values[0]) / slope


def holds(build: Build, part: str) -> bool:
    return any(e.item.part.id == part for e in build.items)


def built(answers: list[Answer]) -> Iterator[str]:
    """Yield what the answered machines are made of, for counting."""
    for answer in answers:
        if answer.found is None:
            continue
        machine = answer.found.machine
        drives = [d.part for d in machine.array]
        if any(getattr(p, "interface", "") == "sas" for p in drives):
            yield "SAS drives"
        if any(f.rule == "P1" for f in answer.found.findings):
            yield "staggered starts"
        slots = machine.build.slots
        if len({s.slot.split(".")[0] for s in slots if s.slot.startswith("riser")}) > 1:
            yield "two risers"
        if any(e.item.is_owned for e in machine.build.items):
            yield "owned lots"
