"""An explanation as a table for JSON."""

import csv
import io
from dataclasses import asdict
from typing import Any

from optibox.assess import Assessment
from optibox.explain import Bill, Refusal, Requirement


def explanation_table(found: Refusal | Bill) -> dict[str, Any]:
    """Return an explanation as a table.

    Keys of a refusal: ``conflicts`` (``members``, ``irreducible``), ``relaxations``
    (``key``, ``enough`` yes, no or null = not found out, ``asked``, ``value`` in the
    key's own unit, ``proven``, ``bound``, ``machine``), ``together``, ``gaps``. Of a
    bill: ``value`` of the ``aim``, ``prices`` (``key``, ``cost`` in the aim's unit) and
    ``open``. Both: ``effort``.
    """
    table: dict[str, Any] = {"effort": asdict(found.effort)}
    return table | (_bill(found) if isinstance(found, Bill) else _refusal(found))


def _refusal(found: Refusal) -> dict[str, Any]:
    together = found.combination
    return {
        "any_machine": found.has_any,
        "conflicts": [
            {
                "members": [_requirement(m) for m in c.members],
                "irreducible": c.is_irreducible,
            }
            for c in found.conflicts
        ],
        "relaxations": [
            {
                **_requirement(r.requirement),
                "enough": r.is_enough,
                "value": r.value,
                "proven": r.is_proven,
                "bound": r.bound,
                "machine": _machine(r.found),
                "borrow_b": r.lack.borrow_b if r.lack else None,
            }
            for r in found.relaxations
        ],
        "together": None
        if together is None
        else {
            "factor": together.factor,
            "proven": together.is_proven,
            "values": {r.key: value for r, value in together.values},
            "dropped": [r.key for r in together.dropped],
            "machine": _machine(together.found),
        },
        "gaps": [asdict(gap) for gap in found.gaps],
    }


def _bill(found: Bill) -> dict[str, Any]:
    return {
        "aim": found.aim,
        "value": round(found.value, 6),
        "machine": _machine(found.found),
        "prices": [
            {**_requirement(p.requirement), "cost": round(p.cost, 6)}
            for p in found.prices
        ],
        "open": [r.key for r in found.open],
    }


def _requirement(requirement: Requirement) -> dict[str, Any]:
    return {
        "key": requirement.key,
        "kind": requirement.kind,
        "words": requirement.words,
        "asked": requirement.value,
        "default": requirement.is_default,
    }


def _machine(found: Assessment | None) -> dict[str, Any] | None:
    """Return a machine in a few figures, with its parts by id."""
    if found is None:
        return None
    plan = found.machine.operation
    return {
        "parts": {e.item.key: e.count for e in found.build.items},
        "layout": plan.layout,
        "failures_survived": plan.failures_survived,
        "usable_tb": round(found.capacity.usable_tb, 6),
        "purchase_price": round(found.cost.purchase, 2),
        "total_price": round(found.total_cost, 2),
        "asleep_w": round(found.wall.asleep_w, 6),
        "kwh_per_year": round(found.year.kwh, 6),
        "read_mb_s": round(found.rates.read_mb_s, 6),
        "write_mb_s": round(found.rates.write_mb_s, 6),
        "ingest_mb_s": round(found.rates.ingest_mb_s, 6),
    }


def explanation_csv(found: Refusal | Bill) -> str:
    """Return relaxations, or prices, as CSV: one requirement a row."""
    table = explanation_table(found)
    columns: tuple[str, ...] = ("key", "asked", "enough", "value", "proven")
    rows = table.get("relaxations")
    if rows is None:
        columns, rows = ("key", "asked", "cost"), table["prices"]
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
