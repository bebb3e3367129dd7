"""The order list: a line a row on the page, step by step below it, and as CSV."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from optibox.assess import Assessment
from optibox.report.answer import Report
from optibox.report.cautions import cautions_for
from optibox.report.document import (
    Block,
    Column,
    Item,
    Items,
    Note,
    Phrases,
    Row,
    Table,
    cautions,
    notes,
)
from optibox.report.order import (
    SMALL_KINDS,
    STEPS,
    OrderRow,
    order_list,
    postage_of,
    unused_owned,
)
from optibox.report.quantity import cents_of, exact_money, money
from optibox.report.text import wrapped
from optibox.report.words import counted

COLUMNS = (
    *("step", "kind", "id", "label", "count", "state", "to_buy", "owned", "boxed"),
    *("spare", "packs", "pack_size", "pack_price", "price", "currency", "look_for"),
    *("seller", "order_code", "link", "note"),
)
"""Columns of the CSV; columns of the catalog that begin with ``x_`` follow.

``count`` pieces are used or spare; ``to_buy`` of them are ordered as ``packs``. Postage
stands in rows of kind ``postage``, so that the column ``price`` adds up to the purchase.
"""


def order_title(found: Assessment, currency: str) -> str:
    """Return the line above the order list: its sum, and the postage within."""
    postage, within = postage_of(found.build), ""
    if postage:
        sent = exact_money(sum(p.price for p in postage))
        many = f"{len(postage)} sellers" if len(postage) > 1 else postage[0].seller
        within = f" with postage {sent} from {many}"
    total = cents_of(currency).text(found.cost.purchase)
    return f"Order, in order of assembly: {total}{within}"


def order_table(rows: Sequence[OrderRow]) -> Table:
    """Return a row for each part: count, name, what to look for, price, state."""
    return Table(
        columns=(
            Column(is_right=True, flow="keep"),
            Column(flow="cut"),
            Column(flow="fit"),
            Column(is_right=True, flow="keep"),
            Column(flow="keep"),
        ),
        rows=tuple(
            Row(
                cells=(
                    *(str(row.count), row.label, Phrases(looks_of(row))),
                    *(price_words(row), state_words(row)),
                )
            )
            for row in rows
        ),
    )


@dataclass(frozen=True, slots=True)
class SmallParts:
    """Cables, leads, adapters and plates that share lines."""

    rows: tuple[OrderRow, ...]
    text: str


def small_parts(rows: Sequence[OrderRow], width: int) -> SmallParts | None:
    """Return small parts in running text where that saves lines, by their ids."""
    small = tuple(row for row in rows if row.kind in SMALL_KINDS)
    words = []
    for row in small:
        price = price_words(row) if row.to_buy else state_words(row)
        end = f"{row.look_for[0]}, " if row.kind == "cable" and row.look_for else ""
        words.append(f"{row.count} x {row.id} ({end}{price})")
    text = "; ".join(words)
    return (
        SmallParts(small, text) if len(wrapped(text, width - 2)) < len(small) else None
    )


def looks_of(row: OrderRow) -> tuple[str, ...]:
    """Return what to look for, after how many of the pieces are in a box already."""
    if row.boxed and row.to_buy:
        return (f"{row.to_buy} to buy, {row.boxed} boxed", *row.look_for)
    return row.look_for


def state_words(row: OrderRow) -> str:
    """Return whether the pieces are new, owned or in a box."""
    if row.owned:
        return "owned"
    return "new" if row.to_buy else "boxed"


def price_words(row: OrderRow) -> str:
    """Return what a row costs now; nothing is bought, nothing is said."""
    return exact_money(row.price) if row.to_buy else "-"


def order_blocks(found: Assessment, currency: str) -> Iterator[Block]:
    """Yield the whole order list step by step, each with the cautions it needs."""
    rows = order_list(found)
    for step in STEPS:
        here = [row for row in rows if row.step == step]
        if here:
            yield Note(f"{step}:", "strong")
            yield Items(tuple(_item(row, currency) for row in here))
            yield cautions(caution.text for caution in cautions_for(step))
    price = cents_of(currency)
    texts = [
        f"postage from {p.seller}: {price.text(p.price)}"
        for p in postage_of(found.build)
    ]
    texts += [
        f"owned, not used: {spared.count} x {spared.label} [{spared.id}]"
        for spared in unused_owned(found)
    ]
    yield notes(texts)


def _item(row: OrderRow, currency: str) -> Item:
    """Return everything that one row says."""
    state = looks_of(row)[0] if row.boxed and row.to_buy else state_words(row)
    price = f", {cents_of(currency).text(row.price)}" if row.to_buy else ""
    spare = f", {row.spare} of them for the shelf" if row.spare else ""
    return Item(
        mark="-",
        text=f"{row.count} x {row.label} [{row.id}]: {state}{price}{spare}",
        details=tuple(_details(row, currency)),
    )


def _details(row: OrderRow, currency: str) -> Iterator[str]:
    if row.look_for:
        words = "look for " if row.to_buy else "relied on: "
        yield words + ", ".join(row.look_for)
    if row.boxed_with:
        yield f"{row.boxed} in the box of {', '.join(row.boxed_with)}"
    if row.to_buy and row.pack_size > 1:
        packs = counted(row.packs, "pack")
        yield f"{packs} of {row.pack_size} at {money(row.pack_price, currency)}"
    origin = [word for word in (row.seller, row.order_code, row.link) if word]
    if origin:
        yield f"from {', '.join(origin)}"
    if row.note:
        yield row.note
    for name, value in sorted(row.extras.items()):
        yield f"{name.removeprefix('x_')}: {value}"


def order_data(report: Report) -> Table:
    """Return the order list as CSV has it; without a build the head alone."""
    found, currency = report.assessment, report.currency
    rows = order_list(found) if found is not None else ()
    extras = sorted({name for row in rows for name in row.extras})
    price = cents_of("")
    units = {"pack_price": price, "price": price}
    told: list[dict[str, Any]] = [
        {key: getattr(row, key, None) for key in COLUMNS}
        | {"currency": currency, "look_for": Phrases(row.look_for)}
        | dict(row.extras)
        for row in rows
    ]
    told += [
        {
            "step": "postage",
            "kind": "postage",
            "label": f"postage from {sent.seller}",
            "seller": sent.seller,
            "price": sent.price,
            "currency": currency,
        }
        for sent in (postage_of(found.build) if found is not None else ())
    ]
    keys = [*COLUMNS, *extras]
    return Table(
        columns=tuple(Column(key=key, unit=units.get(key)) for key in keys),
        rows=tuple(Row(cells=tuple(row.get(key) for key in keys)) for row in told),
    )
