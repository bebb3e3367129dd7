"""Figures that readings give, as CSV: one row a figure."""

from collections.abc import Iterator

from optibox.catalog.columns import number_text
from optibox.catalog.csvcells import csv_text
from optibox.measure.reconcile import Reconciliation

COLUMNS = (
    "what",
    "key",
    "aspect",
    "unit",
    "value",
    "low",
    "high",
    "is_identified",
    "believed_low",
    "believed_high",
    "agrees",
)


def reconcile_csv(found: Reconciliation) -> str:
    """Return the figures as CSV: watts at the parts, then rates and factors."""
    return csv_text(COLUMNS, [*_watts(found), *_factors(found)])


def _text(value: float) -> str:
    return number_text(round(value, 4))


def _yes(is_so: bool) -> str:  # noqa: FBT001 - the cell of a truth value
    return "yes" if is_so else "no"


def _watts(found: Reconciliation) -> Iterator[dict[str, str]]:
    for one in found.fit.found if found.fit else ():
        single = one.members[0] if len(one.members) == 1 else None
        row = {
            "what": one.words,
            "key": single.key if single else "",
            "aspect": single.aspect if single else "together",
            "unit": "W",
            "is_identified": _yes(one.measured is not None),
            "believed_low": _text(one.catalog.low),
            "believed_high": _text(one.catalog.high),
            "agrees": _yes(one.agrees) if one.measured else "",
        }
        if one.measured is not None:
            row |= {
                "value": _text(one.measured.value),
                "low": _text(one.measured.low),
                "high": _text(one.measured.high),
            }
        yield row


def _factors(found: Reconciliation) -> Iterator[dict[str, str]]:
    for one in found.factors:
        yield {
            "what": one.name,
            "key": one.key,
            "aspect": "rate" if one.key else "factor",
            "unit": "MB/s" if one.name.endswith("_mb_s") else "",
            "value": _text(one.value),
            "low": _text(one.low),
            "high": _text(one.high),
            "is_identified": "yes",
            "believed_low": _text(one.figure.low),
            "believed_high": _text(one.figure.high),
            "agrees": _yes(one.agrees),
        }
