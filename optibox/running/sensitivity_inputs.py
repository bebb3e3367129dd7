"""Inputs that are not known exactly, each moved between low and high.

A position of -1 puts an input at low, 0 leaves it as it is, 1 puts it at high;
between them it moves in a straight line. Figures that carry bounds move between them;
what has none moves by a share of itself, which is a judgement that a user can change.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

from optibox.build import Build, ItemCount
from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Part
from optibox.scenario import Factors, Money, OwnedPart, Scenario

Input: TypeAlias = str
INPUTS: tuple[Input, ...] = ("tariff", "prices", "usage", "watts", "factors")
"""Inputs that are moved unless others are named; ``factors`` moves all of them."""

FACTOR = "factors."
"""Begins the name of one factor as an input: ``factors.fill_limit``."""

FACTOR_INPUTS: tuple[Input, ...] = tuple(FACTOR + name for name in Factors.model_fields)
Corner = Mapping[Input, float]
"""Where each input stands; one that is not named stays as it is."""

MID: Corner = {}
LEVELS: Mapping[str, float] = {"low": -1.0, "mid": 0.0, "high": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """By which share of itself an input moves that carries no bounds.

    Defaults are judgement: tariffs move within a contract's years, prices of a part
    differ between sellers, usage is guessed, watts of a datasheet are rounded.
    """

    tariff: float = 0.25
    prices: float = 0.10
    usage: float = 0.50
    watts: float = 0.10
    factors: float = 0.0


WATT_FIELDS = (
    "idle_w",
    "active_w",
    "standby_w",
    "off_w",
    "deep_idle_loss_w",
    "loss_fixed_w",
    "loss_share",
    "loss_square",
    "spin_up_j",
)
"""Columns of a part that decide what it draws."""

_USAGE_FIELDS = ("ingest_gb_per_day", "sessions_per_day", "metadata_sessions_per_day")


def figure_at(figure: Figure, position: float, spread: float) -> Figure:
    """Return a figure moved to a position, its bounds with it.

    Parameters
    ----------
    figure : Figure
        With bounds, or without.
    position : float
        -1 low, 0 as it is, 1 high.
    spread : float
        Share by which a figure without bounds moves.

    Examples
    --------
    >>> figure_at(Figure(3.0, 4.0, 6.0), 0.5, 0.1).mid
    5.0
    >>> figure_at(Figure(4.0, 4.0, 4.0), -1.0, 0.1).mid
    3.6
    """
    if position == 0.0:
        return figure
    if figure.low == figure.high:
        value = figure.mid * (1.0 + spread * position)
    elif position < 0.0:
        value = figure.mid + (figure.mid - figure.low) * position
    else:
        value = figure.mid + (figure.high - figure.mid) * position
    return Figure(value, value, value, figure.source)


def scenario_at(scenario: Scenario, corner: Corner, spreads: Spreads) -> Scenario:
    """Return a scenario with its inputs moved to a corner."""
    changes: dict[str, object] = {}
    tariff = 1.0 + spreads.tariff * corner.get("tariff", 0.0)
    if tariff != 1.0:
        changes["money"] = _money_at(scenario, tariff)
    use = 1.0 + spreads.usage * corner.get("usage", 0.0)
    if use != 1.0:
        usage = scenario.usage
        moved = {name: getattr(usage, name) * use for name in _USAGE_FIELDS}
        if usage.spinning_fraction is not None:
            moved["spinning_fraction"] = min(1.0, usage.spinning_fraction * use)
        changes["usage"] = usage.model_copy(update=moved)
    if any(x and name.startswith("factors") for name, x in corner.items()):
        factors = {
            name: factor_at(scenario, name, corner, spreads)
            for name in Factors.model_fields
        }
        changes["overrides"] = scenario.overrides.model_copy(update=factors)
    owned = tuple(_owned_at(one, corner, spreads) for one in scenario.owned)
    if owned != scenario.owned:
        changes["owned"] = owned
    return scenario.model_copy(update=changes) if changes else scenario


def factor_at(
    scenario: Scenario, name: str, corner: Corner, spreads: Spreads
) -> Figure:
    """Return one factor moved to a corner, by itself or with all the others."""
    figure: Figure = getattr(scenario.overrides, name)
    position = corner.get(FACTOR + name, corner.get("factors", 0.0))
    return figure_at(figure, position, spreads.factors)


def _money_at(scenario: Scenario, factor: float) -> Money:
    money = scenario.money
    base = money.tariff_per_kwh
    bands = tuple(
        band.model_copy(update={"price_per_kwh": band.price_per_kwh * factor})
        for band in money.bands
    )
    moved = {"tariff_per_kwh": None if base is None else base * factor, "bands": bands}
    return money.model_copy(update=moved)


def _owned_at(owned: OwnedPart, corner: Corner, spreads: Spreads) -> OwnedPart:
    changes: dict[str, object] = {}
    price, part = owned.replacement_price, owned.part
    if price is not None and corner.get("prices"):
        moved = figure_at(price, corner["prices"], spreads.prices)
        changes["replacement_price"] = moved
    if part is not None:
        moved_part = part_at(part, corner, spreads)
        if moved_part is not part:
            changes["part"] = moved_part
    return owned.model_copy(update=changes) if changes else owned


def part_at(part: Part, corner: Corner, spreads: Spreads) -> Part:
    """Return a part with price and watts moved to a corner."""
    prices, watts = corner.get("prices", 0.0), corner.get("watts", 0.0)
    if not prices and not watts:
        return part
    changes: dict[str, Figure] = {}
    if prices:
        changes["price"] = figure_at(part.price, prices, spreads.prices)
    for name in WATT_FIELDS if watts else ():
        figure = getattr(part, name, None)
        if isinstance(figure, Figure):
            changes[name] = figure_at(figure, watts, spreads.watts)
    return part.model_copy(update=changes)


def catalog_at(catalog: Catalog, corner: Corner, spreads: Spreads) -> Catalog:
    """Return a catalog with prices and watts moved to a corner; postage with prices."""
    parts = tuple(part_at(part, corner, spreads) for part in catalog.parts)
    factor = 1.0 + spreads.prices * corner.get("prices", 0.0)
    postage = {seller: price * factor for seller, price in catalog.postage.items()}
    return Catalog(
        name=catalog.name,
        currency=catalog.currency,
        date=catalog.date,
        is_invented=catalog.is_invented,
        notes=catalog.notes,
        folders=catalog.folders,
        parts=parts,
        postage=postage,
    )


def build_at(build: Build, corner: Corner, spreads: Spreads) -> Build:
    """Return a build with prices and watts of its parts moved to a corner."""
    if not corner.get("prices") and not corner.get("watts"):
        return build
    factor = 1.0 + spreads.prices * corner.get("prices", 0.0)
    return replace(
        build,
        items=tuple(_entry_at(entry, corner, spreads) for entry in build.items),
        spares=tuple(_entry_at(entry, corner, spreads) for entry in build.spares),
        postage=tuple((seller, price * factor) for seller, price in build.postage),
    )


def _entry_at(entry: ItemCount, corner: Corner, spreads: Spreads) -> ItemCount:
    item = entry.item
    owned = item.owned and _owned_at(item.owned, corner, spreads)
    moved = replace(item, part=part_at(item.part, corner, spreads), owned=owned)
    return ItemCount(item=moved, count=entry.count)
