"""The order list as lines of a width: one line a row on the page, more below it."""

from collections.abc import Iterator, Sequence

from optibox.assess import Assessment
from optibox.present.cautions import cautions_for
from optibox.present.order import (
    SMALL_KINDS,
    STEPS,
    OrderRow,
    Postage,
    order_list,
    postage_of,
    unused_owned,
)
from optibox.present.words import cut, pad, pad_left, width_of, wrapped
from optibox.report.quantity import exact_money, money
from optibox.report.words import clean, counted

LOOK_SHARE = 0.5
"""Share of a line's free width that what to look for gets before names do."""

MARGIN = "  "


def order_title(found: Assessment, currency: str) -> str:
    """Return the line above the order list: its sum, and the postage within."""
    postage = postage_of(found.build)
    total = f"{exact_money(found.cost.purchase)} {currency}".rstrip()
    within = ""
    if postage:
        sent = exact_money(sum(p.price for p in postage))
        many = f"from {len(postage)} sellers" if len(postage) > 1 else ""
        within = f" with postage {sent} {many or f'from {postage[0].seller}'}"
    return f"Order, in order of assembly: {total}{within}"


def order_lines(
    rows: Sequence[OrderRow], width: int, *, small_together: bool = False
) -> list[str]:
    """Return the order list with a line for each row.

    Parameters
    ----------
    rows : sequence of OrderRow
        The rows in order of assembly.
    width : int
        Columns of a line.
    small_together : bool
        Cables, leads, adapters and plates share lines where that saves some.
    """
    small = [row for row in rows if small_together and row.kind in SMALL_KINDS]
    together = _together(small, width)
    if len(together) >= len(small):
        return _table(rows, width)
    return _table([row for row in rows if row not in small], width) + together


def _table(rows: Sequence[OrderRow], width: int) -> list[str]:
    states = [state_words(row) for row in rows]
    prices = [price_words(row) for row in rows]
    counts = [str(row.count) for row in rows]
    n, p, s = (max(map(width_of, c), default=0) for c in (counts, prices, states))
    free = max(10, width - len(MARGIN) - n - 2 - 2 - p - 2 - s)
    longest = max((width_of(row.label) for row in rows), default=0)
    first = max((width_of(row.look_for[0]) for row in rows if row.look_for), default=0)
    label_width = min(longest, free - 2 - min(first, int(free * LOOK_SHARE)))
    lines = []
    for row, state, price, count in zip(rows, states, prices, counts, strict=True):
        label = pad(cut(row.label, label_width), label_width)
        looks = fitting(looks_of(row), free - label_width - 2)
        middle = pad(f"{label}  {looks}", free)
        lines.append(
            f"{MARGIN}{pad_left(count, n)}  {middle}  {pad_left(price, p)}  {state}"
            .rstrip()
        )  # fmt: skip
    return lines


def looks_of(row: OrderRow) -> tuple[str, ...]:
    """Return what to look for, after how many of the pieces are in a box already."""
    if row.boxed and row.to_buy:
        return (f"{row.to_buy} to buy, {row.boxed} boxed", *row.look_for)
    return row.look_for


def fitting(looks: Sequence[str], width: int) -> str:
    """Return as many properties as fit, the first one cut where it must be.

    Examples
    --------
    >>> fitting(["2 native ports", "passes drives through"], 20)
    '2 native ports'
    """
    text = cut(looks[0], width) if looks else ""
    for look in looks[1:]:
        longer = f"{text}, {look}"
        if width_of(longer) > width:
            break
        text = longer
    return text


def state_words(row: OrderRow) -> str:
    """Return whether the pieces are new, owned or in a box."""
    if row.owned:
        return "owned"
    return "new" if row.to_buy else "boxed"


def price_words(row: OrderRow) -> str:
    """Return what a row costs now; nothing is bought, nothing is said."""
    return exact_money(row.price) if row.to_buy else "-"


def _together(rows: Sequence[OrderRow], width: int) -> list[str]:
    """Return small parts in running text: ids, since names would not fit."""
    if not rows:
        return []
    words = []
    for row in rows:
        price = price_words(row) if row.to_buy else state_words(row)
        end = f"{row.look_for[0]}, " if row.kind == "cable" and row.look_for else ""
        words.append(f"{row.count} x {row.id} ({end}{price})")
    return wrapped("; ".join(words), width, MARGIN)


def order_steps(found: Assessment, currency: str, width: int) -> list[str]:
    """Return the whole order list step by step, each with the cautions it needs."""
    rows, lines = order_list(found), list[str]()
    for step in STEPS:
        here = [row for row in rows if row.step == step]
        if not here:
            continue
        lines.append(f"{MARGIN}{step}")
        for row in here:
            lines += _whole(row, currency, width)
        for caution in cautions_for(step):
            lines += wrapped(caution.text, width, f"{MARGIN * 2}! ")
    lines += _postage_lines(postage_of(found.build), currency)
    for spared in unused_owned(found):
        text = f"owned, not used: {spared.count} x {spared.label} [{spared.id}]"
        lines += wrapped(text, width, MARGIN)
    return lines


def _whole(row: OrderRow, currency: str, width: int) -> Iterator[str]:
    """Yield everything that one row says."""
    state = state_words(row)
    if row.boxed and row.to_buy:
        state = looks_of(row)[0]
    price = f", {exact_money(row.price)} {currency}".rstrip() if row.to_buy else ""
    spare = f", {row.spare} of them for the shelf" if row.spare else ""
    head = f"{row.count} x {row.label} [{row.id}]: {state}{price}{spare}"
    yield from wrapped(head, width, MARGIN * 2)
    indent = MARGIN * 4
    if row.look_for:
        words = "look for " if row.to_buy else "relied on: "
        yield from wrapped(words + ", ".join(row.look_for), width, indent)
    for text in _origin(row, currency):
        yield from wrapped(text, width, indent)


def _origin(row: OrderRow, currency: str) -> Iterator[str]:
    if row.boxed_with:
        yield f"{row.boxed} in the box of {', '.join(row.boxed_with)}"
    if row.to_buy and row.pack_size > 1:
        packs = counted(row.packs, "pack")
        yield f"{packs} of {row.pack_size} at {money(row.pack_price, currency)}"
    words = (row.seller, row.order_code, row.link)
    if any(words):
        yield clean("from " + ", ".join(word for word in words if word))
    if row.note:
        yield clean(row.note)
    for name, value in sorted(row.extras.items()):
        yield clean(f"{name.removeprefix('x_')}: {value}")


def _postage_lines(postage: Sequence[Postage], currency: str) -> list[str]:
    return [
        f"{MARGIN}postage from {p.seller}: {exact_money(p.price)} {currency}".rstrip()
        for p in postage
    ]
