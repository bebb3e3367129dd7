"""What one more of each need costs, as text."""

from collections.abc import Iterator

from optibox.present.text import Line
from optibox.present.words import exact_money, number, pad, pad_left, wrapped
from optibox.running.marginal import MarginalPrice, MarginalPrices

_FIRST = 36


def marginal_lines(found: MarginalPrices, currency: str, width: int) -> Iterator[Line]:
    """Yield the table of what one more of each need costs."""
    yield Line("What one more of each need costs", "strong")
    base = found.base.assessment
    if base is None:
        yield Line("No machine of this catalog meets all needs as they are.")
        return
    head = ("free up to", f"then {currency}", "paid now")
    yield Line(pad("  need", _FIRST) + "".join(pad_left(h, 14) for h in head))
    for row in found.prices:
        yield Line(_row(row))
    yield from map(Line, wrapped(_remark(found, currency), width))


def _row(row: MarginalPrice) -> str:
    question = row.question
    unit = f" {question.unit}" if question.unit else ""
    digits = 0 if not question.unit or question.unit == "MB/s" else 1
    cells = [f"{number(question.given, digits)}{unit}", *_money(row)]
    mark = "" if row.is_proven else "  not proven"
    name = f"  {question.need}"
    return pad(name, _FIRST) + "".join(pad_left(cell, 14) for cell in cells) + mark


def _money(row: MarginalPrice) -> tuple[str, str]:
    if row.price is None or row.purchase is None:
        word = "none has it" if row.plan.status == "infeasible" else "not found"
        return word, ""
    return f"+{exact_money(row.price)}", exact_money(row.purchase)


def _remark(found: MarginalPrices, currency: str) -> str:
    base = found.base.assessment
    cost = exact_money(base.total_cost) if base else ""
    return (
        f"Against the best machine of the catalog ({cost} {currency} over the years), "
        "which gives what stands under 'free up to'; the price is that of one unit "
        "more, from a search of its own. Only whole machines are compared, so that the "
        "next unit after it may cost nothing."
    )
