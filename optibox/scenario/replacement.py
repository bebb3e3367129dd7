"""What a new piece costs in place of an owned drive of which no price is known.

Wear is priced by what a new drive costs: a drive of price 0 would wear out for
nothing.
"""

from collections.abc import Mapping
from typing import Any

from optibox.catalog.catalog import Catalog
from optibox.catalog.columns import Figure, Part
from optibox.catalog.storage import Drive


def lacks_price(part: Part, entry: Mapping[str, Any]) -> bool:
    """Return whether an owned drive was described without any price."""
    is_priced = part.price.mid > 0 or bool({"price", "replacement_price"} & set(entry))
    return isinstance(part, Drive) and not is_priced


def nearest_price(catalog: Catalog, part: Part) -> Figure | None:
    """Return what a drive of this kind and size costs new in a catalog.

    The cheapest one of the same kind, form and interface that is at least as
    large; failing that the largest, in proportion to capacity. Nothing where the
    catalog holds no drive of the kind.
    """
    if not isinstance(part, Drive):
        return None
    offers = [p for p in catalog.of(type(part)) if p.id != part.id]
    alike = [p for p in offers if _shape(p) == _shape(part)] or offers
    large = [p for p in alike if p.tb >= part.tb]
    if large:
        price = min(p.price.mid / p.pack for p in large)
    elif alike:
        biggest = max(alike, key=lambda p: p.tb)
        price = biggest.price.mid / biggest.pack * part.tb / biggest.tb
    else:
        return None
    return Figure(price, price, price, "class default")


def _shape(part: Drive) -> tuple[object, object]:
    return getattr(part, "form", ""), getattr(part, "interface", "")
