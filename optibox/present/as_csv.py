"""The order list as CSV, with every column that the catalog carries along."""

from optibox.catalog.csvcells import csv_text
from optibox.present.order import OrderRow, order_list, postage_of
from optibox.present.report import Report
from optibox.report.quantity import exact_money

COLUMNS: tuple[str, ...] = (
    "step",
    "kind",
    "id",
    "label",
    "count",
    "state",
    "to_buy",
    "owned",
    "boxed",
    "spare",
    "packs",
    "pack_size",
    "pack_price",
    "price",
    "currency",
    "look_for",
    "seller",
    "order_code",
    "link",
    "note",
)
"""Columns of the CSV; columns of the catalog that begin with ``x_`` follow.

``count`` pieces are used or spare; ``to_buy`` of them are ordered as ``packs``. Postage
stands in rows of kind ``postage``, so that the column ``price`` adds up to the purchase.
"""


def as_csv(report: Report) -> str:
    """Return the order list as CSV; without a build the head alone."""
    found = report.assessment
    if found is None:
        return csv_text(COLUMNS, [])
    rows = order_list(found)
    extras = sorted({name for row in rows for name in row.extras})
    cells = [_cells(row, report.currency) for row in rows]
    cells += [
        {
            "step": "postage",
            "kind": "postage",
            "label": f"postage from {postage.seller}",
            "seller": postage.seller,
            "price": _plain(postage.price),
            "currency": report.currency,
        }
        for postage in postage_of(found.build)
    ]
    return csv_text([*COLUMNS, *extras], cells)


def _cells(row: OrderRow, currency: str) -> dict[str, str]:
    cells = {name: str(getattr(row, name, "")) for name in COLUMNS}
    return (
        cells
        | {
            "currency": currency,
            "look_for": "; ".join(row.look_for),
            "pack_price": _plain(row.pack_price),
            "price": _plain(row.price),
        }
        | dict(row.extras)
    )


def _plain(price: float) -> str:
    """Return money without spaces, as a spreadsheet reads it."""
    return exact_money(price).replace(" ", "")
