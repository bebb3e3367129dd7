"""What is worth saying about a catalog that reads without faults."""

from datetime import date

from optibox.catalog.catalog import Catalog
from optibox.catalog.kinds import KINDS
from optibox.catalog.platform import Board, Chassis, Memory, PowerSupply
from optibox.catalog.storage import BootMedium, HardDrive

OLD_AFTER_DAYS = 180
"""Age from which a price is called old [days]; common practice, no source."""

INVENTED = "invented figures: nothing here can be ordered"

_INDISPENSABLE = (Chassis, Board, Memory, PowerSupply, HardDrive, BootMedium)


def missing_kinds(catalog: Catalog) -> tuple[str, ...]:
    """Return the kinds that every machine needs and the catalog does not hold."""
    return tuple(r.kind for r in _INDISPENSABLE if not catalog.of(r))


def counts(catalog: Catalog) -> dict[str, int]:
    """Return how many parts there are of each kind that occurs."""
    found = {record.kind: len(catalog.of(record)) for record in KINDS}
    return {kind: number for kind, number in found.items() if number}


def oldest_price(catalog: Catalog) -> date | None:
    """Return the day of the oldest price that carries one."""
    days = [part.price_date for part in catalog.parts if part.price_date]
    return date.fromisoformat(min(days)) if days else None


def old_prices(
    catalog: Catalog, today: date, days: int = OLD_AFTER_DAYS
) -> dict[str, date]:
    """Return the day of each price that is older than so many days, by part id."""
    dated = {
        p.id: date.fromisoformat(p.price_date) for p in catalog.parts if p.price_date
    }
    return {name: day for name, day in dated.items() if (today - day).days > days}


def stamp(catalog: Catalog) -> str:
    """Return the line that says how far a catalog can be trusted.

    It stands wherever parts of the catalog are shown.
    """
    oldest = oldest_price(catalog)
    words = [f"catalog {catalog.name}", f"prices in {catalog.currency}"]
    words.append(f"oldest price {oldest}" if oldest else "no price dated")
    invented = sum(part.price.source == "invented" for part in catalog.parts)
    if invented == len(catalog.parts):
        words.append(INVENTED)
    elif invented or catalog.is_invented:
        words.append(f"{invented} of {len(catalog.parts)} prices are invented")
    return "; ".join(words)
