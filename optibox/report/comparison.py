"""Machines compared: what differs, what they cost to run, when one pays back."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from optibox.assess import Assessment, assess
from optibox.build import Build, ItemCount
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Level, Part
from optibox.completion.opening import Opened
from optibox.report.as_json import FORMAT, cents
from optibox.report.figures import figure_groups
from optibox.report.run_line import layout_words
from optibox.search.result import Plan

_WATTS = (
    "idle_w",
    "active_w",
    "standby_w",
    "deep_idle_loss_w",
    "loss_fixed_w",
    "loss_share",
    "loss_square",
)
"""Figures of parts whose bounds carry the energy of a year."""

LEVELS: tuple[Level, Level, Level] = ("low", "mid", "high")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure or fact of every machine."""

    key: str
    label: str
    texts: tuple[str, ...]
    values: tuple[float | None, ...]
    """Numbers, where the row has any."""
    group: str = ""
    """Title under which it stands."""

    @property
    def differs(self) -> bool:
        """Return whether the machines differ in it."""
        return len(set(self.texts)) > 1

    @property
    def is_number(self) -> bool:
        """Return whether it is a figure, not a fact in words."""
        return any(value is not None for value in self.values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Payback:
    """What changing from the first machine to another costs and saves."""

    name: str
    to_buy: float
    """The other's purchase; the first stands there already. [currency]"""
    more_to_buy: float
    """The other's purchase beyond the first's, where neither is there. [currency]"""
    kwh_saved: float
    """Energy saved in a year. [kWh]"""
    saved_per_year: Mapping[Level, float]
    """Energy and wear saved in the first year, at low, mid and high watts. [currency]"""
    price_share: Mapping[Level, float]
    """The other's purchase at low, mid and high prices, over its mid one."""

    def years(self, level: Level, price: float) -> float | None:
        """Return the years until a price is saved; nothing = never. [years].

        Low means low prices and the watts at their low figures, for both machines.
        """
        saved = self.saved_per_year[level]
        return price * self.price_share[level] / saved if saved > 0 else None

    def to_dict(self) -> dict[str, Any]:
        """Return it for programs."""
        neither = max(0.0, self.more_to_buy)
        return {
            "name": self.name,
            "to_buy_price": cents(self.to_buy),
            "more_to_buy_price": cents(self.more_to_buy),
            "kwh_saved_per_year": self.kwh_saved,
            "saved_price_per_year": {
                k: cents(v) for k, v in self.saved_per_year.items()
            },
            "years": {level: self.years(level, self.to_buy) for level in LEVELS},
            "years_if_neither_is_there": {x: self.years(x, neither) for x in LEVELS},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRow:
    """One bought part of a saved build, then and now."""

    part_id: str
    name: str
    count: int
    then: float
    """Price of all its packs as saved. [currency]"""
    now: float | None
    """The same today; nothing where the catalog does not hold it any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repriced:
    """A saved build at the prices of today."""

    name: str
    rows: tuple[PriceRow, ...]
    found: Assessment
    """The build at the prices of today; what is gone keeps its price."""
    replan: Plan | None = None
    """The best build of today under the same scenario."""

    @property
    def then(self) -> float:
        """Return what the parts cost when the build was saved. [currency]."""
        return sum(row.then for row in self.rows)

    @property
    def now(self) -> float:
        """Return what they cost now, gone ones as before. [currency]."""
        return sum(row.then if row.now is None else row.now for row in self.rows)

    @property
    def gone(self) -> tuple[PriceRow, ...]:
        """Return the parts that are not to be had any more."""
        return tuple(row for row in self.rows if row.now is None)

    @property
    def gain(self) -> float | None:
        """Return what planning again saves over the years. [currency]."""
        if self.replan is None or self.replan.assessment is None:
            return None
        return self.found.total_cost - self.replan.assessment.total_cost

    def to_dict(self) -> dict[str, Any]:
        """Return it for programs."""
        return {
            "name": self.name,
            "then_price": cents(self.then),
            "now_price": cents(self.now),
            "rows": self.rows,
            "total_price_now": cents(self.found.total_cost),
            "replan_gain": None if self.gain is None else cents(self.gain),
            "replan_status": self.replan.status if self.replan else None,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Machines side by side."""

    names: tuple[str, ...]
    rows: tuple[Row, ...]
    parts: tuple[Row, ...]
    """Counts of the parts in which they differ."""
    paybacks: tuple[Payback, ...]
    repriced: tuple[Repriced, ...]
    currency: str
    years: int
    is_asked: bool

    def to_dict(self) -> dict[str, Any]:
        """Return it for programs: a row for each figure and each differing part."""
        return {
            "format": FORMAT,
            "names": list(self.names),
            "currency": self.currency,
            "rows": [asdict(row) | {"differs": row.differs} for row in self.rows],
            "parts": [asdict(row) | {"differs": True} for row in self.parts],
            "paybacks": [row.to_dict() for row in self.paybacks],
            "repriced": [one.to_dict() for one in self.repriced],
        }


def figure_rows(machines: Sequence[Assessment], currency: str) -> Iterator[Row]:
    """Yield every figure that any of the machines has."""
    yield _facts("layout", "array", [layout_words(m) for m in machines])
    errors = [len(m.errors) for m in machines]
    yield _numbers("errors", "errors found", errors)
    warnings = [sum(f.severity == "warning" for f in m.findings) for m in machines]
    yield _numbers("warnings", "warnings", warnings)
    tables = [
        {f.key: f for group in figure_groups(m, currency) for f in group.figures}
        for m in machines
    ]
    for key, (label, title) in _labels(machines, currency).items():
        found = [table.get(key) for table in tables]
        yield Row(
            key=key,
            label=label,
            group=title,
            texts=tuple(f.text if f else "-" for f in found),
            values=tuple(f.value if f else None for f in found),
        )


def _labels(
    machines: Sequence[Assessment], currency: str
) -> dict[str, tuple[str, str]]:
    """Return label and title of every figure that has a label of its own."""
    labels: dict[str, tuple[str, str]] = {}
    for machine in machines:
        for group in figure_groups(machine, currency):
            for figure in group.figures:
                role = figure.key.split("_")[0]
                # beneath its role a label need not name it; here rows stand alone
                lead = f"{role} drive: " if figure.label.startswith("  ") else ""
                lead = lead if role in ("data", "parity") else ""
                label = lead + figure.label.strip()
                if figure.label:
                    labels.setdefault(figure.key, (label, group.title))
    return labels


def _facts(key: str, label: str, texts: list[str]) -> Row:
    return Row(
        key=key, label=label, texts=tuple(texts), values=tuple(None for _ in texts)
    )


def _numbers(key: str, label: str, numbers: list[int]) -> Row:
    return Row(
        key=key,
        label=label,
        texts=tuple(str(n) for n in numbers),
        values=tuple(float(n) for n in numbers),
    )


def part_rows(builds: Sequence[Build]) -> Iterator[Row]:
    """Yield the parts with their counts in each build."""
    counts: list[dict[str, int]] = []
    parts: dict[str, Part] = {}
    for build in builds:
        found: dict[str, int] = {}
        for entry in build.items:
            part = entry.item.part
            parts.setdefault(part.id, part)
            found[part.id] = found.get(part.id, 0) + entry.count
        counts.append(found)
    for part_id, part in sorted(parts.items(), key=lambda p: (p[1].kind, p[0])):
        numbers = [found.get(part_id, 0) for found in counts]
        yield Row(
            key=part_id,
            label=f"{part.kind}: {part.name}",
            texts=tuple(str(n) if n else "-" for n in numbers),
            values=tuple(float(n) for n in numbers),
        )


def payback(name: str, first: Assessment, other: Assessment) -> Payback:
    """Return what changing from one machine to another costs and saves."""
    saved = {
        level: _per_year(first, level) - _per_year(other, level) for level in LEVELS
    }
    return Payback(
        name=name,
        to_buy=other.cost.purchase,
        more_to_buy=other.cost.purchase - first.cost.purchase,
        kwh_saved=first.year.kwh - other.year.kwh,
        saved_per_year=saved,
        price_share={level: _price_share(other.build, level) for level in LEVELS},
    )


def _per_year(found: Assessment, level: Level) -> float:
    """Return energy and wear of the first year with all watts at a level. [currency]."""
    if level == "mid":
        return found.running_cost_per_year
    return assess(_at_level(found.build, level), found.scenario).running_cost_per_year


def _at_level(build: Build, level: Level) -> Build:
    def at(part: Part) -> Part:
        changes = {}
        for name in _WATTS:
            figure = getattr(part, name, None)
            if isinstance(figure, Figure):
                value = figure.at(level)
                changes[name] = Figure(value, value, value, figure.source)
        return part.model_copy(update=changes)

    items = tuple(
        ItemCount(item=replace(e.item, part=at(e.item.part)), count=e.count)
        for e in build.items
    )
    return replace(build, items=items)


def _price_share(build: Build, level: Level) -> float:
    """Return the price of what is bought at a level, over the mid one."""
    bought = build.bought()
    packs = [(build.item(k), n) for k, n in bought.items() if _is_used(build, k)]
    mid = sum(item.packs(n) * item.part.price.mid for item, n in packs)
    at = sum(item.packs(n) * item.part.price.at(level) for item, n in packs)
    return at / mid if mid else 1.0


def _is_used(build: Build, key: str) -> bool:
    return any(entry.item.key == key for entry in build.items)


def repriced(opened: Opened, catalog: Catalog, replan: Plan | None) -> Repriced:
    """Return a saved build at the prices of a catalog."""
    build = opened.completion.build
    rows = []
    for key, count in build.bought().items():
        entry = next(e for e in build.items + build.spares if e.item.key == key)
        item, today = entry.item, catalog.by_id.get(entry.item.part.id)
        rows.append(
            PriceRow(
                part_id=item.part.id,
                name=item.part.name,
                count=count,
                then=item.cost(count),
                now=None if today is None else _cost(today, count),
            )
        )
    return Repriced(
        name=opened.name,
        rows=tuple(rows),
        found=assess(at_prices(build, catalog), opened.completion.assessment.scenario),
        replan=replan,
    )


def _cost(part: Part, count: int) -> float:
    return -(-count // part.pack) * part.price.mid


def at_prices(build: Build, catalog: Catalog) -> Build:
    """Return a build whose parts have the prices, packs and sellers of a catalog."""

    def priced(entry: ItemCount) -> ItemCount:
        today = catalog.by_id.get(entry.item.part.id)
        if today is None or type(today) is not type(entry.item.part):
            return entry
        update = {"price": today.price, "pack": today.pack, "seller": today.seller}
        part = entry.item.part.model_copy(update=update)
        return replace(entry, item=replace(entry.item, part=part))

    return replace(
        build,
        items=tuple(priced(entry) for entry in build.items),
        spares=tuple(priced(entry) for entry in build.spares),
        postage=tuple(sorted(catalog.postage.items())),
    )


def compare(
    opened: Sequence[Opened], currency: str, repricings: Sequence[Repriced] = ()
) -> Comparison:
    """Return machines side by side, all against the first."""
    machines = [one.completion.assessment for one in opened]
    names = _distinct([one.name for one in opened])
    return Comparison(
        names=names,
        rows=tuple(figure_rows(machines, currency)),
        parts=tuple(
            row for row in part_rows([m.build for m in machines]) if row.differs
        ),
        paybacks=tuple(
            payback(name, machines[0], other)
            for name, other in zip(names[1:], machines[1:], strict=True)
        ),
        repriced=tuple(repricings),
        currency=currency,
        years=machines[0].scenario.money.years,
        is_asked=opened[0].is_asked,
    )


def _distinct(names: Sequence[str]) -> tuple[str, ...]:
    """Return names that differ, numbered where they do not."""
    return tuple(
        name if names.count(name) == 1 else f"{name} ({number})"
        for number, name in enumerate(names, 1)
    )
